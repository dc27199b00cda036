"""A store of an earlier version opens in this one, with nothing lost; two may open it at once."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest
from kikichoko.panel.base.errors import NotReady
from kikichoko.panel.returns.open_marks import waiting
from kikichoko.panel.returns.store import FILE, Store
from kikichoko.panel.returns.store_versions import STEPS

# Rows as the version before the named steps wrote them (its two scripts are STEPS[:2], unchanged).
ROWS = """
INSERT INTO files VALUES (1, 'a.xlsx', 'aa-a.xlsx', 'digest-a', '2026-01-01T10:00:00+09:00');
INSERT INTO files VALUES (2, 'lost.xlsx', 'bb-lost.xlsx', 'digest-b', '2026-01-01T10:00:00+09:00');
INSERT INTO answers VALUES (1, 's', 'A1', '381', 'acidity', 4.0, NULL, '4', 1.0, 'a.xlsx', 'C3',
    '2026-01-01T10:00:01+09:00', NULL, '');
INSERT INTO answers VALUES (2, 's', 'A1', '381', 'acidity', 5.0, NULL, '5', 1.0, 'b.csv', 'row 2',
    '2026-01-01T10:30:00+09:00', 1, 'M1');
INSERT INTO faults VALUES (1, 'missing', 'a.xlsx', 'C4', 'A1', '381', 'umami', '', '0-10',
    '2026-01-01T10:00:01+09:00', 1);
INSERT INTO openings VALUES (1, '2026-01-01T10:10:00+09:00', 'report', 3, 1);
INSERT INTO uncertain VALUES (1, 'k', 's', 'A1', '417', 'acidity', 'p.jpg', 'page 1', 'double',
    x'89', '[["nothing", null]]', 0.0, 10.0, '2026-01-01T10:00:01+09:00');
"""


def earlier(folder: Path) -> None:
    """Write a store as the version before the named steps left it."""
    raw = sqlite3.connect(folder / FILE)
    raw.execute("PRAGMA journal_mode = WAL")
    for step in STEPS[:2]:
        raw.executescript(step.script)
    raw.executescript(ROWS)
    raw.execute("PRAGMA user_version = 2")
    raw.close()


def test_a_store_of_the_version_before_opens_whole(tmp_path):
    earlier(tmp_path)
    before = (tmp_path / FILE).read_bytes()
    with Store(tmp_path) as store:
        (stands,) = store.answers()
        assert (stands.answer.value, stands.corrections, stands.plan) == (5.0, 1, "")
        assert [fault.attribute for fault in store.faults().values()] == ["umami"]
        assert waiting(store) == [1]
        (opening,) = store.openings()
        assert (opening.sheets_out, opening.after_row) == (3, None)
        assert store.entered_after(opening) == 1
        rows = store.database.execute("SELECT file, answers, faults FROM readings").fetchall()
        assert rows == [(1, 1, 1)], "a file that left no trace is read again"
        names = [name for (name,) in store.database.execute("SELECT name FROM migrations")]
        assert names == [step.name for step in STEPS[2:]]
        with pytest.raises(sqlite3.IntegrityError, match="append-only"):
            store.database.execute("DELETE FROM readings")
    copy = tmp_path / f"answers-before-version-{len(STEPS)}.sqlite"
    old, kept = sqlite3.connect(":memory:"), sqlite3.connect(copy)
    old.deserialize(before[:18] + b"\x01\x01" + before[20:])
    assert list(old.iterdump()) == list(kept.iterdump())
    old.close()
    kept.close()


def test_a_new_store_names_its_steps_and_needs_no_copy(tmp_path):
    with Store(tmp_path) as store:
        assert store.database.execute("PRAGMA user_version").fetchone() == (len(STEPS),)
        assert store.database.execute("PRAGMA synchronous").fetchone() == (2,), "FULL"
    assert [path.name for path in tmp_path.iterdir()] == [FILE]


def test_a_store_of_a_later_version_is_refused_and_not_touched(tmp_path):
    with Store(tmp_path) as store:
        store.database.execute("PRAGMA user_version = 99")
    before = (tmp_path / FILE).read_bytes()
    with pytest.raises(NotReady, match="later version"):
        Store(tmp_path)
    assert (tmp_path / FILE).read_bytes() == before


def test_a_step_broken_off_is_not_taken(tmp_path, monkeypatch):
    from kikichoko.panel.returns import store_versions

    earlier(tmp_path)
    broken = store_versions.Step("broken", "CREATE TABLE half (a); CREATE TABLE half (a);")
    monkeypatch.setattr(store_versions, "STEPS", (*STEPS, broken))
    with pytest.raises(sqlite3.OperationalError, match="already exists"):
        Store(tmp_path)
    monkeypatch.undo()
    with Store(tmp_path) as store:
        assert store.answers()[0].answer.value == 5.0
        assert not store.database.execute(
            "SELECT 1 FROM sqlite_master WHERE name = 'half'"
        ).fetchall()


def test_looking_touches_nothing(tmp_path):
    with Store(tmp_path, reading=True) as store:
        assert store.answers() == []
    assert list(tmp_path.iterdir()) == []
    earlier(tmp_path)
    before = (tmp_path / FILE).read_bytes()
    with Store(tmp_path, reading=True) as store:
        assert store.answers()[0].answer.value == 5.0
    assert [path.name for path in tmp_path.iterdir()] == [FILE]
    assert (tmp_path / FILE).read_bytes() == before


def test_looking_sees_what_another_has_just_written(tmp_path):
    earlier(tmp_path)
    with Store(tmp_path) as writer:
        writer.settle(next(iter(writer.faults())), "asked")
        with Store(tmp_path, reading=True) as store:
            assert store.faults() == {}


@pytest.mark.parametrize("start", ["new", "earlier"])
def test_eight_that_open_a_store_at_once_all_succeed(tmp_path, start):
    if start == "earlier":
        earlier(tmp_path)
    work = (
        "import sys, pathlib\n"
        "from kikichoko.forms.answers.answer import Fault\n"
        "from kikichoko.panel.returns.store import Store\n"
        "sys.stdin.readline()\n"
        "with Store(pathlib.Path(sys.argv[1])) as store:\n"
        "    store.note_faults([Fault(kind='missing', file=sys.argv[2])])\n"
    )
    running = [
        subprocess.Popen(
            [sys.executable, "-c", work, str(tmp_path), f"{number}.csv"],
            stdin=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        )
        for number in range(8)
    ]  # fmt: skip
    for one in running:
        one.stdin.write("\n")
        one.stdin.flush()
    told = [one.communicate(timeout=120) for one in running]
    assert [one.returncode for one in running] == [0] * 8, told
    with Store(tmp_path) as store:
        files = {fault.file for fault in store.faults().values()}
    assert {f"{number}.csv" for number in range(8)} <= files
