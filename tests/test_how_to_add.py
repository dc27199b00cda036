"""What DEVELOPERS.md says of adding a language or a command is tried on a copy."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import kikichoko.catalogue
import pytest

COUNTING = """
# One form for 1, one for 2 to 4, one for the rest.
plural = "n == 1 ? 0 : n >= 2 && n <= 4 ? 1 : 2"
forms = ["one", "few", "other"]
between = " + "
"""
SAYING = """
from kikichoko.analysis.core.words import Sentence
from kikichoko.forms.questions.words import languages
print(*(Sentence.of("common.assessors", n=n).to("xx") for n in (1, 3, 8)), sep=" | ")
print(Sentence.of("common.samples", n=2).to("xx"))
print(*languages())
"""
COMMAND = '''
"""``kikichoko greet``: say hello."""

import click

from ..base.words import say

SECTION, RANK = "cli.section_before", 99


@click.command(help=say("greet.help"))
def command() -> None:
    """Say hello."""
    click.echo(say("greet.hello"))
'''


@pytest.fixture(scope="module")
def copied(tmp_path_factory) -> Path:
    """Return a folder with a copy of the package."""
    place = tmp_path_factory.mktemp("copied")
    source = Path(kikichoko.catalogue.__file__).parent
    shutil.copytree(source, place / "kikichoko", ignore=shutil.ignore_patterns("__pycache__"))
    return place


def run(copied: Path, *arguments: str) -> str:
    """Run Python on the copy and return what it printed."""
    done = subprocess.run(
        [sys.executable, *arguments], capture_output=True, text=True, check=True,
        env={**os.environ, "PYTHONPATH": str(copied)},
    )  # fmt: skip
    return done.stdout


def test_a_language_is_a_copy_of_the_english_words_and_how_it_counts(copied: Path):
    package = copied / "kikichoko"
    for words in (package / "words", *sorted(package.glob("*/words"))):
        shutil.copytree(words / "en", words / "xx")
    (package / "words/xx/language.toml").write_text(COUNTING, "utf-8")
    entry = 'assessors = { one = "{n} uno", few = "{n} duo", other = "{n} omni" }\n'
    (package / "analysis/words/xx/common.toml").write_text(entry, "utf-8")
    said = run(copied, "-c", SAYING).splitlines()
    assert said == ["1 uno | 3 duo | 8 omni", "2 samples", "en ja xx"]


def test_a_command_is_one_file_and_its_words(copied: Path):
    package = copied / "kikichoko/panel"
    (package / "commands/greet.py").write_text(COMMAND, "utf-8")
    (package / "words/en/greet.toml").write_text('help = "Greet."\nhello = "Hello."\n', "utf-8")
    call = "from kikichoko.panel.cli import main; main({!r})"
    assert "greet" in run(copied, "-c", call.format(["--help"]))
    assert run(copied, "-c", call.format(["greet"])) == "Hello.\n"
