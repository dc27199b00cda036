"""What a terminal of 80 columns shows, and what is pasted from it (`tests/outside/terminal`)."""

from __future__ import annotations

import gc
import json
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pandas as pd
import pytest
from click.testing import CliRunner
from house_plan import ROOT
from kikichoko.analysis.core.result import LONG_TABLE, Result
from kikichoko.analysis.core.table_lines import table_lines
from kikichoko.catalogue import as_pasted
from kikichoko.line_breaks import broken, columns, folded
from kikichoko.panel.cli import kikichoko, main
from kikichoko.panel.commands._session import one_report
from terminal_lines import lines_of

NAMES = ["tank 3's tasting", "$HOME & more", "春の 会", "-old", 'a"b;c`d`']
COMMAND = re.compile(r"kikichoko \w+ .*")


@pytest.fixture(scope="module")
def tables(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the tables of the documents, and one whose names are long."""
    folder = tmp_path_factory.mktemp("tables")
    assert CliRunner().invoke(kikichoko, ["examples", str(folder / "x")]).exit_code == 0
    scores = pd.read_csv(folder / "x" / "scores.csv")
    long = scores["sample"] + " of the second pressing, 火入れ前の無濾過生原酒"
    scores.assign(sample=long).to_csv(folder / "x" / "long.csv", index=False)
    return folder / "x"


def told(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    """Run a command as a process does; return what it says to people."""
    with pytest.raises(SystemExit):
        main(words)
    said = capsys.readouterr()
    return said.out + said.err


@pytest.mark.parametrize("language", ["en", "ja"])
@pytest.mark.parametrize(
    "words",
    ["anova long.csv --full", "rank ranks.csv", "references", "anova absent.csv", "size triangle"],
)
def test_no_line_is_wider_than_the_terminal(
    words: str, language: str, tables: Path,
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch,
):  # fmt: skip
    monkeypatch.chdir(tables)
    monkeypatch.setenv("COLUMNS", "80")
    said = told(capsys, "--language", language, *words.split())
    assert said.strip()
    assert list(lines_of(said)) == []


def test_a_line_that_is_too_wide_is_noticed():
    wide = "Next: hand the named sheets out, serve in the order of each sheet, and collect all."
    assert list(lines_of(f"short\n{wide}")) == [wide]
    assert list(lines_of("酒" * 41)) == ["酒" * 41]


def test_a_pipe_gets_whole_lines_and_json_is_never_broken(
    tables: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.chdir(tables)
    monkeypatch.delenv("COLUMNS", raising=False)
    whole = told(capsys, "anova", "long.csv")
    assert max(map(columns, whole.splitlines())) > 100
    monkeypatch.setenv("COLUMNS", "40")
    assert json.loads(told(capsys, "anova", "long.csv", "--json"))["sentences"]


def test_the_verdict_and_one_table_come_first(tables: Path, capsys: pytest.CaptureFixture[str]):
    scores = str(tables / "scores.csv")
    short, full = told(capsys, "anova", scores), told(capsys, "anova", scores, "--full")
    assert full.startswith(short[: short.index("With --full also: Variance components")].rstrip())
    assert "Variance components\n" in full
    assert "Variance components\n" not in short


class Long(Result):
    """A result with one long table and a caution."""

    def tables(self):
        return {"anova.components": pd.DataFrame({"sample": [f"S{k}" for k in range(40)]})}


def test_a_long_table_is_cut_and_it_is_said_by_how_much():
    short, full = Long().text(full=False), Long().text()
    assert LONG_TABLE == 30
    assert "S29" in short
    assert "S30" not in short
    assert "With --full also: 10 more rows." in short
    assert "S39" in full
    assert "--full" not in full


def test_a_table_loses_nothing_when_it_is_broken():
    table = pd.DataFrame(
        {
            "sample": ["free-run of the second pressing", "火入れ前の無濾過生原酒", "c"],
            **{f"limit number {k}": [k + 0.25, -k, float("nan")] for k in range(12)},
            "note": ["held back until it has been tasted again by all", "", "次の会で確かめる"],
        }
    )
    lines = table_lines(table, 60).split("\n")
    assert max(map(columns, lines)) <= 60
    text = " ".join(lines)
    words = "free-run second pressing held until again all 無濾過生原酒 0.250 11.3"
    for word in words.split():
        assert word in text, word
    assert text.count("limit") == 12
    assert text.count("free-run") == len("\n".join(lines).split("\n\n"))  # once a part
    assert "次の会で確かめる" in text.replace(" ", "")
    assert table_lines(table) == table_lines(table, 500)


@pytest.mark.parametrize("name", NAMES)
def test_what_is_printed_next_can_be_pasted(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.chdir(tmp_path)
    run = CliRunner().invoke(kikichoko, ["new", "--", name])
    assert run.exit_code == 0, run.output
    (printed,) = COMMAND.findall(run.output)
    words = shlex.split(printed)
    assert words[:2] == ["kikichoko", "plan"]
    assert (tmp_path / words[2]).samefile(tmp_path / name)
    assert CliRunner().invoke(kikichoko, words[1:]).exit_code == 0
    shell = subprocess.run(
        ["bash", "-c", printed.replace("kikichoko plan", "ls")], capture_output=True, check=True
    )
    assert b"session.toml" in shell.stdout


@pytest.mark.parametrize("language", ["en", "ja"])
def test_every_command_that_is_printed_quotes_its_folder(language: str):
    words = (ROOT / "panel" / "words" / language).glob("*.toml")
    texts = "\n".join(path.read_text("utf-8") for path in words)
    assert len(re.findall(r"kikichoko [a-z]+ \{folder:sh\}", texts)) > 25
    assert re.findall(r"kikichoko (?!is )[a-z]+ \{folder\}", texts) == []


def test_a_command_to_paste_is_never_broken():
    command = "kikichoko history 'tank 3'\"'\"'s tasting' --over days --reference 'house sake'"
    for width in range(20, 90):
        lines = broken(f"This is in. What comes next: {command}, then look.", width)
        text = "\n".join(lines)
        pasted = text[text.index("kikichoko") :].partition(",")[0]
        assert shlex.split(pasted.replace("\\\n", " ")) == shlex.split(command)
    assert folded("- " + "ab " * 20, 30).count("\n  ab") == 2


def test_windows_gets_its_own_quotes(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(sys, "platform", "win32")
    assert as_pasted("tank 3") == '"tank 3"'


def test_a_misspelt_file_is_asked_about(tables: Path):
    for language, words in (("en", "Did you mean"), ("ja", "のことでしょうか")):
        run = CliRunner().invoke(
            kikichoko, ["--language", language, "anova", str(tables / "scors.csv")]
        )
        assert run.exit_code == 1
        assert words in run.output
        assert "scores.csv" in run.output


def test_the_tab_key_offers_commands_options_and_files():
    def offered(typed: str, place: int) -> str:
        asked = {"_KIKICHOKO_COMPLETE": "bash_complete", "COMP_WORDS": typed}
        run = CliRunner().invoke(
            kikichoko, prog_name="kikichoko", env={**asked, "COMP_CWORD": str(place)}
        )
        return run.output

    assert offered("kikichoko rep", 1) == "plain,report\n"
    assert "plain,--full\n" in offered("kikichoko anova scores.csv --", 3)
    assert offered("kikichoko report spr", 2) == "file,spr\n"


SPARED = """
import sys
from kikichoko.panel.commands._session import load_what_draws
from kikichoko.panel.report import build, files, page, workbook
from kikichoko.analysis.core.look import look
late = {"scipy.stats", "scipy.cluster"}
load_what_draws()
look()
print(sorted(late & set(sys.modules)))
from scipy import stats
from scipy.cluster import hierarchy
from matplotlib import artist, lines
assert "linewidth" in artist.kwdoc(lines.Line2D)
print(float(stats.norm.cdf(0)), hierarchy.linkage([[0.0], [1.0]])[0, 2])
"""


def test_a_report_loads_no_more_of_scipy_than_it_needs_and_the_rest_when_asked():
    done = subprocess.run(
        [sys.executable, "-c", SPARED], capture_output=True, text=True, check=True
    )
    assert done.stdout == "[]\n0.5 1.0\n"


def test_what_spares_a_report_is_undone_when_it_ends_or_fails():
    def settings() -> tuple[bool, bool, str]:
        return gc.isenabled(), pd.Series(["a"]).dtype == object, pd.StringDtype().storage

    @one_report()
    def stopped() -> None:
        assert settings() == (False, True, "python")
        raise ValueError("stopped")

    before = settings()
    assert before[0]
    with pytest.raises(ValueError, match="stopped"):
        stopped()
    assert settings() == before


def test_memory_of_a_session_asks_for_the_folder_around_it(tmp_path: Path):
    assert CliRunner().invoke(kikichoko, ["new", str(tmp_path / "all" / "one")]).exit_code == 0
    run = CliRunner().invoke(kikichoko, ["memory", str(tmp_path / "all" / "one")])
    assert run.exit_code == 1
    assert f"kikichoko memory {tmp_path / 'all'}" in " ".join(run.output.split())
    run = CliRunner().invoke(kikichoko, ["memory", str(tmp_path / "all")])
    assert "none has an open key" in " ".join(run.output.split())
