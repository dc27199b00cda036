"""``kikichoko map`` on a table of an invented panel."""

from __future__ import annotations

import json
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from kikichoko.panel.cli import main


@pytest.fixture
def table(tmp_path):
    generator = np.random.default_rng(3)
    rows = []
    effect = {"A": (2, 7, 5), "B": (5, 4, 5), "C": (8, 3, 2)}
    for i in range(8):
        for sample, means in effect.items():
            for name, mean in zip(("sweet", "sour", "full"), means, strict=True):
                rows.append((f"T{i}", sample, name, mean + generator.normal()))
            for word, share in zip(("apple", "koji", "nut"), means, strict=True):
                rows.append((f"T{i}", sample, word, int(generator.random() < share / 9)))
    path = tmp_path / "scores.csv"
    pd.DataFrame(rows, columns=["assessor", "sample", "attribute", "score"]).to_csv(
        path, index=False
    )
    return path


@pytest.fixture
def run(capsys):
    def call(*arguments: object) -> SimpleNamespace:
        with pytest.raises(SystemExit) as stopped:
            main([str(one) for one in arguments])
        said = capsys.readouterr()
        return SimpleNamespace(returncode=stopped.value.code, stdout=said.out, stderr=said.err)

    return call


def test_json_is_the_result(run, table, tmp_path):
    figure = tmp_path / "map.png"
    done = run("map", table, "--json", "--figure", figure)
    assert done.returncode == 0, done.stderr
    said = json.loads(done.stdout)
    assert said["kind"] == "pca"
    assert {row["sample"] for row in said["ellipses"]} == {"A", "B", "C"}
    assert figure.read_bytes().startswith(b"\x89PNG")


@pytest.mark.parametrize("by", ["canonical", "words", "ticks"])
def test_other_kinds(run, table, by):
    done = run("map", table, "--by", by)
    assert done.returncode == 0, done.stderr
    assert "assessors drawn again" in done.stdout


def test_sections_are_named_on_the_line(run, table):
    parts = ("--part", "taste=sweet,sour", "--part", "body=full")
    done = run("map", table, "--by", "sections", *parts)
    assert done.returncode == 0, done.stderr
    assert "taste" in done.stdout
    wrong = run("map", table, "--by", "sections", "--part", "taste")
    assert wrong.returncode == 2
    assert "no section" in wrong.stderr


def test_too_few_samples_are_refused_in_words(run, table):
    small = pd.read_csv(table)
    small[small["sample"] != "C"].to_csv(table, index=False)
    done = run("map", table)
    assert done.returncode == 1
    assert "at least 3 samples" in done.stderr
    assert "Traceback" not in done.stderr
