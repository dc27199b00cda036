"""The chance of a gap inside a normal sample."""

from __future__ import annotations

import numpy as np
import pytest
from kikichoko.analysis.inference import chance_of_gap
from kikichoko.analysis.inference.gap_between_groups import _chi_density
from scipy.stats import chi


@pytest.mark.parametrize(
    ("n", "fewest", "spacing"),
    # Expected normal order statistics: Harter (1961), Biometrika 48:151-165, table 1.
    [(2, 1, 2 * 0.56419), (4, 2, 2 * 0.29701)],
)
def test_the_mean_gap_is_that_of_the_tables(n: int, fewest: int, spacing: float):
    gaps = np.linspace(1e-9, 12.0, 2401)
    chances = [chance_of_gap(float(gap), n, fewest=fewest) for gap in gaps]
    assert np.trapezoid(chances, gaps) == pytest.approx(spacing, abs=2e-5)


@pytest.mark.parametrize(
    ("n", "gap", "df"), [(4, 2.0, 6.0), (8, 1.5, np.inf), (5, 1.8, 20.0), (9, 1.6, 40.0)]
)
def test_a_simulation_finds_no_more_gaps(n: int, gap: float, df: float):
    rng = np.random.default_rng(11)
    values = np.sort(rng.normal(size=(100_000, n)), axis=1)
    scale = 1.0 if np.isinf(df) else np.sqrt(rng.chisquare(df, 100_000) / df)
    largest = np.diff(values, axis=1)[:, 1 : n - 2].max(axis=1)
    found = float((largest >= gap * scale).mean())
    bound = chance_of_gap(gap, n, fewest=2, df=df)
    error = 4 * np.sqrt(bound / 100_000)
    assert bound - error - 0.03 * bound <= found <= bound + error


def test_no_place_for_a_gap_is_no_chance():
    assert chance_of_gap(0.1, 3, fewest=2) == 0.0
    assert chance_of_gap(0.0, 3) == 1.0


@pytest.mark.parametrize("df", [1.0, 2.0, 7.3, 400.0])
def test_density_of_chi_against_scipy(df: float):
    x = np.linspace(0.001, 3 * np.sqrt(df), 200)
    # Both are one exponential of the same sum.
    assert _chi_density(x, df) == pytest.approx(chi.pdf(x, df), rel=1e-12, abs=1e-300)
