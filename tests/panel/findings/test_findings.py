"""What tables allow to say: claims, camps, controls, orders, numbers, one verdict a bottle."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from kikichoko.panel.findings.all_statements import findings_of_tables, statements_of_tables
from kikichoko.panel.findings.budget import HINT, Budget, Weighed
from kikichoko.panel.findings.camps import split
from kikichoko.panel.findings.statement import Statement, in_short
from kikichoko.panel.session.bottles import Bottle

COLUMNS = ["assessor", "sample", "replicate", "attribute", "score"]


def table(
    effect: dict[tuple[str, str], float], *, people: int = 8, noise: float = 0.5, seed: int = 5
) -> pd.DataFrame:
    """Draw marks of three bottles on four attributes, twice; `effect` by bottle and attribute."""
    rng = np.random.default_rng(seed)
    rows = []
    for person in range(people):
        for bottle in ("a", "b", "c"):
            for name in ("sweetness", "acidity", "body", "quality"):
                for turn in (1, 2):
                    mean = 5 + effect.get((bottle, name), 0.0)
                    rows.append((f"T{person}", bottle, turn, name, mean + noise * rng.normal()))
    return pd.DataFrame(rows, columns=COLUMNS)


def test_a_large_difference_is_claimed_with_its_bottles_and_its_way():
    made = statements_of_tables(table({("c", "body"): 3.0}))
    claims = [one for one in made if one.kind == "claim"]
    assert [one.about[0] for one in claims] == ["body"]
    assert "higher than a, b" in str(claims[0].sentence)
    assert claims[0].p <= claims[0].p_adjusted <= 0.05
    lines = [str(line) for _, line in in_short(made)]
    assert lines[0] == "The bottles differ in body (c above a, b)."


def test_nothing_is_claimed_where_nothing_was_put_in():
    made = statements_of_tables(table({}))
    assert not [one for one in made if one.kind == "claim"]
    assert any(
        "No difference between the bottles is shown" in str(line) for _, line in in_short(made)
    )


def test_what_calibrations_count_is_what_the_report_says():
    found = findings_of_tables(table({("c", "body"): 3.0, ("a", "sweetness"): 0.7}))
    said = [one for one in found.statements if one.kind in ("claim", "hint")]
    assert list(found.within_budget) == said


def test_hints_end_at_their_limit():
    def weighed(adjusted: float) -> Weighed:
        return Weighed(kind="scale", about="body", p=0.01, adjusted=adjusted)

    def hinted(adjusted: float) -> int:
        judged = (weighed(adjusted),)
        budget = Budget(found=None, judged=judged, alpha=0.05, majority_from=None)
        return len(budget.hinted())

    assert HINT == 0.20
    assert [hinted(p) for p in (0.05, 0.051, 0.20, 0.201)] == [0, 1, 1, 0]


@pytest.mark.parametrize(
    ("marks", "found"),
    [
        ([9, 9, 9, 9, 1, 1, 1, 1], True),
        ([7, 7, 3.9, 4], True),  # 3.0 points apart on a scale of 10
        ([6.9, 7, 4, 4], False),  # 2.9 points apart
        ([9, 1, 1, 1], False),  # one alone is no camp
        ([9, 6, 2, 2], False),  # as far apart within as between
    ],
)
def test_camps_are_told_from_their_limits_on(marks: list[float], found: bool):
    assert (split(pd.Series(marks), 10.0) is not None) is found


def test_two_camps_are_told_and_no_agreement_is_said():
    rows = [(f"T{i}", "a", 1, "quality", 6.0) for i in range(8)]
    rows += [(f"T{i}", "b", 1, "quality", 9.0 if i < 4 else 1.0) for i in range(8)]
    made = statements_of_tables(pd.DataFrame(rows, columns=COLUMNS))
    told = [one for one in made if one.box == "findings.box_camps"]
    assert len(told) == 1
    assert "splits the panel" in str(told[0].sentence)
    assert "in common" in " ".join(str(line) for _, line in in_short(made))


def test_one_order_for_all_is_a_caution_in_the_box():
    rows = table({})
    place = {"a": 1, "b": 2, "c": 3}
    same = rows.assign(
        position=[
            place[x] + 3 * (r - 1) for x, r in zip(rows["sample"], rows["replicate"], strict=False)
        ]
    )
    turned = same.assign(
        position=[
            p if who in ("T0", "T1", "T2") else 7 - p
            for who, p in zip(same["assessor"], same["position"], strict=False)
        ]
    )
    said = {
        key: [one for one in statements_of_tables(rows) if "same order" in str(one.sentence)]
        for key, rows in (("same", same), ("turned", turned))
    }
    assert len(said["same"]) == 1
    assert said["same"][0].rank is not None
    assert said["turned"] == []


def test_blanks_are_named_and_nobody_is_left_out_for_them():
    rows = table({("c", "body"): 3.0})
    hole = (rows["assessor"] == "T3") & (rows["sample"] == "b") & (rows["attribute"] == "acidity")
    made = statements_of_tables(rows[~(hole & (rows["replicate"] == 2))])
    assert any("1 mark is blank (T3, b, acidity)" in str(one.sentence) for one in made)
    assert any(one.kind == "claim" and one.about[0] == "body" for one in made)


@pytest.mark.parametrize(("gone", "told"), [(["b"], True), ([], False)])
def test_a_look_that_is_missing_whole_is_told(gone: list[str], told: bool):
    """All looks of one bottle by one assessor: no single mark of it is blank."""
    rows = table({})
    looks = rows[(rows["attribute"] == "acidity") & (rows["replicate"] == 1)]
    looks = looks.assign(attribute="clarity")
    looks = looks[~((looks["assessor"] == "T3") & looks["sample"].isin(gone))]
    made = statements_of_tables(pd.concat([rows, looks]))
    said = [str(one.sentence) for one in made]
    assert (
        any(
            one.startswith("1 look (1 mark, one a question and cup) is missing whole (T3: b)")
            for one in said
        )
        is told
    )
    assert not any("is blank" in one for one in said)


def test_numbers_and_tongue_are_set_side_by_side_and_lees_are_told():
    bottles = (
        Bottle(name="a", meter_value=3.0, acidity=1.3, fraction="free-run"),
        Bottle(name="b", meter_value=2.0, acidity=1.4, fraction="clear"),
        Bottle(name="c", meter_value=6.0, acidity=1.6, glucose=2.5, fraction="cloudy"),
    )
    made = statements_of_tables(table({("c", "sweetness"): 3.0}), bottles=bottles)
    against = [one for one in made if "By the index of 1974 c is the driest" in str(one.sentence)]
    assert len(against) == 1
    assert "highest sweetness" in str(against[0].sentence)
    assert "None of these is shown to be the cause" in str(against[0].sentence)
    assert any("measured with the lees in" in str(one.sentence) for one in made)
    clear = tuple(
        Bottle(name=one.name, meter_value=one.meter_value, acidity=one.acidity, supernatant="yes",
               fraction=one.fraction)
        for one in bottles
    )  # fmt: skip
    again = statements_of_tables(table({("c", "sweetness"): 3.0}), bottles=clear)
    assert not any("lees in" in str(one.sentence) for one in again)


@pytest.mark.parametrize(("by", "shown"), [(3.0, True), (0.3, False)])
def test_a_place_on_the_tongue_that_is_not_shown_is_said_to_be_none(by: float, shown: bool):
    bottles = tuple(
        Bottle(name=name, meter_value=value, acidity=1.4)
        for name, value in zip("abc", (3, 2, 8), strict=True)
    )
    found = findings_of_tables(table({("c", "sweetness"): by}), bottles=bottles)
    (told,) = [
        str(one.text) for one in found.verdicts if (one.sample, one.question) == ("c", "numbers")
    ]
    assert "driest by it, sweetest on the tongue" in told
    assert ("not shown" not in told) == shown


def test_every_bottle_has_one_verdict_a_question_and_controls_have_none():
    bottles = (Bottle(name="a"), Bottle(name="b"), Bottle(name="c", control="clean"))
    found = findings_of_tables(table({("c", "body"): 3.0}), bottles=bottles)
    places = [(one.sample, one.question) for one in found.verdicts]
    assert len(places) == len(set(places))
    assert {sample for sample, _ in places} == {"a", "b"}
    assert not [one for one in found.statements if one.kind == "claim"], "c is a control"


def test_the_box_leaves_descriptions_out_before_anything_else():
    def one(rank: int, kind: str) -> Statement:
        return Statement(kind=kind, about=(), sentence=f"{kind} {rank}", section="x", rank=rank)

    every = [*(one(n, "caution") for n in range(5)), *(one(n, "description") for n in range(5, 12))]
    lines = [line for _, line in in_short(every)]
    assert lines == [f"caution {n}" for n in range(5)] + [f"description {n}" for n in (5, 6, 7)]
    held = in_short([one(n, "advice") for n in range(11)])
    assert len(held) == 11, "advice is never cut"
