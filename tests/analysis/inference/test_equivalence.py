"""Two one-sided tests: a published example, another library, laws, error rates."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from kikichoko.analysis.core import NotEstimable, OptionError
from kikichoko.analysis.inference import equivalence, equivalence_paired
from scipy.stats import t as t_dist

seeds = st.integers(0, 10_000).map(np.random.default_rng)


def test_against_published_example():
    # Lakens (2017), Soc. Psychol. Personal. Sci. 8:355-362: 5.25 (0.95, n 95) against
    # 5.22 (0.83, n 89), margin d = 0.43 (from memory; recomputed, paper prints t(181.1)).
    margin = 0.43 * np.sqrt((0.95**2 + 0.83**2) / 2)
    assert margin == pytest.approx(0.383569, abs=5e-7)
    parts = np.array([0.95**2 / 95, 0.83**2 / 89])
    df = parts.sum() ** 2 / (parts**2 / [94, 88]).sum()  # Welch's
    found = equivalence(5.25 - 5.22, float(np.sqrt(parts.sum())), float(df), margin=margin)
    assert found.df == pytest.approx(181.134, abs=5e-4)
    assert found.difference / found.se == pytest.approx(0.228479, abs=5e-7)
    assert (found.t_low, found.t_high) == pytest.approx((3.149730, -2.692771), abs=5e-7)
    assert found.p == pytest.approx(0.0038755, abs=5e-8)
    assert found.interval[:2] == pytest.approx((-0.187084, 0.247084), abs=5e-7)
    assert found.verdict == "equivalent"


@given(seeds, st.integers(3, 30), st.floats(0.1, 3))
@settings(max_examples=30, deadline=None)
def test_against_pingouin(rng, n, margin):
    one, other = rng.normal(size=(2, n))
    from pingouin import tost

    theirs = tost(one, other, bound=margin, paired=True)
    assert equivalence_paired(one, other, margin=margin).p == pytest.approx(
        float(theirs["pval"].iloc[0]), rel=1e-9
    )


@given(st.floats(-3, 3), st.floats(0.05, 2), st.floats(1, 50), st.floats(0.1, 3))
def test_claimed_exactly_if_the_interval_lies_inside(gap, se, df, margin):
    found = equivalence(gap, se, df, margin=margin)
    inside = -margin <= found.interval.low and found.interval.high <= margin
    # Where limit and margin agree to 1e-9, rounding decides.
    near = min(abs(found.interval.low + margin), abs(found.interval.high - margin)) < 1e-9
    assert near or inside == (found.verdict in {"equivalent", "both"})


@given(seeds, st.floats(-5, 5), st.floats(0.1, 10))
@settings(max_examples=30, deadline=None)
def test_swapping_shifting_and_scaling(rng, shift, scale):
    one, two = rng.normal(size=8), rng.normal(size=8)
    found = equivalence_paired(one, two, margin=1.0)
    swapped = equivalence_paired(two, one, margin=1.0)
    moved = equivalence_paired(one * scale + shift, two * scale + shift, margin=scale)
    assert swapped.difference == -found.difference
    assert swapped.p == pytest.approx(found.p, rel=1e-9)
    assert moved.p == pytest.approx(found.p, rel=1e-6)


def test_false_claims_at_the_margin_hold_their_level():
    # True difference exactly at the margin, 4000 runs: Monte-Carlo sd 0.0034.
    rng = np.random.default_rng(8)
    scores = rng.normal(loc=1.0, size=(4000, 12))
    mean, se = scores.mean(axis=1), scores.std(axis=1, ddof=1) / np.sqrt(12)
    p = np.maximum(t_dist.cdf((mean - 1) / se, 11), t_dist.sf((mean + 1) / se, 11))
    ours = np.array([equivalence_paired(row, margin=1.0).p for row in scores[:200]])
    assert ours == pytest.approx(p[:200], rel=1e-9)
    assert (p <= 0.05).mean() == pytest.approx(0.05, abs=3.5 * 0.0034)


@pytest.mark.parametrize(
    ("gap", "se", "verdict", "begins"),
    [
        (0.1, 0.1, "equivalent", "Equivalent within the stated margin: the difference is 0.100"),
        (0.3, 0.05, "both", "Different, yet equivalent within the stated margin"),
        (0.9, 0.2, "different", "Different, and not shown to be within"),
        (0.1, 0.9, "open", "Neither a difference nor equivalence is shown"),
    ],
)
def test_the_four_outcomes(gap, se, verdict, begins):
    found = equivalence(gap, se, 20, margin=0.5)
    assert found.verdict == verdict
    assert str(found.sentences()[0]).startswith(begins)


def test_one_sided_margins_and_missing_scores():
    found = equivalence_paired([1, 2, np.nan, 4], [1.1, 1.8, 3, 4.3], margin=(-1, 0.5))
    assert (found.low_margin, found.high_margin, found.n) == (-1, 0.5, (3,))
    assert str(found.warnings[0]) == "1 missing score was left out."
    assert found.tables()["equivalence.table"]["margin"].tolist() == [-1, 0.5]


def test_refusals_say_what_to_do():
    with pytest.raises(NotEstimable, match="at least two complete pairs; there are 1"):
        equivalence_paired([1.0], margin=1)
    with pytest.raises(NotEstimable, match="All 3 differences are the same"):
        equivalence_paired([1, 2, 3], [0, 1, 2], margin=1)
    with pytest.raises(OptionError, match="`margin` must be a finite number above 0"):
        equivalence_paired([1, 2], margin=0)
    with pytest.raises(OptionError, match="low margin must lie below"):
        equivalence_paired([1, 2], margin=(1.0, -1.0))
    with pytest.raises(OptionError, match="equal numbers, but 2 and 3"):
        equivalence_paired([1, 2], [1, 2, 3], margin=1)
    with pytest.raises(OptionError, match="below 0"):
        equivalence(0, 1, 3, margin=1, alpha=0.6)
