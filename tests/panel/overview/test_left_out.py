"""Who hardly moves or runs against the others, fair pairs and dry bottles, from small tables."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from kikichoko.panel.findings import measured
from kikichoko.panel.findings.all_statements import findings_of_tables
from kikichoko.panel.findings.budget import Budget, Weighed
from kikichoko.panel.findings.verdicts import reads_as_dry
from kikichoko.panel.overview import left_out, opinions, side_by_side, steadiness
from kikichoko.panel.session.bottles import Bottle

LINES = ("sweetness", "acidity", "bitterness", "astringency", "body", "quality")
WAY = {"a": -2.0, "b": 0.0, "c": 2.0}
"""How far the bottles lie apart in every attribute."""


def table(people: dict[str, float], times: int = 2, *, stays: int = 0) -> pd.DataFrame:
    """Return rows of people whose marks follow the bottles by a slope each; X stays so often."""
    rng = np.random.default_rng(3)
    rows = [
        (who, bottle, replicate, name, 5 + slope * way + rng.normal(0, 0.3))
        for who, slope in people.items()
        for name in LINES
        for bottle, way in WAY.items()
        for replicate in range(1, times + 1)
    ]
    found = pd.DataFrame(rows, columns=["assessor", "sample", "replicate", "attribute", "score"])
    found["score"] = (found["score"] * 10).round() / 10
    mine = found.index[found["assessor"] == "X"]
    found.loc[mine[:stays], "score"] = 5.0
    return found


def evidence_of(rows: pd.DataFrame, bottles: list[Bottle] | None = None):
    return findings_of_tables(rows, bottles=bottles, shuffles=199).evidence


OTHERS = {f"A{n}": 1.0 for n in range(1, 6)}


@pytest.mark.parametrize(("stays", "told"), [(29, True), (28, False)])  # 0.8 of 36 is 28.8
def test_marks_hardly_move_from_eight_in_ten_alike(stays: int, told: bool):
    rows = table(OTHERS | {"X": 1.0}, stays=stays)
    found = left_out.hardly_moving(evidence_of(rows))
    assert [code for code, *_ in found] == (["X"] if told else [])
    assert not told or found[0][1:] == ("5", 29, 36)


@pytest.mark.parametrize(("times", "told"), [(2, True), (1, False)])  # 36 and 18 marks
def test_nobody_is_said_to_hardly_move_by_fewer_than_twenty_marks(times: int, told: bool):
    rows = table(OTHERS | {"X": 1.0}, times, stays=16 * times)
    assert bool(left_out.hardly_moving(evidence_of(rows))) is told


@pytest.mark.parametrize(("slope", "told"), [(-1.0, True), (0.0, False), (1.0, False)])
def test_one_runs_against_the_others_beyond_the_own_repeats(slope: float, told: bool):
    rows = table(OTHERS)
    own = table({"X": slope})
    mine = own["attribute"].isin(["bitterness", "astringency"])
    rest = table({"X": 1.0})
    rows = pd.concat(
        [rows, own[mine], rest[~rest["attribute"].isin(["bitterness", "astringency"])]]
    )
    found = left_out.against_in(evidence_of(rows))
    names = [name for name, _ in found.get("X", [])]
    assert names == (["bitterness", "astringency"] if told else [])
    assert set(found) <= {"X"}


def test_nobody_runs_against_others_who_put_the_bottles_in_no_order():
    rng = np.random.default_rng(4)
    rows = table(OTHERS | {"X": -1.0})
    rest = rows["assessor"] != "X"
    rows.loc[rest, "score"] = rng.normal(5, 1, int(rest.sum())).round(1)
    assert left_out.against_in(evidence_of(rows)) == {}


def test_without_one_who_runs_against_stand_the_gaps_of_the_others_as_worked_out_by_hand():
    rows = table(OTHERS | {"X": -1.0})
    found, looked = left_out.gaps_without(evidence_of(rows), ["X"], ["body"])
    assert looked == 3
    assert {(one.high, one.low) for one, _ in found} == {("c", "a"), ("c", "b"), ("b", "a")}
    cells = rows[rows["attribute"] == "body"].pivot_table("score", "assessor", "sample")
    gap = cells["c"] - cells["a"]
    own = gap.drop("X")
    one, every = next(each for each in found if (each[0].high, each[0].low) == ("c", "a"))
    half = 2.776 * own.std() / np.sqrt(5)  # t of 4 degrees of freedom, a handbook's table
    assert one.by == pytest.approx(own.mean())
    assert every == pytest.approx(gap.mean())
    assert (one.least, one.most) == pytest.approx((own.mean() - half, own.mean() + half), abs=1e-3)


def means(**more: tuple[float, float, float]) -> pd.DataFrame:
    marks = {"sweetness": (4.0, 5.0, 6.0), "acidity": (5.0, 5.0, 5.0), **more}
    return pd.DataFrame(
        [
            (f"A{n}", bottle, 1, name, value)
            for name, values in marks.items()
            for bottle, value in zip("abc", values, strict=True)
            for n in range(4)
        ],
        columns=["assessor", "sample", "replicate", "attribute", "score"],
    )


@pytest.mark.parametrize(
    ("bottle", "marks", "why"),
    [
        ("a", {"acidity": (6.0, 5.0, 5.0)}, "sour"),  # a tenth of the scale above the others
        ("a", {"acidity": (5.9, 5.0, 5.0)}, "dry"),
        ("b", {"bitterness": (5.0, 6.0, 5.0)}, "rough"),
        ("b", {"bitterness": (5.0, 5.9, 5.0)}, "dry"),
        ("b", {"astringency": (5.0, 6.0, 5.0)}, "rough"),
        ("a", {"bitterness": (6.0, 5.0, 5.0)}, "dry"),  # it is the least sweet as well
        ("b", {}, "dry"),
    ],
)
def test_what_a_dry_bottle_may_be_dry_by(bottle: str, marks: dict, why: str):
    assert reads_as_dry(evidence_of(means(**marks)), bottle) == why


@pytest.mark.parametrize(
    ("meter", "acidity", "alike"),
    [((1.0, 2.0, 2.0), (1.4, 1.5, 1.4), True), ((1.0, 2.1, 2.0), (1.4, 1.5, 1.4), False),
     ((1.0, 2.0, 2.0), (1.4, 1.51, 1.4), False)],
)  # fmt: skip
def test_numbers_within_a_degree_and_a_tenth_put_no_bottle_first(meter, acidity, alike: bool):
    bottles = [
        Bottle(name=name, meter_value=one, acidity=other, abv=16.0)
        for name, one, other in zip("abc", meter, acidity, strict=True)
    ]
    found = measured.places(evidence_of(means(), bottles))
    assert found.alike is alike
    assert (found.end("index", sweetest=True) == "") or not alike
    assert found.end("perceived", sweetest=True) == "c"


@pytest.mark.parametrize(
    ("claimed", "quality", "en", "ja"),
    [
        (True, True, "2 widest gaps (those claimed, and quality)", "主張したものと総合評価"),
        (True, False, "1 widest gap (claimed)", "（主張したもの）"),
        (False, True, "1 widest gap (that of quality, which is not claimed)", "主張はしていない"),
    ],
)
def test_whose_widest_gaps_are_tried_is_named_as_it_is(
    monkeypatch, claimed: bool, quality: bool, en: str, ja: str
):
    tried = ["sweetness"] * claimed + ["quality"] * quality
    moved = pd.DataFrame(
        [(name, "c", "a", "A1", 2.0, 1.8, -0.2, False) for name in tried],
        columns=["attribute", "high", "low", "without", "gap", "left", "moved", "turned"],
    )
    monkeypatch.setattr(steadiness, "influence", lambda *_: moved)
    one = Weighed(kind="scale", about="sweetness", p=0.001, adjusted=0.01, pairs=(("c", "a"),))
    judged = (one,) if claimed else ()
    budget = Budget(found=None, judged=judged, alpha=0.05, majority_from=None)
    (made,) = steadiness._without(evidence_of(means()), budget)
    assert en in str(made.sentence)
    assert ja in made.sentence.to("ja")


def test_bottles_that_are_shown_to_differ_are_never_offered_one_label():
    bottles = [Bottle(name=name, fraction="clear", tank="T1", pasteurised="1") for name in "abc"]
    advised = []
    for people in (OTHERS, dict.fromkeys(OTHERS, 0.0)):
        found = findings_of_tables(table(people), bottles=bottles, shuffles=199)
        made = side_by_side.statements(found.evidence, found.budget)
        advised.append([one.sentence.key for one in made if one.section == "advice"])
    assert advised[0] == []
    assert advised[1] in (["overview.one_lot"], ["overview.one_label"])


def test_how_far_open_gaps_may_go_is_the_furthest_end_of_all_pairs():
    found = findings_of_tables(table(dict.fromkeys(OTHERS, 0.0)), shuffles=199)
    pairs = found.budget.found.pairs
    far = side_by_side.reach(found.evidence, found.budget)
    assert list(far.values()) == sorted(far.values())
    for name in LINES:
        own = pairs[pairs["about"] == name]
        assert far[name] == pytest.approx(own[["low", "high"]].abs().to_numpy().max())


@pytest.mark.parametrize(("poured", "alike"), [("", True), ("a", False)])
def test_two_portions_of_one_bottle_are_no_two_bottles_for_one_label(poured: str, alike: bool):
    bottles = [
        Bottle(name="a", fraction="clear", pasteurised="1"),
        Bottle(name="b", fraction="clear", pasteurised="1", poured_from=poured),
    ]
    found = SimpleNamespace(bottle={one.name: one for one in bottles}.__getitem__)
    assert side_by_side._one_kind(found, "a", "b") is alike


@pytest.mark.parametrize(("held", "told"), [((), True), (("b",), False)])
def test_of_two_sound_bottles_none_is_set_against_the_mean_of_others(
    monkeypatch, held: tuple[str, ...], told: bool
):
    """It would be the pair once more, with other limits than those of the table."""
    found = findings_of_tables(table(dict.fromkeys(OTHERS, 3.0)), shuffles=199)
    monkeypatch.setattr(opinions.tainted, "held", lambda _: list(held))
    made = opinions._liked(found.evidence, found.budget)
    assert bool(made) is told
