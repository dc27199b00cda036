"""The command line speaks its reader's language: which one, in what words, in what columns."""

from __future__ import annotations

import ast
import csv
import io
import re
import tomllib
from dataclasses import replace
from pathlib import Path

import click
import kikichoko.panel
import pytest
from click.testing import CliRunner, Result
from house_plan import ROOT
from kikichoko.forms.answers.answer import Fault
from kikichoko.line_breaks import columns
from kikichoko.panel.base.console import Console, language_of_the_system
from kikichoko.panel.base.words import reader, say
from kikichoko.panel.cli import kikichoko as command_line
from kikichoko.panel.commands._help import folded

WORDS = Path(kikichoko.panel.__path__[0]) / "words"
JAPANESE = {"KIKICHOKO_LANGUAGE": "ja"}
ENGLISH = re.compile(r"[A-Za-z]+(?: [a-z]+){3,}")
"""Four words of English: a piece of a sentence."""


def run(*words: str | Path, **env: str) -> Result:
    return CliRunner().invoke(command_line, [str(word) for word in words], env=env)


@pytest.fixture
def session(tmp_path: Path) -> Path:
    """Make a session in Japanese, of which nothing is planned."""
    folder = tmp_path / "春の会"
    run("new", folder)
    settings = folder / "session.toml"
    text = settings.read_text("utf-8").replace('language = "en"', 'language = "ja"')
    settings.write_text(text, "utf-8")
    return folder


def test_a_session_speaks_its_own_language_and_whoever_asks_gets_another(session: Path):
    planned_not = "はまだ計画していません"
    assert planned_not in run("status", session).output
    assert planned_not in run("status", session, LANG="en_US.UTF-8").output
    assert "Nothing is planned" in run("--language", "en", "status", session).output
    assert "Nothing is planned" in run("status", session, KIKICHOKO_LANGUAGE="en").output
    both = run("--language", "ja", "status", session, KIKICHOKO_LANGUAGE="en")
    assert planned_not in both.output
    assert reader() == "en"  # what was spoken in a run is over with it


def test_outside_a_session_the_system_is_asked(tmp_path: Path):
    absent = tmp_path / "none.csv"
    assert "がありません" in run("anova", absent, LC_ALL="ja_JP.UTF-8").output
    assert "There is no file" in run("anova", absent, LC_ALL="fr_FR.UTF-8").output
    assert "There is no file" in run("anova", absent, LC_ALL="C").output


def test_a_language_that_there_is_not_is_refused():
    assert "'fr' is not one of 'en', 'ja'" in run("--language", "fr", "size", "-h").output
    refused = run("size", "triangle", KIKICHOKO_LANGUAGE="fr")
    assert refused.exit_code == 2
    assert "KIKICHOKO_LANGUAGE" in refused.output


@pytest.mark.parametrize(
    ("told", "spoken"),
    [
        ({"LC_ALL": "ja_JP.UTF-8"}, "ja"),
        ({"LANG": "ja"}, "ja"),
        ({"LC_ALL": "C.UTF-8", "LANG": "ja_JP.UTF-8"}, "en"),  # POSIX: LC_ALL before LANG
        ({"LC_ALL": "", "LC_MESSAGES": "ja_JP.eucJP", "LANG": "en_US"}, "ja"),
        ({"LANG": "de_DE.UTF-8"}, "en"),
        ({}, "en"),
    ],
)
def test_the_language_of_the_system(
    told: dict[str, str], spoken: str, monkeypatch: pytest.MonkeyPatch
):
    for name in ("LC_ALL", "LC_MESSAGES", "LANG"):
        monkeypatch.setenv(name, told.get(name, ""))
    assert language_of_the_system(["en", "ja"]) == spoken


def test_faults_name_their_place_in_the_readers_language(session: Path):
    bottles = session / "bottles.csv"
    bottles.write_text(bottles.read_text("utf-8").replace("cloudy,0,,", "cloudy,0,99,"), "utf-8")
    settings = session / "session.toml"
    settings.write_text(settings.read_text("utf-8").replace("pour_ml = 25", "pour_ml = 0"), "utf-8")
    told = run("plan", session).output
    assert "bottles.csv の 4 行目、列 'abv'：'99'" in told
    assert re.search(r"session\.toml の \d+ 行目：'serving\.pour_ml' が 0 です。", told)
    text = settings.read_text("utf-8").replace('title = "', "title = ")
    english = run("plan", session, KIKICHOKO_LANGUAGE="en").output
    settings.write_text(text, "utf-8")  # no TOML any more
    assert "内容が分かりません" in run("plan", session).output
    assert "bottles.csv, row 4, column 'abv': '99'" in english


def helps() -> list[tuple[str, ...]]:
    names = command_line.list_commands(click.Context(command_line))
    return [(), *((name,) for name in names), ("change", "DIR", "late"), ("change", "DIR", "undo")]


def test_every_help_is_in_japanese_and_in_the_columns_of_the_terminal():

    for words in helps():
        told = run(*words, "--help", COLUMNS="80", **JAPANESE)
        assert told.exit_code == 0, told.output
        assert told.output.startswith("使い方:")
        assert "この説明を表示して終わる。" in told.output
        for line in told.output.splitlines():
            assert columns(line) <= 80, line
            if "kikichoko " not in line:
                assert not ENGLISH.search(line), (words, line)
    assert run("plan", "--help").output.startswith("Usage:")


def test_wrong_usage_is_told_in_japanese():
    told = run("new", "--crd", "full", "there", **JAPANESE).output
    assert "オプション '--crd' はありません。" in told
    assert "エラー：" in told
    assert "引数が足りません" in run("report", **JAPANESE).output
    assert "次から選んでください" in run("new", "--card", "none", "there", **JAPANESE).output


def test_the_words_of_click_are_those_that_click_says():
    """A later click that says something else would speak English in a Japanese sentence."""
    said = {
        node.value
        for path in Path(click.__file__).parent.glob("*.py")
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    }
    known = tomllib.loads((WORDS / "en" / "click.toml").read_text("utf-8"))
    assert {text for text in known.values() if text not in said} == set()


def test_an_older_terminal_of_windows_shows_everything(tmp_path: Path):
    """cp932 lacks the dash and the minus of the catalogues; letters that look alike stand in."""
    path = tmp_path / "shown"
    with path.open("wb") as raw:
        stream = Console(raw, encoding="cp932", errors="kikichoko.lacking")
        for topic in sorted((WORDS / "ja").glob("*.toml")):
            stream.write(topic.read_text("utf-8"))
        stream.write("−1.5 – 2〜3 \u2603")
        stream.flush()
    shown = path.read_bytes().decode("cp932")
    assert shown.endswith("－1.5 - 2～3 \\u2603")
    assert shown.count("\\u") == 1 + sum(
        one.read_text("utf-8").count("\\u") for one in (WORDS / "ja").glob("*.toml")
    )


def test_paragraphs_are_broken_by_columns():
    assert folded("水と無味のパンを\n取る。", 12) == ["水と無味のパ", "ンを取る。"]
    assert folded("kikichoko\ndemo を実行", 40) == ["kikichoko demo を実行"]
    assert folded("\b\n例：\n  kikichoko demo", 4) == ["例：", "  kikichoko demo"]


def test_without_a_reader_words_are_english():
    assert say("cli.section_session") == "A session, in this order"


def test_a_new_session_in_japanese_explains_itself_in_japanese(tmp_path: Path):
    folder = tmp_path / "会"
    assert "に書き込んだら、次は kikichoko plan" in run("new", folder, **JAPANESE).output
    settings = (folder / "session.toml").read_text("utf-8")
    english = Path(kikichoko.panel.__path__[0]) / "session" / "template" / "session.toml"
    assert set(tomllib.loads(settings)) == set(tomllib.loads(english.read_text("utf-8")))
    assert tomllib.loads(settings)["language"] == "ja"
    told = run("plan", folder).output
    assert "計画しました：評価者3名と予備1部、瓶3本、反復2回" in told
    assert "cloudy" not in told


@pytest.mark.parametrize(("title", "told"), [("にごりのきき酒", True), ("春のきき酒", False)])
def test_a_japanese_title_that_tells_what_is_in_a_cup_is_refused(
    title: str, told: bool, tmp_path: Path
):
    folder = tmp_path / "会"
    run("new", folder, **JAPANESE)
    settings = folder / "session.toml"
    text = settings.read_text("utf-8").replace('title = "きき酒"', f'title = "{title}"')
    settings.write_text(text, "utf-8")
    assert ("杯の中身が分かる 'にごり'" in run("plan", folder).output) is told


def test_a_whole_session_is_told_in_japanese(tmp_path: Path):
    run("examples", tmp_path / "例", **JAPANESE)
    session = tmp_path / "例" / "spring-tasting"
    wrong = tmp_path / "wrong.csv"
    wrong.write_text("assessor,code,attribute,score\nT1,999,甘味,5\nT1,,甘味,12\n", "utf-8")
    steps = [
        ("read", session, session / "inbox"),
        ("read", session, wrong),
        ("status", session),
        ("change", session, "left", "T3", "--after", "4"),
        ("change", session),
        ("check", session),
        ("measured", session),
        ("key", session, "--reason", "味を確かめる"),
        ("unblind", session),
        ("plan", session),
        ("forget", session, "T3"),
        ("review", session, "--terminal"),
    ]
    for step in steps:
        told = run(*step).output
        assert re.search(r"[\u3040-\u30ff]", told), (step[0], told)
        assert not ENGLISH.findall(told), (step[0], told)


def test_help_of_a_part_of_a_command_follows_the_reader_each_time():
    """Click keeps the option `--help` of a command as it was first asked for."""
    for language, said in (
        ("ja", "この説明を表示して終わる"),
        ("en", "Show this message and exit"),
    ):
        shown = run("change", "left", "--help", KIKICHOKO_LANGUAGE=language).output
        assert said in shown, language


def test_a_mistyped_folder_is_answered_with_what_is_meant(tmp_path: Path):
    (tmp_path / "spring").mkdir()
    (tmp_path / "spring" / "session.toml").write_text("", "utf-8")
    told = CliRunner().invoke(command_line, ["status", str(tmp_path / "sprng")])
    assert told.exit_code == 1
    assert f"Did you mean '{tmp_path / 'spring'}'?" in told.output
    far = CliRunner().invoke(command_line, ["status", str(tmp_path / "autumn")])
    assert "Did you mean" not in far.output


def test_bottles_of_every_demonstration_have_a_japanese_name():
    from kikichoko.panel.demos._tools import spoken_file

    scenarios = ROOT / "demo_sessions"
    found = 0
    for table in sorted(scenarios.rglob("bottles.csv")):
        where = table.parent.relative_to(scenarios).as_posix()
        rows = list(csv.DictReader(io.StringIO(spoken_file(where, table.name, "ja").decode())))
        found += len(rows)
        assert [row["bottle"] for row in rows if row["bottle"].isascii()] == [], where
    assert found >= 30


def test_a_cell_that_needs_a_person_is_told_by_the_name_of_its_question():
    wrong = Fault(kind="not_a_number", file="T1.xlsx", code="179", attribute="acidity", found="6?")
    assert "酸味" in wrong.message("ja")
    assert "acidity" not in wrong.message("ja")
    own = replace(wrong, attribute="our_own")
    assert "our_own" in own.message("ja")
    assert "acidity" in wrong.message("en")
