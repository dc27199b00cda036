"""Rules of the report of few assessors, on both sides of their thresholds."""

from __future__ import annotations

import sys
from itertools import product
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

sys.path.insert(0, str(Path(__file__).parents[3] / "benchmarks"))
import few_exchanged
from kikichoko.analysis.performance.next_step import lattice_of, probabilities
from kikichoko.analysis.performance.usual_spreads import default_spreads, wide_spreads
from kikichoko.panel.few import bottles, directions, tasters
from kikichoko.panel.few.contrasts import contrasts
from kikichoko.panel.few.side_by_side import beyond_own_scatter, is_few, rows
from kikichoko.panel.few.statements import statements
from kikichoko.panel.findings.all_statements import findings_of_tables
from kikichoko.panel.findings.evidence import Evidence
from kikichoko.panel.session.bottles import Bottle

TASTES = ("sweetness", "acidity", "bitterness", "umami", "astringency", "body")


def session(marks, *, roles=None, replicates=1, attributes=TASTES) -> Evidence:
    """Return a session of marks[assessor][bottle], the same in each attribute."""
    table = pd.DataFrame(
        [
            (who, bottle, replicate, name, float(mark))
            for who, own in marks.items()
            for (bottle, mark), name, replicate in product(
                own.items(), attributes, range(1, replicates + 1)
            )
        ],
        columns=["assessor", "sample", "replicate", "attribute", "score"],
    )
    return findings_of_tables(table, assessors=roles).evidence


def keys(evidence: Evidence) -> list[str]:
    return [one.sentence.key.partition(".")[2] for one in statements(evidence)]


def three(low: float, high: float) -> dict:
    return {who: {"a": low, "b": low, "c": high} for who in ("T1", "T2", "T3")}


def test_sure_is_said_of_a_wide_gap_and_not_of_a_point():
    apart = {"T1": {"a": 4, "b": 4, "c": 5}, "T2": {"a": 4, "b": 5, "c": 5},
             "T3": {"a": 5, "b": 4, "c": 5}}  # fmt: skip
    wide, narrow = session(three(2, 8), replicates=2), session(apart, replicates=2)
    assert directions.sure(wide)
    assert "leans" in keys(wide)
    assert not directions.sure(narrow)
    assert "none_sure" in keys(narrow)
    claim = next(one for one in statements(wide) if one.kind == "claim")
    assert claim.p_adjusted <= directions.RISK
    assert "higher in c than in" in str(claim.sentence)


@pytest.mark.parametrize(("more", "first"), [(0.0, "z"), (1e-10, "z"), (1e-8, "a")])
def test_of_pairs_as_wide_the_bottle_that_stands_first_goes_first(more: float, first: str):
    """The session has z before a; its names, which a translation changes, decide nothing."""
    of_z, of_a = (
        directions.Pair(attribute="body", high=high, low="c", raw=raw, mean=1.0, least=0.0,
                        most=2.0, above=0.9, risk=1.0)
        for high, raw in (("z", 2.0), ("a", 2.0 + more))
    )  # fmt: skip
    place = {"z": 0, "a": 1, "c": 2}
    found = min((of_a, of_z), key=lambda one: directions._by_width(one, place))
    assert found.high == first


def test_one_assessor_is_never_sure():
    assert not directions.sure(session({"T1": {"a": 0, "b": 0, "c": 10}}, replicates=2))


def test_two_assessors_who_agree_exactly_by_two_points_make_nothing_sure():
    # F(2, 2) is infinite here; no claim may come of two degrees of freedom.
    evidence = session({"T1": {"a": 4, "b": 4, "c": 6}, "T2": {"a": 3, "b": 3, "c": 5}})
    assert not directions.sure(evidence)
    assert "equal_steps" in keys(evidence)


def test_it_is_for_three_who_count_and_four_people():
    def people(n: int, makers: int = 0) -> Evidence:
        codes = [f"T{i}" for i in range(n)]
        roles = dict.fromkeys(codes[:makers], "maker")
        return session({code: {"a": 3, "b": 4} for code in codes}, roles=roles)

    assert is_few(people(3))
    assert is_few(people(4, makers=1))
    assert not is_few(people(4))
    assert not is_few(people(5, makers=2))
    assert not is_few(session({"T1": {"a": 3}, "T2": {"a": 3}}))


@pytest.mark.parametrize(("lower", "told"), [(1.0, True), (0.5, False)])
def test_a_bottle_last_for_all_is_advised_against_from_a_point_on(lower, told):
    marks = {who: {"a": 6, "b": 6.5, "c": 6 - lower} for who in ("T1", "T2")}
    evidence = session(marks, attributes=("quality", "sweetness"))
    gaps = rows(evidence)[0].from_others("c")
    assert bottles.last_for_all(evidence, "c") is bool((gaps <= -bottles.LOWER).all()) is told


@pytest.mark.parametrize(("width", "told"), [(4, True), (2, False)])
def test_a_wider_use_of_the_scale_is_told_from_half_as_much_again(width, told):
    evidence = session({"T1": {"a": 3, "b": 5}, "T2": {"a": 3, "b": 3 + width}})
    line = next(one for one in statements(evidence) if one.sentence.key.endswith(".spread"))
    assert ("more widely" in str(line.sentence)) is told


@pytest.mark.parametrize(("level", "told"), [(1.0, True), (0.5, False)])
def test_levels_are_told_from_a_tenth_of_the_scale_on(level, told):
    evidence = session({"T1": {"a": 3, "b": 5}, "T2": {"a": 3 + level, "b": 5 + level}})
    assert ("levels" in keys(evidence)) is told


@pytest.mark.parametrize(("last", "told"), [(-1, True), (1, False)])
def test_two_tastings_that_mirror_each_other_are_told(last, told):
    """The second tasting of T1 has a and b exchanged, or not."""
    shape = dict(zip(TASTES, (2, -2, 3, -1.5, 2.5, -3), strict=True))
    lines = []
    for who, replicate, (name, gap) in product(("T1", "T2"), (1, 2), shape.items()):
        sign = last if (who, replicate) == ("T1", 2) else 1
        for bottle, mark in (("a", 5 + sign * gap / 2), ("b", 5 - sign * gap / 2), ("c", 5)):
            lines.append((who, bottle, replicate, name, mark + 0.25 * (replicate - 1)))
    table = pd.DataFrame(lines, columns=["assessor", "sample", "replicate", "attribute", "score"])
    evidence = findings_of_tables(table).evidence
    assert [one[:3] for one in tasters.mirrored(evidence)] == ([("T1", "a", "b")] if told else [])
    # The simulation has the rule for arrays.
    order = ["replicate", "assessor", "sample", "attribute"]
    marks = table.sort_values(order)["score"].to_numpy().reshape(2, 2, 3, len(shape))
    assert few_exchanged.mirrored(marks) == ([(0, 0, 1)] if told else [])


@pytest.mark.parametrize(("far", "told"), [(2.5, True), (2.0, False)])
def test_two_at_opposite_ends_are_asked_from_a_quarter_of_the_scale_on(far, told):
    """Levels are set aside: b lies `far` higher for T1 than for T2; on the others they agree."""
    own = 0.75 * far  # of which two thirds are left beside the mean of three
    marks = {"T1": {"a": 4, "b": 4 + own, "c": 4}, "T2": {"a": 6, "b": 6 - own, "c": 6}}
    assert ("odd" in keys(session(marks))) is told


@pytest.mark.parametrize(
    ("gap", "names", "told"), [(2.0, 6, True), (1.5, 6, False), (2.0, 3, False)]
)
def test_whose_marks_repeat_half_as_well_is_told_from_twenty_marks_on(gap, names, told):
    lines = [
        (who, bottle, replicate, name, 4 + replicate * (gap if who == "T1" else 1.0))
        for who, bottle, replicate, name in product(("T1", "T2"), "abcd", (0, 1), TASTES[:names])
    ]
    table = pd.DataFrame(lines, columns=["assessor", "sample", "replicate", "attribute", "score"])
    said = statements(findings_of_tables(table).evidence)
    line = next(one for one in said if one.sentence.key.endswith(".repeat"))
    assert ("single marks of T1" in str(line.sentence)) is told


@pytest.mark.parametrize(
    ("second", "key"),
    [({"a": 6, "b": 5, "c": 4}, ""), ({"a": 6, "b": 6, "c": 4}, "price"),
     ({"a": 5, "b": 5, "c": 5}, "price_any")],
)  # fmt: skip
def test_there_is_no_ground_for_a_price_step_where_not_all_have_one_order(second, key):
    marks = {"T1": {"a": 7, "b": 6, "c": 3}, "T2": second}
    said = [
        one
        for one in keys(session(marks, attributes=("quality",)))
        if one in ("price", "price_any")
    ]
    assert said == ([key] if key else [])


def test_a_question_named_beforehand_needs_less():
    evidence = session(three(3, 6), replicates=2)
    table = evidence.rows(TASTES).copy()
    from kikichoko.panel.session.primary_questions import Primary

    named = Primary(kind="scale", written="sweetness", attribute="sweetness")
    other = findings_of_tables(table, primary=[named]).evidence
    plain = {one.attribute: one.risk for one in directions.pairs(evidence)}
    weighed = {one.attribute: one.risk for one in directions.pairs(other)}
    assert weighed["sweetness"] <= plain["sweetness"]


def test_reports_on_the_same_liquid_say_surely_in_at_most_five_of_a_hundred():
    """A sample of ``benchmarks/few_calibration.py``: 2 assessors, 3 bottles, 12 attributes."""
    rng = np.random.default_rng(20)
    parts = ((default_spreads("taste", 10), 0.8), (wide_spreads("taste", 10), 0.2))
    lattice = lattice_of(parts)
    reports, attributes = 150, 12
    sure = np.zeros(reports, dtype=bool)
    for _ in range(attributes):
        sigma = 1.45 * np.exp(0.35 * rng.standard_normal((reports, 1, 1)))
        marks = np.round(5 + sigma * rng.standard_normal((reports, 2, 3)))
        marks -= marks.mean(axis=2, keepdims=True)
        means = marks.mean(axis=1)
        above = probabilities(marks, np.ptp(means, axis=1), lattice)
        sure |= (1 - above) * max(1.0, attributes * 2 / directions.FREE) <= directions.RISK
    # 5 of 100 in truth give more than 14 of 150 in one run of 100.
    assert sure.sum() <= 14


def of_tanks(fractions: str, cloudy: tuple[float, float]) -> Evidence:
    """Return two assessors' marks of fractions of two tanks; f and p alike, c above by so much."""
    bottles_of = {
        f"{fraction}{tank}": Bottle(name=f"{fraction}{tank}", use="sample", fraction=fraction,
                                    tank=f"T{tank}", pasteurised="0")
        for tank in (1, 2)
        for fraction in fractions
    }  # fmt: skip
    table = pd.DataFrame(
        [
            (who, name, "sweetness", base + (cloudy[int(name[1]) - 1] if name[0] == "c" else 0))
            for who, base in (("T1", 4.0), ("T2", 5.0))
            for name in bottles_of
        ],
        columns=["assessor", "sample", "attribute", "score"],
    )
    return findings_of_tables(table, bottles=list(bottles_of.values())).evidence


@pytest.mark.parametrize(("second", "told"), [(1.0, True), (0.9, False), (-1.0, False)])
def test_what_goes_with_a_fraction_in_every_tank_by_a_tenth_of_the_scale_is_told(second, told):
    made = statements(of_tanks("fpc", (2.0, second)))  # of three fractions none is a contrast
    found = [str(one.sentence) for one in made if one.sentence.key == "few_report.follows"]
    line = (
        "sweetness: c above f in each of 2 pairs that differ in nothing else known (c1 above f1 "
        f"by 2.0; c2 above f2 by {second:.1f}); it is not settled."
    )
    assert (line in found) is told


@pytest.mark.parametrize(("fractions", "key"), [("fc", "crossed"), ("fpc", "differ_groups")])
def test_many_pairs_that_differ_in_one_thing_alone_are_named_as_groups(fractions, key):
    made = statements(of_tanks(fractions, (2.0, 2.0)))
    told = [str(one.sentence) for one in made if one.sentence.key == f"few_report.{key}"]
    assert len(told) == (2 if key == "crossed" else 1)
    if key == "differ_groups":
        assert "pressing alone differs: f1, p1, c1; f2, p2, c2." in told[0]


def crossing(*forms: tuple[str, str]) -> SimpleNamespace:
    """Return bottles of these forms: pressing and pasteurising."""
    known = {
        f"b{n}": Bottle(name=f"b{n}", use="sample", fraction=fraction, pasteurised=times, tank="4")
        for n, (fraction, times) in enumerate(forms)
    }
    return SimpleNamespace(products=list(known), bottle=known.__getitem__, varied=[], made=())


FOUR = (("clear", "0"), ("clear", "1"), ("cloudy", "0"), ("cloudy", "1"))


@pytest.mark.parametrize(
    ("forms", "factors"),
    [
        (FOUR, ["fraction", "pasteurised"]),
        (FOUR[:3], []),  # one form of the one lacks a form of the other
        ((*FOUR[:3], ("cloudy", "")), []),  # not known
        ((("clear", "0"), ("clear", "1")), []),  # one thing alone
        ((*FOUR, ("clear", "2"), ("cloudy", "2")), ["fraction"]),  # three forms are no contrast
        ((*FOUR, FOUR[0]), []),  # two bottles of one form
    ],
)
def test_what_is_crossed_is_read_from_all_of_its_pairs(forms, factors):
    found = contrasts(crossing(*forms))
    assert [one.factor for one in found] == factors
    for one in found:
        assert len(one.pairs) == len(forms) // 2


def test_a_contrast_by_hand_and_the_other_way_round():
    pressing, heated = contrasts(crossing(*FOUR))
    assert (pressing.high, pressing.low, pressing.pairs) == (
        "cloudy", "clear", (("b2", "b0"), ("b3", "b1")),
    )  # fmt: skip
    marks = pd.DataFrame(
        [[1.0, 2.0, 4.0, 7.0], [5.0, 5.0, 5.0, np.nan]], index=["T1", "T2"],
        columns=["b0", "b1", "b2", "b3"],
    )  # fmt: skip
    # (4 + 7) / 2 - (1 + 2) / 2, and (2 + 7) / 2 - (1 + 4) / 2; a blank leaves no gap.
    assert pressing.gaps(marks).tolist()[0] == pytest.approx(4.0)
    assert heated.gaps(marks).tolist()[0] == pytest.approx(2.0)
    assert heated.turned.gaps(marks).tolist()[0] == pytest.approx(-2.0)
    assert np.isnan(pressing.gaps(marks)["T2"])


def test_what_passes_ones_own_scatter_by_hand():
    # Each pair of tastings lies 1 apart: SD sqrt(0.5) with 18 degrees of freedom; 2.1009 from
    # tables of t; means of two tastings.
    table = pd.DataFrame(
        [("T1", bottle, n, name, 4.0 + n) for bottle in "abc" for n in (1, 2) for name in TASTES],
        columns=["assessor", "sample", "replicate", "attribute", "score"],
    )
    ((code, reach, df),) = beyond_own_scatter(findings_of_tables(table).evidence)
    assert (code, df) == ("T1", 18)
    assert reach == pytest.approx(2.1009 * np.sqrt(0.5), abs=1e-4)


@pytest.mark.parametrize(("bottles_", "said"), [(3, False), (4, True)])
def test_own_scatter_is_told_from_twenty_gaps_on(bottles_: int, said: bool):
    marks = {"T1": dict.fromkeys("abcd"[:bottles_], 5.0)}
    evidence = session(marks, replicates=2)
    evidence.scores.loc[evidence.scores["replicate"] == 2, "score"] += 1.0
    assert ("repeat_from" in keys(evidence)) is said


def cups_of(times: int, *, noted: int = 1) -> pd.DataFrame:
    """Return two bottles by three people; two note a fault in first cups of a, which costs 3."""
    rows = [
        (who, bottle, time, name, mark)
        for who, bottle, time in product(("T1", "T2", "T3"), "ab", range(1, times + 1))
        for hit in [who != "T3" and bottle == "a" and time <= noted]
        for name, mark in (("quality", 3.0 if hit else 6.0), ("fault:musty", 2.0 * hit))
    ]
    columns = ["assessor", "sample", "replicate", "attribute", "score"]
    return pd.DataFrame(rows, columns=columns)


@pytest.mark.parametrize(("times", "told"), [(2, False), (3, True)])
def test_a_note_that_holds_back_is_counted_by_tasting_from_three_on(times: int, told: bool):
    found = findings_of_tables(cups_of(times)).evidence
    said = [str(one.sentence) for one in statements(found)]
    said = [one for one in said if one.startswith("a: the note that holds it back")]
    assert bool(said) is told
    if told:
        assert "in 2 of 9 tastings (T1 1, T2 1); quality T1 3 with it, 6, 6 without" in said[0]
    assert not any("quality" in line for line in _noted_throughout(times))


def _noted_throughout(times: int) -> list[str]:
    found = findings_of_tables(cups_of(times, noted=times)).evidence
    every = [str(one.sentence) for one in statements(found)]
    return [one for one in every if one.startswith("a: the note that holds it back")]


@pytest.mark.parametrize(("by", "told"), [(0.8, True), (0.0, False)])
def test_a_place_that_moves_marks_is_told_with_what_is_left_without_it(by: float, told: bool):
    rng = np.random.default_rng(3)
    rows = [
        (who, bottle, time, place, "astringency", 5 + by * place + 3 * (bottle == "c"))
        for who in ("T1", "T2", "T3")
        for time in (1, 2, 3)
        for place, bottle in enumerate(map(str, rng.permutation(list("abc"))), start=1)
    ]
    columns = ["assessor", "sample", "replicate", "position", "attribute", "score"]
    table = pd.DataFrame(rows, columns=columns)
    table["score"] += rng.choice([-0.2, 0.2], len(table))
    found = findings_of_tables(table).evidence
    said = [
        str(one.sentence) for one in statements(found) if "place on the tray" in str(one.sentence)
    ]
    assert bool(said) is told
    if told:
        assert "astringency +0." in said[0]
        assert "c still " in said[0]
