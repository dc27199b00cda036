"""The word `assessors`: advice for people, JSON for programs, figures in files."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from kikichoko.panel.cli import main


def test_json_and_figures(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    rng = np.random.default_rng(2)
    lines = ["assessor,sample,replicate,position,sweet,acidity"]
    for who in range(5):
        for place, (bottle, repeat) in enumerate(
            [(b, r) for r in (1, 2) for b in rng.permutation(4)], start=1
        ):
            way = -1 if who == 3 else 1
            numbers = 5 + way * np.array([1.2, 0.9]) * (bottle - 1.5) + rng.normal(0, 0.4, 2)
            row = ",".join(f"{x:.1f}" for x in numbers)
            lines.append(f"P{who},b{bottle},{repeat},{place},{row}")
    path = tmp_path / "scores.csv"
    path.write_text("\n".join(lines), "utf-8")
    drawn = [tmp_path / "panel.png", tmp_path / "lines.svg"]
    options = ["--scores", "sweet,acidity", "--json"]
    options += ["--figure", str(drawn[0]), "--lines", str(drawn[1])]
    with pytest.raises(SystemExit) as stop:
        main(["assessors", str(path), *options])
    assert not stop.value.code
    spoken = json.loads(capsys.readouterr().out)
    assert "P3" in spoken["set_apart"]
    shown = [row for row in spoken["findings"] if row["shown"]]
    assert ("P3", "reversed") in {(row["assessor"], row["finding"]) for row in shown}
    assert drawn[0].read_bytes().startswith(b"\x89PNG")
    assert "<svg" in drawn[1].read_text("utf-8")
