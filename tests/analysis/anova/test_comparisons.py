"""All pairs, against a reference, contrasts and letters."""

from __future__ import annotations

import itertools

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from kikichoko.analysis.anova import anova
from kikichoko.analysis.anova.comparisons import shared_letters
from kikichoko.analysis.core import OptionError
from kikichoko.analysis.mixed_model import joint_distributions
from kikichoko.analysis.mixed_model.joint_distributions import (
    loadings,
    many_below,
    many_point,
    range_below,
    range_point,
)
from scipy import integrate, stats
from scipy.special import gamma, ndtr


@pytest.mark.parametrize("means", [2, 3, 6, 8, 12])
@pytest.mark.parametrize("df", [2.0, 4.5, 9.0, 24.0, 577.0])
def test_studentized_range_against_scipy(means: int, df: float):
    """`scipy.stats.studentized_range` integrates each point adaptively; ours all together."""
    q = np.array([1.0, 3.0, 4.5, 8.0])
    ours = range_below(q, means, np.full(4, df))
    assert ours == pytest.approx(stats.studentized_range.cdf(q, means, df), abs=1e-7)


def test_studentized_range_against_published_table():
    """Upper 5 % points, Pearson & Hartley 1970, Biometrika Tables, table 29 (from memory)."""
    published = {(3, 10): 3.88, (4, 20): 3.96, (5, 15): 4.37, (6, 24): 4.37, (10, 60): 4.65}
    for (means, df), point in published.items():
        assert range_point(0.95, means, np.array([float(df)]))[0] == pytest.approx(point, abs=0.005)


def test_many_points_are_interpolated():
    df = np.linspace(3, 400, 60)
    assert range_below(range_point(0.95, 5, df), 5, df) == pytest.approx(0.95, abs=1e-8)


@pytest.mark.parametrize(
    ("k", "df", "two_sided", "one_sided"),
    [(2, 5, 3.03, 2.44), (3, 20, 2.54, 2.19), (4, 20, 2.65, 2.30), (5, 30, 2.66, 2.33)],
)
def test_dunnett_against_published_table(k: int, df: int, two_sided: float, one_sided: float):
    """Dunnett 1955, JASA 50:1096-1121, and 1964, Biometrics 20:482-491 (from memory)."""
    half = np.full((k, k), 0.5) + np.eye(k) / 2
    at = np.array([float(df)])
    assert many_point(0.95, at, half)[0] == pytest.approx(two_sided, abs=0.0055)
    assert many_point(0.95, at, half, two_sided=False)[0] == pytest.approx(one_sided, abs=0.0055)


@pytest.mark.parametrize("two_sided", [True, False])
def test_dunnett_by_plain_double_integral(two_sided: bool):
    """Unequal correlations 0.6 x 0.7, 0.6 x 0.3, 0.7 x 0.3: integrated adaptively by scipy."""
    shared, df, t = np.array([0.6, 0.7, 0.3]), 7.0, 2.4
    correlation = np.outer(shared, shared)
    np.fill_diagonal(correlation, 1)
    # Of the normal density and of the density of chi / sqrt(df), as handbooks print them.
    weight = df ** (df / 2) * 2 ** (1 - df / 2) / gamma(df / 2) / np.sqrt(2 * np.pi)

    def inner(z: float, s: float) -> float:
        root = np.sqrt(1 - shared**2)
        part = ndtr((t * s - shared * z) / root)
        if two_sided:
            part = part - ndtr((-t * s - shared * z) / root)
        return float(np.prod(part) * np.exp(-(z**2) / 2 - df * s**2 / 2) * s ** (df - 1)) * weight

    plain = integrate.dblquad(inner, 0, 4, -8, 8, epsabs=1e-8)[0]
    ours = many_below(np.array([t]), np.array([df]), correlation, two_sided=two_sided)
    assert ours[0] == pytest.approx(plain, abs=1e-7)


def test_correlations_that_do_not_factor_against_simulation():
    correlation = np.array(
        [[1, 0.5, 0.3, 0.2], [0.5, 1, 0.4, 0.6], [0.3, 0.4, 1, 0.25], [0.2, 0.6, 0.25, 1]]
    )
    assert loadings(correlation) is None
    rng = np.random.default_rng(3)
    t = rng.multivariate_normal(np.zeros(4), correlation, size=200_000)
    t /= np.sqrt(rng.chisquare(10, size=200_000) / 10)[:, None]
    share = (np.abs(t).max(axis=1) < 2.5).mean()
    error = np.sqrt(share * (1 - share) / 200_000)
    ours = many_below(np.array([2.5]), np.array([10.0]), correlation)[0]
    assert abs(ours - share) < 4 * error


@pytest.fixture(scope="module")
def panel() -> pd.DataFrame:
    rng = np.random.default_rng(8)
    i, j, k = (part.ravel() for part in np.indices((9, 4, 2)))
    score = np.array([0, 0.2, 1.2, 1.5])[j] + rng.normal(size=9)[i] + rng.normal(size=i.size)
    names = np.array(["free-run", "clear", "cloudy", "pressed"])
    return pd.DataFrame(
        {"assessor": [f"T{n}" for n in i], "sample": names[j], "replicate": k + 1, "score": score}
    )


def test_pairs_by_hand(panel: pd.DataFrame):
    """Balanced: the paired comparison of cell means with the pooled interaction mean square."""
    one = anova(panel)["score"]
    cell = panel.pivot_table(index="assessor", columns="sample", values="score")
    rest = cell.sub(cell.mean(axis=1), axis=0) - cell.mean() + cell.to_numpy().mean()
    square = (rest**2).to_numpy().sum() / 24
    pairs = one.differences
    assert len(pairs) == 6
    for row in pairs.itertuples():
        gap = cell[row.sample].mean() - cell[row.against].mean()
        se = np.sqrt(2 * square / 9)
        assert [row.difference, row.se, row.df] == pytest.approx([gap, se, 24])
        assert row.p == pytest.approx(
            stats.studentized_range.sf(np.sqrt(2) * gap / se, 4, 24), abs=1e-7
        )
        half = stats.studentized_range.ppf(0.95, 4, 24) / np.sqrt(2) * se
        assert [row.low, row.high] == pytest.approx([gap - half, gap + half], rel=1e-5)
    assert pairs["difference"].is_monotonic_decreasing


def test_against_a_reference(panel: pd.DataFrame):
    """Balanced: correlations of one half; one-sided limits only below."""
    one = anova(panel)["score"]
    found = one.against("free-run").set_index("sample")
    half = np.full((3, 3), 0.5) + np.eye(3) / 2
    point = many_point(0.95, np.array([24.0]), half)[0]
    cloudy = found.loc["cloudy"]
    assert cloudy["high"] - cloudy["difference"] == pytest.approx(point * cloudy["se"])
    pairs = one.differences.set_index(["sample", "against"])
    assert cloudy["p"] < pairs.loc[("cloudy", "free-run"), "p"], "three comparisons, not six"
    greater = one.against("free-run", "greater").set_index("sample")
    assert np.isinf(greater["high"]).all()
    assert greater.loc["cloudy", "p"] == pytest.approx(cloudy["p"] / 2, rel=0.1)
    with pytest.raises(OptionError, match="no sample 'sweet'"):
        one.against("sweet")
    with pytest.raises(OptionError, match="alternative"):
        one.against("clear", "above")


def test_two_samples_need_no_adjustment(panel: pd.DataFrame):
    """With one comparison Tukey, Dunnett and F are the t test of the differences."""
    two = panel[panel["sample"].isin(["clear", "cloudy"])]
    one = anova(two)["score"]
    cell = two.pivot_table(index="assessor", columns="sample", values="score")
    paired = stats.ttest_rel(cell["cloudy"], cell["clear"])
    assert one.sample.p == pytest.approx(paired.pvalue)
    assert one.differences.loc[0, "p"] == pytest.approx(paired.pvalue, abs=1e-8)
    assert one.against("clear").loc[0, "p"] == pytest.approx(paired.pvalue, abs=1e-8)
    interval = paired.confidence_interval()
    assert one.widest()[3][:2] == pytest.approx((interval.low, interval.high), rel=1e-6)


def test_contrasts(panel: pd.DataFrame):
    one = anova(panel)["score"]
    weights = {
        "late against early": {"cloudy": 0.5, "pressed": 0.5, "clear": -0.5, "free-run": -0.5},
        "pressed against cloudy": {"pressed": 1, "cloudy": -1},
    }
    found = one.contrasts(weights, adjustment="none")
    cell = panel.pivot_table(index="assessor", columns="sample", values="score").mean()
    late = (cell["cloudy"] + cell["pressed"] - cell["clear"] - cell["free-run"]) / 2
    assert found["difference"].to_list() == pytest.approx([late, cell["pressed"] - cell["cloudy"]])
    single = one.differences.set_index(["sample", "against"]).loc[("pressed", "cloudy")]
    assert found.loc[1, "se"] == pytest.approx(single["se"])
    assert found.loc[0, "se"] == pytest.approx(single["se"] / np.sqrt(2))
    holm = one.contrasts(weights)
    assert holm["p"].min() == pytest.approx(2 * found["p"].min())
    with pytest.raises(OptionError, match="sum to 1"):
        one.contrasts({"wrong": {"clear": 1}})
    with pytest.raises(OptionError, match="no sample 'sweet'"):
        one.contrasts({"wrong": {"sweet": 1, "clear": -1}})


NAMES = "abcdef"
PAIRS = [frozenset(pair) for pair in itertools.combinations(NAMES, 2)]


@settings(deadline=None, max_examples=150, derandomize=True)
@given(st.sets(st.sampled_from(PAIRS)))
def test_letters_share_just_when_not_told_apart(different: set[frozenset[str]]):
    means = {name: float(value) for value, name in enumerate(NAMES)}
    letters = shared_letters(means, different)
    for pair in PAIRS:
        one, other = pair
        assert bool(set(letters[one]) & set(letters[other])) == (pair not in different)


def test_dunnett_with_holes_draws_its_points_once():
    """Work, not time: one set of points for two correlations, and a few dozen looks at them."""
    rng = np.random.default_rng(6)
    rows = [
        (f"T{i}", f"S{j}", rng.normal())
        for i in range(8)
        for j in range(6)
        if (i, j) not in {(0, 1), (3, 4), (5, 2)}
    ]
    table = pd.DataFrame(rows, columns=["assessor", "sample", "score"])
    looks = 0
    sampled = joint_distributions._by_sampling

    def counted(*given: object, **named: object) -> object:
        nonlocal looks
        looks += 1
        return sampled(*given, **named)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(joint_distributions, "_by_sampling", counted)
        before = joint_distributions._largest.cache_info().misses
        anova(table).attributes["score"].against("S0")
        drawn = joint_distributions._largest.cache_info().misses - before
    assert 1 <= drawn <= 2
    assert looks <= 60
