"""A series on the calendar: cases B1 to B14 of tests/outside/alone, dates and amounts by hand."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest
from click.testing import CliRunner
from kikichoko.panel.across.planned_series import months_after
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.session.session_folder import load

BOTTLES = """bottle,tank,fraction,pasteurised,available,rice
clear,4,clear,0,1,Akita
cloudy,4,cloudy,0,1,Akita
house sake,1,clear,2,3,Miyama
"""
FOUR = "assessor,role,language\nT1,trained,en\nT2,trained,en\nT3,trained,ja\nT4,trained,en\n"
WANTED = ("--over", "days", "--at", "1,4,10", "--from", "2026-12-01", "--reference", "house sake")


def run(*words: object) -> tuple[int, str]:
    done = CliRunner().invoke(kikichoko, ["series", *map(str, words)])
    return done.exit_code, done.output


@pytest.fixture
def pattern(folder) -> Path:
    return folder(bottles=BOTTLES, assessors=FOUR, replicates=1, pour_ml=40, short=True)


@pytest.fixture
def place(pattern: Path, tmp_path: Path) -> Path:
    code, output = run(tmp_path / "opened", "--like", pattern, *WANTED)
    assert code == 0, output
    return tmp_path / "opened"


def test_each_evening_is_a_session_with_its_day_and_the_reference(place: Path):
    names = ["01-2026-12-02", "02-2026-12-05", "03-2026-12-11"]
    assert sorted(one.name for one in place.glob("[!.]*")) == [*names, "calendar.txt"]
    for number, (name, day) in enumerate(zip(names, (1, 4, 10), strict=True), start=1):
        session = load(place / name)
        assert session.settings.name == f"test-1-{number}", "the day does not stand on the sheets"
        assert session.settings.date.isoformat() == name[3:]
        assert {one.name: one.opened_days for one in session.bottles} == {
            "clear": day, "cloudy": day, "house sake": 0,
        }  # fmt: skip
        assert session.bottle("clear").further == {"rice": "Akita"}
        assert len(session.assessors) == 4


def test_the_calendar_says_what_is_opened_poured_and_left(place: Path):
    """Four cups of 40 mL are 160 mL an evening: 720, then 560, 400 and 240 mL are left."""
    lines = (place / "calendar.txt").read_text("utf-8").splitlines()
    assert "2026-12-01: open 1 bottle of clear, 1 bottle of cloudy" in lines[1]
    assert "3 bottles of house sake" in lines[2]
    for line, start, left in zip(
        lines[3:6], ("2026-12-02, day 1", "2026-12-05, day 4", "2026-12-11, day 10"),
        ("560 mL", "400 mL", "240 mL"), strict=True,
    ):  # fmt: skip
        assert line.startswith(f"{start}: clear 160 mL, which leaves {left}")
        assert "open 1 fresh bottle of house sake, 160 mL" in line
    text = "\n".join(lines)
    assert "Under pressure, before opening cloudy" in text
    assert "Raw: clear, cloudy" in text
    assert "never says whether a bottle may still be drunk" in text
    assert "--over days --margin 1 --reference 'house sake'" in text


def test_too_little_is_told_for_all_evenings_and_nothing_is_written(pattern: Path, tmp_path: Path):
    """Twice 160 mL on three evenings are 960 mL: two bottles of 720 mL, and one is at hand."""
    path = pattern / "session.toml"
    path.write_text(path.read_text("utf-8").replace("replicates = 1", "replicates = 2"), "utf-8")
    code, output = run(tmp_path / "opened", "--like", pattern, *WANTED)
    assert code != 0
    assert "clear: 960 mL in all evenings, that is 2 bottles; 1 at hand" in output
    assert "house sake" not in output
    assert not (tmp_path / "opened").exists()
    more = (pattern / "bottles.csv").read_text("utf-8").replace("0,1,Akita", "0,2,Akita")
    (pattern / "bottles.csv").write_text(more, "utf-8")
    assert run(tmp_path / "opened", "--like", pattern, *WANTED)[0] == 0


def test_one_reference_bottle_for_each_evening(pattern: Path, tmp_path: Path):
    fewer = (pattern / "bottles.csv").read_text("utf-8").replace("2,3,Miyama", "2,2,Miyama")
    (pattern / "bottles.csv").write_text(fewer, "utf-8")
    code, output = run(tmp_path / "opened", "--like", pattern, *WANTED)
    assert code != 0
    assert "house sake: 480 mL in all evenings, that is 3 bottles; 2 at hand" in output


def test_months_lay_a_bottle_down_for_each_evening(pattern: Path, tmp_path: Path):
    more = (pattern / "bottles.csv").read_text("utf-8").replace("0,1,A", "0,4,A")
    (pattern / "bottles.csv").write_text(more.replace("2,3,M", "2,4,M"), "utf-8")
    words = ["--like", pattern, "--over", "months", "--at", "0,3,6,12", "--from", "2027-01-31",
             "--reference", "house sake"]  # fmt: skip
    code, output = run(tmp_path / "stored", *words)
    assert code != 0
    assert "fresh each time, or kept" in output
    for kind, told in (("kept", "A kept reference may age too"), ("fresh", "differ from filling")):
        place = tmp_path / kind
        assert run(place, *words, "--reference-is", kind)[0] == 0
        text = (place / "calendar.txt").read_text("utf-8")
        assert told in text
        assert "lay down 4 bottles of clear, 4 bottles of cloudy" in text
        dates = [one.name[3:] for one in sorted(place.glob("0*"))]
        assert dates == ["2027-01-31", "2027-04-30", "2027-07-31", "2028-01-31"]
        last = load(place / "04-2028-01-31")
        assert {one.name: one.stored_months for one in last.bottles}["clear"] == 12


def test_months_by_the_calendar():
    assert months_after(dt.date(2027, 11, 30), 3) == dt.date(2028, 2, 29)  # a leap year
    assert months_after(dt.date(2026, 12, 15), 1) == dt.date(2027, 1, 15)
    assert months_after(dt.date(2027, 1, 31), 0) == dt.date(2027, 1, 31)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (("1,4,10", "4,4"), "two whole numbers"),
        (("1,4,10", "-1,4"), "two whole numbers"),
        (("1,4,10", "4"), "two whole numbers"),
        (("1,4,10", "soon"), "two whole numbers"),
        (("house sake", "other"), "cannot be told from one of the panel"),
        (("2026-12-01", "1 December"), "Invalid value"),
    ],
)
def test_what_is_no_series_is_refused(pattern: Path, tmp_path: Path, change, words):
    wanted = [change[1] if word == change[0] else word for word in WANTED]
    code, output = run(tmp_path / "opened", "--like", pattern, *wanted)
    assert code != 0
    assert words in output
    assert not (tmp_path / "opened").exists()


def test_a_filled_folder_and_a_pattern_with_days_are_refused(place: Path, pattern: Path):
    before = (place / "calendar.txt").read_bytes()
    assert run(place, "--like", pattern, *WANTED)[0] != 0
    assert (place / "calendar.txt").read_bytes() == before
    timed = place / "02-2026-12-05"
    code, output = run(place.parent / "again", "--like", timed, *WANTED)
    assert code != 0
    assert "opened_days" in output


def test_the_next_evening_is_named_and_what_was_missed(place: Path):
    output = run(place, "--today", "2026-12-01")[1]
    assert output.count("to be planned") == 3
    assert "Next: 2026-12-02, tomorrow" in output
    (place / "01-2026-12-02" / "scores.csv").write_text("assessor\n", "utf-8")
    output = run(place, "--today", "2026-12-05")[1]
    assert "2026-12-02: done" in output
    assert "Next: today, 2026-12-05" in output
    output = run(place, "--today", "2026-12-12")[1]
    assert output.count("past, without a report") == 2
    assert "No evening is left" in output
    code, output = run(place / "01-2026-12-02")
    assert code != 0
    assert "is no series" in output
