"""Partial least squares against R's pls package and the manual of that package.

tests/reference/pls.R: oliveoil and gasoline. The manual prints for gasoline
1.545 1.357 .2966 .2524 .2476 .2398 .2319 .2386 .2316 .2449.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.core import NotEstimable, OptionError
from kikichoko.analysis.link import directions, pls
from kikichoko.analysis.link.pls_regression import each_left_out, left_out

REFERENCE = Path(__file__).parents[2] / "reference"
VALUES = pd.read_csv(REFERENCE / "pls.csv", comment="#")
OILS = pd.read_csv(REFERENCE / "pls_oliveoil.csv", comment="#")
CHEMICAL, SENSORY = OILS.iloc[:, :5], OILS.iloc[:, 5:]


def reference(data, what):
    return VALUES[(VALUES["set"] == data) & (VALUES["what"] == what)]["value"].to_numpy()


def test_against_r_oliveoil():
    fitted = directions(CHEMICAL.to_numpy(), SENSORY.to_numpy(), 4)
    assert 100 * fitted.x_explained == pytest.approx(reference("oliveoil", "x_explained"), rel=1e-9)
    yellow = list(SENSORY.columns).index("yellow")
    assert fitted.coefficients[2][:, yellow] * CHEMICAL.std().to_numpy() == pytest.approx(
        reference("oliveoil", "coefficients_yellow_2"), rel=1e-9
    )
    wrong = left_out(CHEMICAL.to_numpy(), SENSORY.to_numpy(), 4, np.arange(16)) - SENSORY.to_numpy()
    for place, name in enumerate(SENSORY.columns):
        assert np.sqrt((wrong[:, :, place] ** 2).mean(axis=1)) == pytest.approx(
            reference("oliveoil", f"rmsep_{name}"), rel=1e-9
        )


def test_against_published_oliveoil_values():
    # Facts recomputed outside this project with the same R package.
    fitted = directions(CHEMICAL.to_numpy(), SENSORY.to_numpy(), 4)
    assert 100 * fitted.x_explained == pytest.approx([57.7898, 21.2985, 16.4742, 2.6894], abs=6e-5)
    yellow = SENSORY["yellow"].to_numpy()
    place = list(SENSORY.columns).index("yellow")
    residual = yellow - fitted.predict(CHEMICAL.to_numpy(), 2)[:, place]
    r2 = 1 - (residual**2).sum() / ((yellow - yellow.mean()) ** 2).sum()
    assert r2 == pytest.approx(0.505303, abs=1e-6)


def test_against_published_gasoline_manual():
    data = pd.read_csv(REFERENCE / "pls_gasoline.csv", comment="#")
    X, y = data.iloc[:, 1:].to_numpy(), data[["octane"]].to_numpy()
    wrong = left_out(X, y, 9, np.arange(50), scale=False)[:, :, 0] - y[:, 0]
    rmsep = np.sqrt((wrong**2).mean(axis=1))
    manual = [1.545, 1.357, 0.2966, 0.2524, 0.2476, 0.2398, 0.2319, 0.2386, 0.2316, 0.2449]
    assert rmsep == pytest.approx(manual, abs=6e-4)
    assert rmsep == pytest.approx(reference("gasoline", "rmsep"), rel=1e-6)


def test_all_components_are_least_squares():
    rng = np.random.default_rng(3)
    X, y = rng.normal(size=(20, 4)), rng.normal(size=(20, 1))
    fitted = directions(X, y, 4)
    least = np.linalg.lstsq(np.column_stack([np.ones(20), X]), y, rcond=None)[0][1:]
    assert fitted.coefficients[4] == pytest.approx(least, abs=1e-9)


def test_importance_has_mean_square_one():
    result = pls(CHEMICAL, SENSORY["brown"], shuffles=9)
    assert (result.coefficients["importance"] ** 2).mean() == pytest.approx(1)


def test_finds_what_was_put_in():
    rng = np.random.default_rng(5)
    hidden = rng.normal(size=24)
    X = pd.DataFrame({f"m{j}": hidden + 0.3 * rng.normal(size=24) for j in range(10)})
    found = pls(X, 2 * hidden + 0.3 * rng.normal(size=24), seed=2)
    assert found.components >= 1
    assert found.p <= 0.01
    assert "foretells" in found.text() or "foretell" in found.text()


def test_answers_fitted_at_one_go_are_as_if_fitted_alone():
    """Shuffled answers are foretold many at one go, by a way that leaves X as it is."""
    rng = np.random.default_rng(6)
    one = rng.normal(size=(12, 1))
    for X in (rng.normal(size=(12, 5)), rng.normal(size=(12, 20)), one * [1, 2, 3]):
        Y = X[:, :1] + rng.normal(size=(12, 4))
        groups = np.arange(12) // 2
        alone = [left_out(X, Y[:, [place]], 3, groups) for place in range(4)]
        assert each_left_out(X, Y, 3, groups) == pytest.approx(np.concatenate(alone, 2), abs=1e-9)


@pytest.mark.parametrize(("p", "key"), [(0.05, "pls.foretells"), (0.051, "pls.nothing")])
def test_foretelling_is_told_at_five_per_cent(p: float, key: str):
    found = replace(pls(CHEMICAL, SENSORY["brown"], shuffles=9), p=p)
    assert found.components
    assert [one.key for one in found.sentences()] == [key]
    assert [one.key for one in replace(found, p=0.01, components=0).sentences()] == ["pls.nothing"]


def test_finds_nothing_in_noise():
    # 20 sets of noise at 5 %: more than 4 claims have a chance of 0.0026.
    claims = 0
    for seed in range(20):
        rng = np.random.default_rng(seed)
        X = pd.DataFrame(rng.normal(size=(15, 8)))
        result = pls(X, rng.normal(size=15), components=3, shuffles=39, seed=seed)
        claims += result.p <= 0.05
    assert claims <= 4


def test_scaling_and_shifting_a_measurement_changes_nothing():
    one = pls(CHEMICAL, SENSORY["syrup"], shuffles=19)
    other = pls(CHEMICAL * [10, 1, 0.1, 3, 2] + 5, SENSORY["syrup"], shuffles=19)
    assert one.curve["rmsep"].to_numpy() == pytest.approx(other.curve["rmsep"].to_numpy())
    assert one.p == other.p


def test_groups_are_left_out_together():
    rng = np.random.default_rng(9)
    batch = np.repeat(np.arange(8), 2)
    level = rng.normal(size=8)[batch]
    X = pd.DataFrame({"a": level, "b": rng.normal(size=8)[batch]})
    # Twins foretell each other when only one of them is left out; they must not.
    y = rng.normal(size=8)[batch]
    together = pls(X, y, groups=batch, shuffles=19)
    assert together.groups == 8
    assert together.curve["q2"].iloc[1:].max() < 0.3


def test_refusals():
    with pytest.raises(NotEstimable, match="at least 6"):
        pls(CHEMICAL.head(5), SENSORY["yellow"].head(5))
    assert pls(CHEMICAL.head(6), SENSORY["yellow"].head(6), shuffles=9).groups == 6
    with pytest.raises(NotEstimable, match="vary"):
        pls(CHEMICAL.assign(constant=1.0), SENSORY["yellow"])
    with pytest.raises(OptionError):
        directions(CHEMICAL.to_numpy(), SENSORY.to_numpy(), 6)
