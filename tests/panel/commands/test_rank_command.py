"""``kikichoko rank`` as it is called."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner
from kikichoko.panel.cli import kikichoko


@pytest.fixture
def run():
    def call(line: str, code: int = 0):
        done = CliRunner().invoke(kikichoko, line.split(), catch_exceptions=False)
        assert done.exit_code == code, done.output
        return done

    return call


@pytest.fixture
def path(tmp_path):
    # Sachs (1997), reviewers
    rows = ("2143", "2314", "1234", "2314", "2143", "1234", "3214", "1243", "1423")
    lines = [f"{i},{s},{r}" for i, row in enumerate(rows) for s, r in zip("ABCD", row, strict=True)]
    target = tmp_path / "ranks.csv"
    target.write_text("taster,bottle,place\n" + "\n".join(lines), encoding="utf-8")
    return f"{target} --assessor taster --sample bottle --score place"


def test_complete_rows(run, path, tmp_path):
    figure = tmp_path / "ranks.png"
    found = json.loads(run(f"rank {path} --json --figure {figure}").stdout)
    assert found["chi_square"] == pytest.approx(10.2)
    assert found["method"] == "exact"
    assert figure.stat().st_size > 5000


def test_expected_order(run, path):
    found = json.loads(run(f"rank {path} --order A,B,C,D --json").stdout)
    assert (found["l"], found["p"]) == (252, pytest.approx(0.0007053, abs=1e-7))
    assert "every sample once" in run(f"rank {path} --order A,B,C", 1).output
    run(f"rank {path} --order A,B,C,D --figure x.png", 2)


def test_rows_with_holes(run, path, tmp_path):
    target = tmp_path / "holes.csv"
    kept = [
        line
        for i, line in enumerate((tmp_path / "ranks.csv").read_text().splitlines())
        if i not in {3, 9, 22}
    ]
    target.write_text("\n".join(kept), encoding="utf-8")
    line = path.replace("ranks.csv", "holes.csv")
    said = run(f"rank {line}").stdout
    assert "Skillings and Mack" in said
