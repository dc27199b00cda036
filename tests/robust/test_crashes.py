"""A sample of `benchmarks/crashes.py`: kills at random moments lose and halve nothing."""

from __future__ import annotations

import os
import shutil
import sys
from pathlib import Path

import crash_runs
import pytest
import two_at_once

KILLS = {"plan": 1, "plan --again": 1, "sheets": 1, "read": 2, "review": 1, "report": 1,
         "change": 1, "forget": 1, "unblind": 1, "forget named": 1, "new": 2,
         "new --practise": 1}  # fmt: skip
SLOW = {"sheets": 231, "report": 131}
"""How many acts on files these took on 26 November 2026; the kill comes before one of them."""


@pytest.fixture(scope="module")
def place(stages: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("crashes")
    shutil.copytree(stages, made, dirs_exist_ok=True)
    for name, acts in SLOW.items():
        (made / f"acts of {name}").write_text(f"[{acts}, 1]")
    return made


@pytest.mark.parametrize("name", KILLS)
def test_a_kill_loses_and_halves_nothing(place, name):
    chosen = [one for one in crash_runs.cases() if one.name == name]
    tallies = crash_runs.run(place, KILLS[name], 21, chosen, lambda _: None)
    assert tallies[name].kills >= 1
    assert tallies[name].broken == []


def test_two_at_once_leave_each_answer_once(place):
    """A sample of `benchmarks/two_at_once.py` (B04)."""
    name = "read + read of the same"
    chosen = [one for one in two_at_once.pairs() if one.name == name]
    tallies = two_at_once.run(place, 1, 4, chosen, lambda _: None)
    assert tallies[name].broken == []


def test_whoever_stops_listening_stops_no_work(place, tmp_path):
    """A15: output goes to a pipe that was closed; the work is done and the exit code is its own."""
    folder = tmp_path / "session"
    shutil.copytree(place / "begun", folder)
    read_end, write_end = os.pipe()
    os.close(read_end)

    def work() -> None:
        for number in (1, 2):
            os.dup2(write_end, number)
        sys.stdout = open(1, "w", closefd=False)  # noqa: SIM115 - the child's own
        sys.stderr = open(2, "w", closefd=False)  # noqa: SIM115
        crash_runs.command("read", folder, place / "filled")

    assert crash_runs.in_child(work) == 0
    os.close(write_end)
    assert crash_runs._read_whole(folder, place) == []


def test_the_checks_can_fail(place, tmp_path):
    """Rows taken out of a store, a torn PDF: what the runs look for is noticed."""
    import sqlite3

    folder = tmp_path / "session"
    shutil.copytree(place / "read", folder)
    assert crash_runs._read_after(folder, place) == []
    assert crash_runs.check_outputs(folder) == []
    database = sqlite3.connect(folder / "answers.sqlite")
    database.execute("DROP TRIGGER answers_no_delete")
    database.execute("DELETE FROM answers WHERE id = 1 OR id = (SELECT max(id) FROM answers)")
    database.commit()
    database.close()
    assert len(crash_runs._read_after(folder, place)) >= 2
    whole = (folder / "sheets/T1.pdf").read_bytes()
    (folder / "sheets/T1.pdf").write_bytes(whole[:-100])
    assert len(crash_runs.check_outputs(folder)) == 2, "torn, and not as the list says"
