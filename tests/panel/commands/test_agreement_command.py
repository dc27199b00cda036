"""The word `agreement` on tables that people have."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from kikichoko.panel.cli import main

# Shrout & Fleiss 1979, Psychol. Bull. 86:420-428, table 2.
ROWS = [
    (f"j{j}", f"t{i}", x)
    for j, row in enumerate(
        [(9, 6, 8, 7, 10, 6), (2, 1, 4, 1, 5, 2), (5, 3, 6, 2, 6, 4), (8, 2, 8, 6, 9, 7)]
    )
    for i, x in enumerate(row)
]


@pytest.fixture
def table(tmp_path: Path) -> Path:
    path = tmp_path / "scores.csv"
    lines = ["taster,bottle,sweet,cedar", *(f"{a},{b},{x},{x % 2}" for a, b, x in ROWS)]
    path.write_text("\n".join(lines), "utf-8")
    return path


def run(*arguments: str) -> int:
    with pytest.raises(SystemExit) as stop:
        main(["agreement", *arguments])
    return int(stop.value.code or 0)


def test_json_is_the_result(table: Path, capsys: pytest.CaptureFixture[str]):
    options = ["--assessor", "taster", "--sample", "bottle", "--scores", "sweet,cedar", "--json"]
    assert run(str(table), *options) == 0
    spoken = json.loads(capsys.readouterr().out)
    rows = {row["measure"]: row for row in spoken["attributes"]["sweet"]["measures"]}
    assert rows["ICC(A,1)"]["estimate"] == pytest.approx(0.289764, abs=1e-6)
    assert spoken["attributes"]["cedar"]["scale"] == "nominal"


def test_words_for_people(table: Path, capsys: pytest.CaptureFixture[str]):
    options = ["--assessor", "taster", "--sample", "bottle", "--scores", "sweet"]
    assert run(str(table), *options, "--scale", "sweet=ordinal") == 0
    out = capsys.readouterr().out
    assert "alpha (ordinal) = 0.109" in out
    assert "{" not in out


def test_refusals(table: Path, capsys: pytest.CaptureFixture[str]):
    assert run(str(table), "--assessor", "who", "--scores", "sweet") == 1
    assert "--assessor NAME" in capsys.readouterr().err
    assert run(str(table), "--assessor", "tastr", "--scores", "sweet") == 1
    assert "--assessor 'taster'" in capsys.readouterr().err
    options = ["--assessor", "taster", "--sample", "bottle", "--scores", "sweet"]
    assert run(str(table), *options, "--scale", "ordinal") == 2
    assert "ATTRIBUTE=SCALE" in capsys.readouterr().err
