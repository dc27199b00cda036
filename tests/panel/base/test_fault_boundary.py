"""Whatever the machine throws comes out in words, with the right exit code."""

from __future__ import annotations

import errno
import io
import sqlite3
import subprocess
import sys

import click
import pytest
from click.testing import CliRunner
from kikichoko.analysis.core.words import shown
from kikichoko.panel.base.fault_boundary import in_words
from kikichoko.panel.cli import CommandGroup, kikichoko


def test_each_fault_of_the_disk_says_what_to_do():
    said = {
        errno.ENOSPC: "No space is left",
        errno.EROFS: "ask its owner",
        errno.EACCES: "ask its owner",
        errno.ENAMETOOLONG: "shorter name",
        errno.EIO: "Check the name and the disk",
    }
    for number, words in said.items():
        text = str(in_words(OSError(number, "why", "/session/plan")))
        assert words in text
        assert "/session/plan" in text


def test_faults_of_the_store_are_told_apart(tmp_path):
    damaged = tmp_path / "answers.sqlite"
    damaged.write_bytes(b"this is no database" * 100)
    database = sqlite3.connect(damaged)
    with pytest.raises(sqlite3.DatabaseError) as refused:
        database.execute("SELECT * FROM answers")
    database.close()
    assert "read the originals in returned/ again" in str(in_words(refused.value))
    good = tmp_path / "good.sqlite"
    first = sqlite3.connect(good, isolation_level=None)
    first.execute("BEGIN EXCLUSIVE")
    second = sqlite3.connect(good, timeout=0.01)
    with pytest.raises(sqlite3.OperationalError) as busy:
        second.execute("CREATE TABLE a (b)")
    assert "Another program is using" in str(in_words(busy.value))
    first.close()
    second.close()


@pytest.mark.parametrize(
    ("thrown", "code", "words"),
    [
        (KeyboardInterrupt(), 130, "Stopped"),
        (MemoryError(), 1, "not enough memory"),
        (RecursionError(), 1, "nested far too deeply"),
        (UnicodeDecodeError("utf-8", b"\xff", 0, 1, "bad"), 1, "UTF-8"),
        (OSError(errno.ENOSPC, "full", "x"), 1, "No space"),
        (BrokenPipeError(errno.EPIPE, "Broken pipe"), 1, "a file' could not be read or written"),
        (KeyError("cups"), 1, "does not foresee (KeyError: 'cups'"),
    ],
)
def test_a_command_ends_in_words_and_without_a_traceback(thrown, code, words):
    @click.group(cls=CommandGroup)
    def group() -> None:
        pass

    @click.command()
    def broken() -> None:
        raise thrown

    group.get_command = lambda _context, _name: broken
    outcome = CliRunner().invoke(group, ["broken"])
    assert outcome.exit_code == code
    assert words in outcome.output
    assert "Traceback" not in outcome.output


def test_control_signs_of_files_and_names_do_not_reach_the_terminal(tmp_path):
    name = "a\x1b[2J\n[OK] all read.csv"
    outcome = CliRunner().invoke(kikichoko, ["anova", str(tmp_path / name)])
    assert outcome.exit_code == 1
    assert "\x1b" not in outcome.output
    assert "\n[OK]" not in outcome.output
    assert "␛[2J␊[OK]" in outcome.output


def test_line_ends_and_tabs_stay():
    text = "".join(map(chr, range(0x20))) + "酒\x7f"
    assert (
        shown(text)
        == "".join(chr(n) if n in (9, 10) else chr(0x2400 + n) for n in range(0x20)) + "酒␡"
    )


@pytest.mark.parametrize("letters", ["cp932", "cp437"])
def test_a_terminal_that_lacks_letters_gets_signs(tmp_path, letters):
    run = subprocess.run(
        [sys.executable, "-c", "from kikichoko.panel.cli import main; main()",
         "anova", str(tmp_path / "貴醸酒 – é −.csv")],
        capture_output=True, env={"PYTHONIOENCODING": letters, "PATH": "", "LC_ALL": "C"},
        check=False,
    )  # fmt: skip
    assert run.returncode == 1
    said = run.stderr.decode(letters)
    assert "Traceback" not in said
    assert "There is no file" in said
    assert isinstance(io.StringIO(said).read(), str)
