"""Exact moments of RV and single wines: FactoMineR's published values, and enumeration.

The wine data (GPL) are not kept. What the moments need of a section, sums over patterns of
sameness, stands in tests/reference/wine_rv_sums.csv; that such sums are right is held by
going through all orders of small tables. Two wines' standardised values are copied by hand.
"""

from __future__ import annotations

import math
from itertools import permutations, product
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.maps import rv_coefficient, rv_test
from kikichoko.analysis.maps.principal_components import components
from kikichoko.analysis.maps.rv_permutation_moments import central, pattern_sums, patterns
from scipy.stats import pearson3, skew

REFERENCE = Path(__file__).parents[2] / "reference"


def wine_sums(section: str) -> dict[int, dict[tuple[int, ...], float]]:
    table = pd.read_csv(REFERENCE / "wine_rv_sums.csv", comment="#", dtype={"pattern": str})
    sums: dict[int, dict[tuple[int, ...], float]] = {1: {}, 2: {}, 3: {}}
    for row in table[table["section"] == section].itertuples():
        sums[len(row.pattern) // 2][tuple(map(int, row.pattern))] = row.sum
    return sums


# RV, and of all orders: mean, variance, standardised value, Pearson-III p.
MOMENTS = {
    ("vis", "gust"): (0.749324, 0.0795527, 0.00442740, 10.0659, 4.146e-05),
    ("olf", "olfag"): (0.706763, 0.1597817, 0.00341921, 9.35427, 2.221e-07),
}


@pytest.mark.parametrize(("first", "second"), MOMENTS)
def test_against_factominer(first, second):
    """coeffRV of FactoMineR 2.7, 21 Loire wines; it uses Kazi-Aoual's closed forms."""
    rv, mean, variance, standardised, p = MOMENTS[first, second]
    found, sd, skewness = central(wine_sums(first), wine_sums(second), 21)
    assert found == pytest.approx(mean, abs=1e-7)
    assert sd**2 == pytest.approx(variance, abs=1e-8)
    assert (rv - found) / sd == pytest.approx(standardised, abs=2e-5)
    assert pearson3.sf((rv - found) / sd, skewness) == pytest.approx(p, rel=5e-4)


@pytest.mark.parametrize("n", [4, 5, 6])
def test_by_going_through_all_orders(n):
    generator = np.random.default_rng(n)
    first, second = generator.gamma(1, size=(n, 3)), generator.gamma(1, size=(n, 2))
    each = [rv_coefficient(first, second[list(order)]) for order in permutations(range(n))]
    found = rv_test(first, second)
    assert found.expected == pytest.approx(np.mean(each), abs=1e-12)
    assert found.sd == pytest.approx(np.std(each), abs=1e-12)
    assert found.skewness == pytest.approx(skew(each), abs=1e-9)


def test_pattern_sums_by_plain_loops():
    table = np.random.default_rng(2).normal(size=(4, 2))
    table -= table.mean(axis=0)
    products = table @ table.T
    sums = pattern_sums(products, 2)
    for pattern in patterns(4):
        slow = math.fsum(
            products[at[pattern[0]], at[pattern[1]]] * products[at[pattern[2]], at[pattern[3]]]
            for at in product(range(4), repeat=max(pattern) + 1)
        )
        assert sums.get(pattern, 0.0) == pytest.approx(slow, abs=1e-12), pattern


def test_patterns_are_counted_by_bell():
    assert [len(patterns(length)) for length in (1, 2, 4, 6)] == [1, 2, 15, 203]


# Standardised values (divisor n) of two wines, from the table as printed to three decimals.
WINES = {
    "2EL": [
        -0.131490, -0.228030, -0.000243, 1.591331, -0.134579, 0.677847, 0.536452, 0.324863,
        0.060115, 0.324568, 0.175057, 1.073029, -1.680172, 0.222944, 0.722688, 0.249504,
        -0.082489, 0.442250, -0.647155, -1.188684, -0.058764, -1.473270, 0.372576, 0.140496,
        -0.780091, -0.849736, -0.011480,
    ],
    "1CHA": [
        -0.520902, -1.119980, -1.728249, 1.591331, -1.331743, -1.371678, -1.431319, -1.363274,
        -0.128991, -1.090058, -1.327792, 1.888725, -2.181741, 0.222944, -1.083712, -0.944783,
        -0.729479, -0.446265, -0.402738, -1.188684, -1.360490, -0.530541, -0.625459, -0.431272,
        -0.780091, -0.750722, -0.426422,
    ],
}  # fmt: skip


def wine_axes() -> np.ndarray:
    """Return the first two axes of any table with the correlations of the wine data."""
    r = np.eye(27)
    given = pd.read_csv(REFERENCE / "wine_correlations.csv", comment="#")
    r[given["row"] - 1, given["column"] - 1] = r[given["column"] - 1, given["row"] - 1] = given["r"]
    values, vectors = np.linalg.eigh(r)
    kept = values > 1e-9
    centred = np.linalg.qr(np.column_stack([np.ones(21), np.eye(21)[:, :20]]))[0][:, 1:]
    table = centred[:, : kept.sum()] @ (vectors[:, kept] * np.sqrt(values[kept])).T
    return components(table).axes[:, :2]


@pytest.mark.parametrize(
    ("wine", "place"), [("2EL", [0.134223, -1.725774]), ("1CHA", [-3.701657, -2.673946])]
)
def test_single_wines_against_factominer(wine, place):
    """PCA of FactoMineR 2.7, standardised, first two dimensions; signs are arbitrary."""
    axes = wine_axes()
    signs = np.sign(np.array(WINES["1CHA"]) @ axes * [-3.701657, -2.673946])
    np.testing.assert_allclose(np.array(WINES[wine]) @ axes * signs, place, atol=5e-6)
