"""How bottles go over the levels of a condition: means by hand, limits from scipy's paired t."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.profile.changes_by_level import level_changes
from scipy.stats import ttest_rel

LINES = {"clear": {"10": "c10", "45": "c45"}, "cloudy": {"10": "n10", "20": "n20", "45": "n45"}}


@pytest.fixture(scope="module")
def scores() -> pd.DataFrame:
    rng = np.random.default_rng(3)
    cups = [name for own in LINES.values() for name in own.values()]
    rows = [
        (who, cup, "sweetness", 5 + at + rng.normal())
        for who in "ABCDEF"
        for at, cup in enumerate(cups)
        for _ in range(2)
    ]
    return pd.DataFrame(rows, columns=["assessor", "sample", "attribute", "score"])


def test_limits_are_those_of_a_paired_t(scores: pd.DataFrame):
    found = level_changes(scores, LINES).set_index(["line", "level"])
    means = scores.pivot_table("score", "assessor", "sample")
    for line, first, level, name in (
        ("clear", "c10", "45", "c45"),
        ("cloudy", "n10", "20", "n20"),
        ("cloudy", "n10", "45", "n45"),
    ):
        other = ttest_rel(means[name], means[first])
        row = found.loc[line, level]
        limits = other.confidence_interval(0.95)
        assert (row["low"], row["high"]) == pytest.approx((limits.low, limits.high), abs=1e-10)
        assert row["change"] == pytest.approx((means[name] - means[first]).mean())
        assert row["mean"] == pytest.approx(means[name].mean())
    assert np.isnan(found.loc[("clear", "10"), "low"])


def test_only_who_had_every_cup_counts_and_one_alone_has_no_limits(scores: pd.DataFrame):
    fewer = scores[~((scores["assessor"] == "A") & (scores["sample"] == "c45"))]
    found = level_changes(fewer, LINES).set_index(["line", "level"])
    assert set(found.loc["clear", "n"]) == {5}
    assert set(found.loc["cloudy", "n"]) == {6}
    alone = level_changes(scores[scores["assessor"] == "B"], LINES)
    assert alone["low"].isna().all()
    assert level_changes(scores, {"other": {"10": "c10", "45": "gone"}}).empty
