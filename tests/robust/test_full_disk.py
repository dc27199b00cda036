"""A disk that is full, a folder that can only be read: words, and nothing half made or lost.

The full disk is a limit on the size of files that the system sets for the child
(`setrlimit`, RLIMIT_FSIZE): each write beyond it fails, of SQLite too.
"""

from __future__ import annotations

import os
import resource
import shutil
import signal
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import crash_runs
import pytest


@pytest.fixture(scope="module")
def place(stages: Path) -> Iterator[Path]:
    """Lay the stages into a folder that everybody may enter."""
    made = Path(tempfile.mkdtemp())
    shutil.copytree(stages, made, dirs_exist_ok=True)
    made.chmod(0o755)
    yield made
    shutil.rmtree(made)


def full(bytes_left: int, work: object) -> tuple[int, str]:
    def limited() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (bytes_left, bytes_left))
        work()

    return crash_runs._told(limited)


@pytest.mark.parametrize("bytes_left", [0, 5_000, 40_000])
@pytest.mark.parametrize("name", ["plan", "plan --again", "read"])
def test_a_full_disk_is_told_and_halves_nothing(place, tmp_path, name, bytes_left):
    (case,) = [one for one in crash_runs.cases() if one.name == name]
    folder = tmp_path / "session"
    shutil.copytree(place / case.stage, folder)
    code, text = full(bytes_left, lambda: case.work(folder, place))
    assert code in (0, 1, 3), text
    assert "Traceback" not in text
    assert "does not foresee" not in text
    if code == 1:
        assert "No space is left" in text
    assert crash_runs.check_outputs(folder) + crash_runs.check_words(folder) == []
    assert case.after(folder, place) == []
    done, text = crash_runs._told(lambda: case.work(folder, place))
    assert done in (0, 1, 3) if code == 0 else done in (0, 3), text
    assert case.repeated(folder, place) == []


def test_the_smallest_disk_stops_each_command(place, tmp_path):
    for name in ("plan --again", "read"):
        (case,) = [one for one in crash_runs.cases() if one.name == name]
        folder = tmp_path / name.replace(" ", "")
        shutil.copytree(place / case.stage, folder)
        assert full(0, lambda: case.work(folder, place))[0] == 1  # noqa: B023


def snapshot(folder: Path) -> dict[str, tuple[int, bytes]]:
    return {
        path.relative_to(folder).as_posix(): (path.stat().st_mtime_ns,
                                              path.read_bytes() if path.is_file() else b"")
        for path in sorted([folder, *folder.rglob("*")])
    }  # fmt: skip


def as_a_reader(folder: Path, *words: object) -> tuple[int, str]:
    """Run a command as somebody who owns nothing; who is no administrator is one already.

    It runs on a copy first, in this process, so that what it imports is there: the interpreter
    may lie where that somebody has no right to look.
    """
    if os.getuid() == 0:
        with tempfile.TemporaryDirectory() as scratch:
            copy = Path(scratch, "session")
            shutil.copytree(folder, copy)
            crash_runs._here(lambda: crash_runs.command(words[0], copy, *words[1:]))

    def dropped() -> None:
        if os.getuid() == 0:
            os.setgroups([])
            os.setgid(65534)
            os.setuid(65534)
        sys.stdout.write(f"{MARK}\n")
        sys.stdout.flush()
        crash_runs.command(words[0], folder, *words[1:])

    code, text = crash_runs._told(dropped)
    return code, text.partition(MARK)[2]


MARK = "-- as a reader"


def test_a_folder_that_can_only_be_read_is_looked_at_and_left_alone(place):
    folder = place / "read"
    for path in [folder, *folder.rglob("*")]:
        path.chmod(0o555 if path.is_dir() else 0o444)
    before = snapshot(folder)
    code, text = as_a_reader(folder, "status")
    assert code in (0, 3), text
    assert "complete" in text
    for words in (("read", place / "filled"), ("plan", "--again"), ("sheets",), ("report",)):
        code, text = as_a_reader(folder, *words)
        assert code == 1, (words, text)
        assert "cannot be written" in text, (words, text)
    assert snapshot(folder) == before
