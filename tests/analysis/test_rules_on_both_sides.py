"""Thresholds of the statistics that readers act on, each on both sides."""

from __future__ import annotations

from dataclasses import replace
from math import ceil

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.core.result import Result
from kikichoko.analysis.link.what_is_estimable import _wanted
from kikichoko.analysis.ordinal import ordinal
from kikichoko.analysis.power import assessors_for, supply


def scores(assessors: int, samples: int, cells: int | None = None, seed: int = 1) -> pd.DataFrame:
    """Return scores of a panel; of the last sample only so many assessors' where told."""
    rng = np.random.default_rng(seed)
    rows = [
        (f"T{i:02d}", f"b{j:02d}", "body", round(5 + j + i / 3 + rng.normal(), 1))
        for i in range(assessors)
        for j in range(samples)
        if cells is None or j < samples - 1 or i < cells
    ]
    return pd.DataFrame(rows, columns=["assessor", "sample", "attribute", "score"])


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [
        ("abv", 14.0, 17.5),  # typical values of sake on sale: common practice, no source
        ("meter_value", -4.0, 9.0),
        ("acidity", 1.1, 2.1),
        ("amino_acidity", 0.8, 1.7),
        ("glucose", 0.5, 4.2),
        ("polishing_ratio", 40.0, 70.0),
    ],
)
def test_the_next_bottle_lies_at_the_far_end_of_what_is_typical(name: str, low: float, high: float):
    step = (high - low) / 20
    for near, far in ((low, high), (high, low)):
        inward = 1 if near == low else -1
        values = near + inward * step * np.array([[1.0], [2.0], [3.0]])
        proposed = _wanted(values, [name], needed=1)
        assert proposed[name].tolist() == [pytest.approx(far)]


@pytest.mark.parametrize(
    ("test", "cups"),
    # presentations: AAB ABB …: three cups of two samples, each as often the odd one
    [("triangle", 1.5), ("duo-trio", 1.5), ("paired", 1.0), ("3-afc", 2.0), ("tetrad", 2.0),
     ("two-out-of-five", 2.5)],
)  # fmt: skip
def test_cups_of_one_sample_a_presentation(test: str, cups: float):
    size = assessors_for(test, alpha=0.2, beta=0.5, pd=0.5)
    ml = 30 * ceil(cups * size.n)
    assert supply(size, bottles=1, bottle_ml=ml, pour_ml=30).most == size.n
    assert supply(size, bottles=1, bottle_ml=ml - 30, pour_ml=30).most < size.n


RISKS = [(0.05, True), (0.051, False)]
"""p, and whether it holds at a risk of 5 %."""


def keys(result: Result) -> set[str]:
    """Return the keys of all sentences of a result."""
    return {one.key for one in result.sentences()}


@pytest.mark.parametrize(("p", "held"), RISKS)
def test_steps_differ_where_both_p_values_are_at_five_per_cent(p: float, held: bool):
    found = ordinal(scores(6, 2).round({"score": 0}), shuffles=99)
    tests = found.tests.assign(p=0.01)
    assert ("ordinal.differ" in keys(replace(found, tests=tests, p_shuffled=p))) is held
    assert ("ordinal.differ" in keys(replace(found, tests=tests.assign(p=p), p_shuffled=0.01))) is (
        held
    )
