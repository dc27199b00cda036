"""Two or three assessors with a stated prior: closed forms at its limits, calibration, words."""

from __future__ import annotations

import json

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from kikichoko.analysis.core import NotEstimable, OptionError
from kikichoko.analysis.performance import Prior, small_panel
from kikichoko.analysis.power.power_of_tests import assessors_for_scores
from scipy.stats import norm
from scipy.stats import t as t_dist


def long(scores: np.ndarray) -> pd.DataFrame:
    cube = scores if scores.ndim == 3 else scores[:, :, None]
    i, j, k = (part.ravel() for part in np.indices(cube.shape))
    table = pd.DataFrame(
        {
            "assessor": [f"A{x}" for x in i],
            "sample": [f"s{x}" for x in j],
            "replicate": k + 1,
            "score": cube.ravel(),
        }
    )
    return table[table["score"].notna()]


SCORES = np.array([[5.0, 7.0, 6.5], [4.0, 5.0, 6.0]])
seeds = st.integers(0, 10_000).map(np.random.default_rng)


@given(seeds, st.integers(2, 3), st.integers(2, 5))
@settings(max_examples=10, deadline=None)
def test_without_prior_of_samples_it_is_a_t_test_with_the_joined_variance(rng, assessors, samples):
    scores = rng.normal(size=(assessors, samples))
    found = small_panel(long(scores), prior=Prior(1e5, 0.7, 0.0, df=5))
    left = scores - scores.mean(0) - scores.mean(1)[:, None] + scores.mean()
    own_df = (assessors - 1) * (samples - 1)
    df = 5 + own_df
    variance = (5 * 0.49 + (left**2).sum()) / df
    se = np.sqrt(2 * variance / assessors)
    for row in found.differences.itertuples():
        half = t_dist.ppf(0.975, df) * se
        # rel 2e-3: the grid of variances ends at 8 standard deviations.
        assert row.mean == pytest.approx(row.raw, abs=1e-6)
        assert (row.high - row.low) / 2 == pytest.approx(half, rel=2e-3)
        assert row.above == pytest.approx(t_dist.cdf(row.raw / se, df), abs=2e-3)


@given(seeds, st.integers(1, 3))
@settings(max_examples=10, deadline=None)
def test_with_a_firm_error_it_is_normal_shrinkage(rng, assessors):
    scores = rng.normal(size=(assessors, 4))
    found = small_panel(long(scores), prior=Prior(0.8, 0.6, 0.3, df=1e7))
    error = np.sqrt((0.36 + 0.09) * 2 / assessors)
    # The conjugate normal in closed form: Gelman et al., Bayesian
    # Data Analysis, section 2.5 (from memory).
    weight = 0.8**2 * 2 / (0.8**2 * 2 + error**2)
    closed = norm(weight * found.differences["raw"], np.sqrt(weight) * error)
    for name, theirs in {
        "mean": closed.mean(),
        "sd": closed.std(),
        "low": closed.ppf(0.025),
        "high": closed.ppf(0.975),
        "above": closed.sf(0),
    }.items():
        assert found.differences[name].to_numpy() == pytest.approx(theirs, abs=1e-3)


def test_by_another_integration():
    # Samples at ±delta/2, two assessors: integrate delta and the variance on a plain grid.
    scores = np.array([[1.0, 2.4], [0.5, 1.1]])
    prior = Prior(0.9, 0.5, 0.0, df=4)
    found = small_panel(long(scores), prior=prior).differences.iloc[0]
    gap = (scores[:, 1] - scores[:, 0]).mean()
    squares = ((scores[:, 1] - scores[:, 0] - gap) ** 2).sum() / 2
    delta = np.linspace(-6, 8, 2801)
    variance = np.exp(np.linspace(-9, 7, 3201))[:, None]
    density = (
        norm.pdf(delta, 0, 0.9 * np.sqrt(2))
        * norm.pdf(gap, delta, np.sqrt(2 * variance / 2))
        # squares / variance is chi-square with 1 df; prior scaled inverse chi-square, 4 df.
        * variance ** (-1 / 2)
        * np.exp(-squares / (2 * variance))
        * variance ** (-4 / 2)
        * np.exp(-4 * 0.25 / (2 * variance))
    )
    weight = density.sum(axis=0) / density.sum()
    assert found["raw"] == pytest.approx(gap)
    assert found["mean"] == pytest.approx(weight @ delta, abs=1e-4)
    assert found["above"] == pytest.approx(
        weight[delta > 0].sum() + weight[delta == 0].sum() / 2, abs=1e-3
    )
    assert found["low"] == pytest.approx(np.interp(0.025, weight.cumsum(), delta), abs=6e-3)


def test_intervals_cover_and_claims_hold_when_the_prior_is_true():
    # 60 panels of two assessors and three samples, drawn from the stated prior.
    # Monte-Carlo sd of coverage from 180 dependent intervals: below 0.028.
    rng = np.random.default_rng(9)
    prior = Prior(1.0, 0.8, 0.6, df=6)
    covered, above, true_above = [], [], []
    for _ in range(60):
        true = rng.normal(scale=prior.sample_sd, size=3)
        stated = 0.8**2 + 0.6**2 / 2
        variance = prior.df * stated / rng.chisquare(prior.df)
        cells = true + rng.normal(size=(2, 1)) + rng.normal(scale=np.sqrt(variance), size=(2, 3))
        # Two replicates whose mean is the cell: their own scatter does not enter.
        found = small_panel(long(np.stack([cells, cells], axis=2)), prior=prior).differences
        at = {f"s{j}": value for j, value in enumerate(true)}
        gap = found["sample_1"].map(at) - found["sample_2"].map(at)
        covered += ((found["low"] < gap) & (gap < found["high"])).tolist()
        above += found["above"].tolist()
        true_above += (gap > 0).tolist()
    assert np.mean(covered) == pytest.approx(0.95, abs=3 * 0.028)
    # Probabilities mean what they say: on average as many lie above as stated.
    assert np.mean(true_above) == pytest.approx(np.mean(above), abs=3 * 0.056)


@given(seeds, st.floats(-20, 20), st.floats(0.1, 10))
@settings(max_examples=10, deadline=None)
def test_shuffling_renaming_shifting_and_scaling(rng, shift, scale):
    scores = rng.normal(size=(3, 3))
    one = small_panel(long(scores), prior=Prior(1, 0.5, 0.5))
    table = long(scores * scale + shift).sample(frac=1, random_state=1)
    other = small_panel(
        table.assign(assessor="Z" + table["assessor"]),
        prior=Prior(scale, 0.5 * scale, 0.5 * scale),
    )
    for name in ("mean", "low", "high"):
        assert other.differences[name].to_numpy() == pytest.approx(
            one.differences[name].to_numpy() * scale, rel=1e-6, abs=1e-8 * scale
        )
    assert other.differences["claimed"].tolist() == one.differences["claimed"].tolist()


def test_luck_does_not_make_a_claim():
    # Two assessors who agree to a hair: their own variance would claim anything.
    scores = np.array([[5.0, 5.3, 5.61], [4.0, 4.3, 4.6]])
    found = small_panel(long(scores), prior=Prior(1.0, 0.8, 0.6))
    assert found.own_sd < 0.01
    assert not found.differences["claimed"].any()
    assert found.error_sd > 0.5
    said = " ".join(str(sentence) for sentence in found.sentences())
    assert "2 assessors and 3 samples leave 2 degrees of freedom" in said
    assert "No two samples can be claimed to differ. Furthest apart are s2 over s0" in said
    needed = found.differences["assessors_needed"].iloc[0]
    raw = found.differences["raw"].iloc[0]
    assert needed == assessors_for_scores(
        raw, samples=3, interaction=found.error_sd**2, residual=0.0
    )
    assert f"{needed} assessors of this kind would find it" in said


def test_a_large_difference_is_claimed_and_its_firmness_told():
    scores = np.array([[2.0, 5.0, 9.0], [1.0, 5.5, 8.5], [2.5, 5.0, 9.5]])
    found = small_panel(long(scores), prior=Prior(3.0, 0.7, 0.5))
    assert found.differences["claimed"].all()
    assert found.firm
    said = [str(sentence) for sentence in found.sentences()]
    assert said[1].startswith("s2 lies above s0:")
    assert "held by 3/3 assessors" in said[1]
    assert said[2].startswith("Halving or doubling the stated priors does not change")
    shaky = small_panel(long(SCORES), prior=Prior(1.0, 0.5, 0.5))
    assert not shaky.firm
    assert any("hangs on the stated priors" in str(sentence) for sentence in shaky.sentences())


def test_one_assessor_holes_and_many_are_told():
    alone = small_panel(long(SCORES[:1]), prior=Prior(1, 0.5, 0.5))
    assert np.isnan(alone.own_sd)
    assert any("One assessor only" in str(said) for said in alone.warnings)
    holes = SCORES.copy()
    holes[0, 2] = np.nan
    found = small_panel(long(holes), prior=Prior(1, 0.5, 0.5))
    assert any("1 cell" in str(said) for said in found.warnings)
    many = np.random.default_rng(1).normal(size=(9, 3))
    assert any(
        "prefer the ordinary analysis" in str(said)
        for said in small_panel(long(many), prior=Prior(1, 0.5, 0.5)).warnings
    )
    json.dumps(alone.to_dict(), allow_nan=False)


def test_refusals_say_what_to_do():
    with pytest.raises(NotEstimable, match="only one sample"):
        small_panel(long(SCORES[:, :1]), prior=Prior(1, 1, 1))
    with pytest.raises(OptionError, match="assessors would never err"):
        small_panel(long(SCORES), prior=Prior(1, 0, 0))
    with pytest.raises(OptionError, match=r"`prior\.sample_sd` must be a finite number above 0"):
        small_panel(long(SCORES), prior=Prior(0, 1, 1))
    with pytest.raises(OptionError, match=r"`prior\.df` must be a finite number from 1"):
        small_panel(long(SCORES), prior=Prior(1, 1, 1, df=0))
    with pytest.raises(OptionError, match="There is no attribute 'sweet'"):
        small_panel(long(SCORES), "sweet", prior=Prior(1, 1, 1))
