"""Kendall's W against published values, scipy and enumeration."""

from __future__ import annotations

from itertools import permutations, product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from kikichoko.analysis.agreement import kendall_w
from kikichoko.analysis.core import NotEstimable
from scipy import stats

# Anxiety of 20 subjects by three raters: help pages of the R packages irr and DescTools.
ANXIETY = np.array(
    [
        [3, 3, 3, 4, 5, 5, 2, 3, 5, 2, 2, 6, 1, 5, 2, 2, 1, 2, 4, 3],
        [3, 6, 4, 6, 2, 4, 2, 4, 3, 3, 2, 3, 3, 3, 2, 2, 1, 3, 3, 4],
        [2, 1, 4, 4, 3, 2, 1, 6, 1, 1, 1, 2, 3, 3, 1, 1, 3, 3, 2, 2],
    ]
).T


def test_against_published_anxiety_ratings_with_ties():
    found = kendall_w(ANXIETY)
    assert found.w == pytest.approx(0.539657, abs=1e-6)
    assert found.w_uncorrected == pytest.approx(0.501921, abs=1e-6)
    assert found.chi2 == pytest.approx(30.760442, abs=1e-6)
    assert found.df == 19
    assert found.p_chi2 == pytest.approx(0.0428835, abs=1e-6)
    # The identity with the mean rank correlation is not exact with ties.
    assert (2 * found.mean_spearman + 1) / 3 == pytest.approx(0.540000, abs=1e-6)


def test_shrout_fleiss_table_as_ranks():
    # Shrout & Fleiss 1979 table 2, judges as raters; values computed in R.
    judges = np.transpose(
        [(9, 6, 8, 7, 10, 6), (2, 1, 4, 1, 5, 2), (5, 3, 6, 2, 6, 4), (8, 2, 8, 6, 9, 7)]
    )
    found = kendall_w(judges)
    assert found.w == pytest.approx(0.887037, abs=1e-6)
    assert found.w_uncorrected == pytest.approx(0.855357, abs=1e-6)
    assert found.p_chi2 == pytest.approx(0.0032895, abs=1e-6)


def test_against_scipy_friedman():
    rng = np.random.default_rng(2)
    table = rng.integers(0, 6, (6, 9)).astype(float)
    found = kendall_w(table)
    other = stats.friedmanchisquare(*table)
    assert found.chi2 == pytest.approx(other.statistic)
    assert found.p_chi2 == pytest.approx(other.pvalue)


def test_permutation_p_by_enumeration():
    # All 6**3 orders of three samples by three assessors; the band is four
    # Monte-Carlo standard errors.
    table = np.array([[1, 1, 2], [2, 3, 1], [3, 2, 3]])
    target = ((table.sum(axis=1) - 6.0) ** 2).sum()
    orders = list(permutations((1, 2, 3)))
    sums = [np.sum(chosen, axis=0) for chosen in product(orders, repeat=3)]
    exact = np.mean([((s - 6.0) ** 2).sum() >= target for s in sums])
    found = kendall_w(table, permutations=20_000, seed=5)
    assert found.p == pytest.approx(exact, abs=4 * np.sqrt(exact * (1 - exact) / 20_000))


def test_full_concordance_and_two_assessors():
    same = np.tile([[1.0], [2.0], [3.0], [4.0]], 5)
    found = kendall_w(same, permutations=99)
    assert found.w == 1
    assert found.interval is not None
    assert found.interval.low == pytest.approx(1)
    two = kendall_w(same[:, :2], permutations=99)
    assert two.interval is None
    assert "two assessors allow no interval" in str(two)


def test_holes_are_counted():
    table = ANXIETY.astype(float)
    table[4, 1] = np.nan
    found = kendall_w(table, permutations=0)
    assert (found.n_samples, found.dropped_samples, found.dropped_assessors) == (19, 1, 0)
    assert "1 sample or assessor" in str(found)


@given(st.integers(0, 2), st.floats(-5, 5), st.floats(0.1, 10))
def test_any_rising_change_of_one_assessor_changes_nothing(who: int, shift: float, scale: float):
    moved = ANXIETY.astype(float)
    moved[:, who] = shift + scale * moved[:, who]
    assert kendall_w(moved, permutations=0).w == pytest.approx(0.539657, abs=1e-6)


def test_no_variation_is_said():
    with pytest.raises(NotEstimable, match="no variation to agree on"):
        kendall_w(np.tile([2.0, 5.0, 1.0], (4, 1)))
