"""Opening the open flight (tests/outside/open_flight/cases.md, O01-O12, O31, O33)."""

from __future__ import annotations

import json
import shutil
import sqlite3
from pathlib import Path
from shutil import copytree

import crash_runs
import pytest
from kikichoko.panel.base.errors import NotReady
from kikichoko.panel.base.session_log import read_log
from kikichoko.panel.open_flight.flight import load_flight
from kikichoko.panel.open_flight.unblinding import unblind
from kikichoko.panel.plan.plan_file import load_open
from kikichoko.panel.returns.open_marks import decide
from kikichoko.panel.returns.store import Store
from kikichoko.panel.session.session_folder import load

from .conftest import BLIND, BOTTLES, PEOPLE, WANTED, blind_rows, call, cups, named_rows, table


def standing(folder: Path) -> list[tuple[object, ...]]:
    with Store(folder, reading=True) as store:
        return [
            (one.plan, one.answer.assessor, one.answer.code, one.answer.attribute, one.answer.value)
            for one in store.answers()
        ]


def status(folder: Path) -> dict:
    return json.loads(call("status", folder, "--json").stdout)["open_flight"]


# ------------------------------------------------------------------ before


def test_the_plan_tells_of_it_and_pours_for_it(folder):
    place = folder(more=WANTED, assessors=PEOPLE, bottles=BOTTLES, replicates=1, pour_ml=30)
    done = call("plan", place)
    assert "An open flight follows" in done.output
    assert "3 cups more for each assessor (30 mL each)" in done.output
    # 3 bottles, blind and named, 30 mL each (by hand)
    assert "(180 mL)" in done.output
    needed = (place / "plan/server/bottles_needed.csv").read_text("utf-8-sig")
    assert "A free-run,6,180" in needed, "three people, twice 30 mL"
    assert "kikichoko unblind" in call("status", place).output


@pytest.mark.parametrize(("ml", "enough"), [(120, True), (121, False)])
def test_bottles_must_suffice_for_both_parts(folder, ml, enough):
    bottles = BOTTLES.replace(",2\n", ",1\n")  # 720 mL for three people, twice: 120 mL each
    place = folder(more=WANTED, assessors=PEOPLE, bottles=bottles, replicates=1, pour_ml=ml)
    assert (call("plan", place).exit_code == 0) is enough


def test_nothing_speaks_of_it_where_none_is_wanted(folder):
    more = WANTED.replace("open_flight = true\n", "")
    place = folder(more=more, assessors=PEOPLE, bottles=BOTTLES, replicates=1)
    told = call("plan", place).output + call("status", place).output
    assert "pen flight" not in told
    assert call("read", place, table(place / "b.csv", blind_rows(place, *BLIND))).exit_code == 0
    refused = call("unblind", place, "--yes")
    assert refused.exit_code == 1
    assert "open_flight = true" in refused.output


def test_it_can_be_wanted_after_planning(folder):
    more = WANTED.replace("open_flight = true", "open_flight = false")
    place = folder(more=more, assessors=PEOPLE, bottles=BOTTLES, replicates=1)
    call("plan", place)
    call("read", place, table(place / "b.csv", blind_rows(place, *BLIND)))
    text = (place / "session.toml").read_text("utf-8")
    (place / "session.toml").write_text(text.replace("flight = false", "flight = true"), "utf-8")
    assert "1 thing needs" not in call("check", place).output
    assert call("unblind", place, "--yes").exit_code == 0
    flight = json.loads((place / "open_flight/flight.json").read_text("utf-8"))
    assert flight["planned"] is False


def test_a_test_of_sets_has_none(folder):
    more = "open_flight = true\n"
    place = folder(more=more)
    text = (place / "session.toml").read_text("utf-8")
    (place / "session.toml").write_text(f'method = "ranking"\n{text}', "utf-8")
    told = call("plan", place)
    assert told.exit_code == 1
    assert "An open flight can follow a profile only" in told.output


def test_nothing_planned_and_nothing_answered(folder):
    place = folder(more=WANTED, assessors=PEOPLE, bottles=BOTTLES, replicates=1)
    assert "kikichoko plan" in call("unblind", place, "--yes").output
    call("plan", place)
    assert "Nothing was answered blind" in call("unblind", place, "--yes").output
    assert not (place / "open_flight").exists()


def test_what_is_missing_or_in_doubt_is_named_and_left_for_good(folder):
    place = folder(more=WANTED, assessors=PEOPLE, bottles=BOTTLES, replicates=1)
    call("plan", place)
    (lost,) = cups(place)["T2", "C cloudy"]
    rows = [row for row in blind_rows(place, *BLIND) if row[:2] != ("T2", lost)]
    rows[0] = (*rows[0][:3], 99)
    assert call("read", place, table(place / "b.csv", rows)).exit_code == 3
    refused = call("unblind", place, "--yes")
    assert refused.exit_code == 1
    assert f"T2 ({lost})" in refused.output
    assert "1 fault and 0 marks" in refused.output
    assert not (place / "open_flight").exists()
    assert call("unblind", place, "--yes", "--incomplete").exit_code == 0
    (entry,) = read_log(place).of("open_flight")
    assert (entry.values["cups_missing"], entry.values["faults"]) == (1, 1)


def test_a_bottle_called_like_a_code_is_refused(answered):
    (code,) = cups(answered)["M1", "A free-run"]
    text = (answered / "bottles.csv").read_text("utf-8")
    (answered / "bottles.csv").write_text(text + f"{code},4,clear,1,16.9,2\n", "utf-8")
    refused = call("unblind", answered, "--yes")
    assert refused.exit_code == 1
    assert f"like a code of this session: {code}" in refused.output


# ------------------------------------------------------------------ the act


def test_nothing_is_closed_unless_a_person_says_so(answered):
    assert call("unblind", answered).exit_code == 1  # no answer to the question
    assert read_log(answered).of("open_flight") == []
    assert not (answered / "open_flight").exists()


def test_opening_is_on_the_record_and_names_stand_on_the_sheets(answered):
    before = standing(answered)
    done = call("unblind", answered, "--yes")
    assert done.exit_code == 0
    (entry,) = read_log(answered).of("open_flight")
    assert entry.values["rows"] == len(before)
    assert f"{entry.at[:10]} {entry.at[11:16]} UTC" in done.output
    session = load(answered)
    flight = load_flight(session, load_open(session))
    names = {"A free-run", "B clear", "C cloudy"}
    for sheet in flight.own_sheets.values():
        blind = load_open(session).own_sheets[sheet.assessor]
        assert {shown.name for shown in sheet.presentations} == names
        assert {shown.asked for shown in sheet.presentations} == {blind.presentations[0].asked}
        assert sheet.named
        assert sheet.fingerprint != blind.fingerprint
    made = {path.name for path in (answered / "open_flight/sheets").iterdir()}
    assert {"M1.pdf", "M1.xlsx", "T1.pdf", "T1.xlsx", "all-sheets.pdf", "orders.csv"} <= made
    assert read_log(answered).of("open") == [], "the key was not opened"


def test_controls_are_not_served_again(folder):
    bottles = BOTTLES.replace("available\n", "available,control\n").replace(",2\n", ",2,\n")
    bottles += "sound,4,clear,1,16.9,2,clean\n"
    more = WANTED.replace('"fault", ', "")
    place = folder(more=more, assessors=PEOPLE, bottles=bottles, replicates=1)
    call("plan", place)
    row = [(who, code, "sweetness", 4) for (who, _), codes in cups(place).items() for code in codes]
    call("read", place, table(place / "b.csv", row))
    assert call("unblind", place, "--yes", "--incomplete").exit_code == 0
    assert "sound" not in (place / "open_flight/flight.json").read_text("utf-8")


def test_opening_twice_changes_nothing(opened):
    before = (opened / "log.jsonl").read_bytes(), (opened / "open_flight/flight.json").read_bytes()
    sheet = (opened / "open_flight/sheets/M1.xlsx").read_bytes()
    shutil.rmtree(opened / "open_flight/sheets")
    assert status(opened)["sheets_written"] is False
    again = call("unblind", opened)
    assert again.exit_code == 0
    assert "that stands" in again.output
    after = (opened / "log.jsonl").read_bytes(), (opened / "open_flight/flight.json").read_bytes()
    assert after == before
    assert (opened / "open_flight/sheets/M1.xlsx").read_bytes() == sheet


def test_killed_at_any_act_on_files_it_is_open_on_the_record_or_not_at_all(answered, tmp_path):
    """O09: never a named sheet without the entry of the log; said again, it is finished."""
    acts, _ = crash_runs.acts_of(lambda: call("unblind", trial(answered, tmp_path, 0), "--yes"))
    tried = [4, 9, 14, acts - 1]
    opened_in = []
    for act in tried:
        place = trial(answered, tmp_path, act)
        crash_runs.in_child(lambda place=place: call("unblind", place, "--yes"), act=act)
        was_open = bool(read_log(place).of("open_flight"))
        opened_in.append(was_open)
        sheets = place / "open_flight/sheets"
        assert was_open or not sheets.exists()
        if was_open:
            late = table(
                place / "late.csv", [("T2", cups(place)["T2", "C cloudy"][0], "acidity", 9)]
            )
            before = standing(place)
            assert call("read", place, late).exit_code == 0
            assert standing(place) == before
        assert call("unblind", place, "--yes").exit_code == 0
        assert len(read_log(place).of("open_flight")) == 1
        assert sheets.is_dir()
        assert call("check", place).exit_code == 0
    assert {True, False} == set(opened_in), "kills on both sides of the entry"


def trial(answered: Path, tmp_path: Path, act: int) -> Path:
    return Path(copytree(answered, tmp_path / f"trial{act}"))


# ------------------------------------------------------------------ afterwards


def test_a_blind_sheet_that_comes_late_is_kept_apart(opened):
    before = standing(opened)
    (code,) = cups(opened)["T2", "C cloudy"]
    late = table(opened / "late.csv", [("T2", code, "quality", 9), ("T2", code, "acidity", 4)])
    told = call("read", opened, late, "--correct")
    assert told.exit_code == 0
    assert "1 answer about a blind cup came after the names were told" in told.output
    assert standing(opened) == before
    assert status(opened)["blind_answers_too_late"] == 1
    assert [path for path in (opened / "open_flight/returned").iterdir() if "late" in path.name]


def test_what_was_read_blind_is_no_late_sheet(opened, answered_once):
    again = call("read", opened, answered_once.parent / "blind.csv")
    assert again.exit_code == 0
    assert "read before" in again.output
    assert status(opened)["blind_answers_too_late"] == 0


def test_blind_answers_can_be_changed_no_more(opened):
    session = load(opened)
    plan = load_open(session)
    with Store(opened) as store:
        answer = store.answers()[0].answer
        for change in (
            lambda: store.add([answer], plan=plan.version, correct=True),
            lambda: store.withdraw(answer, plan=plan.version, decided_by="x"),
        ):
            with pytest.raises(NotReady, match="closed for good"):
                change()
    for words in (("sheets",), ("plan", "--again"), ("change", "left", "M1", "--after", "1")):
        word, *more = words
        refused = call(word, opened, *more)
        assert refused.exit_code == 1
        assert "closed for good" in refused.output


def test_a_mark_left_open_stays_open(answered):
    from kikichoko.forms.answers.uncertain_marks import Choice, Uncertain
    from kikichoko.panel.returns.open_marks import note

    (code,) = cups(answered)["T2", "C cloudy"]
    seen = Uncertain(
        session="test-1", assessor="T2", code=code, attribute="umami", file="p.jpg",
        place="page 1", reason="double", picture=b"x", low=0, high=10,
        choices=(Choice("2", 2.0), Choice("nothing", None)),
    )  # fmt: skip
    with Store(answered) as store:
        note(store, [seen], "1")
    assert "0 faults and 1 mark " in call("unblind", answered, "--yes").output
    assert call("unblind", answered, "--yes", "--incomplete").exit_code == 0
    with Store(answered) as store, pytest.raises(NotReady, match="closed for good"):
        decide(store, 1, 2.0, decided_by="A")
    assert "No mark waits" in call("review", answered, "--terminal").output


def test_named_answers_are_corrected_as_any(opened):
    rows = [("M1", "C cloudy", "quality", 8)]
    assert call("read", opened, table(opened / "new.csv", rows)).exit_code == 3
    assert call("read", opened, opened / "new.csv", "--correct").exit_code == 0
    with Store(opened / "open_flight", reading=True) as store:
        (held,) = [
            one
            for one in store.answers()
            if (one.answer.assessor, one.answer.code, one.answer.attribute) == rows[0][:3]
        ]
    assert (held.answer.value, held.corrections, held.plan) == (8.0, 1, "open")


def test_faults_of_the_named_sheets_are_those_that_need_a_person(opened):
    bad = table(opened / "bad.csv", [("M1", "C cloudy", "quality", 99)])
    assert call("read", opened, bad).exit_code == 3
    assert "99" in call("status", opened).output
    assert call("status", opened, "--settle", "1", "--why", "a slip").exit_code == 0


def test_names_are_refused_where_nothing_was_opened(answered):
    told = call("read", answered, table(answered / "n.csv", named_rows(answered, "M1")))
    assert told.exit_code == 3
    assert "0 answers went in" in told.output


def test_a_reading_that_began_before_is_refused_at_the_end(answered, monkeypatch):
    """Names are told while a file is read: its answers do not slip into the blind part."""
    from kikichoko.panel.returns import taking_in

    session = load(answered)
    plan = load_open(session)
    (code,) = cups(answered)["T2", "C cloudy"]
    late = table(answered / "late.csv", [("T2", code, "quality", 9)])
    real = taking_in.read_file

    def slow(path, sheets):
        with Store(answered) as other:
            unblind(session, plan, other)
        return real(path, sheets)

    monkeypatch.setattr(taking_in, "read_file", slow)
    before = standing(answered)
    with Store(answered) as store, pytest.raises(NotReady, match="closed for good"):
        taking_in.take_in(plan, store, [late], correct=True)
    assert standing(answered) == before


# ------------------------------------------------------------------ the record


def test_check_finds_what_was_changed_since(opened):
    assert call("check", opened).exit_code == 0
    database = sqlite3.connect(opened / "answers.sqlite")
    database.execute("DROP TRIGGER answers_no_update")
    database.execute("UPDATE answers SET number = 10 WHERE id = 1")
    database.commit()
    database.close()
    told = call("check", opened)
    assert told.exit_code == 3
    assert "not those that stood when the names were told" in told.output


@pytest.mark.parametrize("change", ["edited", "gone"])
def test_another_flight_file_is_refused_and_told(opened, change):
    path = opened / "open_flight/flight.json"
    if change == "gone":
        path.unlink()
    else:
        path.write_text(path.read_text("utf-8").replace("C cloudy", "D cloudy"), "utf-8")
    assert call("read", opened, opened / "session.toml").exit_code == 1
    assert "flight.json is missing or is not" in call("check", opened).output


def test_sheets_without_an_opening_are_told(answered):
    (answered / "open_flight/sheets").mkdir(parents=True)
    assert "knew the names" in call("check", answered).output


def test_a_forgotten_person_is_forgotten_there_too(opened):
    done = call("forget", opened, "T1", "--yes")
    assert done.exit_code == 0, done.output
    assert "18 scores stay" in done.output, "nine blind and nine named"
    assert call("check", opened).exit_code == 0
    left = (opened / "open_flight/flight.json").read_text("utf-8")
    assert '"T1"' not in left
    with Store(opened / "open_flight", reading=True) as store:
        assert {one.answer.assessor for one in store.answers()} == {
            "M1",
            next(one.code for one in load(opened).assessors if one.code not in {"M1", "T2"}),
        }
    assert not list((opened / "open_flight/returned").iterdir()), "the table told of T1 as well"
    assert call("unblind", opened).exit_code == 0, "the sheets can be written again"
