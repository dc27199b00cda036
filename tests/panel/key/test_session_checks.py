"""What was changed, lost or cut since planning is told in words; what is whole is said to be."""

from __future__ import annotations

import json
import os
import sqlite3
import sys
import types
from pathlib import Path
from shutil import copytree

import pytest
from click.testing import CliRunner
from kikichoko.panel.base import session_log
from kikichoko.panel.base.session_log import FILE as LOG
from kikichoko.panel.base.session_log import append, read_log
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.plan.plan_file import KEY, OPEN_HALF, load_open
from kikichoko.panel.session import load

pytestmark = pytest.mark.usefixtures("without_figures")


def run(*words: object):
    return CliRunner().invoke(kikichoko, [str(word) for word in words])


def typed(place: Path, name: str, people: tuple[str, ...], score: float = 4.0) -> Path:
    plan = load_open(load(place))
    rows = [
        f"{pour.assessor},{pour.code},sweetness,{score}"
        for pour in plan.pours
        if pour.assessor in people
    ]
    path = place / name
    path.write_text("\n".join(["assessor,code,attribute,score", *rows, ""]), "utf-8")
    return path


@pytest.fixture(scope="module")
def planned_once(folder_once) -> Path:
    place = folder_once()
    assert run("plan", place).exit_code == 0
    run("read", place, typed(place, "one.csv", ("T1", "T2", "T3")))
    return place


@pytest.fixture
def planned(planned_once: Path, tmp_path: Path) -> Path:
    """Return a copy: each test changes something."""
    return Path(copytree(planned_once, tmp_path / "session"))


def told(place: Path) -> str:
    done = run("check", place)
    assert done.exit_code == 3, done.output
    return done.output


def test_a_whole_session_is_said_to_be_whole(planned: Path):
    done = run("check", planned)
    assert done.exit_code == 0, done.output
    assert "Nothing was lost or changed" in done.output
    before = {path: path.read_bytes() for path in planned.rglob("*") if path.is_file()}
    run("check", planned)
    after = {path: path.read_bytes() for path in planned.rglob("*") if path.is_file()}
    assert before == after


def edit(path: Path, old: str, new: str) -> None:
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), "utf-8")


@pytest.mark.parametrize(
    ("file", "old", "new", "words"),
    [
        ("bottles.csv", "2,1.5,yes", "7,1.5,yes", "meter_value of 'early' was 2 when planned"),
        ("bottles.csv", "4,free-run", "5,free-run", "tank of 'early' was '4' when planned"),
        ("bottles.csv", "late,4,cloudy,0,16.9,2,1.7,yes,2,2\n", "", "'late' was planned and is"),
        ("bottles.csv", "\nmiddle,", "\nmiddl,", "'middl' was not planned"),
        ("assessors.csv", "T3,trained", "T3,expert", "role of T3 was 'trained' when planned"),
        ("session.toml", "pour_ml = 20", "pour_ml = 30", "serving.pour_ml was '20'"),
        ("plan/plan.json", '"flight": 1', '"flight": 2', "plan.json of plan 1 is not what was"),
    ],
)
def test_an_edited_file_is_told(planned: Path, file: str, old: str, new: str, words: str):
    edit(planned / file, old, new)
    assert words in told(planned)
    status = run("status", planned)
    assert status.exit_code == 3
    assert "kikichoko check" in status.output


def test_swapped_bottles_in_the_key_are_told_and_nothing_is_opened(planned: Path):
    key = json.loads((planned / KEY).read_text("utf-8"))
    names = {"early": "late", "late": "early", "middle": "middle"}
    for cup in key["cups"]:
        cup["bottle"] = names[cup["bottle"]]
    (planned / KEY).write_text(json.dumps(key), "utf-8")
    assert "is not the key that was planned" in told(planned)
    assert run("report", planned).exit_code == 1
    assert not read_log(planned).of("open")


def test_swapped_rows_of_bottles_are_told_and_sorted_rows_are_not(planned: Path):
    lines = (planned / "bottles.csv").read_text("utf-8").splitlines()
    (planned / "bottles.csv").write_text("\n".join([lines[0], *reversed(lines[1:])]), "utf-8")
    assert run("check", planned).exit_code == 0
    one, two = lines[1].split(","), lines[2].split(",")
    one[0], two[0] = two[0], one[0]
    swapped = [lines[0], ",".join(one), ",".join(two), lines[3]]
    (planned / "bottles.csv").write_text("\n".join(swapped), "utf-8")
    output = told(planned)
    assert "fraction of 'early' was 'free-run'" in output
    assert "fraction of 'middle' was 'clear'" in output


def test_originals_that_are_altered_or_gone_are_told(planned: Path):
    (original,) = (planned / "returned").iterdir()
    whole = original.read_bytes()
    original.write_bytes(whole.replace(b"4.0", b"9.0", 1))
    assert "is not as it was received" in told(planned)
    original.unlink()
    assert "is not there any more" in told(planned)
    original.write_bytes(whole)
    assert run("check", planned).exit_code == 0


@pytest.mark.parametrize("clock", ["goes on", "stands still"])
def test_a_deleted_store_is_told_and_reading_again_shows_the_order_still(
    folder, monkeypatch, clock: str
):
    if clock == "stands still":  # then the rows of the new store are those of the old one
        monkeypatch.setattr(
            "kikichoko.panel.returns.store.now", lambda: "2026-03-14T18:00:00+00:00"
        )
    planned = folder()
    run("plan", planned)
    run("read", planned, typed(planned, "one.csv", ("T1", "T2", "T3")))
    assert run("report", planned).exit_code == 0
    (planned / "answers.sqlite").unlink()
    for part in planned.glob("answers.sqlite-*"):
        part.unlink()
    assert "the store holds 0" in told(planned)
    run("read", planned, planned / "one.csv")
    assert "The log tells of 1 opening of the key, the store of 0" in told(planned)
    done = run("report", planned)
    assert done.exit_code == 0, done.output
    page = (planned / "report/report.html").read_text("utf-8")
    assert "The log tells of" in page, "the report says it too"
    results = json.loads((planned / "report/results.json").read_text("utf-8"))
    assert results["asked"]["answers_after_first_opening"] == 0, "the same answers stood then"


def test_an_opening_that_was_broken_off_is_only_to_be_known(planned: Path, monkeypatch):
    def stopped(*_: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as stop:
        stop.setattr("kikichoko.panel.returns.store.Store.note_opening", stopped)
        assert run("report", planned).exit_code != 0
    done = run("check", planned)
    assert done.exit_code == 0, done.output
    assert "that the store does not know of yet (an act was broken off)" in done.output
    assert run("report", planned).exit_code == 0
    assert "broken off" not in run("check", planned).output


def test_answers_after_the_opening_count_as_late_even_in_a_new_store(planned: Path):
    run("report", planned)
    (planned / "answers.sqlite").unlink()
    for part in planned.glob("answers.sqlite-*"):
        part.unlink()
    run("read", planned, planned / "one.csv", typed(planned, "two.csv", ("T4",)))
    run("report", planned)
    results = json.loads((planned / "report/results.json").read_text("utf-8"))
    assert results["asked"]["answers_after_first_opening"] > 0


def test_a_row_changed_in_the_store_is_told(planned: Path):
    with sqlite3.connect(planned / "answers.sqlite") as database:
        database.execute("DROP TRIGGER answers_no_update")
        database.execute("UPDATE answers SET number = 9 WHERE id = 3")
    database.close()
    output = told(planned)
    assert "are not those that the log knows" in output
    assert "is 9.0, but returned/ (one.csv) says 4.0" in output, "A65"
    assert output.count("but returned/") == 1


def test_a_second_store_is_told_with_what_it_holds(planned: Path):
    """A27: a sync service lays a copy of the store beside it."""
    copy = planned / "answers (conflicted copy).sqlite"
    copy.write_bytes((planned / "answers.sqlite").read_bytes())
    assert "the other holds 0 answers that it has not" in told(planned)
    with sqlite3.connect(copy) as database:
        database.execute("DROP TRIGGER answers_no_update")
        database.execute("UPDATE answers SET number = 9 WHERE id = 3")
    database.close()
    assert "the other holds 1 answer that it has not" in told(planned)
    copy.write_bytes(b"torn")
    assert "the other cannot be read" in told(planned)


def test_it_is_told_when_a_setting_was_changed(planned: Path):
    """A55: how many answers were in, and whether the key was open."""
    settings = (planned / "session.toml").read_text("utf-8")
    edit(planned / "session.toml", "Tasting", "Another title")
    assert run("check", planned).exit_code == 0
    edit(planned / "session.toml", "pour_ml = 20", "pour_ml = 30")
    assert "changed after 18 rows of answers were in" in told(planned)
    (planned / "session.toml").write_text(settings, "utf-8")
    assert run("key", planned, "--reason", "cork").exit_code == 0
    edit(planned / "session.toml", "pour_ml = 20", "pour_ml = 30")
    assert "changed after the key was opened; 18 rows of answers" in told(planned)


def test_a_log_that_is_cut_changed_or_gone_is_told(planned: Path):
    run("key", planned, "--reason", "cork")
    log = planned / LOG
    whole = log.read_bytes()
    lines = whole.splitlines(keepends=True)
    log.write_bytes(b"".join(lines[:-1]))
    assert "Its end was cut off" in told(planned)
    log.write_bytes(b"".join([lines[0], *lines[2:]]))
    assert "the chain is broken" in told(planned)
    log.write_bytes(whole.replace(b'"rows": 18', b'"rows": 19', 1))
    assert "the chain is broken" in told(planned)
    log.unlink()
    assert "There is no log" in told(planned)
    log.write_bytes(whole)
    assert run("check", planned).exit_code == 0


@pytest.mark.parametrize("tail", [b'{"n": 4, "at": "20', b"\0" * 4096])
def test_a_half_written_entry_is_kept_and_told_and_the_chain_goes_on(planned: Path, tail: bytes):
    log = planned / LOG
    whole = log.read_bytes()
    log.write_bytes(whole + tail)
    done = run("check", planned)
    assert done.exit_code == 0
    assert "was not written to its end" in done.output
    append(planned, "sheets", plan=1)
    assert log.read_bytes().startswith(whole + tail)
    assert [one.kind for one in read_log(planned).breaks] == ["torn"]
    assert read_log(planned).entries[-1].act == "sheets"


def test_a_clock_that_was_set_back_is_told(tmp_path: Path):
    append(tmp_path, "plan", plan=1)
    line = (tmp_path / LOG).read_text("utf-8")
    year = json.loads(line)["at"][:4]
    (tmp_path / LOG).write_text(line.replace(year, str(int(year) + 1)), "utf-8")
    append(tmp_path, "sheets", plan=1)
    assert [(one.kind, one.line) for one in read_log(tmp_path).breaks] == [("clock", 2)]


def test_the_log_holds_no_bottle_name_or_reason(planned: Path):
    run("key", planned, "--reason", "Hanako smelled cork")
    text = (planned / LOG).read_text("utf-8")
    for word in ("early", "middle", "Hanako", "cork", "free-run"):
        assert word not in text


def test_measurements_are_added_on_the_record(planned: Path):
    edit(planned / "bottles.csv", "2,1.5,yes", "2,1.9,yes")
    done = run("measured", planned)
    assert done.exit_code == 0, done.output
    assert "acidity of 'early' was 1.5, is 1.9" in done.output
    assert run("check", planned).exit_code == 0
    run("report", planned)
    page = (planned / "report/report.html").read_text("utf-8")
    assert "recorded after planning" in page
    edit(planned / "bottles.csv", "2,1.9,yes", "2,2.3,yes")
    assert "The key was open by then" in run("measured", planned).output
    edit(planned / "plan/server/measured.json", "1.9", "1.8")
    assert "not the list that the log knows" in told(planned)


def test_a_bottle_that_left_the_table_is_reported_as_planned(planned: Path):
    edit(planned / "bottles.csv", "late,4,cloudy,0,16.9,2,1.7,yes,2,2\n", "")
    assert run("report", planned).exit_code == 0
    page = (planned / "report/report.html").read_text("utf-8")
    assert "was planned and is not there any more" in page
    results = json.loads((planned / "report/results.json").read_text("utf-8"))
    assert "late" in results["asked"]["samples"]


def test_the_server_files_are_closed_to_others(planned: Path):
    for path in (planned / "plan/server").rglob("*"):
        assert path.stat().st_mode & 0o077 == 0, path
    assert (planned / "plan/server").stat().st_mode & 0o077 == 0
    (planned / KEY).chmod(0o644)
    done = run("check", planned)
    assert "can be read by others" in done.output


def test_a_plan_put_back_from_a_copy_is_told(planned: Path):
    before = {name: (planned / name).read_bytes() for name in (OPEN_HALF, KEY)}
    run("plan", planned, "--again")
    for name, content in before.items():
        (planned / name).write_bytes(content)
    assert "The log tells of a later plan" in told(planned)


def test_where_only_byte_ranges_can_be_locked_the_log_is_locked_so(tmp_path, monkeypatch):
    """Windows, by a stand-in: a byte far behind the end, freed at the same place."""
    calls = []

    def locking(handle: int, mode: int, count: int) -> None:
        calls.append((mode, os.lseek(handle, 0, os.SEEK_CUR), count))

    stand_in = types.SimpleNamespace(locking=locking, LK_LOCK=1, LK_UNLCK=0)
    monkeypatch.setitem(sys.modules, "msvcrt", stand_in)
    monkeypatch.setattr(session_log, "fcntl", None)
    for number in (1, 2, 3):
        append(tmp_path, "read", number=number)
    log = read_log(tmp_path)
    assert [entry.number for entry in log.entries] == [1, 2, 3]
    assert not log.breaks
    (lock, place, _), *_ = calls
    assert lock == stand_in.LK_LOCK
    assert place > 1 << 32
    assert calls == [(1, place, 1), (0, place, 1)] * 3
