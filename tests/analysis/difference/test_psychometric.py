"""Psychometric functions against quadrature, printed tables and simulation."""

from __future__ import annotations

from itertools import combinations
from math import isinf, isnan
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from kikichoko.analysis.core import OptionError
from kikichoko.analysis.difference.psychometric import TESTS, choice, named

REFERENCE = Path(__file__).parents[2] / "reference"


def test_against_published_forms():
    # Ennis (1993), ASTM E2262; values by independent quadrature to six decimals
    table = pd.read_csv(REFERENCE / "psychometric.csv", comment="#")
    for row in table.to_dict("records"):
        for name in table.columns[1:]:
            assert named(name).p_correct(row["d_prime"]) == pytest.approx(row[name], abs=1e-6)


def test_d_prime_and_b_against_bi_ennis_omahony():
    table = pd.read_csv(REFERENCE / "d_prime_and_b.csv", comment="#")
    assert len(table) == 54
    for row in table.itertuples():
        test = named(row.test)
        d = test.d_prime(row.p_correct)
        assert d == pytest.approx(row.d_prime, abs=6e-5)
        assert test.b_value(d) == pytest.approx(row.b, abs=6e-4)


@pytest.mark.parametrize(
    ("d", "p"), [(0, 0.1), (0.5, 0.1294), (1, 0.2123), (1.5, 0.3360), (2, 0.4762), (3, 0.7312)]
)
def test_two_out_of_five_against_simulation(d: float, p: float):
    # 2e6 simulated presentations, made apart from this project; standard error below 0.0004
    assert named("two-out-of-five").p_correct(d) == pytest.approx(p, abs=4 * 0.0004)


def decide(test: str, x: np.ndarray) -> np.ndarray:
    """Tell, presentation by presentation, whether the rule finds the odd cups (the last ones)."""
    cups = x.shape[1]
    if test == "triangle":  # the cup left over by the closest pair
        far = [abs(x[:, a] - x[:, b]) for a, b in ((0, 1), (0, 2), (1, 2))]
        return np.argmin(far, axis=0) == 0
    if test == "duo-trio":  # cup 0 is the reference, 1 its like
        return abs(x[:, 1] - x[:, 0]) < abs(x[:, 2] - x[:, 0])
    if test in {"paired", "3-afc"}:
        return np.argmax(x, axis=1) == cups - 1
    if test == "tetrad-specified":
        return x[:, :2].max(axis=1) < x[:, 2:].min(axis=1)
    alike = 2 if test == "tetrad" else 3
    best, best_split = np.full(len(x), np.inf), np.zeros(len(x), dtype=int)
    splits = [frozenset(s) for s in combinations(range(cups), alike)]
    for number, group in enumerate(splits):
        a, b = list(group), [i for i in range(cups) if i not in group]
        within = len(a) * x[:, a].var(axis=1) + len(b) * x[:, b].var(axis=1)
        closer = within < best
        best, best_split = np.where(closer, within, best), np.where(closer, number, best_split)
    right = {splits.index(frozenset(range(alike)))}
    if test == "tetrad":
        right.add(splits.index(frozenset({2, 3})))
    return np.isin(best_split, list(right))


@pytest.mark.parametrize("name", list(TESTS))
@pytest.mark.parametrize("d", [0.8, 2.1])
def test_by_simulated_percepts(name: str, d: float):
    rng = np.random.default_rng(20)
    n, odd = 200_000, {"tetrad": 2, "tetrad-specified": 2, "two-out-of-five": 2}.get(name, 1)
    x = rng.normal(size=(n, TESTS[name].cups))
    x[:, -odd:] += d
    expected = TESTS[name].p_correct(d)
    # 4.5 Monte-Carlo standard errors
    assert decide(name, x).mean() == pytest.approx(expected, abs=4.5 * (expected / n) ** 0.5)


@pytest.mark.parametrize("name", list(TESTS))
def test_chance_is_what_counting_orders_gives(name: str):
    cups = list(range(TESTS[name].cups))
    ways = {
        "triangle": 1 / len(cups),
        "duo-trio": 1 / 2,
        "paired": 1 / 2,
        "3-afc": 1 / 3,
        "tetrad": 1 / (len(list(combinations(cups, 2))) / 2),
        "tetrad-specified": 1 / len(list(combinations(cups, 2))),
        "two-out-of-five": 1 / len(list(combinations(cups, 2))),
    }
    assert TESTS[name].chance == pytest.approx(ways[name])
    assert TESTS[name].p_correct(0) == pytest.approx(ways[name], abs=1e-9)


@settings(deadline=None)
@given(st.sampled_from(list(TESTS)), st.floats(0.05, 5))
def test_put_back(name: str, d: float):
    assert TESTS[name].d_prime(TESTS[name].p_correct(d)) == pytest.approx(d, abs=1e-6)


@pytest.mark.parametrize("name", list(TESTS))
def test_ends(name: str):
    test = TESTS[name]
    assert test.d_prime(test.chance) == 0
    assert test.d_prime(0) == 0
    assert isinf(test.d_prime(1))
    assert test.p_correct(10) > 0.9999
    assert test.p_correct(np.inf) == 1
    p = [test.p_correct(d) for d in np.linspace(0, 9, 50)]
    assert np.all(np.diff(p) > -1e-12)
    assert not isnan(test.b_value(0))


def test_more_cups_of_a_forced_choice():
    # by enumeration of ranks: without a difference each of m is strongest as often
    assert choice(0, 4) == pytest.approx(1 / 4)
    assert choice(1, 2) == pytest.approx(TESTS["paired"].p_correct(1), abs=1e-9)


def test_refusals():
    with pytest.raises(OptionError, match="triangle"):
        named("square")
    with pytest.raises(OptionError, match="-1"):
        TESTS["triangle"].p_correct(-1)
    with pytest.raises(OptionError, match="between 0 and 1"):
        TESTS["triangle"].d_prime(70)
