"""Bottles in conditions, from the outside cases S1 to S12 (tests/outside/conditions/cases.md)."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
from kikichoko.panel.base.errors import FolderFault
from kikichoko.panel.handouts.server_files import bottle_table, pour_table, serving_text
from kikichoko.panel.handouts.serving_clock import WARM, clock_lines
from kikichoko.panel.plan.planning import make
from kikichoko.panel.session import load
from kikichoko.panel.session.bottles import Bottle, read_bottles
from kikichoko.panel.session.conditions import FELT, estimable, how_many, lines_over, not_blind

SECRET = bytes(range(32))
HEAD = "bottle,poured from,tank,fraction,pasteurised,serving temperature,days open\n"
WARMED = HEAD + (
    "clear cold,clear,1,clear,1,10 °C,4 days\n"
    "clear warm,clear,1,clear,1,４５,4\n"
    "cloudy cold,cloudy,1,cloudy,1,10,4\n"
    "cloudy warm,cloudy,1,cloudy,1,45度,4\n"
)


@pytest.fixture(scope="module")
def warmed(folder_once):
    return load(folder_once(bottles=WARMED, more="", replicates=1))


@pytest.fixture(scope="module")
def plan(warmed):
    return make(warmed, secret=SECRET)


def test_four_samples_come_from_two_bottles(warmed, plan):
    """S1, S9: 45C in every spelling, and each bottle is fetched once."""
    assert [one.temperature_c for one in warmed.bottles] == [10, 45, 10, 45]
    rows = bottle_table(plan.pours, warmed, "en")
    assert [row[:2] for row in rows[1:]] == [["clear", "4"], ["cloudy", "4"]]
    assert [row[2] for row in rows[1:]] == [str(sum(p.bottle in own for p in plan.pours)) for own in
            (("clear cold", "clear warm"), ("cloudy cold", "cloudy warm"))]  # fmt: skip
    served = pour_table(plan.pours, warmed.bottles, "en")
    place = served[0].index("Temperature")
    assert {(row[1], row[place]) for row in served[1:]} == {
        ("clear cold", "10 °C"), ("clear warm", "45 °C"), ("cloudy cold", "10 °C"),
        ("cloudy warm", "45 °C"),
    }  # fmt: skip


def test_the_clock_is_counted_back_from_the_first_cup(warmed, plan):
    """S2, S3, S4: first cup 14:00, 10 min to pour, 30 to warm; opened four days before."""
    serving = warmed.settings.serving.model_copy(update={"start": None})
    for start, wanted in (("14:00", ("13:20", "13:50")), (None, ("−40 min", "−10 min"))):
        begins = None if start is None else dt.time(14)
        settings = warmed.settings.model_copy(
            update={
                "serving": serving.model_copy(update={"start": begins}),
                "date": dt.date(2027, 1, 3),
            }
        )
        lines = clock_lines(plan.pours, replace(warmed, settings=settings), "en")
        assert lines[1].startswith("2026-12-30  Open")
        warm = next(line for line in lines if "warm bath" in line)
        pour = next(line for line in lines if "Pour flight 1" in line)
        assert (warm.split("  ")[0], pour.split("  ")[0]) == wanted
        assert pour.endswith("10 °C, 45 °C; cover")


@pytest.mark.parametrize(("degrees", "warmed_in_bath"), [(WARM - 1, False), (WARM, True)])
def test_a_bath_from_thirty_degrees_on(folder, degrees: float, warmed_in_bath: bool):
    session = load(folder(bottles=WARMED.replace("45度", f"{degrees:g}").replace("４５", "20")))
    text = "\n".join(clock_lines(make(session, secret=SECRET).pours, session, "en"))
    assert ("warm bath" in text) == warmed_in_bath


def test_what_cannot_be_blind_is_told_by_plan_and_list(warmed, plan):
    """S5, S7, S8."""
    text = "\n".join(serving_text(plan, warmed, "en"))
    assert "Temperature (10 °C, 45 °C) is felt" in text
    assert "Cloud can be hidden from the eye alone" in text
    assert "the tongue may still know it" in text, "as the note on the cups says"
    assert "温度（10 ℃、45 ℃）" in "\n".join(serving_text(plan, warmed, "ja"))


@pytest.mark.parametrize(("more", "felt"), [(FELT - 1, False), (FELT, True)])
def test_cups_are_felt_to_differ_from_three_degrees_on(folder, more: float, felt: bool):
    text = WARMED.replace("45度", f"{10 + more:g}").replace("４５", f"{10 + more:g}")
    told = [one.key for one in not_blind(load(folder(bottles=text)).bottles)]
    assert ("serving.known_temperature_c" in told) == felt


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("45度", "hot", "row 5, column 'temperature_c': 'hot' is not a number"),
        ("45度", "95", "Expected a number from -5 to 75"),
        ("45度", "10/45", "is not a number"),
        ("45度", "10", "'cloudy warm' is the same bottle in the same condition as 'cloudy cold'"),
        ("45度", "", "some samples have 'temperature_c', these have none: cloudy warm"),
    ],
)
def test_bad_conditions_are_refused_in_words(folder, old: str, new: str, words: str):
    """S10, S11, S12."""
    with pytest.raises(FolderFault, match=words):
        load(folder(bottles=WARMED.replace(old, new)))


def test_a_list_without_conditions_is_what_it_was(folder):
    bottles, faults, _ = read_bottles(folder())
    assert not faults
    assert all(one.source[0] == one.name for one in bottles)
    assert not_blind(bottles) == []


def served(*cups: tuple[str, float]) -> list[Bottle]:
    return [
        Bottle(name=f"{what} {degrees:g}", poured_from=what, temperature_c=degrees)
        for what, degrees in cups
    ]


@pytest.mark.parametrize(
    ("cups", "words"),
    [
        ([("clear", 10.0), ("clear", 45.0), ("cloudy", 10.0)],
         ["can be told for clear alone", "more or less to cloudy cannot", "with each other at 10"]),
        ([("clear", 10.0), ("cloudy", 45.0)], ["cannot be parted from which bottle"]),
        ([("a", 10.0), ("a", 20.0), ("b", 20.0), ("b", 45.0)],
         ["some levels of serving temperature only", "compared with each other at 20"]),
        ([("a", 10.0), ("a", 45.0), ("b", 10.0), ("c", 45.0)],
         ["can be told for a alone", "no level of serving temperature in which all"]),
    ],
)  # fmt: skip
def test_what_can_be_told_of_a_part_of_the_cross(cups, words):
    """Cases E2 to E4 of tests/outside/alone."""
    said = " ".join(str(one) for one in estimable(served(*cups)))
    for part in words:
        assert part in said


def test_a_whole_cross_has_nothing_that_cannot_be_told():
    whole = served(("a", 10.0), ("a", 45.0), ("b", 10.0), ("b", 45.0))
    said = " ".join(str(one) for one in estimable(whole))
    assert "cannot" not in said
    assert lines_over(whole, "temperature_c") == {
        "a": {"10": "a 10", "45": "a 45"}, "b": {"10": "b 10", "45": "b 45"},
    }  # fmt: skip


def test_portions_are_no_bottles():
    """Case E6: three bottles at three temperatures are nine portions."""
    nine = served(*((what, at) for what in "abc" for at in (10.0, 20.0, 45.0)))
    assert str(how_many(nine)) == "9 portions of 3 bottles"
    assert str(how_many(nine[:1])) == "1 bottle"
    assert str(how_many(nine, "served")).startswith("9 portions of 3 bottles, each")
    assert str(how_many(nine[:1], "served")).startswith("1 bottle, meant")
