"""Power of scored panels: R's example, a recomputed table, simulation, laws."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from kikichoko.analysis.core import NotEstimable, OptionError
from kikichoko.analysis.power import ScorePlan, detectable, detectable_in
from kikichoko.analysis.power.power_of_tests import (
    assessors_for_scores,
    critical_t,
    power_f,
    power_t,
    ratio_for,
)
from scipy.stats import f as f_dist
from scipy.stats import nct
from statsmodels.stats.power import FTestAnovaPower, TTestPower


def plan(assessors: int = 8, **changes) -> ScorePlan:
    given_ = {"samples": 4, "replicates": 2, "interaction": 0.25, "residual": 0.5} | changes
    return ScorePlan(assessors=assessors, **given_)


def test_against_r_power_anova_test():
    # R help page: power.anova.test(groups = 4, n = 5, between.var = 1, within.var = 3).
    assert power_f(5 * 3 * 1 / 3, 3, 16) == pytest.approx(0.3535594, abs=5e-8)


@pytest.mark.parametrize(
    ("assessors", "df", "range_1", "range_2", "difference", "least"),
    [
        # 4 samples, 2 replicates, residual 0.5, interaction 0.25; recomputed by the project's
        # statisticians with scipy's noncentral t and F (four decimals).
        (2, 3, 0.0957, 0.2395, 3.0094, 2.2503),
        (3, 6, 0.1660, 0.5434, 1.9439, 1.4127),
        (5, 12, 0.3293, 0.9028, 1.3652, 0.9744),
        (8, 21, 0.5654, 0.9953, 1.0388, 0.7353),
        (10, 27, 0.6922, 0.9995, 0.9191, 0.6488),
        (12, 33, 0.7898, 1.0000, 0.8333, 0.5873),
        (20, 57, 0.9652, 1.0000, 0.6373, 0.4478),
    ],
)
def test_against_recomputed_table(assessors, df, range_1, range_2, difference, least):  # noqa: PLR0917
    panel = plan(assessors)
    assert panel.df_den == df
    assert panel.power_of_range([1, 2]) == pytest.approx([range_1, range_2], abs=5e-5)
    assert panel.smallest_difference() == pytest.approx(difference, abs=5e-5)
    assert panel.least_significant() == pytest.approx(least, abs=5e-5)


@given(st.integers(2, 60), st.floats(0.01, 8))
def test_against_statsmodels(df: int, ratio: float):
    critical = critical_t(df, 2)
    theirs = TTestPower().power(ratio / np.sqrt(df + 1), df + 1, 0.05, df)
    if np.isnan(theirs):  # its lower tail, below 1e-6 here; the upper one alone is left
        theirs = nct.sf(critical, df, ratio)
    # abs 1e-6: the other library drops or loses the far tail.
    assert float(power_t(ratio, df, critical)) == pytest.approx(theirs, abs=1e-6)


def test_f_power_against_statsmodels():
    theirs = FTestAnovaPower().power(0.4, 40, 0.05, 4)
    assert power_f(40 * 0.4**2, 3, 36) == pytest.approx(theirs, rel=1e-9)


def test_far_tail_is_a_number():
    # The textbook two-tailed sum fails here: scipy 1.17 gives nan for this lower tail.
    critical = critical_t(21, 2)
    assert float(power_t(12, 21, critical)) == pytest.approx(1, abs=1e-12)
    assert power_t([1e3, 1e6, 1e12], 21, critical).tolist() == [1, 1, 1]
    # And where the sum of both tails can be had, it is the same.
    both = nct.sf(critical, 21, 2.0) + nct.cdf(-critical, 21, 2.0)
    assert float(power_t(2.0, 21, critical)) == pytest.approx(both, abs=1e-9)


@given(st.integers(1, 80), st.floats(0.1, 0.99), st.integers(2, 8))
@settings(max_examples=30, deadline=None)
def test_put_back(df: int, power: float, samples: int):
    critical = critical_t(df, samples)
    assert float(power_t(ratio_for(power, df, critical), df, critical)) == pytest.approx(
        power, abs=1e-9
    )


@given(st.floats(0.3, 5), st.integers(2, 6), st.integers(1, 3), st.floats(0, 2), st.floats(0.1, 2))
@settings(max_examples=40, deadline=None)
def test_assessors_for_is_the_smallest_by_search(gap, samples, replicates, interaction, residual):
    shared = {
        "samples": samples,
        "replicates": replicates,
        "interaction": interaction,
        "residual": residual,
    }
    found = assessors_for_scores(gap, **shared)
    by_search = next(n for n in range(2, 10_000) if plan(n, **shared).power(gap) >= 0.8)
    assert found == by_search


@given(st.integers(2, 30), st.integers(1, 5), st.floats(0.01, 3), st.floats(0.01, 3))
@settings(max_examples=40, deadline=None)
def test_more_assessors_help_and_replicates_only_to_the_floor(n, k, interaction, residual):
    shared = {"interaction": interaction, "residual": residual}
    one = plan(n, replicates=k, **shared)
    assert plan(n + 1, replicates=k, **shared).smallest_difference() < one.smallest_difference()
    more = plan(n, replicates=k + 1, **shared).smallest_difference()
    floor = detectable(one).floor
    assert floor < more < one.smallest_difference()
    assert floor == pytest.approx(plan(n, replicates=10**9, **shared).smallest_difference())


def panel(seed: int, effects):
    interaction, residual = 0.25, 0.5
    rng = np.random.default_rng(seed)
    shape = (6, len(effects), 2)
    scores = (
        np.asarray(effects)[None, :, None]
        + rng.normal(size=(6, 1, 1))
        + rng.normal(scale=np.sqrt(interaction), size=(*shape[:2], 1))
        + rng.normal(scale=np.sqrt(residual), size=shape)
    )
    i, j, k = np.indices(shape)
    return pd.DataFrame(
        {
            "assessor": [f"A{x}" for x in i.ravel()],
            "sample": [f"s{x}" for x in j.ravel()],
            "replicate": k.ravel() + 1,
            "score": scores.ravel(),
        }
    ), scores


@pytest.mark.parametrize("spread", [0.0, 1.0, 1.5])
def test_power_by_simulation(spread: float):
    effects = [-spread / 2, spread / 2, 0, 0]
    claimed, runs = 0, 4000
    rng = np.random.default_rng(4)
    means = (
        np.array(effects)
        + rng.normal(size=(runs, 6, 1))
        + rng.normal(scale=np.sqrt(0.25 + 0.25), size=(runs, 6, 4))
    )
    product = 6 * ((means.mean(axis=1) - means.mean(axis=(1, 2))[:, None]) ** 2).sum(axis=1) / 3
    left = means - means.mean(axis=1, keepdims=True) - means.mean(axis=2, keepdims=True)
    left += means.mean(axis=(1, 2), keepdims=True)
    error = (left**2).sum(axis=(1, 2)) / 15
    claimed = (product / error > f_dist.ppf(0.95, 3, 15)).mean()
    expected = float(plan(6).power_of_range(spread))
    assert expected == pytest.approx(plan(6).power_of_effects(effects), rel=1e-12)
    # Monte-Carlo sd of a share from 4000 runs is at most 0.008.
    assert claimed == pytest.approx(expected, abs=3.5 * 0.008)


def test_table_by_hand():
    table, scores = panel(1, [0, 0, 1, 2])
    found = detectable_in(table)
    cell = scores.mean(axis=2)
    left = cell - cell.mean(0) - cell.mean(1)[:, None] + cell.mean()
    ms_cell = (left**2).sum() / 15
    residual = scores.var(axis=2, ddof=1).mean()
    assert found.residual == pytest.approx(residual)
    assert found.interaction == pytest.approx(ms_cell - residual / 2)
    assert found.se == pytest.approx(np.sqrt(2 * ms_cell / 6))
    by_plan = plan(6, interaction=found.interaction, residual=residual)
    assert found.difference == pytest.approx(by_plan.smallest_difference())
    assert found.df == 15
    assert found.interval.low < found.difference < found.interval.high
    assert float(found.power_of(found.difference)) == pytest.approx(0.8)
    assert found.curve()["power"].iloc[0] == pytest.approx(0.05)


def test_the_interval_covers_the_true_figure():
    # 120 panels; the true smallest difference is known. Monte-Carlo sd 0.02.
    true = plan(6).smallest_difference()
    inside = 0
    for seed in range(120):
        interval = detectable_in(panel(seed, [0, 0, 1, 2])[0]).interval
        inside += interval.low <= true <= interval.high
    # A variance of assessor × sample taken as 0 instead of negative lifts coverage a little.
    assert 0.95 - 3 * 0.02 <= inside / 120 <= 0.995


def test_components_from_elsewhere_and_holes():
    table, _ = panel(2, [0, 1, 2, 3])
    own = detectable_in(table)
    passed = detectable_in(table, interaction=own.interaction, residual=own.residual)
    assert passed.difference == pytest.approx(own.difference, rel=1e-9)
    assert np.isnan(passed.interval.low)
    holes = table[~((table["assessor"] == "A0") & (table["sample"] == "s1"))]
    fewer = detectable_in(holes, interaction=own.interaction, residual=own.residual)
    assert fewer.df == 14
    assert fewer.difference > own.difference
    assert any("1 cell" in str(said) for said in fewer.warnings)


def test_any_pair_costs_more_than_a_named_one():
    named, any_pair = plan(8), plan(8, comparison="all pairs")
    assert any_pair.smallest_difference() > named.smallest_difference()
    # Studentized range table, 5 %, 4 means, 20 df: 3.96 (any handbook).
    assert critical_t(20, 4, comparison="all pairs") * np.sqrt(2) == pytest.approx(3.96, abs=0.005)


def test_sentences_say_what_would_be_missed_and_what_helps():
    said = [str(sentence) for sentence in detectable(plan(2)).sentences()]
    assert "differ by 3.01 points (a pair named beforehand)" in said[0]
    assert "with a probability of 80 %" in said[0]
    assert "cannot bring this below 2.13 points" in said[1]
    assert "To find half of it (1.50 points), 5 assessors would be needed." in said[2]
    assert "Only 3 degrees of freedom" in str(detectable(plan(2)).warnings[0])
    assert detectable(plan(2)).to_dict()["interval"]["low"] is None


def test_figure_is_drawn_with_its_panel_marked():
    figure = detectable(plan(8)).figure()
    axes = figure.axes[0]
    dashes = {str(line._unscaled_dash_pattern) for line in axes.lines[:3]}
    assert len(dashes) == 3
    assert axes.texts[0].get_text() == "1.04 points"
    assert figure.legends[0].get_texts()[0].get_text() == "this panel: 8"


def test_unreplicated_and_agreeing_by_chance():
    table, _ = panel(3, [0, 1, 2, 3])
    once = table[table["replicate"] == 1]
    found = detectable_in(once)
    assert np.isnan(found.floor)
    assert any("whether repeating would help" in str(said) for said in found.warnings)
    apart = np.where(table["replicate"] == 1, 1.0, -1.0)
    agreeing = table.assign(score=table["sample"].str[1].astype(float) + apart)
    assert any("agreed better" in str(said) for said in detectable_in(agreeing).warnings)


def test_refusals_say_what_to_do():
    table, _ = panel(4, [0, 1])
    with pytest.raises(OptionError, match="Give both variance components"):
        detectable_in(table, interaction=1.0)
    with pytest.raises(NotEstimable, match="only one assessor"):
        detectable_in(table[table["assessor"] == "A0"])
    with pytest.raises(NotEstimable, match="only one sample"):
        detectable_in(table[table["sample"] == "s0"])
    with pytest.raises(NotEstimable, match="agree without any spread"):
        detectable_in(table.assign(score=4.0))
    with pytest.raises(OptionError, match="no power to compute"):
        plan(interaction=0, residual=0)
    with pytest.raises(OptionError, match="`assessors` must be a whole number from 2"):
        plan(1)
    with pytest.raises(OptionError, match="does not exceed the test's own false-alarm rate"):
        detectable(plan(), power=0.04)
    with pytest.raises(NotEstimable, match="More than 100000 assessors"):
        assessors_for_scores(1e-4, samples=3, interaction=1, residual=1)
    with pytest.raises(OptionError, match="`difference` must be a finite number above 0"):
        assessors_for_scores(0, samples=3, interaction=1, residual=1)
    with pytest.raises(OptionError, match=r"3 means were stated for 4"):
        plan().power_of_effects([1, 2, 3])
