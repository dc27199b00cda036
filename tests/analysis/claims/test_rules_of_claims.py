"""Weights, majorities and makers of the error budget, on both sides of their thresholds."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.claims import Named, claims, planned
from kikichoko.analysis.claims.cell_table import CellTable
from kikichoko.analysis.claims.claim_members import members
from kikichoko.analysis.claims.maker_shift import maker_shifts
from kikichoko.analysis.claims.most_people import counts_by_side
from kikichoko.analysis.claims.shuffled_bottles import coarse
from kikichoko.analysis.claims.step_down import StatedQuestion, needed, step_down
from kikichoko.analysis.core import OptionError, tidy
from kikichoko.analysis.power import ScorePlan


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
    found = members(table, of_kind=of_kind, gaps=(), named=named)
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


def test_balances_and_the_gap_weigh_as_much_as_scales():
    rows = [("A", "a", name, 1.0) for name in ("sweet", "nose", "palate")]
    table = pd.DataFrame(rows, columns=["assessor", "sample", "attribute", "score"])
    panel = CellTable(tidy(table), ["A"], ["a"])
    of_kind = {"scale": ["nose", "palate"], "balance": ["sweet"]}
    found = members(panel, of_kind=of_kind, gaps=[("palate", "nose")], named=[])
    assert [(one.kind, one.weight) for one in found] == [
        ("scale", 1.0), ("scale", 1.0), ("balance", 1.0), ("gap", 1.0),
    ]  # fmt: skip


@pytest.mark.parametrize(("permutations", "rotated"), [(399, True), (400, False)])
def test_scores_are_rotated_below_400_permutations(permutations: int, rotated: bool):
    assert coarse(permutations) is rotated


@pytest.mark.parametrize("n", [0, 1, 3])
def test_the_overall_question_says_whether_it_was_named(n: int):
    """Named as one of three it weighs 5, as much as when it was not named."""
    rng = np.random.default_rng(1)
    rows = [(f"T{i}", b, f"s{k}", rng.normal()) for i in range(4) for b in "ab" for k in range(2)]
    table = pd.DataFrame(rows, columns=["assessor", "sample", "attribute", "score"])
    others = [Named(kind="scale", about="s0"), Named(kind="scale", about="s1")]
    named = [Named(kind="overall"), *others][:n]
    found = claims(table, named=named, shuffles=99).table.set_index("kind").loc["overall"]
    assert bool(found["named"]) is (n > 0)
    assert found["weight"] == {0: 5.0, 1: 10.0, 3: 5.0}[n]


@pytest.mark.parametrize("named", [3, 4])
def test_three_questions_are_planned_as_named_and_no_fourth(named: int):
    plan = ScorePlan(samples=3, assessors=6, replicates=2, interaction=0.16, residual=0.64)
    if named == 3:
        assert len(planned(plan, named=named)) == 3
    else:
        with pytest.raises(OptionError, match="three"):
            planned(plan, named=named)


def exact(p: float, weight: float = 1.0) -> StatedQuestion:
    return StatedQuestion(None, weight, p, None)


@pytest.mark.parametrize(("p", "second"), [(0.024, 0.05), (0.026, 0.025)])
def test_a_question_that_is_claimed_makes_room_for_the_next(p: float, second: float):
    """Holm 1979: the first of two at 0.025, and only then the other at 0.05."""
    steps = step_down([exact(p), exact(0.9)], 0.05)
    assert (steps.first, steps.last) == pytest.approx((0.025, second))


def test_what_is_needed_by_plain_counting():
    """Twenty shuffles with smallest p over weight 0.01, 0.02, ...: one in twenty is 5 %."""
    q = np.arange(1, 21) / 100
    assert needed([StatedQuestion(q, 1.0, 0.5, None)], 0.05) == pytest.approx(0.01)
    assert needed([StatedQuestion(q, 1.0, 0.5, None)], 0.1) == pytest.approx(0.02)
    assert needed([StatedQuestion(q, 1.0, 0.5, None)], 0.04) == pytest.approx(0.005)
