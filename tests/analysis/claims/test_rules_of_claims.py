"""Weights, majorities and makers of the error budget, on both sides of their thresholds."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.claims import Named, claims
from kikichoko.analysis.claims.cell_table import CellTable
from kikichoko.analysis.claims.claim_members import members
from kikichoko.analysis.claims.maker_shift import maker_shifts
from kikichoko.analysis.claims.most_people import counts_by_side
from kikichoko.analysis.core import OptionError, tidy


def cells(scores: dict[str, float], attribute: str = "sweet", bottles: str = "ab") -> CellTable:
    rows = [
        (who, bottle, attribute, score + k)
        for who, score in scores.items()
        for k, bottle in enumerate(bottles)
    ]
    table = pd.DataFrame(rows, columns=["assessor", "sample", "attribute", "score"])
    return CellTable(tidy(table), list(scores), list(bottles))


@pytest.mark.parametrize(("n", "weight"), [(1, 10.0), (2, 7.5), (3, 5.0)])
def test_questions_named_beforehand_weigh_less_the_more_there_are(n: int, weight: float):
    table = cells({"A": 1.0, "B": 2.0})
    named = [Named(kind="scale", about=name) for name in ("sweet", "sour", "bitter")[:n]]
    of_kind = {"scale": ["sweet", "sour", "bitter", "umami"], "word": ["pear"], "fault": ["must"]}
    found = members(table, of_kind=of_kind, gap=None, named=named)
    weights = {one.about: one.weight for one in found}
    plain = [1.0] * (4 - n)
    assert [weights[name] for name in of_kind["scale"]] == [weight] * n + plain
    assert (weights["pear"], weights["must"]) == (3.0, 0.3)


def test_three_questions_are_named_and_no_fourth():
    rng = np.random.default_rng(1)
    rows = [(f"T{i}", b, f"s{k}", rng.normal()) for i in range(4) for b in "ab" for k in range(4)]
    table = pd.DataFrame(rows, columns=["assessor", "sample", "attribute", "score"])
    named = [Named(kind="scale", about=f"s{k}") for k in range(4)]
    assert claims(table, named=named[:3], shuffles=99).table["named"].sum() == 3
    with pytest.raises(OptionError, match="4"):
        claims(table, named=named, shuffles=99)


@pytest.mark.parametrize(("others", "rows"), [("A", 0), ("AB", 1)])
def test_a_maker_is_set_against_two_others_at_least(others: str, rows: int):
    table = cells({"M": 9.0, "A": 1.0, "B": 2.0})
    found = maker_shifts(table, ["M"], others=list(others), attributes=["sweet"])
    assert len(found) == rows


@pytest.mark.parametrize(
    ("sweet", "right", "side"), [(2, 2, ""), (3, 2, "too_sweet"), (2, 3, "just_right")]
)
def test_half_of_the_assessors_are_no_majority(sweet: int, right: int, side: str):
    people = {f"T{k}": float(k < sweet) for k in range(sweet + right)}
    found = counts_by_side(cells(people, bottles="a"), "sweet", list(people)).iloc[0]
    assert found["side"] == side
    assert np.isnan(found["at_least"]) == (side == "")
