"""Tastes, tastings, numbers, people, known cups and factors, on both sides of each threshold."""

from __future__ import annotations

import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from invented_marks import LINES, evidence_of, table, text
from kikichoko.forms.questions.question_types import Kind, Question, Text
from kikichoko.forms.questions.scorecard import default_scorecard
from kikichoko.panel.findings.budget import Weighed, gap_of, judge
from kikichoko.panel.findings.differences import bottle_order, claim, upper_end, with_end
from kikichoko.panel.overview import (
    by_number,
    declared_tastes,
    known_marks,
    left_out,
    more_counts,
    more_factors,
    opinions,
    order,
    sizes,
    what_for,
    who_makes,
)
from kikichoko.panel.overview.gaps import Gap, gaps, written
from kikichoko.panel.session.bottles import Bottle
from scipy.stats import t as student_t

CROSSED = [
    Bottle(
        name=name, fraction=fraction, tank=tank, pasteurised="1", meter_value=meter, acidity=acid
    )
    for name, fraction, tank, meter, acid in (
        ("a", "free-run", "T1", 1.0, 1.3),
        ("b", "press-end", "T1", 1.0, 1.3),
        ("c", "free-run", "T2", -5.0, 1.3),
        ("d", "press-end", "T2", 1.0, 1.8),
    )
]


def keys(made) -> list[str]:
    return [one.sentence.key.partition(".")[2] for one in made]


FRIENDS = {f"quality_c_A{n}": 2.0 for n in (1, 2, 3)} | {f"quality_c_A{n}": -2.0 for n in (4, 5, 6)}


@pytest.mark.parametrize(("styles", "told"), [("+++---", True), ("++ ---", False)])
def test_declared_tastes_are_set_apart_from_three_on_each_side(styles: str, told: bool):
    made = declared_tastes.statements(evidence_of(table(**FRIENDS, sweetness_c=2), styles=styles))
    assert bool(made) is told
    if told:
        assert keys(made) == ["taste_sizes", "taste_named", "taste_alike", "taste_judge"]
        said = text(made, "taste_sizes")
        assert "the 3 who like the style, a +" in said
        assert "nobody crosses over" in said
        assert "sweetness +" in text(made, "taste_alike")


def test_who_crosses_over_and_what_is_described_otherwise_is_told():
    apart = FRIENDS | {"quality_c_A3": -2.5, "quality_c_A1": 4, "quality_c_A2": 4}
    rows = table(**apart, **{f"body_c_A{n}": 3 for n in (1, 2, 3)})
    made = declared_tastes.statements(evidence_of(rows, styles="+++---"))
    assert "some cross over (A3 " in text(made, "taste_crossed")
    assert "apart, each for itself, in body +" in text(made, "taste_partly")


def test_camps_by_taste_are_no_equal_order():
    evidence = evidence_of(table(**FRIENDS), styles="+++---")
    assert "order_camps" in keys(order.statements(evidence, judge(evidence)))
    evidence = evidence_of(table())
    assert "order_alike" in keys(order.statements(evidence, judge(evidence)))


def test_black_glasses_are_for_a_cloudy_bottle_over_which_tastes_part():
    bottles = [
        Bottle(name="a", fraction="free-run", tank="T", pasteurised="1"),
        Bottle(name="b", fraction="free-run", tank="T", pasteurised="0"),
        Bottle(name="c", fraction="cloudy", tank="T", pasteurised="0"),
    ]
    rows = table(bottles="abc", **FRIENDS)
    step = declared_tastes.black_glasses(evidence_of(rows, bottles, "+++---"))
    assert next(str(one) for one in step).startswith("pour b and c in black glasses")
    assert declared_tastes.black_glasses(evidence_of(rows, bottles)) == []


def a_gap(by: float, *, claimed: bool = False, least: float = 0.2) -> Gap:
    return Gap(attribute="sweetness", high="x", low="y", by=by, least=least, most=by + 1, n=8,
               along=tuple("abcdefgh"), against=(), claimed=claimed)  # fmt: skip


@pytest.mark.parametrize(
    ("x", "y", "one", "sure", "kind"),
    [
        (-6.0, -5.0, a_gap(3, claimed=True), True, "near"),
        (-6.0, -4.9, a_gap(3, claimed=True), True, "along"),
        (-6.0, -5.0, a_gap(3), True, ""),
        (2.0, -5.0, a_gap(2), True, "against"),
        (2.0, -5.0, a_gap(2), False, ""),
        (-5.0, 2.0, a_gap(2), False, "along"),
        (-1.0, 2.0, a_gap(0.2, least=-1), False, "still"),
        (-0.9, 2.0, a_gap(0.2, least=-1), False, ""),
    ],
)
def test_a_gap_goes_along_or_against_the_meter_value(x, y, one, sure, kind):
    assert by_number.kind_of(one, {"x": x, "y": y}, by_number.SCALES[0], sure=sure) == kind


def test_numbers_beside_the_tongue_are_told_where_they_lie_apart():
    rows = table(sweetness_c=3, acidity_a=2)
    evidence = evidence_of(rows, CROSSED)
    made = by_number.statements(evidence, judge(evidence))
    assert "as the meter value would have it, sweeter: c above" in str(made[0].sentence)
    assert "d has the highest measured acidity (1.8 mL), and on the tongue a" in str(
        made[1].sentence
    )
    alike = [replace(one, meter_value=1.0, acidity=1.3) for one in CROSSED]
    evidence = evidence_of(rows, alike)
    assert by_number.statements(evidence, judge(evidence)) == []


@pytest.mark.parametrize(("times", "told"), [(2, True), (1, False)])
def test_firsts_are_counted_over_tastings(times: int, told: bool):
    evidence = evidence_of(table(times=times, quality_a_A1=4))
    made = opinions.statements(evidence, judge(evidence))
    assert ("A1 (a)" in text(made, "firsts_hold")) is told


@pytest.mark.parametrize(("by", "told"), [(5.0, True), (0.0, False)])
def test_a_first_place_rests_on_who_carries_a_quarter_of_it(by: float, told: bool):
    rows = table(scatter=0.05, quality_a=1.0 if not by else 0.0, quality_a_A1=by)
    evidence = evidence_of(rows)
    budget = judge(evidence)
    made = opinions.first_place(evidence, budget)
    shown = any(one.claimed for one in opinions.gaps(evidence, budget))
    assert bool(made) is told
    assert told or shown
    assert not told or "rests much on A1: 0.8 above" in text(made, "first_rests")


def leads_of(*leads: float, second: float = 0.0):
    """Return quality: bottle a above each of the others by so much of each, b a little higher."""
    rows = {f"A{n}": {"a": 5 + by, "b": 5 + second, "c": 5.0} for n, by in enumerate(leads, 1)}
    return pd.DataFrame(rows).T


@pytest.mark.parametrize(
    ("leads", "told"),
    [
        ((2.0, 2.0, 0.0, 0.0), ["A1", "A2"]),  # a quarter of 1.0 and more goes with either
        ((1.75, 0.75, 0.75, 0.75), ["A1"]),  # a quarter of 1.0 goes, just so
        ((1.72, 0.76, 0.76, 0.76), []),  # less than a quarter
        ((0.8, 0.0, -0.1, -0.1), []),  # all of a lead of 0.15, which is too little to say
        ((1.1, 0.3, 0.1, 0.1), []),  # more than half, and 0.23 points
        ((1.2, 0.3, 0.1, 0.1), ["A1"]),  # 0.26 points
    ],
)
def test_everybody_who_carries_a_first_place_is_named_and_no_small_change(leads, told):
    """Points and share, both sides; a demonstration said it of 0.1 points, and of one of two."""
    made = opinions._moved(leads_of(*leads), "a", set())
    assert (list(made[0].about[1:-1]) if made else []) == told
    assert not made or "that anybody marks a otherwise than the rest is not shown" in (
        text(made, "first_less").lower()
    )
    if made:
        assert all(f"without {code} (own: " in str(made[0].sentence) for code in told)


def test_a_first_place_rests_much_only_on_who_is_far_above():
    """All who carry a quarter are listed; it rests on those who are further above than chance."""
    made = opinions._moved(leads_of(2.0, 2.0, 0.0, 0.0), "a", {"A2", "A3"})
    said = text(made, "first_rests")
    assert "rests much on A2: 1.0 above" in said
    assert "without A1 (own: +2.0)" in said
    assert "without A2 (own: +2.0)" in said


@pytest.mark.parametrize(("p", "far"), [(0.025, True), (0.0251, False)])
def test_far_above_is_beyond_the_risk_over_all_assessors(monkeypatch, p: float, far: bool):
    """One-sided, Bonferroni over four: two-sided p up to 0.025 is 5 % over all."""
    rows = [("A1", "a", 3.0, p), ("A2", "a", -9.0, 1e-6), ("A3", "b", 9.0, 1e-6)]
    cells = pd.DataFrame(rows, columns=["assessor", "sample", "studentised", "p"])
    checks = SimpleNamespace(cells=cells.assign(attribute="quality"))
    monkeypatch.setattr(opinions, "checks_of_means", lambda _: checks)
    found = opinions._far_above(evidence_of(table(people=4)), "a", 4)
    assert found == ({"A1"} if far else set())


@pytest.mark.parametrize(("own", "key"), [(5.0, "first_rests"), (1.6, "first_less")])
def test_an_opinion_far_out_makes_a_first_place_and_one_within_scatter_does_not(own, key):
    """Four assessors, leads by hand; t of the deleted residual from least squares."""
    marks = {"A1": (5 + own, 5, 5.2), "A2": (5.4, 5, 5.1), "A3": (4.9, 5.5, 4.8),
             "A4": (5.3, 4.7, 5.0)}  # fmt: skip
    rows = [
        (who, bottle, 1, name, score + (0.3 * (n % 2) if name != "quality" else 0))
        for n, (who, own_marks) in enumerate(marks.items())
        for bottle, score in zip("abc", own_marks, strict=True)
        for name in LINES
    ]
    frame = pd.DataFrame(rows, columns=["assessor", "sample", "replicate", "attribute", "score"])
    evidence = evidence_of(frame)
    design = np.array([[1, *(w == x for x in ("A2", "A3", "A4")), *(b == x for x in "bc"),
                        (w, b) == ("A1", "a")] for w in marks for b in "abc"], float)  # fmt: skip
    y = np.array([score for own_marks in marks.values() for score in own_marks])
    beta, left, *_ = np.linalg.lstsq(design, y, rcond=None)
    error = np.sqrt(left[0] / 5 * np.linalg.inv(design.T @ design)[-1, -1])
    # How far that one cell is shifted is its deleted residual.
    one_sided = float(student_t.sf(beta[-1] / error, 5))
    assert (4 * one_sided <= 0.05) is (key == "first_rests")
    assert key in keys(opinions.first_place(evidence, judge(evidence)))


@pytest.mark.parametrize(
    ("second", "told"),
    [(0.09, ""), (0.1, "without A1 a, b come first together"), (0.11, "without A1 b comes first")],
)
def test_a_first_place_that_turns_without_one_person_is_told(second: float, told: str):
    made = opinions._another_first(leads_of(0.5, 0.1, 0.1, 0.1, second=second), "a")
    assert bool(made) is bool(told)
    assert not told or told in str(made[0].sentence)
    both = opinions._another_first(leads_of(0.6, 0.6, 0.0, 0.0, second=0.25), "a")
    assert "without any one of A1, A2 b comes first" in str(both[0].sentence)


@pytest.mark.parametrize(("by", "key"), [(0.5, None), (0.0, "some_alike"), (-0.5, "some_along")])
def test_every_pair_that_is_shown_and_not_for_everybody_is_listed(by: float, key: str | None):
    """One of eight marks both alike, or the other way; all others go along."""
    own = {f"body_a_A{n}": 3 for n in range(1, 8)} | {"body_a_A8": by}
    evidence = evidence_of(table(people=8, bottles="ab", scatter=0.0, **own))
    made = sizes._along(evidence, judge(evidence))
    told = {one for one in keys(made) if one in ("some_along", "some_alike")}
    assert told == ({key} if key else set())
    if key:
        assert "body, a above b by" in text(made, key)
        assert "7 of 8" in text(made, key)


@pytest.mark.parametrize(("gone", "whole"), [([], True), (["A1"], False)])
def test_everybody_is_said_of_those_who_marked_both_bottles(gone: list[str], whole: bool):
    rows = table(body_a=3, quality_a=3)
    left = rows["assessor"].isin(gone) & (rows["sample"] == "a") & (rows["attribute"] == "body")
    evidence = evidence_of(rows[~left])
    made = sizes._along(evidence, judge(evidence))
    assert ("everybody of the 6 in: body, " in text(made, "all_along")) is whole
    assert "overall quality" in text(made, "all_along")
    assert text(made, "all_seen").endswith("" if whole else "of the 6 did: body (5).")
    assert bool(text(made, "all_seen")) is not whole
    rows = rows[~(rows["assessor"].isin(gone) & (rows["sample"] == "a"))]
    evidence = evidence_of(rows)
    made = order._favourites(evidence, order.marks(evidence))
    told = "for all 6 assessors." if whole else "for all 5 assessors who marked every bottle, of 6."
    assert str(made[0].sentence) == f"a is first in quality {told}"


def test_gaps_as_wide_as_the_last_that_is_told_are_named(monkeypatch):
    """Four are told; as the fifth is as wide, as it is written, it is named; a narrower is not."""
    evidence = evidence_of(table(bottles="abc"))
    names = LINES

    def told(*by: float) -> str:
        own = [
            replace(a_gap(size, least=-0.1), attribute=name, high="a", low="b")
            for name, size in zip(names, by, strict=True)
        ]
        monkeypatch.setattr(who_makes, "gaps", lambda *_: own)
        return str(who_makes._widest_open(evidence, judge(evidence))[0].sentence)

    assert "as wide as the last" not in told(1, 0.9, 0.8, 0.7, 0.64)
    assert "; as wide as the last of these: overall quality (a above b). Nothing" in told(
        1, 0.9, 0.8, 0.74, 0.66
    )


@pytest.mark.parametrize(("off", "told"), [(5.0, True), (0.5, False)])
def test_a_mean_of_one_person_far_off_is_told_of_the_panel(off: float, told: bool):
    evidence = evidence_of(table(people=8, body_a_A3=-off))
    made = left_out.statements(evidence, judge(evidence))
    said = text(made, "far_off")
    assert ("A3, body of a, " in said) is told
    checks = left_out.checks_of_means(evidence)
    far = checks.cells[checks.cells["p_adjusted"] <= 0.05]
    assert said.count(" would be expected (") == len(far)
    assert (
        not told or "p is 0.05 or less: at that bar about 1 of the 5 attributes looked at" in said
    )
    guest = evidence_of(table(people=8, body_a_A3=-off), assessors={"A3": "consumer"})
    assert "A3" not in text(left_out.statements(guest, judge(guest)), "far_off"), "not judged"


def test_lists_of_people_stand_by_code_and_not_by_what_they_gave():
    """A ranking stood beside "never of merit"; whoever gives most comes last here."""
    rows = table(bottles="abcd", quality_a_A1=-1.0, quality_a_A6=2.0)
    evidence = evidence_of(rows, CROSSED, "   -  ")
    made = more_factors._by_person(evidence, "fraction")
    said = text(made, "contrast_people")
    assert re.findall(r"A\d", said) == ["A1", "A2", "A3", "A4", "A5", "A6"]
    people = tuple(reversed([replace(one, style="dislikes") for one in evidence.people]))
    evidence = replace(evidence, people=people)
    made = order._styles(evidence, [])
    assert re.findall(r"A\d", text(made, "style_dislikes"))[:6] == [
        "A1",
        "A2",
        "A3",
        "A4",
        "A5",
        "A6",
    ]


def test_a_lead_is_told_tasting_by_tasting_and_as_picked(monkeypatch):
    evidence = evidence_of(table(bottles="abc", body_a_A1=1, body_a_A2=0.8, body_a_A3=0.6))
    budget = judge(evidence)
    lead = replace(a_gap(0.4), attribute="body", high="a", low="b")
    monkeypatch.setattr(opinions, "told_leads", lambda *_: [lead])
    made = opinions._each_time(evidence, budget)
    assert "body of a above the mean of the others" in str(made[0].sentence)
    assert "first tasting 5 of 6, not A6; second tasting " in str(made[0].sentence)
    once = evidence_of(table(times=1, bottles="abc", body_a_A1=1))
    assert opinions._each_time(once, judge(once)) == []


@pytest.mark.parametrize(("by", "told"), [(4.5, True), (2.0, False)])
def test_who_sets_a_shown_bottle_twice_as_far_is_named(by: float, told: bool):
    rows = table(body_a=1.5, body_a_A2=by - 1.5)
    evidence = evidence_of(rows)
    said = text(who_makes.statements(evidence, judge(evidence)), "far_alone")
    assert ("A2, body: a" in said) is told


@pytest.mark.parametrize("lost", [False, True])
def test_claimed_gaps_are_tried_without_the_only_expert(lost: bool):
    evidence = evidence_of(table(body_a=3), assessors={"A1": "expert"})
    budget = judge(evidence)
    own = who_makes.gaps(evidence, budget)
    if lost:  # the others fall apart without the expert's mark
        wide = evidence._wide["body"]
        wide.loc[wide.index != "A1", "a"] = [9, 1, 9, 1, 9]
    made = who_makes._without_expert(evidence, budget)
    assert any(one.claimed for one in own)
    assert keys(made) == ["without_expert_lost" if lost else "without_expert"]


@pytest.mark.parametrize(("two", "told"), [(2.0, True), (0.6, False)])
def test_two_people_who_make_half_of_an_open_gap_are_named(two: float, told: bool):
    own = {f"body_a_A{n}": 0.6 for n in range(1, 7)} | {"body_a_A1": two, "body_a_A2": two}
    own |= {f"body_a_A{n}": -1.5 for n in (7, 8)}
    evidence = evidence_of(table(people=8, times=1, bottles="ab", scatter=0.0, **own))
    said = text(who_makes.statements(evidence, judge(evidence)), "open_widest")
    assert "body, a above b by" in said
    assert ("made mostly by A1 2.0, A2 2.0" in said) is told
    assert said.startswith("Widest gaps between two bottles, in the attributes without a pair that")


def test_who_runs_against_nobody_is_said_with_values_below_zero_or_without():
    evidence = evidence_of(table(body_a=3, sweetness_b=3, acidity_c=3))
    assert "nobody_against" in keys(who_makes.statements(evidence, judge(evidence)))
    evidence = evidence_of(table(scatter=1.0))
    assert "nobody_against_below" in keys(who_makes.statements(evidence, judge(evidence)))


@pytest.mark.parametrize(("step", "told"), [(2.6, True), (2.4, False)])
def test_steps_of_a_quarter_of_the_scale_are_told(step: float, told: bool):
    rows = table(scatter=0.0)
    first = (rows["assessor"] == "A3") & (rows["sample"] == "b") & (rows["attribute"] == "body")
    rows.loc[first & (rows["replicate"] == 1), "score"] += step
    made = who_makes._widest_steps(evidence_of(rows))
    assert ([str(one.sentence) for one in made] != []) is told
    assert not told or "A3 body of b 2.6 (a quarter of the scale or more in 1 of" in str(
        made[0].sentence
    )


@pytest.mark.parametrize(("second", "told"), [(0.0, True), (0.5, False)])
def test_the_end_of_the_scale_in_each_tasting(second: float, told: bool):
    rows = table(scatter=0.0)
    mine = (rows["assessor"] == "A2") & (rows["sample"] == "d") & (rows["attribute"] == "quality")
    rows.loc[mine, "score"] = [0.0, second]
    assert bool(who_makes._stays_at_end(evidence_of(rows))) is told


@pytest.mark.parametrize(("second", "told"), [(1.0, True), (0.0, False)])
def test_the_same_side_in_each_tasting(second: float, told: bool):
    rows = table()
    balance = rows[rows["attribute"] == "body"].assign(attribute="sweetness_balance", score=0.0)
    mine = (balance["assessor"] == "A2") & (balance["sample"] == "d")
    balance.loc[mine, "score"] = [1.0, second]
    made = who_makes._same_side(evidence_of(pd.concat([rows, balance])))
    assert keys(made) == ["same_side" if told else "same_side_none"]
    assert not told or "d too sweet A2" in str(made[0].sentence)


@pytest.mark.parametrize(("also", "said"), [
    (("A1", "A2"), "d too sweet A2 (and A1, not in the counts)."),
    (("A1",), "d too sweet A1 (not in the counts)."),
    (("A2",), "d too sweet A2."),
])  # fmt: skip
def test_whom_the_counts_leave_out_is_named_apart_among_the_same_side(also, said: str):
    rows = table()
    balance = rows[rows["attribute"] == "body"].assign(attribute="sweetness_balance", score=0.0)
    mine = balance["assessor"].isin(also) & (balance["sample"] == "d")
    balance.loc[mine, "score"] = 1.0
    evidence = evidence_of(pd.concat([rows, balance]), assessors={"A1": "maker"})
    (made,) = who_makes._same_side(evidence)
    assert said in str(made.sentence)


@pytest.mark.parametrize(
    ("times", "bottles", "told"), [(3, "ab", True), (2, "ab", False), (3, "abc", False)]
)
def test_people_who_set_two_bottles_apart_for_themselves(times: int, bottles: str, told: bool):
    evidence = evidence_of(table(people=4, times=times, bottles=bottles, body_a_A1=4))
    made = who_makes._own_gaps(evidence, judge(evidence))
    assert bool(made) is told
    if told:
        said = str(made[0].sentence)
        assert "A1 body, a above b by" in said
        assert "no property is shown that the panel shares" in said
        shared = evidence_of(table(people=4, times=times, bottles=bottles, body_a=4))
        assert keys(who_makes._own_gaps(shared, judge(shared))) == ["own_gaps_shown"]


@pytest.mark.parametrize(("by", "told"), [(3.0, True), (0.0, False)])
def test_what_a_bottle_stands_out_in_is_told_where_anything_is(by: float, told: bool):
    evidence = evidence_of(table(body_a=by, scatter=0.2))
    made = who_makes._stands_out(evidence, judge(evidence))
    assert bool(made) is told
    assert not told or "a: body +" in str(made[0].sentence)


CUPS = [Bottle(name="a"), Bottle(name="b"), Bottle(name="k", control="clean"),
        Bottle(name="s", control="buttery")]  # fmt: skip


def with_fault(rows: pd.DataFrame, noted: dict[tuple[str, str], float]) -> pd.DataFrame:
    """Add a fault that these people noted in these bottles in every cup."""
    fault = rows[rows["attribute"] == "body"].assign(attribute="fault:buttery", score=0.0)
    for (who, bottle), severity in noted.items():
        fault.loc[(fault["assessor"] == who) & (fault["sample"] == bottle), "score"] = severity
    return pd.concat([rows, fault])


def known(missed: str, **put):
    finders = [f"A{n}" for n in range(1, 6) if f"A{n}" != missed]
    noted = {(who, cup): 2.0 for who in finders for cup in ("s", "b")}
    rows = with_fault(table(people=5, bottles="abks", quality_s=-1.5, quality_b=-3, **put), noted)
    return evidence_of(rows, CUPS)


@pytest.mark.parametrize(("finders", "told"), [(3, True), (2, False)])
def test_who_notes_elsewhere_what_half_note_in_a_bottle_is_named(finders: int, told: bool):
    noted = {(f"A{n}", "b"): 2.0 for n in range(1, finders + 1)}
    noted |= {("A5", "a"): 1.0, ("A5", "k"): 3.0, ("A6", "s"): 3.0, ("A1", "a"): 1.0}
    found = evidence_of(with_fault(table(people=6, bottles="abks"), noted), CUPS)
    made = more_counts.statements(found)
    assert ("missed_here" in keys(made)) is told
    if told:
        said = text(made, "missed_here")
        assert "in b, and elsewhere all the same: A5 a 1, k 3. Ask" in said
        assert "A6" not in said, "a find in the spiked cup is none"
        assert "A1" not in said, "noted in both"


@pytest.mark.parametrize(("missed", "told"), [("A5", True), ("", False)])
def test_the_zeros_of_who_missed_a_spike_are_left_out(missed: str, told: bool):
    made = known_marks.statements(known(missed, body_a=2))
    assert ("finders" in keys(made)) is told
    assert ("missed" in keys(made)) is told
    if told:
        assert "b 8 of 8" in text(made, "finders")
        assert "gives it −1." in text(made, "missed")
    assert "b: until the cause is known neither release nor blend" in text(made, "not_blended")
    assert "b lies −" in text(made, "fault_part")
    assert "a body +" in text(made, "known_marks")


def test_a_fault_may_make_all_of_it_where_limits_say_no_more():
    wide = {f"quality_s_A{n}": by for n, by in enumerate((1.0, -4, 1, -4, 0), start=1)}
    assert "fault_part_open" in keys(known_marks.statements(known("", **wide)))


@pytest.mark.parametrize(("by", "told"), [(3.0, True), (-3.0, False)])
def test_one_alone_against_a_known_cup_is_left_out(by: float, told: bool):
    made = known_marks.statements(known("", quality_s_A1=by))
    assert ("s 4 of 5, not A1" in text(made, "known_who")) is told


def test_factors_are_told_person_by_person_and_words_by_level():
    rows = table(body_b=2, body_d=2, quality_c_A1=1.5)
    word = rows[(rows["attribute"] == "body") & (rows["replicate"] == 1)]
    word = word.assign(attribute="aroma:banana", score=0.0)
    given = word["sample"].isin(["b", "d"]) & word["assessor"].isin(["A1", "A2"])
    word.loc[given, "score"] = 1.0
    alone = word.assign(score=word["score"] * (word["assessor"] == "A1"))
    for rest, told in ((word, True), (alone, False)):
        evidence = evidence_of(pd.concat([rows, rest]), CROSSED)
        made = more_factors.statements(evidence, judge(evidence))
        said = text(made, "words_level")
        assert ("banana on 4 of 12 sheets of press-end (b 2, d 2; from 2)" in said) is told
    people = [str(one.sentence) for one in made if one.sentence.key.endswith("contrast_people")]
    assert len(people) == 2
    assert "interaction_sizes" in keys(made)


@pytest.mark.parametrize(("slope", "told"), [(-2.0, True), (2.0, False)])
def test_contrasts_are_told_without_who_runs_against(slope: float, told: bool):
    rows = table(scatter=0.2, bitterness_b=2, bitterness_d=2, body_c=2, acidity_a=2,
                 bitterness_b_A6=slope - 2, bitterness_d_A6=slope - 2)  # fmt: skip
    evidence = evidence_of(rows, CROSSED)
    made = more_factors.statements(evidence, judge(evidence))
    said = text(made, "contrast_without")
    assert (
        "bitterness, press-end above free-run by 2" in said and "left out: A6 −" in said
    ) is told
    assert ("A6 and the mean of the others" in text(made, "by_attribute")) is told


@pytest.mark.parametrize(("by", "told"), [(3.0, True), (0.0, False)])
def test_sound_bottles_can_go_out_as_what_sets_them_apart(by: float, told: bool):
    rows = with_fault(table(sweetness_a=by, acidity_b=by, quality_d=-by, scatter=0.2), {})
    evidence = evidence_of(rows)
    made = what_for.statements(evidence, judge(evidence))
    assert ("a: most sweetness; b: most acidity" in text(made, "use")) is told
    assert ("d came lower in quality" in text(made, "use_lower")) is told


@pytest.mark.parametrize("people", [6, 0])
def test_what_only_a_bottle_held_back_is_told_from_sets_nothing_apart(people: int):
    noted = {(f"A{n}", "d"): 3.0 for n in range(1, people + 1)}
    rows = with_fault(table(sweetness_d=3, acidity_d=-3, scatter=0.2), noted)
    evidence = evidence_of(rows)
    made = what_for.statements(evidence, judge(evidence))
    said = text(made, "alike")
    alike = "set a, b, c apart from each other. What all of them have beside d: more acidity"
    assert (f"{alike}; less sweetness." in said) is bool(people)
    assert "use" not in keys(made)
    assert "but this does" not in said


def claimed_of(*ones: tuple[str, str, list[tuple[str, str]]]) -> SimpleNamespace:
    """Return a budget in which so much is claimed: kind, about, pairs."""
    made = [Weighed(kind=kind, about=about, p=0.001, adjusted=0.01, pairs=tuple(pairs))
            for kind, about, pairs in ones]  # fmt: skip
    return SimpleNamespace(claimed=lambda *kinds: [one for one in made if one.kind in kinds])


@pytest.mark.parametrize("told", [True, False])
def test_two_bottles_alike_are_told_with_the_balance_and_with_a_gap_that_parts_them(told: bool):
    rows = table()
    extra = [
        rows[rows["attribute"] == "body"].assign(attribute=name, score=score)
        for name, score in (("sweetness_balance", 0.0), ("sweetness_expected", 3.0))
    ]
    evidence = evidence_of(pd.concat([rows, *extra]))
    aside = [("d", "a"), ("d", "b"), ("c", "a"), ("c", "b")]
    within = [("b", "a")] if told else [("d", "a")]
    budget = claimed_of(
        ("scale", "body", aside),
        ("balance", "sweetness_balance", aside),
        ("gap", gap_of("expected", evidence), within),
    )
    (made,) = what_for._alike(evidence, budget, ["a", "b"])
    said = str(made.sentence)
    assert "What both have beside c, d: less body; further from “much too sweet” in sweet" in said
    assert ("but this does: the sweetness found against what the smell" in said) is told
    ja = made.sentence.to("ja")
    assert "から遠い" in ja
    assert ("違いは示されている" in ja) is told


@pytest.mark.parametrize(("other", "told"), [(0, "a: most sweetness"), (3, "sweetness than c, d")])
def test_most_is_said_of_what_is_claimed_apart_from_every_other(other: int, told: str):
    rows = table(sweetness_a=3, sweetness_b=other, acidity_b=3, scatter=0.2)
    evidence = evidence_of(with_fault(rows, {}))
    said = text(what_for.statements(evidence, judge(evidence)), "use")
    assert told in said
    assert ("most sweetness" in said) is (other == 0)


@pytest.mark.parametrize(("low", "told"), [({"b", "c"}, True), ({"b"}, False)])
def test_a_bottle_lower_than_most_others_need_not_go_out_alone(
    low: set[str], told: bool, monkeypatch
):
    found = [
        replace(a_gap(1, claimed=True), attribute="quality", high=name, low="d") for name in low
    ]
    monkeypatch.setattr(what_for, "gaps", lambda *_: found)
    evidence = evidence_of(table())  # four bottles: more than half of three others
    assert (what_for.lower(evidence, judge(evidence)) == ["d"]) is told


@pytest.mark.parametrize(("bottles", "told"), [(9, True), (10, False)])
def test_a_number_beside_the_tongue_says_in_its_sentence_what_few_bottles_cannot(bottles, told):
    names = "abcdefghij"[:bottles]
    rows = table(bottles=names, sweetness_a=4, acidity_b=4, scatter=0.2)
    known = [Bottle(name=name, meter_value=-9.0 if name == "a" else 3.0,
                    acidity=2.2 if name == "b" else 1.2) for name in names]  # fmt: skip
    evidence = evidence_of(rows, known)
    made = by_number.statements(evidence, judge(evidence))
    assert keys(made) == ["by_number_meter_value", "by_number_acidity"]
    for one in made:
        first = re.split(r"\.(?= |$)", str(one.sentence))[0]
        assert (f"; {bottles} bottles cannot tell what the number does" in first) is told
        first = one.sentence.to("ja").partition("。")[0]
        assert (f"（{bottles}本では、数値の影響をほかの違いと分けられない）" in first) is told


@pytest.mark.parametrize(
    ("name", "low", "high", "end"),
    [
        ("texture", "", "", "silky"),
        ("body", "", "", ""),
        ("bitterness", "", "", ""),
        ("quality", "", "", ""),
        ("style", "old-fashioned", "modern", "modern"),
        ("style", "none", "very strong", ""),  # from little to much
        ("modern style", "old-fashioned", "modern", ""),  # its name says it
    ],
)
def test_a_line_between_two_kinds_is_told_with_its_upper_end(name, low, high, end):
    line = Question(key=name, section="palate", kind=Kind.LINE, label=Text.of(name),
                    low_label=Text.of(low), high_label=Text.of(high))  # fmt: skip
    card = default_scorecard()
    evidence = SimpleNamespace(language="en", name=lambda _: name,
                               question=lambda _: line if low else card[name])  # fmt: skip
    assert upper_end(evidence, name) == end
    said = str(with_end(evidence, name))
    assert said == (f"{name} towards “{end}”" if end else name)


def test_the_japanese_name_of_texture_says_its_upper_end_itself():
    card = default_scorecard()
    evidence = SimpleNamespace(language="ja", name=lambda key: card.name(key, "ja"),
                               question=card.__getitem__)  # fmt: skip
    assert upper_end(evidence, "texture") == ""
    renamed = SimpleNamespace(**{**vars(evidence), "name": lambda _: "舌触り"})
    assert upper_end(renamed, "texture") == "なめらか"


def test_texture_is_told_with_its_end_wherever_it_differs():
    rows = with_fault(table(body_a=3, body_b=-3, scatter=0.2), {})
    rows["attribute"] = rows["attribute"].replace("body", "texture")
    evidence = evidence_of(rows)
    budget = judge(evidence)
    one = budget.of("scale", "texture")
    said = str(claim(evidence, one).sentence)
    assert said.startswith("texture towards “silky”: a (")
    assert "nearer to “silky”" in str(bottle_order(evidence, budget, "a"))
    assert "further from “silky”" in str(bottle_order(evidence, budget, "b"))
    assert "texture" not in str(bottle_order(evidence, budget, "a"))
    found = [own for own in gaps(evidence, budget) if own.attribute == "texture"]
    (gap,) = [own for own in found if (own.high, own.low) == ("a", "b")]
    assert str(written(evidence, gap)).startswith("texture towards “silky”, a above b by ")
    released = text(what_for.statements(evidence, budget), "use")
    assert "a: nearest to “silky” in texture" in released
    assert "b: furthest from “silky” in texture" in released
