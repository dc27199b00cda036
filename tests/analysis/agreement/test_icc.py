"""Intraclass correlations against published tables, R and simulation."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf
from hypothesis import given
from hypothesis import strategies as st
from kikichoko.analysis.agreement import icc
from kikichoko.analysis.core import NotEstimable, OptionError, TableError

# Shrout & Fleiss 1979, Psychol. Bull. 86:420-428, table 2 (targets x judges).
JUDGES = np.array(
    [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]], float
)
# Eight wines, four judges: pingouin's data set "icc" (from real-statistics.com).
WINE = np.array(
    [
        [1, 2, 0, 1],
        [1, 3, 3, 2],
        [3, 8, 1, 4],
        [6, 4, 3, 3],
        [6, 5, 5, 6],
        [7, 5, 6, 2],
        [8, 7, 7, 9],
        [9, 9, 9, 8],
    ],
    float,
)
REFERENCE = pd.read_csv(
    Path(__file__).parents[2] / "reference" / "agreement.csv", comment="#", index_col="table"
)


def test_against_published_table_shrout_fleiss():
    # Printed in the paper: .17 .29 .71 .44 .62 .91; six digits and limits recomputed
    # in R psych and pingouin from the same formulas.
    found = icc(JUDGES)
    assert found.table["estimate"].round(2).tolist() == [0.17, 0.29, 0.71, 0.44, 0.62, 0.91]
    expected = [0.165742, 0.289764, 0.714841, 0.442797, 0.620051, 0.909316]
    assert found.table["estimate"].to_numpy() == pytest.approx(expected, abs=1e-6)
    low = [-0.132932, 0.018787, 0.342465, -0.884442, 0.071137, 0.675675]
    high = [0.722560, 0.761084, 0.945858, 0.912415, 0.927232, 0.985892]
    assert found.table["low"].to_numpy() == pytest.approx(low, abs=1e-6)
    assert found.table["high"].to_numpy() == pytest.approx(high, abs=1e-6)
    assert found.table["df2"].iloc[1] == pytest.approx(4.785144, abs=1e-6)


def test_mean_squares_and_components_of_shrout_fleiss():
    found = icc(JUDGES)
    assert found.mean_squares == pytest.approx(
        {"samples": 11.241667, "within": 6.263889, "assessors": 32.486111, "error": 1.019444},
        abs=1e-6,
    )
    assert found.components == pytest.approx(
        {"sample": 2.555556, "assessor": 5.244444, "residual": 1.019444}, abs=1e-6
    )


def test_against_published_wine():
    # Published ICC(2,1) .728, limits .434 to .927 (real-statistics.com).
    found = icc(WINE)
    assert found.estimate("ICC(A,1)") == pytest.approx(0.728, abs=5e-4)
    low, high, _ = found.interval("ICC(A,1)")
    assert (low, high) == pytest.approx((0.434, 0.927), abs=5e-4)
    expected = [0.727521, 0.727689, 0.729487, 0.914384, 0.914450, 0.915159]
    assert found.table["estimate"].to_numpy() == pytest.approx(expected, abs=1e-6)
    low, high, _ = found.interval("ICC(A,k)")
    assert (low, high) == pytest.approx((0.754496, 0.980611), abs=1e-6)


def test_cronbach_alpha_is_the_consistency_of_the_mean():
    # pingouin's data set "cronbach_alpha" (real-statistics.com): published .592,
    # limits .195 to .840.
    import pingouin

    data = pingouin.read_dataset("cronbach_alpha")
    wide = data.pivot_table(index="Subj", columns="Items", values="Scores")
    found = icc(wide)
    assert found.estimate("ICC(C,k)") == pytest.approx(0.591719, abs=1e-6)
    assert found.interval("ICC(C,k)")[:2] == pytest.approx((0.195, 0.840), abs=5e-4)


@pytest.mark.filterwarnings("ignore")  # that library's own deprecations
def test_against_pingouin():
    rng = np.random.default_rng(4)
    table = rng.normal(5, 1, (7, 5)) + rng.normal(0, 1.5, (7, 1)) + rng.normal(0, 1, (1, 5))
    long = pd.DataFrame(
        [(i, j, table[i, j]) for i in range(7) for j in range(5)], columns=["t", "j", "y"]
    )
    import pingouin

    other = pingouin.intraclass_corr(long, targets="t", raters="j", ratings="y")
    found = icc(table)
    assert found.table["estimate"].to_numpy() == pytest.approx(other["ICC"].to_numpy(), abs=1e-8)


@pytest.mark.parametrize("name", ["judges", "judges_holes", "wine", "wine_holes"])
def test_components_against_lme4(name: str):
    # tests/reference/agreement.R; REML optimisers agree to about 1e-6.
    table = (JUDGES if name.startswith("judges") else WINE).copy()
    holes = {"judges_holes": [6, 15, 24], "wine_holes": [2, 7, 12, 13, 28, 30]}.get(name, [])
    table.flat[[place - 1 for place in holes]] = np.nan
    found = icc(table, method="REML")
    expected = REFERENCE.loc[name]
    for component in ("sample", "assessor", "residual"):
        assert found.components[component] == pytest.approx(expected[component], abs=5e-5)


def test_holes_without_a_hole_give_the_same_limits():
    full, reml = icc(WINE), icc(WINE, method="REML")
    for name in ("ICC(A,1)", "ICC(C,1)", "ICC(A,k)", "ICC(C,k)"):
        assert reml.estimate(name) == pytest.approx(full.estimate(name), abs=1e-5)
        assert reml.interval(name)[:2] == pytest.approx(full.interval(name)[:2], abs=1e-4)


@pytest.mark.slow
def test_coverage_of_the_limits_with_holes():
    # 60 tables, 15 % holes; true ICC(A,1) .5, ICC(C,1) .667. 95 % limits that hold the
    # truth in 95 % of tables do so at least 51 times in 60 with probability .998.
    rng = np.random.default_rng(20)
    hits = np.zeros(2)
    for _ in range(60):
        table = rng.normal(0, 1, (8, 6)) + rng.normal(0, 2**0.5, (8, 1))
        table += rng.normal(0, 0.5**0.5 * 2**0.5, (1, 6))
        table[rng.random((8, 6)) < 0.15] = np.nan
        found = icc(table)
        for place, (name, truth) in enumerate((("ICC(A,1)", 0.5), ("ICC(C,1)", 2 / 3))):
            low, high, _ = found.interval(name)
            hits[place] += low <= truth <= high
    assert (hits >= 51).all()


@pytest.mark.filterwarnings("ignore")  # the other library warns at every boundary
@pytest.mark.parametrize("seed", range(4))
def test_components_with_holes_against_statsmodels(seed: int):
    # REML of crossed random effects by statsmodels' MixedLM: same maximum of the same
    # likelihood, up to its optimiser's tolerance.
    rng = np.random.default_rng(seed)
    table = rng.normal(5, 1, (6, 8)) + rng.normal(0, 2, (6, 1)) + rng.normal(0, 1, (1, 8))
    table[rng.random((6, 8)) < 0.2] = np.nan
    row, column = np.nonzero(~np.isnan(table))
    long = pd.DataFrame({"t": row, "j": column, "y": table[row, column], "all": 1})
    model = smf.mixedlm(
        "y ~ 1",
        long,
        groups="all",
        re_formula="0",
        vc_formula={"t": "0 + C(t)", "j": "0 + C(j)"},
    )
    fitted = model.fit(reml=True, method=["lbfgs", "powell"])
    other = dict(zip(model.exog_vc.names, fitted.vcomp, strict=True))
    found = icc(table).components
    assert found["sample"] == pytest.approx(other["t"], rel=1e-2)
    assert found["assessor"] == pytest.approx(other["j"], rel=1e-2, abs=1e-3)
    assert found["residual"] == pytest.approx(fitted.scale, rel=1e-2)


@given(st.integers(0, 10**6), st.integers(2, 6), st.integers(2, 9), st.sampled_from([0, 0.5, 1]))
def test_limits_hold_the_estimate_and_have_a_width(seed: int, n: int, k: int, step: float):
    rng = np.random.default_rng(seed)
    table = rng.normal(5, 0.9, (n, k)) + rng.normal(0, 1, (1, k)) + rng.normal(0, 0.5, (n, 1))
    if step:
        table = np.round(table / step) * step
    table[rng.random((n, k)) < rng.choice([0, 0.15])] = np.nan
    try:
        found = icc(table)
    except NotEstimable:
        return
    rows = found.table
    assert (rows["estimate"] <= 1).all()
    some = rows[rows["low"].notna()]
    assert ((some["low"] <= some["estimate"]) & (some["estimate"] <= some["high"])).all()
    assert ((some["low"] < some["high"]) & (some["high"] <= 1)).all()
    # A variance component is never far beyond the variance of the scores themselves.
    assert max(found.components.values()) <= 4 * np.nanvar(table) * max(n, k)


def test_scores_that_leave_no_error_have_no_limits():
    # Both assessors find 1 point between the bottles, to the last step.
    found = icc([[5.0, 6.0], [6.0, 7.0]])
    assert found.estimate("ICC(C,1)") == 1
    assert found.table["low"].isna().sum() == 4
    assert any("no error to make limits from" in str(note) for note in found.warnings)
    one_step_more = icc([[5.0, 6.0], [6.0, 8.0]])
    assert one_step_more.table["low"].notna().all()
    with_a_hole = icc([[5.0, 6.0, 4.0], [6.0, 7.0, 5.0], [8.0, 9.0, np.nan]])
    assert with_a_hole.components["residual"] == 0
    assert with_a_hole.table["low"].isna().all()


def test_samples_scored_alike_are_refused():
    with pytest.raises(NotEstimable, match="every assessor gave all samples the same score"):
        icc([[5, 6, 4], [5, 6, 4]])
    with pytest.raises(NotEstimable, match="every assessor gave all samples the same score"):
        icc([[5, 6, 4], [5, 6, 4], [5, np.nan, 4]])


def test_mean_coefficient_never_above_one():
    # Exchanged scores: the assessors' levels are equal, the samples' means nearly so.
    table = [[5.0, 6.0, 4.1], [6.0, 5.0, 5.0], [4.0, 4.5, 6.0]]
    rows = icc(table).table
    assert (rows["estimate"] <= 1).all()
    assert (rows["estimate"].iloc[:3] >= -1 / 2).all()


@pytest.mark.parametrize(("n", "k"), [(2, 2), (2, 5), (4, 5)])
def test_identical_samples_in_whole_steps_show_no_agreement(n: int, k: int):
    # 200 tables of equal samples in whole points: at most 2.5 % (one side of 95 %
    # limits) may lie above 0, and Satterthwaite's approximation some more; 5 % plus
    # three standard errors are 19.
    rng = np.random.default_rng(9)
    above = 0
    for _ in range(200):
        table = np.round(rng.normal(5, 0.9, (n, k)) + rng.normal(0, 1, (1, k)))
        try:
            above += bool((icc(table).table["low"] > 0).any())
        except NotEstimable:
            continue
    assert above <= 19


@given(st.permutations(range(4)), st.floats(-50, 50), st.integers(0, 3))
def test_level_shift_leaves_consistency_alone(order: list[int], shift: float, who: int):
    moved = JUDGES[:, order].copy()
    assert icc(moved).estimate("ICC(A,1)") == pytest.approx(icc(JUDGES).estimate("ICC(A,1)"))
    moved[:, who] += shift
    assert icc(moved).estimate("ICC(C,1)") == pytest.approx(icc(JUDGES).estimate("ICC(C,1)"))


def test_no_variation_is_said():
    with pytest.raises(NotEstimable, match="no variation to agree on: all 12 answers are 3"):
        icc(np.full((4, 3), 3.0))


def test_samples_without_differences_are_told():
    found = icc([[1.0, 2.0, 3.0], [3.0, 2.0, 1.0], [2.0, 2.0, 2.0]])
    assert found.components["sample"] == 0
    assert any("samples' variance" in str(note) for note in found.warnings)


def test_errors_in_words():
    with pytest.raises(NotEstimable, match="at least 2 samples and 2 assessors"):
        icc([[1.0, 2.0, 3.0]])
    with pytest.raises(TableError, match="must be numbers"):
        icc([["good", "bad"], ["bad", "good"]])
    with pytest.raises(TableError, match="finite"):
        icc([[1.0, np.inf], [2.0, 3.0]])
    with pytest.raises(OptionError, match=r"0\.95 for 95 %"):
        icc(JUDGES, level=95)
    apart = np.full((4, 4), np.nan)
    apart[:2, :2] = [[1, 2], [3, 5]]
    apart[2:, 2:] = [[1, 2], [3, 4]]
    with pytest.raises(NotEstimable):
        icc(apart)
