"""What DEVELOPERS.md says of adding a language, a command, a method or a question is tried."""

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
METHOD = '''
"""How far apart do the assessors mark one sample?"""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from ..core.errors import NotEstimable
from ..core.result import Result
from ..core.tidy_table import Tidy, as_tidy
from ..core.words import Sentence


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class ScoreRange(Result):
    """Highest minus lowest score."""

    width: float
    n: int

    def sentences(self) -> tuple[Sentence, ...]:
        """Say it."""
        return (Sentence.of("score_range.apart", width=self.width, n=self.n),)


def range_of_scores(table: Tidy | pd.DataFrame) -> ScoreRange:
    """Return how far apart the scores lie."""
    checked = as_tidy(table)
    if len(checked.assessors) < 2:
        raise NotEstimable("score_range.alone", n=len(checked.assessors))
    score = checked.data["score"]
    return ScoreRange(width=float(score.max() - score.min()), n=len(checked.assessors))
'''
METHOD_WORDS = """
apart = "{n} {n:assessor lies|assessors lie} {width:g} points apart."
alone = "{n} {n:assessor has|assessors have} nobody to be apart from."
"""
MEASURING = """
import pandas as pd
from kikichoko.analysis import profile
from kikichoko.analysis.core import NotEstimable
rows = [("T1", "a", "body", 3.0), ("T2", "a", "body", 5.5)]
table = pd.DataFrame(rows, columns=["assessor", "sample", "attribute", "score"])
print("range_of_scores" in dir(profile), "pd" in dir(profile))
found = profile.range_of_scores(table)
print(found)
print(found.to_dict()["width"])
try:
    profile.range_of_scores(table.head(1))
except NotEstimable as told:
    print(told)
"""
QUESTION_WORDS = """
chewiness = "Chewiness"
chewiness_ask = "On the tongue."
chewiness_low = "none"
chewiness_high = "very much"
"""
ASKING = """
from kikichoko.forms.paper.pages import lay_out
from kikichoko.forms.questions.cards import card
from kikichoko.forms.questions.sheet import Presentation, Sheet
full = card()
print("chewiness" in full, "chewiness" in card("beginners"), "chewiness" in card("earlier"))
cup = Presentation(number=1, flight=1, codes=("427",), asked=full.keys)
sheet = Sheet(session="s", title="t", assessor="A1", language="en", date="2026-03-14",
              presentations=(cup,), scorecard=full)
pages = lay_out(sheet)
print(*(words.text for page in pages for words in page.words if "Chew" in words.text))
print(sum(scale.attribute == "chewiness" for page in pages for scale in page.scales))
"""


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


def test_a_method_is_one_file_its_words_and_its_public_name(copied: Path):
    package = copied / "kikichoko/analysis"
    (package / "profile/score_range.py").write_text(METHOD, "utf-8")
    (package / "words/en/score_range.toml").write_text(METHOD_WORDS, "utf-8")
    with (package / "profile/__init__.pyi").open("a", encoding="utf-8") as stub:
        stub.write("from .score_range import range_of_scores as range_of_scores\n")
    assert run(copied, "-c", MEASURING).splitlines() == [
        "True False",
        "2 assessors lie 2.5 points apart.",
        "2.5",
        "1 assessor has nobody to be apart from.",
    ]


def test_a_question_is_its_moment_and_its_words(copied: Path):
    forms = copied / "kikichoko/forms"
    cards = forms / "questions/cards.py"
    text = cards.read_text("utf-8")
    moment = '"texture", "flavour_intensity",'
    assert text.count(moment) == 1
    cards.write_text(text.replace(moment, f'"chewiness", {moment}'), "utf-8")
    with (forms / "words/en/card.toml").open("a", encoding="utf-8") as words:
        words.write(QUESTION_WORDS)
    assert run(copied, "-c", ASKING).splitlines() == ["True False False", "Chewiness", "1"]
