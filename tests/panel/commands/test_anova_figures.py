"""``--figure`` and ``--check`` of the tables' commands: Japanese names in a face that has them."""

from __future__ import annotations

import json
import warnings
from pathlib import Path

import numpy as np
import pytest
from kikichoko.panel.cli import main


@pytest.fixture
def table(tmp_path: Path) -> Path:
    rng = np.random.default_rng(1)
    lines = ["assessor,sample,甘味,酸味"]
    for who in "松竹梅桜菊":
        for place, sample in enumerate(["荒走り", "中取り", "責め"]):
            sweet, sour = rng.normal(5 + place, 1, 2)
            lines.append(f"{who},{sample},{sweet:.1f},{sour:.1f}")
    path = tmp_path / "scores.csv"
    path.write_text("\n".join(lines), "utf-8")
    return path


@pytest.mark.parametrize(
    "options",
    [["anova"], ["anova", "--check"], ["agreement"], ["assessors"], ["map"]],
    ids=" ".join,
)
def test_japanese_names_are_drawn(table: Path, options: list[str]):
    word, *more = options
    drawn = table.with_name("figure.png")
    with warnings.catch_warnings():
        warnings.filterwarnings("error", message=".*[Gg]lyph.*")
        with pytest.raises(SystemExit) as stop:
            main([word, str(table), "--scores", "甘味,酸味", *more, "--figure", str(drawn)])
    assert not stop.value.code
    assert drawn.read_bytes().startswith(b"\x89PNG")


def test_check_as_json(table: Path, capsys: pytest.CaptureFixture[str]):
    with pytest.raises(SystemExit) as stop:
        main(["anova", str(table), "--scores", "甘味,酸味", "--check", "--json"])
    assert not stop.value.code
    spoken = json.loads(capsys.readouterr().out)
    assert [test["attribute"] for test in spoken["tests"]] == ["甘味", "酸味"]
    assert [test["n"] for test in spoken["tests"]] == [15, 15]
