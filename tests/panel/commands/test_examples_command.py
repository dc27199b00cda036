"""`kikichoko examples` writes what the documents use, and overwrites nothing."""

from __future__ import annotations

from pathlib import Path

from click.testing import CliRunner
from kikichoko.panel.cli import kikichoko


def test_examples_are_written_once(tmp_path: Path):
    folder = tmp_path / "try out"
    run = CliRunner().invoke(kikichoko, ["examples", str(folder)])
    assert run.exit_code == 0, run.output
    names = {path.name for path in folder.iterdir()}
    assert {"scores.csv", "words.csv", "triangle.csv", "spring-tasting"} <= names
    assert len(list((folder / "spring-tasting" / "inbox").iterdir())) == 7
    mine = folder / "scores.csv"
    mine.write_text("mine", "utf-8")
    again = CliRunner().invoke(kikichoko, ["examples", str(folder)])
    assert again.exit_code == 1
    assert "scores.csv" in again.output
    assert mine.read_text("utf-8") == "mine"
