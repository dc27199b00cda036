"""``kikichoko chemistry`` for one bottle, a table, a blend and a label."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner
from kikichoko.panel.cli import kikichoko


@pytest.fixture
def run():
    def call(*arguments: str, code: int = 0):
        done = CliRunner().invoke(kikichoko, ["chemistry", *arguments], catch_exceptions=False)
        assert done.exit_code == code, done.output
        return done

    return call


@pytest.fixture
def bottles(tmp_path):
    path = tmp_path / "bottles.csv"
    path.write_text(
        "bottle,volume,abv,meter_value,acidity,water_drop,claims\n"
        "free-run,100,16,5,1.3,0,genshu\n"
        "end press,50,16,-20,2.0,2,genshu; nigori\n",
        encoding="utf-8",
    )
    return str(path)


def test_one_bottle(run):
    said = run("--abv", "15.5", "--meter-value", "3", "--acidity", "1.5", "--json")
    result = json.loads(said.stdout)
    assert result["amakarado"] == pytest.approx(-0.428, abs=1e-3)
    assert result["extract_official"] == 4.7
    assert "g/100 mL" in run("--abv", "15.5", "--meter-value", "3").stdout


def test_reading_at_another_temperature(run):
    said = run("--abv", "15.5", "--meter-value", "4", "--temperature", "20", "--json")
    assert json.loads(said.stdout)["meter_value"] == pytest.approx(2.0, abs=0.05)


def test_table(run, bottles):
    result = json.loads(run(bottles, "--json").stdout)
    assert [bottle["name"] for bottle in result["bottles"]] == ["free-run", "end press"]


def test_a_misspelt_heading_is_told_and_another_one_is_not(run, tmp_path):
    """What stands below it takes part in nothing, which must not pass in silence."""
    path = tmp_path / "odd.csv"
    path.write_text("bottle,abv,meter_value,Acidty,cellar\na,16,2,1.5,north\n", "utf-8")
    said = run(str(path)).stderr
    assert "'Acidty'" in said
    assert "'acidity'" in said
    assert "cellar" not in said
    path.write_text("bottle,abv,meter_value,Acidity,Acidty\na,16,2,1.5,1\n", "utf-8")
    assert run(str(path)).stderr == "", "acidity is there"


@pytest.mark.parametrize(
    ("heading", "near"), [("日本酒渡", "meter_value (日本酒度)"), ("酒米", ""), ("仕込水", "")]
)
def test_a_japanese_heading_with_one_slip_is_told(run, tmp_path, heading, near):
    path = tmp_path / "odd.csv"
    path.write_text(f"銘柄,アルコール分,酸度,{heading}\na,16,1.5,2\n", "utf-8")
    said = run(str(path)).stderr
    assert (f"'{near}'" in said) if near else said == ""


def test_only_the_cell_that_is_no_number_is_told(run, tmp_path):
    """'60%' was told beside '6割', which may mean 60 or 40 %."""
    path = tmp_path / "odd.csv"
    path.write_text("bottle,abv,meter_value,polishing\na,16,±0,60%\nb,16,2,6割\nc,16,1,\n", "utf-8")
    refused = run(str(path), code=1)
    assert "'6割' is not a number" in refused.stderr
    assert "1 fault" in refused.stderr
    path.write_text("bottle,abv,meter_value,polishing\na,16,±0,60%\nc,16,1,\n", "utf-8")
    run(str(path))


def test_blend_of_a_table_and_of_parts(run, bottles):
    from_table = json.loads(run(bottles, "--blend", "--json").stdout)
    parts = [
        "--part",
        "volume=100,meter-value=5,abv=16,acidity=1.3",
        "--part",
        "volume=50,meter_value=-20,abv=16,acidity=2.0",
    ]
    from_parts = json.loads(run(*parts, "--json").stdout)
    for result in (from_table, from_parts):
        assert result["meter_value"] == pytest.approx(-3.430, abs=2e-3)
        assert result["acidity"] == pytest.approx(230 / 150)


def test_dilution(run):
    said = run("--abv", "18", "--meter-value", "2", "--dilute-to", "15.5", "--json")
    assert json.loads(said.stdout)["water"] == pytest.approx(16.07, abs=0.01)


def test_label(run, bottles):
    said = run("--claim", "namazake", "--heated-at-bottling", "yes", "--json")
    assert json.loads(said.stdout)["claims"][0]["answer"] == "contradicted"
    table = json.loads(run(bottles, "--label", "--json").stdout)
    assert table["checks"]["end press"]["claims"][0]["answer"] == "contradicted"
    assert table["checks"]["free-run"]["claims"][0]["answer"] == "supported"


@pytest.mark.parametrize(
    "arguments",
    [
        [],
        ["--part", "volume=1,meter_value=2"],
        ["--part", "volume=one,meter_value=2,abv=3"],
        ["--temperature", "20", "--meter-value", "3"],
    ],
)
def test_wrong_usage_says_what_to_write(run, arguments):
    assert "Error" in run(*arguments, code=2).output


def test_help_has_an_example_that_runs(run):
    assert "kikichoko chemistry --abv 15.5" in run("--help").output
