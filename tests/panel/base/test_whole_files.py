"""What stands under its name is whole; what people laid beside it stays."""

from __future__ import annotations

import errno
import json
import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest
from kikichoko.panel.base.one_at_a_time import alone
from kikichoko.panel.base.session_log import append, read_log
from kikichoko.panel.base.whole_files import (
    MADE,
    changed_files,
    made_files,
    own_folder,
    remove_folder,
    renewed,
    restore,
    whole_file,
    whole_folder,
    write_text,
)


def names(folder: Path) -> list[str]:
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*"))


def broken_off(target: Path) -> None:
    with whole_file(target) as aside:
        aside.write_text("half")
        raise KeyboardInterrupt


def folder_broken_off(target: Path) -> None:
    with whole_folder(target) as aside:
        (aside / "page").write_text("half")
        raise KeyboardInterrupt


def test_a_file_broken_off_leaves_the_old_one(tmp_path):
    target = write_text(tmp_path / "a.txt", "old")
    with pytest.raises(KeyboardInterrupt):
        broken_off(target)
    assert target.read_text() == "old"
    assert names(tmp_path) == ["a.txt"]
    with whole_file(target) as aside:
        aside.write_text("new")
    assert target.read_text() == "new"


def test_a_folder_broken_off_leaves_the_old_one(tmp_path):
    target = tmp_path / "report"
    with whole_folder(target) as aside:
        (aside / "page").write_text("old")
    with pytest.raises(KeyboardInterrupt):
        folder_broken_off(target)
    assert (target / "page").read_text() == "old"
    assert names(tmp_path) == ["report", f"report/{MADE}", "report/page"]


def test_a_folder_is_replaced_whole_and_what_people_did_is_carried_over(tmp_path):
    target = tmp_path / "sheets"
    with whole_folder(target) as aside:
        for name in ("A1.xlsx", "A2.xlsx", "gone.xlsx", "gone-filled.xlsx"):
            (aside / name).write_text("blank")
    (target / "A1.xlsx").write_text("filled in by A1")
    (target / "gone-filled.xlsx").write_text("filled in")
    (target / "notes").mkdir()
    (target / "notes/mine.txt").write_text("mine")
    assert changed_files(target) == ["A1.xlsx", "gone-filled.xlsx"]
    for time in range(2):
        with whole_folder(target) as aside:
            (aside / "A1.xlsx").write_text(f"blank {time}")
            (aside / "A2.xlsx").write_text("blank")
    assert names(target) == [MADE, "A1 (before).xlsx", "A1.xlsx", "A2.xlsx", "gone-filled.xlsx",
                             "notes", "notes/mine.txt"]  # fmt: skip
    assert (target / "A1 (before).xlsx").read_text() == "filled in by A1"
    assert (target / "A1.xlsx").read_text() == "blank 1"
    assert (target / "notes/mine.txt").read_text() == "mine"
    assert sorted(made_files(target)) == ["A1.xlsx", "A2.xlsx"]


def test_a_folder_without_a_list_is_laid_aside(tmp_path):
    target = tmp_path / "sheets"
    target.mkdir()
    (target / "A1.xlsx").write_text("from before there were lists")
    with whole_folder(target) as aside:
        (aside / "A1.xlsx").write_text("new")
    assert (tmp_path / "sheets (before)/A1.xlsx").read_text() == "from before there were lists"
    assert names(target) == [MADE, "A1.xlsx"]


def test_a_kill_between_the_two_names_is_put_right(tmp_path):
    target = tmp_path / "report"
    with whole_folder(target) as aside:
        (aside / "page").write_text("old")
    target.rename(tmp_path / ".before-999999999-report")
    (tmp_path / ".making-999999999-report").mkdir()
    restore(target)
    assert (target / "page").read_text() == "old"
    with whole_folder(target) as aside:
        (aside / "page").write_text("new")
    assert (target / "page").read_text() == "new"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["report"]


def test_a_list_that_is_damaged_is_none(tmp_path):
    target = tmp_path / "report"
    with whole_folder(target) as aside:
        (aside / "page").write_text("page")
    (target / MADE).write_text(json.dumps(["not a list of ours"]))
    assert made_files(target) == {}
    assert changed_files(target) == []


def test_parts_are_renewed_together(tmp_path):
    (tmp_path / "plan").mkdir()
    (tmp_path / "plan/plan.json").write_text("1")
    (tmp_path / "sheets").mkdir()
    (tmp_path / "sheets/A1").write_text("1")

    def work(stage: Path, *, stopped: bool) -> None:
        (stage / "plan/earlier").mkdir()
        (stage / "sheets").rename(stage / "plan/earlier/sheets")
        (stage / "plan/plan.json").write_text("2")
        if stopped:
            raise KeyboardInterrupt

    def renew(*, stopped: bool) -> None:
        with renewed(tmp_path, "plan", "sheets") as stage:
            work(stage, stopped=stopped)

    before = names(tmp_path)
    with pytest.raises(KeyboardInterrupt):
        renew(stopped=True)
    assert names(tmp_path) == before
    renew(stopped=False)
    assert names(tmp_path) == ["plan", "plan/earlier", "plan/earlier/sheets",
                               "plan/earlier/sheets/A1", "plan/plan.json"]  # fmt: skip
    assert (tmp_path / "plan/plan.json").read_text() == "2"


def test_two_in_one_folder_wait_for_each_other(tmp_path):
    with alone(tmp_path):
        asked = subprocess.run(
            [sys.executable, "-c",
             ("import sys, pathlib\n"
              "from kikichoko.panel.base.one_at_a_time import alone\n"
              "with alone(pathlib.Path(sys.argv[1]), 0.2): pass"), str(tmp_path)],
            capture_output=True, text=True, check=False,
        )  # fmt: skip
        assert "Another kikichoko is working" in asked.stderr
    with alone(tmp_path, 0.2):
        assert list(tmp_path.iterdir()) == []


def test_a_link_stays_and_what_it_leads_to_is_left_alone(tmp_path):
    """B27: a file is written where the link leads; of a folder the link alone gives way."""
    there = tmp_path / "stick"
    there.mkdir()
    (there / "names.csv").write_text("old", "utf-8")
    (tmp_path / "names.csv").symlink_to(there / "names.csv")
    write_text(tmp_path / "names.csv", "new")
    assert (there / "names.csv").read_text("utf-8") == "new"
    assert (tmp_path / "names.csv").is_symlink()
    with whole_folder(there / "sheets") as aside:
        (aside / "A1.pdf").write_text("old", "utf-8")
    (there / "sheets/mine.txt").write_text("mine", "utf-8")
    (tmp_path / "sheets").symlink_to(there / "sheets")
    with whole_folder(tmp_path / "sheets") as aside:
        (aside / "A1.pdf").write_text("new", "utf-8")
    assert (tmp_path / "sheets/A1.pdf").read_text("utf-8") == "new"
    assert (tmp_path / "sheets/mine.txt").read_text("utf-8") == "mine"
    assert names(there / "sheets") == [".made.json", "A1.pdf", "mine.txt"]
    (tmp_path / "report").symlink_to(there / "sheets")
    remove_folder(tmp_path / "report")
    assert names(there / "sheets") == [".made.json", "A1.pdf", "mine.txt"]
    assert sorted(path.name for path in tmp_path.iterdir()) == ["names.csv", "sheets", "stick"]


def test_a_folder_of_somebody_stays_where_it_is(tmp_path):
    """What is written into it is whole file by file; a folder of ours is replaced at once."""
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine/note.txt").write_text("mine", "utf-8")
    for name in ("mine", "ours", "ours"):
        with own_folder(tmp_path / name) as aside:
            assert (aside == tmp_path / name) == (name == "mine")
            write_text(aside / "page.pdf", "page")
    assert names(tmp_path / "mine") == ["note.txt", "page.pdf"]
    assert names(tmp_path / "ours") == [".made.json", "page.pdf"]
    assert sorted(path.name for path in tmp_path.iterdir()) == ["mine", "ours"]


def test_a_stick_without_locks_and_without_syncing_folders_works(tmp_path, monkeypatch):
    """B29: what the file system does not know is left out; other faults are not."""
    import fcntl

    def refused(number: int):
        def refuse(*_: object) -> None:
            raise OSError(number, os.strerror(number))

        return refuse

    real = os.fsync

    def folders_refused(handle: int) -> None:
        if stat.S_ISDIR(os.fstat(handle).st_mode):
            raise OSError(errno.EINVAL, "")
        real(handle)

    monkeypatch.setattr(fcntl, "flock", refused(errno.ENOLCK))
    monkeypatch.setattr(os, "fsync", folders_refused)
    with alone(tmp_path), whole_folder(tmp_path / "sheets") as aside:
        (aside / "A1.pdf").write_text("new", "utf-8")
    append(tmp_path, "sheets", plan=1)
    assert len(read_log(tmp_path).entries) == 1
    assert names(tmp_path / "sheets") == [".made.json", "A1.pdf"]
    monkeypatch.setattr(os, "fsync", refused(errno.EIO))
    with pytest.raises(OSError, match=os.strerror(errno.EIO)):
        write_text(tmp_path / "a.txt", "text")
