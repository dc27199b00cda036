"""Sheets that come back against what the record says: told each time, kept, never passed over."""

from __future__ import annotations

from pathlib import Path
from shutil import copytree

import pytest
from click.testing import CliRunner
from kikichoko.forms.questions.question_types import Kind
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.plan.plan_file import load_open
from kikichoko.panel.session import load

pytestmark = pytest.mark.usefixtures("without_figures")


def run(*words: object):
    return CliRunner().invoke(kikichoko, [str(word) for word in words])


def typed(place: Path, name: str, people: tuple[str, ...]) -> Path:
    rows = [
        f"{pour.assessor},{pour.code},sweetness,{3 + pour.presentation % 3}"
        for pour in load_open(load(place)).pours
        if pour.assessor in people
    ]
    path = place / name
    path.write_text("\n".join(["assessor,code,attribute,score", *rows, ""]), "utf-8")
    return path


@pytest.fixture(scope="module")
def planned_once(folder_once) -> Path:
    place = folder_once(short=True)
    assert run("plan", place).exit_code == 0
    assert run("read", place, typed(place, "three.csv", ("T1", "T2", "T3"))).exit_code == 0
    return place


@pytest.fixture
def planned(planned_once: Path, tmp_path: Path) -> Path:
    return Path(copytree(planned_once, tmp_path / "session"))


def test_a_bad_file_is_told_again_when_it_is_read_again(planned: Path):
    bad = planned / "bad.csv"
    bad.write_text("assessor,code,attribute,score\nT1,nosuch,sweetness,4\n", "utf-8")
    first = run("read", planned, bad)
    again = run("read", planned, bad)
    assert first.exit_code == again.exit_code == 3
    assert "read before" in again.output
    assert "nosuch" in first.stdout
    assert first.stdout == again.stdout
    assert run("status", planned, "--settle", "1").exit_code == 0
    assert run("read", planned, bad).exit_code == 0, "what a person settled is over"


def test_what_is_missing_of_one_cup_is_told_in_one_line_and_settled_as_one(planned: Path):
    cup = next(pour for pour in load_open(load(planned)).pours if pour.assessor == "M1")
    lines = [one for one in load(planned).scorecard.questions if one.kind is Kind.LINE]
    asked = [one.key for one in lines if one.section != "appearance"][:5]
    rows = [f"M1,{cup.code},{name}," for name in asked]
    half = planned / "half.csv"
    half.write_text("\n".join(["assessor,code,attribute,score", *rows, ""]), "utf-8")
    told = run("read", planned, half).stdout
    assert told.count(f"cup {cup.code}") == 1
    assert all(f"{name} (row" in told for name in asked)
    assert "1-5: half.csv: 5 answers" in run("status", planned).stdout
    for wrong in ("x", "5-1", "1-99999999"):
        assert run("status", planned, "--settle", wrong).exit_code == 2
    assert run("status", planned, "--settle", "1-6").exit_code == 1, "a sixth there is not"
    assert run("status", planned, "--settle", "1-5").exit_code == 0


def test_a_late_change_against_answers_that_are_in_is_told(planned: Path):
    done = run("change", planned, "left", "T3", "--after", "2")
    assert done.exit_code == 3
    assert "4 answers of T3 are about cups that were then not served" in done.output
    checked = run("check", planned)
    assert checked.exit_code == 3
    assert "T3 answered about cups that a late change says were not served" in checked.output
    assert run("change", planned, "undo", "1").exit_code == 0
    assert run("check", planned).exit_code == 0
    assert run("change", planned, "left", "N1", "--after", "0").exit_code == 0
    said = run("status", planned).output
    assert "N1: nothing was served" in said
    assert "still out: M1, T4." in said


def test_a_sheet_of_somebody_who_was_forgotten_is_not_kept(planned: Path, tmp_path: Path):
    assert run("sheets", planned).exit_code == 0
    sheet = tmp_path / "again.xlsx"
    sheet.write_bytes((planned / "sheets/T2.xlsx").read_bytes())
    assert run("forget", planned, "T2", "--yes").exit_code == 0
    kept = sorted(path.name for path in (planned / "returned").iterdir())
    done = run("read", planned, sheet)
    assert done.exit_code == 3
    assert "somebody was forgotten here" in done.output
    assert "neither read nor kept" in done.output
    assert sorted(path.name for path in (planned / "returned").iterdir()) == kept
    assert run("check", planned).exit_code == 0
    other = typed(planned, "other.csv", ("M1",))
    assert run("read", planned, sheet, other).exit_code == 3, "the others go in"
    half = run("status", planned)
    assert "M1: 6 of" in half.output
    assert "kikichoko report" not in half.stderr, "sheets are out: no report is next"


def test_answers_that_are_gone_stay_told_after_what_is_left_was_read_again(planned: Path):
    assert run("read", planned, typed(planned, "one.csv", ("T4",))).exit_code == 0
    for path in (*planned.glob("answers.sqlite*"), *planned.glob("returned/*one.csv")):
        path.unlink()
    run("read", planned, planned / "returned")
    checked = run("check", planned)
    assert checked.exit_code == 3
    assert "tells of 24 rows of answers, but the store holds 18" in checked.output


def test_a_key_that_is_closed_to_this_account_stops_no_status(planned: Path, monkeypatch):
    def closed(*_: object) -> None:
        raise PermissionError(13, "Permission denied", "key.json")

    monkeypatch.setattr("kikichoko.panel.plan.key_file.content_of", closed)
    for command in ("status", "check"):
        done = run(command, planned)
        assert done.exit_code == 0, done.output
        assert "Permission denied" not in done.output
    assert "is closed to this account" in run("check", planned).output


def test_the_report_says_whose_answers_came_after_the_opening(planned: Path):
    assert run("report", planned).exit_code == 0
    assert run("read", planned, typed(planned, "maker.csv", ("M1",))).exit_code == 0
    assert run("report", planned).exit_code == 0
    page = (planned / "report/report.html").read_text("utf-8")
    assert "6 answers came in afterwards" in page
    assert "M1 (maker): 6" in page
