"""Residuals: studentised ones and Cook's distances by deleting each mean, rates by simulation."""

from __future__ import annotations

import json

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
import statsmodels.formula.api as smf
from kikichoko.analysis.anova import anova, residual_checks
from kikichoko.analysis.core import NotEstimable, OptionError, tidy


def scores(*, people: int = 8, attributes: int = 1, seed: int = 4) -> pd.DataFrame:
    """Return a table of clean scores: levels, samples, one kind of scatter."""
    rng = np.random.default_rng(seed)
    i, j = (part.ravel() for part in np.indices((people, 3)))
    table = pd.DataFrame({"assessor": [f"T{n}" for n in i], "sample": np.array(["A", "B", "C"])[j]})
    columns = {
        f"a{k}": 5 + rng.normal(size=people)[i] + 0.4 * j + rng.normal(size=len(i))
        for k in range(attributes)
    }
    return pd.concat([table, pd.DataFrame(columns)], axis=1)


def checked(table: pd.DataFrame, **how: object):
    names = [name for name in table.columns if name not in {"assessor", "sample", "replicate"}]
    return residual_checks(tidy(table, scores=names), **how)


def design(table: pd.DataFrame) -> np.ndarray:
    parts = [pd.get_dummies(table["assessor"]), pd.get_dummies(table["sample"]).iloc[:, 1:]]
    return pd.concat(parts, axis=1).to_numpy(float)


@pytest.mark.parametrize("holes", [[], [3, 10]])
def test_each_mean_deleted_by_hand(holes: list[int]):
    """t of an indicator of the mean; shift of all expected values when it is left out."""
    table = scores().drop(index=holes).reset_index(drop=True)
    found = checked(table).cells
    x, y = design(table), table["a0"].to_numpy()
    fit = sm.OLS(y, x).fit()
    for place, row in table.iterrows():
        mine = found[(found["assessor"] == row["assessor"]) & (found["sample"] == row["sample"])]
        alone = np.zeros(len(y))
        alone[place] = 1.0
        with_it = sm.OLS(y, np.column_stack([x, alone])).fit()
        assert mine["studentised"].item() == pytest.approx(with_it.tvalues[-1], rel=1e-9)
        assert mine["p"].item() == pytest.approx(with_it.pvalues[-1], rel=1e-9)
        kept = np.arange(len(y)) != place
        shift = x @ sm.OLS(y[kept], x[kept]).fit().params - fit.fittedvalues
        cook = shift @ shift / x.shape[1] / fit.mse_resid
        assert mine["cook"].item() == pytest.approx(cook, rel=1e-8)


def test_tests_with_and_without_against_a_library():
    """F of the samples from statsmodels' anova_lm, type II."""
    table = scores()
    found = checked(table)
    test = found.tests.iloc[0]
    dropped = (table["assessor"] == test["assessor"]) & (table["sample"] == test["sample"])
    for rows, p in ((table, test["p"]), (table[~dropped], test["p_without"])):
        fit = smf.ols("a0 ~ C(assessor) + C(sample)", rows).fit()
        expected = sm.stats.anova_lm(fit, typ=2).loc["C(sample)", "PR(>F)"]
        assert p == pytest.approx(expected, rel=1e-9)
    assert test["p"] == pytest.approx(anova(tidy(table, scores=["a0"]))["a0"].sample.p, rel=1e-6)
    assert test["cook"] == found.cells["cook"].max()


def test_a_slip_of_the_pen_is_found_and_named():
    table = scores()
    table.loc[7, "a0"] += 8
    found = checked(table)
    assert found.far[["assessor", "sample"]].to_numpy().tolist() == [["T2", "B"]]
    text = found.text()
    assert "T2 for B lies" in text
    assert "no proof of an error" in text
    assert found.figure(language="ja").axes[0].texts[0].get_text() == "T2, B"


def test_a_mean_is_named_up_to_the_risk_and_not_beyond():
    found = checked(scores())
    p = found.cells["p_adjusted"].min()
    assert 0.05 < p < 1
    assert len(checked(scores(), alpha=p * (1 + 1e-9)).far) == 1
    assert len(checked(scores(), alpha=p * (1 - 1e-9)).far) == 0
    assert "no mean of assessor and sample (n = 24)" in found.text()


def test_rate_of_false_names():
    """90 clean attributes: at most 5 % with a mean named, Monte-Carlo error 2.3 points."""
    found = checked(scores(attributes=90, seed=11))
    rate = found.far["attribute"].nunique() / 90
    assert 0 < rate < 0.05 + 3 * 0.023


def test_replicates_are_averaged_and_what_stands_alone_is_left_out():
    table = scores()
    twice = pd.concat([table.assign(replicate=1), table.assign(replicate=2, a0=table["a0"] + 1)])
    lone = pd.DataFrame({"assessor": ["T9"], "sample": ["A"], "replicate": [1], "a0": [9.0]})
    found = checked(pd.concat([twice, lone]))
    assert found.tests["n"].tolist() == [24]
    alone = checked(table).cells
    assert found.cells["residual"].to_numpy() == pytest.approx(alone["residual"].to_numpy())


def test_a_mean_that_alone_ties_two_groups_is_never_odd():
    """It is met exactly, whatever it is: what rounding leaves of it is no residual."""
    rng = np.random.default_rng(1)
    cells = [(who, what) for who in "ABCD" for what in "pqr"]
    cells += [(who, what) for who in "EFGH" for what in "tuv"]
    for far in (0.0, 9.7, 1e6):
        marks = [*((*cell, rng.normal()) for cell in cells), ("A", "t", far)]
        frame = pd.DataFrame(marks, columns=["assessor", "sample", "score"])
        cells_of = residual_checks(tidy(frame.assign(attribute="x", presentation=1))).cells
        tie = cells_of[(cells_of["assessor"] == "A") & (cells_of["sample"] == "t")].iloc[0]
        assert tie["leverage"] == pytest.approx(1)
        assert tie["studentised"] == pytest.approx(0, abs=1e-6)
        assert (tie["p"], tie["p_adjusted"]) == (pytest.approx(1), pytest.approx(1))
        assert tie["cook"] == pytest.approx(0, abs=1e-9)


def test_what_cannot_be_checked_is_said():
    few = checked(scores(people=2))
    assert "samples: 2." in few.text()
    assert len(checked(scores(people=3)).tests) == 1  # 4 degrees of freedom
    with pytest.raises(NotEstimable, match="no attribute"):
        few.figure()
    table = scores()
    exact = table.assign(a0=table.groupby("sample").ngroup().astype(float))
    assert "exactly" in checked(exact).text()
    with pytest.raises(OptionError, match="no attribute 'haze'"):
        residual_checks(tidy(table, scores=["a0"]), ["haze"])
    parted = pd.DataFrame(
        {"assessor": list("aabbccdd"), "sample": list("ABABCDCD"), "a0": np.arange(8.0) ** 2}
    )
    assert "no assessor tasted across" in checked(parted).text()


def test_json():
    spoken = json.loads(json.dumps(checked(scores()).to_dict(), allow_nan=False))
    assert set(spoken["cells"][0]) >= {"assessor", "sample", "studentised", "cook"}
