"""Intervals that a planned panel will print, and grids of profile sessions."""

from __future__ import annotations

import json

import numpy as np
import pytest
from kikichoko.analysis.core import OptionError
from kikichoko.analysis.power import ScorePlan, agreement_size, fault_size, profile_size
from kikichoko.analysis.power.sizes_by_interval import icc_limits


def test_icc_limits_against_shrout_and_fleiss():
    # Shrout & Fleiss (1979), table 2: ICC(3,1) = .71; limits as pingouin and psych print them
    low, high, _ = icc_limits(0.714841, 6, 4)
    assert (low, high) == pytest.approx((0.342465, 0.945858), abs=1e-6)


def test_coverage_of_the_planned_limits_by_simulation():
    """The limits that are promised are those that an ICC of that size gets: they cover."""
    rng = np.random.default_rng(1)
    n, k, rho, runs = 6, 8, 0.5, 1500
    held = 0
    for _ in range(runs):
        y = rng.normal(scale=rho**0.5, size=(n, 1)) + rng.normal(
            scale=(1 - rho) ** 0.5, size=(n, k)
        )
        rows = k * y.mean(axis=1).var(ddof=1)
        left = y - y.mean(axis=1, keepdims=True) - y.mean(axis=0) + y.mean()
        error = (left**2).sum() / ((n - 1) * (k - 1))
        icc = (rows - error) / (rows + (k - 1) * error)
        low, high, _ = icc_limits(icc, n, k)
        held += low <= rho <= high
    assert held / runs == pytest.approx(0.95, abs=4 * (0.05 * 0.95 / runs) ** 0.5)


def test_more_samples_narrow_agreement_more_than_more_assessors():
    base = agreement_size(6, 6, expected=0.6).width
    assert agreement_size(12, 6, expected=0.6).width < agreement_size(6, 12, expected=0.6).width
    assert agreement_size(6, 12, expected=0.6).width < base


def test_fault_against_known_limits():
    # 2/10 Clopper-Pearson .0252-.5561; silence of 8 up to .3123, of 30 up to .0950
    size = fault_size(10, expected=0.2)
    assert size.interval[:2] == pytest.approx((0.0252, 0.5561), abs=5e-5)
    silent = size.table.set_index("assessors")["silent"]
    assert silent[8] == pytest.approx(0.3123, abs=5e-5)
    assert silent[30] == pytest.approx(0.0950, abs=5e-5)
    assert size.one_notices == pytest.approx(1 - 0.8**10)


def test_grid_of_profiles_against_known_values():
    # smallest difference of a pair at 80 % power; J 4, K 2, computed apart from this project
    plan = ScorePlan(samples=4, assessors=8, replicates=2, interaction=0.25, residual=0.5)
    size = profile_size(plan, wanted=1.0, bottles=1, bottle_ml=300, pour_ml=20)
    grid = size.grid.set_index(["samples", "assessors", "replicates"])["smallest_difference"]
    known = {2: 3.0094, 3: 1.9439, 5: 1.3652, 8: 1.0388, 10: 0.9191, 12: 0.8333, 20: 0.6373}
    for assessors, value in known.items():
        assert grid[4, assessors, 2] == pytest.approx(value, abs=1e-4)
    assert size.most_cups == 15
    words = size.text()
    assert "do not suffice" in words
    assert "Give up some of it" in words


def test_wanted_difference_that_no_bottle_gives():
    plan = ScorePlan(samples=3, assessors=4, replicates=1, interaction=1, residual=1)
    size = profile_size(plan, wanted=0.3, bottles=1, samples=(3, 5))
    assert "No way to find" in size.text()
    assert set(size.grid["samples"]) == {3, 5}
    json.dumps(size.to_dict(), allow_nan=False)


def test_refusals():
    with pytest.raises(OptionError, match="samples"):
        agreement_size(1, 5)
    with pytest.raises(OptionError, match="expected"):
        fault_size(5, expected=30)
    plan = ScorePlan(samples=3, assessors=4, interaction=1, residual=1)
    with pytest.raises(OptionError, match="pour_ml"):
        profile_size(plan, bottles=1, pour_ml=0)
