"""The demo of two years: what was put in is found at the stated rate, and what was not is not.

The truth stands in demo_sessions/vintages/truth.toml: sweetness −0.24 a meter value and
−1.8 a mL of acidity, acidity +2.6, body +1.0 a mL, bitterness 0; the panel's acidity drifts
by 1.2 points in the second year; the raw bottle's bitterness rises by 0.16 a month.
"""

from __future__ import annotations

import json

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.core import NotEstimable
from kikichoko.analysis.link import link
from kikichoko.panel.demos import vintages
from kikichoko.panel.demos._tools import truth

KNOWN = truth("vintages")
TRUE = {
    (what, name): KNOWN[f"slope_{name}"].get(what, 0.0)
    for what in vintages.ASKED
    for name in ("meter_value", "acidity")
}


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("demo") / "vintages"
    steps = []
    outcome = vintages.run(folder, lambda: steps.append(1))
    assert len(steps) == vintages.STEPS
    return outcome


def test_the_whole_of_it_runs_on_files(made):
    text = made.report.read_text("utf-8")
    assert "sweetness falls by" in text
    assert "The scores of the reference house sake moved: acidity" in text
    assert "tank 2 raw, year 1: bitterness rises" in text
    for name in ("plane", "slopes", "panel"):
        assert (made.folder / f"{name}.png").stat().st_size > 20_000
    for sitting in KNOWN["sessions"]:
        assert (made.folder / sitting["name"] / "answers.sqlite").is_file()
    assert made.taken == 1848  # 7 assessors, 33 bottles, 2 replicates, 4 questions


def test_only_what_was_put_in_is_claimed(made):
    results = json.loads((made.folder / "together.json").read_text("utf-8"))
    held = {
        (row["attribute"], row["predictor"]) for row in results["link"]["slopes"] if row["holds"]
    }
    assert {("sweetness", "meter_value"), ("sweetness", "acidity"), ("acidity", "acidity")} <= held
    assert held <= {cell for cell, slope in TRUE.items() if slope}
    drifting = {row["attribute"] for row in results["history"]["drift"] if row["drifts"]}
    assert drifting == {"acidity"}
    stored = [row for row in results["history"]["store"] if row["holds"]]
    assert {(row["attribute"], row["sample"]) for row in stored} == {
        ("bitterness", "tank 2 raw, year 1")
    }
    assert stored[0]["low"] < KNOWN["store"]["bitterness"] < stored[0]["high"]


def scores_of(seed):
    """Draw the six tastings of another world without files."""
    world = vintages.World(KNOWN, seed=seed)
    rows = [
        (sitting["name"], f"p{person}", bottle["bottle"], replicate, what,
         world.score(sitting, bottle, f"p{person}", what))
        for sitting in KNOWN["sessions"]
        for bottle in world.served(sitting["year"])
        for person in range(6)
        for replicate in (1, 2)
        for what in vintages.ASKED
    ]  # fmt: skip
    names = ["session", "assessor", "sample", "replicate", "attribute", "score"]
    bottles = pd.DataFrame(world.rows).rename(columns={"bottle": "sample"})
    bottles["batch"] = bottles["tank"] + " / " + bottles["lot"]
    numbers = ["meter_value", "acidity"]
    bottles[numbers] = bottles[numbers].astype(float)
    return pd.DataFrame(rows, columns=names), bottles


@pytest.mark.slow
def test_true_effects_lie_in_the_intervals_at_the_stated_rate():
    # 8 worlds × 6 slopes that are not touched by the change in store, at 95 %. Slopes of one
    # world are nearly independent: the share covered has a standard error of about 0.032.
    inside = []
    for seed in range(8):
        scores, bottles = scores_of(seed)
        found = link(
            scores, bottles, predictors=["meter_value", "acidity"], batch="batch", orders=99
        )
        for row in found.slopes.to_dict("records"):
            if row["attribute"] != "bitterness":
                true = TRUE[row["attribute"], row["predictor"]]
                inside.append(row["low"] <= true <= row["high"])
    assert len(inside) == 48
    assert np.mean(inside) >= 0.95 - 3 * 0.032


def test_one_tank_is_refused_with_its_reason():
    scores, bottles = scores_of(1)
    one = bottles[bottles["sample"].str.startswith("tank 3, year 1")]
    alone = link(
        scores[scores["sample"].isin(one["sample"])], one, predictors=["meter_value"], batch="batch"
    )
    assert alone.slopes.empty
    with pytest.raises(NotEstimable, match="does not vary"):
        alone.fit("sweetness")


def test_fractions_of_one_tank_are_refused_with_their_reason():
    scores, bottles = scores_of(1)
    tank = bottles.assign(batch="tank 1")  # as if all had been pressed from one tank
    with pytest.raises(NotEstimable, match=r"one batch \(tank 1\)"):
        link(scores, tank, predictors=["meter_value", "acidity"], batch="batch").fit("sweetness")
