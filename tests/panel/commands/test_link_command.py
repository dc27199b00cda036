"""``kikichoko link`` on files."""

from __future__ import annotations

import json

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner
from kikichoko.analysis.link.link_input import batch_column
from kikichoko.panel.cli import kikichoko


@pytest.fixture
def files(tmp_path):
    rng = np.random.default_rng(1)
    bottles = pd.DataFrame(
        {
            "bottle": [f"b{i}" for i in range(9)],
            "batch": [f"batch {i}" for i in range(9)],
            "meter_value": np.linspace(-5, 8, 9),
            "acidity": rng.permutation(np.linspace(1.1, 2.0, 9)),
        }
    )
    truth = 5 - 0.2 * bottles["meter_value"] - 1.5 * (bottles["acidity"] - 1.5)
    rows = [
        (f"p{k}", name, truth[i] + 0.3 * k + rng.normal(0, 0.15))
        for k in range(6)
        for i, name in enumerate(bottles["bottle"])
    ]
    scores = pd.DataFrame(rows, columns=["assessor", "sample", "sweetness"])
    scores.to_csv(tmp_path / "scores.csv", index=False)
    bottles.to_csv(tmp_path / "bottles.csv", index=False)
    bottles.assign(batch="one").to_csv(tmp_path / "one.csv", index=False)
    return tmp_path


def unbatched(files):
    return pd.read_csv(files / "bottles.csv").drop(columns="batch")


def run(*arguments, code=0):
    done = CliRunner().invoke(kikichoko, ["link", *map(str, arguments)], catch_exceptions=False)
    assert done.exit_code == code, done.output
    return done


def test_json(files):
    said = run(files / "scores.csv", files / "bottles.csv", "--scores", "sweetness", "--json")
    result = json.loads(said.stdout)
    assert result["possible"] is True
    assert [row["predictor"] for row in result["slopes"]] == ["meter_value", "acidity"]
    assert all(row["holds"] for row in result["slopes"])


def test_target_and_figure(files):
    said = run(
        files / "scores.csv",
        files / "bottles.csv",
        "--scores",
        "sweetness",
        "--target",
        "5.5",
        "--given",
        "meter_value=2",
        "--figure",
        files / "plane.png",
        "--json",
    )
    solved = json.loads(said.stdout)
    # 5 + mean shift of the assessors 0.75 − 0.4 − 1.5 (a − 1.5) = 5.5
    assert solved["value"] == pytest.approx(1.5 - 0.1, abs=0.15)
    assert solved["interval"]["low"] < solved["value"] < solved["interval"]["high"]
    assert (files / "plane.png").stat().st_size > 10_000


def test_prediction(files):
    said = run(
        files / "scores.csv",
        files / "bottles.csv",
        "--scores",
        "sweetness",
        "--given",
        "meter_value=2",
        "--given",
        "acidity=1.5",
        "--json",
    )
    found = json.loads(said.stdout)
    assert found["mean"] == pytest.approx(5.75 - 0.4, abs=0.15)
    assert found["bottle"]["low"] < found["interval"]["low"] < found["mean"]


def test_one_batch_is_answered_with_the_reason(files):
    said = run(files / "scores.csv", files / "one.csv", "--scores", "sweetness")
    assert "one batch" in said.stdout
    refused = CliRunner().invoke(
        kikichoko,
        ["link", str(files / "scores.csv"), str(files / "one.csv"), "--scores", "sweetness",
         "--target", "5"],
    )  # fmt: skip
    assert refused.exit_code != 0


def test_wrong_usage(files):
    run(files / "scores.csv", files / "bottles.csv", "--target", "5", "--given", "x",
        "--scores", "sweetness", code=2)  # fmt: skip
    assert "Example: kikichoko link" in run("--help").output


def test_the_sessions_own_bottles_are_understood(files):
    # bottles.csv of a session folder: names 'polishing', 'supernatant', counts and volumes.
    table = unbatched(files).assign(
        tank=range(9), lot="L", pasteurised=1, polishing=60, supernatant="yes", available=2,
        volume_ml=720, group=1,
    )  # fmt: skip
    table.to_csv(files / "own.csv", index=False)
    said = run(files / "scores.csv", files / "own.csv", "--scores", "sweetness", "--json")
    result = json.loads(said.stdout)
    assert result["predictors"] == ["meter_value", "acidity"]
    assert result["estimability"]["batches"] == 9
    chemistry = CliRunner().invoke(kikichoko, ["chemistry", str(files / "own.csv"), "--json"])
    assert json.loads(chemistry.stdout)["bottles"][0]["polishing_ratio"] == 60


def test_one_tank_with_a_lot_for_every_bottle_is_one_batch(files):
    table = unbatched(files).assign(tank=4, lot=[f"L{i}" for i in range(9)])
    table.to_csv(files / "tank.csv", index=False)
    said = run(files / "scores.csv", files / "tank.csv", "--scores", "sweetness", "--json")
    assert json.loads(said.stdout)["possible"] is False


@pytest.mark.parametrize(
    ("tank", "lot", "batches"),
    [
        ("444555666", "         ", 3),
        ("444555666", "aaabbbccc", 3),
        ("444555666", "aab  bccc", 5),
        ("444555666", "abcdefghi", 3),
        ("         ", "aaabbbccc", 3),
    ],
)
def test_blank_cells_of_a_lot_are_no_lot(tank, lot, batches):
    """Tank and lot make the batch; a column that is blank throughout is as none."""
    numbers = pd.DataFrame({"sample": list("abcdefghi"), "tank": list(tank), "lot": list(lot)})
    numbers = numbers.replace(" ", None)
    column = batch_column(numbers, None, numbers["sample"])
    assert numbers[column].nunique() == batches
    assert numbers[column].notna().all()


def test_bottles_of_untold_batches_are_not_taken_for_batches(files):
    unbatched(files).to_csv(files / "untold.csv", index=False)
    given = (files / "scores.csv", files / "untold.csv", "--scores", "sweetness")
    assert "--batch bottle" in run(*given, code=1).output
    told = json.loads(run(*given, "--batch", "bottle", "--json").stdout)
    assert told["estimability"]["batches"] == 9


def test_a_session_table_with_an_empty_lot_is_read(files):
    bottles = unbatched(files)
    bottles.assign(tank=list("444555666"), lot="").to_csv(files / "lots.csv", index=False)
    said = run(files / "scores.csv", files / "lots.csv", "--scores", "sweetness", "--json")
    assert "3 batches" in said.stdout


def test_a_bottle_without_tank_among_others_is_named(files):
    bottles = unbatched(files)
    bottles.assign(tank=["4"] * 8 + [None]).to_csv(files / "hole.csv", index=False)
    said = run(files / "scores.csv", files / "hole.csv", "--scores", "sweetness", code=1)
    assert "column 'tank' where these come from: b8" in said.output
