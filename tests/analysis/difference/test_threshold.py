"""Thresholds by hand, against a fit made apart from this project, and by simulation."""

from __future__ import annotations

import json

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.core import NotEstimable, TableError
from kikichoko.analysis.difference import threshold
from kikichoko.analysis.difference.thresholds import Threshold, best_estimates

STEPS = [0.1, 0.3, 0.9, 2.7, 8.1, 24.3]
ROWS = ["001111", "010111", "000111", "111111", "101111", "000001", "001011", "100000", "011111"]


def table(rows=ROWS, steps=STEPS) -> pd.DataFrame:
    return pd.DataFrame(
        [
            (f"T{i}", c, int(a))
            for i, row in enumerate(rows)
            for c, a in zip(steps, row, strict=True)
        ],
        columns=["assessor", "concentration", "correct"],
    )


@pytest.fixture(scope="module")
def found() -> Threshold:
    return threshold(table())


def test_best_estimates_by_the_rule_of_astm_e679(found: Threshold):
    # values by the rule of ASTM E679 on data of our own, computed apart from this project
    expected = [
        0.519615, 1.558846, 1.558846, 0.057735, 0.519615, 14.029612, 4.676537, 42.088835, 0.173205,
    ]  # fmt: skip
    rows = [[int(a) for a in row] for row in ROWS]
    assert best_estimates(STEPS, rows) == pytest.approx(expected, abs=1e-6)
    assert found.best_estimate == pytest.approx(1.379716, abs=1e-6)
    assert found.log_sd == pytest.approx(0.906670, abs=1e-6)
    assert found.each["best_estimate"].tolist() == pytest.approx(expected, abs=1e-6)


def test_pooled_fit_against_an_independent_one(found: Threshold):
    # ISO 13301 form with guessing rate 1/3: t .511209 (3.244954), b 1.963987, -loglik 31.486847
    assert np.log10(found.pooled) == pytest.approx(0.511209, abs=2e-5)
    assert found.pooled == pytest.approx(3.244954, rel=5e-5)
    assert found.pooled_slope == pytest.approx(1.963987, abs=2e-4)
    assert found.pooled_loglik == pytest.approx(-31.486847, abs=1e-6)


def test_likelihood_by_plain_loops(found: Threshold):
    """The pooled and the mixed likelihood, written out answer by answer."""
    from kikichoko.analysis.difference.thresholds import _mixed_loglik

    x = np.log10(STEPS)
    right = np.array([[int(a) for a in row] for row in ROWS], dtype=float)
    t, b = np.log10(found.pooled), found.pooled_slope
    total = 0.0
    for row in right:
        for at, answer in zip(x, row, strict=True):
            p = 1 / 3 + 2 / 3 / (1 + np.exp(-b * (at - t)))
            total += np.log(p if answer else 1 - p)
    assert found.pooled_loglik == pytest.approx(total)
    assert _mixed_loglik(x, right, 1 / 3, (t, b, 0.0)) == pytest.approx(total)
    grid = np.linspace(-6, 6, 4001)
    weight = np.exp(-(grid**2) / 2) / np.sqrt(2 * np.pi) * (grid[1] - grid[0])
    by_grid = 0.0
    for row in right:
        p = 1 / 3 + 2 / 3 / (1 + np.exp(-3 * (x[None] - (0.2 + 0.5 * grid)[:, None])))
        each = np.prod(np.where(row == 1, p, 1 - p), axis=1)
        by_grid += np.log((weight * each).sum())
    assert _mixed_loglik(x, right, 1 / 3, (0.2, 3.0, 0.5)) == pytest.approx(by_grid, abs=1e-4)


def test_mixed_fit_is_at_least_as_good_and_wider(found: Threshold):
    assert found.loglik >= found.pooled_loglik - 1e-6
    assert found.assessor_sd > 0.3
    wide = np.log(found.fitted_interval.high / found.fitted_interval.low)
    narrow = np.log(found.pooled_interval.high / found.pooled_interval.low)
    assert wide > narrow
    assert found.fitted_interval.low < found.fitted < found.fitted_interval.high


@pytest.mark.slow
def test_put_back_by_simulation():
    """The mixed fit finds the threshold it was simulated from, and its limits hold it."""
    from kikichoko.analysis.difference.thresholds import _best_mixed, _fit_mixed

    rng = np.random.default_rng(13301)
    x = np.log10(0.1 * 2.0 ** np.arange(8))
    fits, held, runs = [], 0, 24
    for _ in range(runs):
        own = rng.normal(0.0, 0.25, 20)
        p = 1 / 3 + 2 / 3 / (1 + np.exp(-8 * (x[None] - own[:, None])))
        right = (rng.random(p.shape) < p).astype(float)
        t, b, sd, top = _fit_mixed(x, right, 1 / 3)
        fits.append(t)
        held += top - _best_mixed(x, right, 1 / 3, 0.0, (b, max(sd, 0.1))) <= 3.841459 / 2
    assert np.mean(fits) == pytest.approx(0, abs=4 * np.std(fits) / runs**0.5)
    assert held >= 19  # 95 % of 24 is 23; below 19 has a probability under 0.001


def test_missing_answers_and_words():
    rows = table()
    rows.loc[3, "correct"] = np.nan
    found = threshold(rows)
    assert found.table["answers"].tolist() == [9, 9, 9, 8, 9, 9]
    words = found.text()
    assert "biased low" in words
    assert "missed the last step" in words
    json.dumps(found.to_dict(), allow_nan=False)
    assert found.figure().axes


def test_refusals():
    with pytest.raises(NotEstimable, match="outside the steps"):
        threshold(table(["111111"] * 4))
    with pytest.raises(NotEstimable, match="three steps"):
        threshold(table(["01", "11"], [1, 2]))
    with pytest.raises(TableError, match="above 0"):
        threshold(table().assign(concentration=0))
    with pytest.raises(TableError, match="neither 1"):
        threshold(table().assign(correct=2))
    with pytest.raises(TableError, match="no column 'correct'"):
        threshold(table().drop(columns="correct"))
    with pytest.raises(TableError, match="twice"):
        threshold(pd.concat([table(), table()]))
