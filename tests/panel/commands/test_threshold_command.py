"""``kikichoko threshold`` as it is called."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner
from kikichoko.panel.cli import kikichoko

# Nine assessors, six steps a factor of three apart: data of our own. The expected values were
# computed apart from this project, the best estimate by the rule of ASTM E679, the fit in the
# form of ISO 13301.
STEPS = ("0.1", "0.3", "0.9", "2.7", "8.1", "24.3")
ROWS = ("001111", "010111", "000111", "111111", "101111", "000001", "001011", "100000", "011111")
NAMES = ("--assessor", "taster", "--concentration", "ug_per_l", "--correct", "named")


@pytest.fixture
def run():
    def call(*line: object, code: int = 0):
        done = CliRunner().invoke(kikichoko, ["threshold", *map(str, line)], catch_exceptions=False)
        assert done.exit_code == code, done.output
        return done

    return call


@pytest.fixture
def path(tmp_path):
    lines = [f"T{i},{c},{a}" for i, row in enumerate(ROWS) for c, a in zip(STEPS, row, strict=True)]
    target = tmp_path / "steps.csv"
    target.write_text("taster,ug_per_l,named\n" + "\n".join(lines), encoding="utf-8")
    return target


def test_json_holds_the_values_computed_apart(run, path, tmp_path):
    figure = tmp_path / "curve.png"
    found = json.loads(run(path, *NAMES, "--json", "--figure", figure).stdout)
    assert (found["assessors"], found["steps"]) == (9, 6)
    assert found["best_estimate"] == pytest.approx(1.379716, abs=1e-6)
    assert found["pooled"] == pytest.approx(3.244954, rel=5e-5)
    assert figure.stat().st_size > 5000


def test_text_and_cups(run, path):
    said = run(path, *NAMES).stdout
    assert "9 assessors and 6 steps: 1.38" in said
    assert "33 %" in said
    assert "50 %" in run(path, *NAMES, "--cups", 2).stdout


def test_a_fit_off_the_steps_is_not_given_as_a_number(run, path):
    # right oftener on the weak steps: nothing places the threshold among them
    rows = ("110100", "101000", "110000", "001100")
    lines = [f"T{i},{c},{a}" for i, row in enumerate(rows) for c, a in zip(STEPS, row, strict=True)]
    path.write_text("taster,ug_per_l,named\n" + "\n".join(lines), encoding="utf-8")
    said = run(path, *NAMES).stdout
    assert "cannot be given" in said


def test_what_is_wrong_with_a_table_is_told(run, path):
    assert "no column 'concentration'" in run(path, "--assessor", "taster", code=1).output
    path.write_text(path.read_text("utf-8").replace("T0,0.1,0", "T0,0,2"), encoding="utf-8")
    said = run(path, *NAMES, code=1).output
    assert "not a number above 0" in said
    assert "neither 1 (right) nor 0 (wrong)" in said
