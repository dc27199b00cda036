"""Two glasses that may have been exchanged in a panel, and values below 0: what is left open."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

sys.path.insert(0, str(Path(__file__).parents[3] / "benchmarks"))
import suspected_exchanges
from invented_marks import evidence_of, table, text
from kikichoko.panel.findings import exchanged, people
from kikichoko.panel.findings.budget import judge
from kikichoko.panel.overview import left_out, steadiness, who_makes

SEED = 0
APART = {
    "sweetness_a": 2, "acidity_b": 2, "body_a": 2, "bitterness_b": 1.5, "body_c": -2,
    "acidity_d": 1.5, "quality_c": 2, "sweetness_d": -2,
}  # fmt: skip


def swapped(rows: pd.DataFrame, who: str, first: str, second: str, *times: int) -> pd.DataFrame:
    """Exchange two bottles of one person, in some tastings."""
    rows = rows.copy()
    mine = (rows["assessor"] == who) & rows["replicate"].isin(times or (1, 2))
    rows.loc[mine, "sample"] = rows.loc[mine, "sample"].replace({first: second, second: first})
    return rows


def one_tasting(people_: int = 7, **more: float) -> pd.DataFrame:
    return table(people=people_, times=1, scatter=0.5, **(APART | more))


def test_glasses_of_one_tasting_are_suspected_and_worded_as_a_question():
    evidence = evidence_of(swapped(one_tasting(), "A3", "a", "b"))
    (one,) = exchanged.suspected(evidence)
    assert (one.assessor, one.samples, one.turned, one.of) == ("A3", ("a", "b"), 5, 5)
    said = text(left_out.statements(evidence, judge(evidence)), "exchange")
    assert "the other way in 5 of 5 attributes" in said
    assert "may have been exchanged" in said
    assert "against the pour list" in said
    assert "nothing was exchanged back" in said
    assert exchanged.suspected(evidence_of(one_tasting())) == []


def test_of_two_tastings_the_one_is_named_and_both_alike_is_an_opinion():
    rows = table(people=7, times=2, scatter=1.0, **APART)
    evidence = evidence_of(swapped(rows, "A3", "a", "b", 1))
    assert "in tasting 1 fit" in text(left_out._suspected(evidence, judge(evidence)), "exchange_in")
    assert exchanged.suspected(evidence_of(swapped(rows, "A3", "a", "b", 1, 2))) == []


def test_who_is_called_exchanged_is_not_suspected_besides():
    rows = table(people=7, times=2, scatter=0.5, **APART)
    evidence = evidence_of(swapped(rows, "A3", "a", "b", 1))
    assert [one.assessor for one in exchanged.exchanges(evidence)] == ["A3"]
    assert exchanged.suspected(evidence) == []


def test_who_reads_every_line_the_other_way_round_has_exchanged_nothing():
    rows = one_tasting()
    mine = rows["assessor"] == "A3"
    rows.loc[mine, "score"] = 10 - rows.loc[mine, "score"]
    evidence = evidence_of(rows)
    assert exchanged.suspected(evidence) == []
    assert set(steadiness.running_against(evidence)) | set(
        people.turned(evidence, judge(evidence))
    ) == {"A3"}


def test_of_one_person_either_the_glasses_are_told_or_the_other_way():
    """Two of four bottles far apart, exchanged, turn the correlation over the whole card."""
    names = ("sweetness", "acidity", "body", "bitterness")
    far = {f"{name}_{bottle}": by for name in names for bottle, by in (("a", 3), ("b", -3))}
    far |= {"quality_c": 2.5, "quality_d": -2.5}
    rows = table(people=7, times=1, scatter=0.6, **far)
    evidence = evidence_of(swapped(rows, "A3", "a", "b"))
    assert steadiness.along_card(evidence)["A3"] < -steadiness.AGAINST
    assert [one.assessor for one in exchanged.suspected(evidence)] == ["A3"]
    assert steadiness.running_against(evidence) == {}
    assert "A3" not in left_out.against_in(evidence)
    keys = [one.sentence.key for one in who_makes._nobody_against(evidence, judge(evidence))]
    assert "overview.nobody_against_stray" not in keys


def test_who_is_shown_to_run_against_the_others_is_not_suspected(monkeypatch):
    evidence = evidence_of(swapped(one_tasting(), "A3", "a", "b"))
    monkeypatch.setattr(left_out, "turned", lambda *_: ["A3"])
    assert left_out._suspected(evidence, judge(evidence)) == []


@pytest.mark.parametrize(("n", "told"), [(4, False), (5, True)])
def test_it_takes_five_people(n: int, told: bool):
    rows = swapped(table(people=n, times=1, scatter=0.4, **APART), "A3", "a", "b")
    assert bool(exchanged.suspected(evidence_of(rows))) is told


@pytest.mark.parametrize(("bottles", "told"), [("ab", False), ("abc", True)])
def test_it_takes_a_bottle_that_was_not_exchanged(bottles: str, told: bool):
    put = {"sweetness_a": 3, "acidity_b": 3, "body_a": 3, "bitterness_b": 3, "quality_c": 4,
           "body_c": -2, "sweetness_c": -3}  # fmt: skip
    rows = swapped(table(people=9, times=1, scatter=0.4, bottles=bottles, **put), "A3", "a", "b")
    assert bool(exchanged.suspected(evidence_of(rows))) is told


@pytest.mark.parametrize("design", [(5, 4, 12, 1), (8, 4, 12, 2)])
def test_without_an_exchange_at_most_one_session_of_twenty_suspects_one(design):
    """Bottles a little apart, which is the worst of what the benchmark counts."""
    rng = np.random.default_rng(2811)
    assert suspected_exchanges.rate(rng, design, 200, apart=0.6) <= 0.05 + 0.015  # one error more


def test_plain_exchanges_are_found_in_half_of_sessions_and_as_they_were():
    rng = np.random.default_rng(2812)
    right, false = suspected_exchanges.found(rng, (8, 4, 12, 2), 80, 1.3)
    assert right >= 0.5
    assert false <= 0.05


def with_a_stray() -> pd.DataFrame:
    """A7's marks are drawn anew: they follow nobody, where all others go together."""
    rows = one_tasting()
    rng = np.random.default_rng(SEED)
    mine = rows["assessor"] == "A7"
    rows.loc[mine, "score"] = np.round(5 + rng.normal(0, 1.2, mine.sum()), 1)
    return rows


def below(rows: pd.DataFrame) -> tuple[str, str]:
    evidence = evidence_of(rows)
    (one,) = who_makes._nobody_against(evidence, judge(evidence))
    return one.sentence.key.partition(".")[2], str(one.sentence)


def test_who_alone_does_not_go_with_the_others_is_not_left_in_peace():
    rows = with_a_stray()
    evidence = evidence_of(rows)
    assert -steadiness.AGAINST < steadiness.along_card(evidence)["A7"] < 0
    key, said = below(rows)
    assert key == "nobody_against_stray"
    along, other = steadiness.ways(evidence, "A7")
    assert 0 < along + other <= 5
    assert f"A7 {along} and {other}" in said
    assert "too little to settle" in said
    assert "no talk" not in said


def test_where_nothing_tells_the_bottles_apart_chance_is_named_and_not_held_to_be_it():
    key, said = below(table(scatter=1.0))
    assert key == "nobody_against_below"
    assert "too few to settle whether it did" in said


def test_the_others_must_all_go_together_for_that(monkeypatch):
    evidence = evidence_of(with_a_stray())
    least = float(steadiness.along_without(evidence, ["A7"]).min())
    for bar, key in ((least - 0.01, "stray"), (least + 0.01, "below")):
        monkeypatch.setattr(who_makes, "AGAINST", bar)
        (one,) = who_makes._nobody_against(evidence, judge(evidence))
        assert one.sentence.key == f"overview.nobody_against_{key}"


@pytest.mark.parametrize(("bottles", "key"), [("abc", "below"), ("abcd", "stray")])
def test_of_three_bottles_chance_makes_such_a_one_too_often(bottles: str, key: str):
    rows = with_a_stray()
    rows = rows[rows["sample"].isin(list(bottles))]
    evidence = evidence_of(rows)
    assert steadiness.along_card(evidence)["A7"] < 0
    assert float(steadiness.along_without(evidence, ["A7"]).min()) >= steadiness.AGAINST
    (one,) = who_makes._nobody_against(evidence, judge(evidence))
    assert one.sentence.key == f"overview.nobody_against_{key}"


@pytest.mark.parametrize(
    ("roles", "said"),
    [
        ({}, ")."),
        ({"A1": "maker"}, ")."),  # everybody's: nobody is left out
        ({"A2": "consumer"}, ", over the marks of all but consumers)."),
        ({"A1": "maker", "A2": "consumer"},
         ", over the marks of all but consumers, the maker's too)."),
    ],
)  # fmt: skip
def test_whose_own_scatter_is_told_is_said_where_somebody_is_left_out(roles, said: str):
    evidence = evidence_of(table(7, times=2))
    people_ = tuple(replace(one, role=roles.get(one.code, "trained")) for one in evidence.people)
    evidence = replace(evidence, people=people_)
    found = steadiness.table(evidence, judge(evidence))
    (told,) = steadiness._repeats(evidence, found, 1)
    first = str(told.sentence).split(" Well above")[0]
    assert first.endswith(said)
    assert ("over the marks" in first) is (said != ").")
    assert ("A2" in set(found["assessor"])) is (roles.get("A2") != "consumer")


def test_constants_are_those_of_the_document():
    assert (exchanged.SUSPECTED, exchanged.PANEL, exchanged.BOTTLES) == (0.03, 5, 3)
    assert (exchanged.BACK, exchanged.REST) == (2.0, 2.0)
    assert who_makes.STRAY_BOTTLES == 4
