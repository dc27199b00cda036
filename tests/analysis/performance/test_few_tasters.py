"""Two or three assessors and a prior: closed forms at its limits, calibration, words."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from kikichoko.analysis.core import NotEstimable, OptionError
from kikichoko.analysis.performance import Prior, Spreads, default_spreads, small_panel
from kikichoko.analysis.performance.spreads import integrate, quantiles, two_way
from kikichoko.analysis.performance.usual_spreads import wide_spreads
from kikichoko.analysis.power.power_of_tests import assessors_for_scores
from scipy.integrate import simpson
from scipy.linalg import helmert
from scipy.special import ndtr
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
SAME_WIDTHS = {f"A{i}": (1.0, 0.0) for i in range(3)}
NOT_VAGUE = 1e-200


@given(seeds, st.integers(2, 3), st.integers(2, 5))
@settings(max_examples=3, deadline=None)
def test_without_any_prior_it_is_a_t_test(rng, assessors, samples):
    scores = rng.normal(size=(assessors, samples))
    nothing = Spreads(
        log_error=np.zeros(1),
        log_sample=np.array([np.log(1e5)]),
        weight=np.ones((1, 1)),
        error_blur=15.0,
        sample_blur=0.01,
        interaction_share=0.2,
    )
    found = small_panel(long(scores), prior=nothing, vague=NOT_VAGUE, widths=SAME_WIDTHS)
    left = scores - scores.mean(0) - scores.mean(1)[:, None] + scores.mean()
    df = (assessors - 1) * (samples - 1)
    se = np.sqrt(2 * (left**2).sum() / df / assessors)
    for row in found.differences.itertuples():
        # rel 5e-3: the prior of log error is wide, not flat.
        half = t_dist.ppf(0.975, df) * se
        assert (row.high - row.low) / 2 == pytest.approx(half, rel=5e-3)
        assert row.above == pytest.approx(t_dist.cdf(row.raw / se, df), abs=2e-3)


@given(seeds, st.integers(1, 3))
@settings(max_examples=5, deadline=None)
def test_with_a_firm_error_it_is_normal_shrinkage(rng, assessors):
    scores = rng.normal(size=(assessors, 4))
    firm = Prior(0.8, 0.6, 0.3, df=1e7, sample_log_sd=1e-3)
    found = small_panel(long(scores), prior=firm, vague=NOT_VAGUE, widths=SAME_WIDTHS)
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
    # Contrasts of the scores are normal with a covariance that can be written down; Simpson's
    # rule over both spreads, the mixture and the widths included. Empty cell: A2, s1.
    scores = np.array([[2.0, 4.4, 3.1], [1.5, 1.1, 2.9], [0.5, np.nan, 3.5]])
    rows = [helmert(3), helmert(3), [[-np.sqrt(0.5), 0, np.sqrt(0.5)]]]
    contrasts = np.zeros((5, 9))
    for i, row in enumerate(rows):
        contrasts[2 * i : 2 * i + len(row), 3 * i : 3 * i + 3] = row
    data = contrasts @ np.nan_to_num(scores).ravel()
    design = contrasts @ np.tile(np.eye(3), (3, 1))  # effects of samples
    gap = np.array([-1.0, 0, 1])  # s2 less s0
    x, y = np.linspace(-6, 5, 221), np.linspace(-7, 6, 261)
    error, between = np.exp(2 * x)[:, None, None, None], np.exp(2 * y)[:, None, None]
    total = between * (design @ design.T) + error * np.eye(5)
    pull = between * (gap @ design.T)[:, None]
    solved = np.linalg.solve(total, np.broadcast_to(pull, (*total.shape[:2], 5, 1)))[..., 0]
    mean = solved @ data
    sd = np.sqrt(2 * np.exp(2 * y) - (solved * pull[..., 0]).sum(-1) + mean**2 * 0.25**2 / 3)
    density = np.exp(
        -np.linalg.slogdet(total)[1] / 2
        - np.linalg.solve(total, np.broadcast_to(data[:, None], (*total.shape[:2], 5, 1)))[..., 0]
        @ data
        / 2
    ) * sum(
        share * norm.pdf(x, np.log(e), se)[:, None] * norm.pdf(y, np.log(b), sb)
        for e, b, se, sb, share in (
            (1.45, 0.55, 0.35, 0.85, 0.8),
            (1.45 * 1.4, 0.55 * 1.4, 1.0, 1.2, 0.2),
        )
    )
    whole, centre, above, spread = (
        simpson(simpson(density * value, x=y), x=x)
        for value in (1, mean, norm.cdf(mean / sd), np.exp(x)[:, None])
    )
    ours = small_panel(long(scores))
    pair = ours.differences.iloc[0]
    assert (pair["sample_1"], pair["sample_2"]) == ("s2", "s0")
    assert pair["mean"] == pytest.approx(centre / whole, abs=1e-3)
    assert pair["above"] == pytest.approx(above / whole, abs=1e-3)
    assert ours.error_sd == pytest.approx(spread / whole, abs=1e-3)
    # What widths leave uncertain is in the limits in Fieller's way: as large as the limit makes it.
    own = sd**2 - mean**2 * 0.25**2 / 3
    at = pair[["low", "high"]].to_numpy(float)[:, None, None]
    ends = norm.cdf((at - mean) / np.sqrt(own + at**2 * 0.25**2 / 3))
    below = simpson(simpson(density * ends, x=y), x=x) / whole
    assert below == pytest.approx([0.025, 0.975], abs=1e-3)


def test_intervals_cover_and_probabilities_hold_when_the_prior_is_true():
    # 300 panels of two assessors and three samples from the default's own mixture: highest
    # less lowest. Monte-Carlo sd of coverage 0.013, of the share above 0.02.
    rng = np.random.default_rng(9)
    parts = ((default_spreads(), 0.8), (wide_spreads(), 0.2))
    covered, surprise = [], []
    for _ in range(300):
        wide = rng.random() < 0.2
        times, error, sample = (1.4, 1.0, 1.2) if wide else (1.0, 0.35, 0.85)
        sigma = 1.45 * times * np.exp(error * rng.normal())
        true = 0.55 * times * np.exp(sample * rng.normal()) * rng.normal(size=3)
        width = 1 + 0.25 * rng.normal(size=(2, 1))
        data = two_way(width * true + rng.normal(size=(2, 1)) + sigma * rng.normal(size=(2, 3)))
        pair = np.zeros((1, 3))
        pair[0, data.effects.argmax()], pair[0, data.effects.argmin()] = 1, -1
        found = integrate(data, parts).summary(pair, 0.95)
        gap = pair @ true
        covered.append(bool(found["low"][0] < gap[0] < found["high"][0]))
        surprise.append(float(gap[0] > 0) - float(found["above"][0]))
    assert np.mean(covered) == pytest.approx(0.95, abs=3 * 0.013)
    # Probabilities mean what they say: on average as many lie above as stated.
    assert np.mean(surprise) == pytest.approx(0, abs=3 * 0.02)


def test_the_default_is_what_open_data_show():
    # tests/reference/default_spreads.R: REML on french_fries, wine, carrots, ham, TVbo.
    table = pd.read_csv(Path(__file__).parents[2] / "reference/default_spreads.csv", comment="#")
    table["error"] = np.hypot(table["interaction"].fillna(0), table["residual"])
    for kind, rows in table.groupby("kind"):
        usual = default_spreads(kind, length=1.0)
        for name, sd, log_sd in (
            ("error", usual.error_sd, usual.error_blur),
            ("sample", usual.sample_sd, usual.sample_blur),
        ):
            logs = np.log(rows[name])
            # The median of the data sets' means lies within a third of ours, and ours
            # allows for as much as the attributes differ.
            middle = logs.groupby(rows["data"]).mean().median()
            assert abs(middle - np.log(sd)) < np.log(4 / 3)
            assert (abs(logs - np.log(sd)) < 2 * log_sd).mean() >= 0.85
    share = (table["interaction"] / table["error"]) ** 2
    medians = share.dropna().groupby(table["kind"]).median()
    for kind, median in medians.items():
        assert default_spreads(kind).interaction_share == pytest.approx(median, abs=0.07)


def test_a_prior_that_the_scores_contradict_is_discounted():
    # Two who scatter by five points where 0.1 was stated; and two who fit it.
    wild = np.array([[1.0, 9.0, 4.0], [8.0, 2.0, 5.0]])
    tame = np.array([[4.0, 5.0, 6.1], [4.0, 5.1, 6.0]])
    firm = Prior(1.0, 0.1, 0.1)
    against = small_panel(long(wild), prior=firm)
    assert against.kept < 0.05
    assert against.conflict
    assert not against.differences["claimed"].any()
    assert any("contradict the stated prior" in str(said) for said in against.warnings)
    fits = small_panel(long(tame), prior=firm)
    assert fits.kept > 0.5
    assert not fits.conflict
    assert not any("contradict" in str(said) for said in fits.warnings)


def test_both_sides_of_a_prior_that_is_too_small():
    # Half of the usual error (1.45) and sample spread (0.55) on ten points.
    def said(error, sample):
        found = small_panel(long(SCORES), prior=Prior(sample, error, 0.0))
        return [one.key for one in found.warnings if "small_" in one.key.partition(".")[2]]

    assert said(0.73, 0.28) == []
    assert said(0.72, 0.28) == ["small_panel.small_error"]
    assert said(0.73, 0.27) == ["small_panel.small_sample"]


def test_replicates_narrow_what_is_known_of_the_error():
    # Two replicates leave assessor x sample (a fifth of the variance) as it is.
    usual = default_spreads("taste", 10)
    assert usual.of_means(2).error_sd == pytest.approx(1.45 * np.sqrt(0.2 + 0.8 / 2))
    once = small_panel(long(SCORES))
    twice = small_panel(long(np.stack([SCORES, SCORES], axis=2)))
    assert twice.error_sd < once.error_sd


@given(seeds, st.floats(-20, 20), st.floats(0.1, 10))
@settings(max_examples=5, deadline=None)
def test_shuffling_renaming_shifting_and_scaling(rng, shift, scale):
    scores = rng.normal(size=(3, 3))
    one = small_panel(long(scores), prior=Prior(1, 0.5, 0.5), widths={"A0": (1.2, 0.1)})
    table = long(scores * scale + shift).sample(frac=1, random_state=1)
    other = small_panel(
        table.assign(assessor="Z" + table["assessor"]),
        prior=Prior(scale, 0.5 * scale, 0.5 * scale),
        length=10 * scale,
        widths={"ZA0": (1.2, 0.1)},
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
    assert said[1].startswith("s2 lies above s0 with a probability of > 0.99: ")
    assert "held by 3/3 assessors" in said[1]
    assert said[2].startswith("Halving or doubling the prior does not change")
    shaky = small_panel(long(SCORES), prior=Prior(1.0, 0.5, 0.5))
    assert not shaky.firm
    assert any("hangs on the prior" in str(sentence) for sentence in shaky.sentences())


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


@pytest.mark.parametrize(("step", "claimed"), [(2.53, False), (2.55, True)])
def test_both_sides_of_sure(step, claimed):
    """A probability of 0.9696 and of 0.9704 that the highest lies above the lowest."""
    scatter = np.array([[0.9, -1.2, 0.3], [-1.1, 0.8, 0.3], [0.2, 0.4, -0.6]])
    found = small_panel(long(step * np.array([-1.0, 0, 1]) + scatter))
    top = found.differences.iloc[0]
    assert top["above"] == pytest.approx(0.97, abs=0.001)
    assert bool(top["claimed"]) is claimed
    said = found.sentences()[1]
    assert said.key == ("small_panel.claimed" if claimed else "small_panel.not_claimed")


@pytest.mark.parametrize(("size", "told"), [(3.82, False), (3.84, True)])
def test_both_sides_of_conflict(size, told):
    """Two who contradict each other: the prior keeps 50.3 % and 49.7 % of its say."""
    found = small_panel(long(size * np.array([[1.0, -1, 0], [-1, 1, 0]])))
    assert found.kept == pytest.approx(0.5, abs=0.004)
    assert found.conflict is told
    assert ("small_panel.conflict_default" in [one.key for one in found.warnings]) is told


def test_all_marks_alike_claim_nothing():
    found = small_panel(long(np.full((2, 3), 5.0)))
    assert not found.differences["claimed"].any()
    assert found.differences["mean"].to_numpy() == pytest.approx([0, 0, 0])
    assert (found.differences["high"] > 0).all()
    json.dumps(found.to_dict(), allow_nan=False)


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


def test_quantiles_of_mixtures_by_halving():
    """Against a search that only halves, for mixtures narrow, wide, of one part and of many."""
    rng = np.random.default_rng(3)
    for size in (1, 2, 40, 300):
        weight = rng.dirichlet(np.full(size, 0.3))
        means, own = rng.normal(0, 2, (size, 5)), np.exp(rng.normal(0, 1.5, (size, 5)))
        for wide, end in ((0.0, 0.025), (0.0, 0.9995), (0.05, 0.975), (0.3, 0.5)):
            sds = np.sqrt(own**2 + means**2 * wide)
            low, high = np.full(5, -1e3), np.full(5, 1e3)
            for _ in range(60):
                middle = (low + high) / 2
                below = weight @ ndtr((middle - means) / np.sqrt(own**2 + middle**2 * wide)) < end
                low, high = np.where(below, middle, low), np.where(below, high, middle)
            # A share of where Cantelli lets it lie at all, at most some 60 standard deviations.
            assert quantiles(end, weight, means, sds, wide) == pytest.approx(low, abs=1e-5)
