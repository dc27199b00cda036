"""Incomplete flights, every pair counted; identities of ISO 29842."""

from __future__ import annotations

import json
from collections import Counter
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from kikichoko.analysis.core import OptionError
from kikichoko.analysis.ranking import block_plan
from kikichoko.analysis.ranking.block_design import balanced_design, efficiency, is_balanced

# v k r b lambda E; Cochran & Cox, Fisher & Yates, ISO 29842
TABLE = """4 2 3 6 1 .6667|4 3 3 4 2 .8889|5 2 4 10 1 .6250|5 3 6 10 3 .8333|5 4 4 5 3 .9375
|6 2 5 15 1 .6000|6 3 5 10 2 .8000|6 4 10 15 6 .9000|6 5 5 6 4 .9600|7 2 6 21 1 .5833
|7 3 3 7 1 .7778|7 4 4 7 2 .8750|7 5 15 21 10 .9333|8 2 7 28 1 .5714|8 3 21 56 6 .7619
|8 4 7 14 3 .8571|8 5 35 56 20 .9143|8 6 21 28 15 .9524|9 3 4 12 1 .7500|9 4 8 18 3 .8438
|9 5 10 18 5 .9000|9 6 8 12 5 .9375|10 3 9 30 2 .7407|10 4 6 15 2 .8333|10 5 9 18 4 .8889
|10 6 9 15 5 .9259|11 5 5 11 2 .8800|11 6 6 11 3 .9167|12 3 11 44 2 .7273|12 4 11 33 3 .8182
|12 6 11 22 5 .9091|13 3 6 26 1 .7222|13 4 4 13 1 .8125|15 7 7 15 3 .9184|16 4 5 20 1 .8000
|21 5 5 21 1 .8400"""
ROWS = [tuple(float(x) for x in row.split()) for row in TABLE.split("|")]


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row[0]:g}-{row[1]:g}")
def test_against_published_table_by_counting_pairs(row):
    v, k, r, b, together, e = (*map(int, row[:5]), row[5])
    assert (v * r, together * (v - 1)) == (b * k, r * (k - 1))
    plan = block_plan(v, k)
    assert len(plan.flights) == b
    samples = Counter(s for flight in plan.flights for s in flight)
    pairs = Counter(p for flight in plan.flights for p in combinations(sorted(flight), 2))
    assert set(samples.values()) == {r}
    assert len(samples) == v
    assert set(pairs.values()) == {together}
    assert len(pairs) == v * (v - 1) // 2
    assert all(len(set(flight)) == k for flight in plan.flights)
    assert plan.balanced
    assert plan.efficiency == pytest.approx(e, abs=6e-5)
    assert plan.efficiency == pytest.approx(plan.best_efficiency)


def test_symmetric_designs_are_youden_squares():
    """With as many flights as samples, each sample stands once at each place."""
    for v, k in ((7, 3), (7, 4), (11, 5), (13, 4), (15, 7), (21, 5), (4, 3)):
        plan = block_plan(v, k)
        for place in range(k):
            assert sorted(flight[place] for flight in plan.flights) == list(range(v))
        assert plan.position_spread == 0


def test_efficiency_by_least_squares():
    """Mean variance of all comparisons from plain normal equations with flight effects."""
    flights = [(0, 1, 2), (1, 2, 3), (0, 3, 4), (2, 3, 4), (0, 1, 4), (1, 3, 4)]
    rows = [(i, s) for i, flight in enumerate(flights) for s in flight]
    x = np.zeros((len(rows), 5 + 6))
    for n, (i, s) in enumerate(rows):
        x[n, s] = x[n, 5 + i] = 1
    inverse = np.linalg.pinv(x.T @ x)
    variances = [
        inverse[a, a] + inverse[b, b] - 2 * inverse[a, b] for a, b in combinations(range(5), 2)
    ]
    expected = (2 / (len(rows) / 5)) / np.mean(variances)
    assert efficiency(5, flights) == pytest.approx(expected)
    assert efficiency(4, [(0, 1), (2, 3)]) == 0


@pytest.mark.parametrize(("v", "k", "b"), [(7, 3, 12), (8, 3, 10), (6, 4, 8), (10, 4, 9)])
def test_other_numbers_of_assessors_are_told(v: int, k: int, b: int):
    plan = block_plan(v, k, b)
    assert len(plan.flights) == b
    assert not plan.balanced
    assert max(plan.replications) - min(plan.replications) <= 1
    assert 0.9 * plan.best_efficiency <= plan.efficiency <= plan.best_efficiency + 1e-9
    assert plan.position_spread <= 2
    assert "not balanced" in plan.text()
    assert str(plan.balanced_from) in plan.text()


def test_multiples_stay_balanced():
    plan = block_plan(7, 3, 21)
    assert plan.balanced
    assert plan.most_pairs == 3
    assert plan.position_spread == 0


def test_designs_that_do_not_exist_are_not_claimed():
    # 15 samples 5 a flight in 21 flights and 22, 7 in 22 satisfy the identities, but no design does
    found = balanced_design(15, 5)
    assert found is None or len(found[1]) != 21
    assert balanced_design(22, 7) is None
    assert not is_balanced(4, [(0, 1), (2, 3)])


@given(st.integers(3, 9), st.data())
@settings(deadline=None, max_examples=25)
def test_laws(v: int, data):
    k = data.draw(st.integers(2, v - 1))
    b = data.draw(st.integers(-(-v // k), 14))
    plan = block_plan(v, k, b)
    assert sum(plan.replications) == b * k
    assert all(sorted(set(flight)) == sorted(flight) for flight in plan.flights)
    assert plan.efficiency <= plan.best_efficiency + 1e-9
    again = block_plan(v, k, b)
    assert again.flights == plan.flights
    json.dumps(plan.to_dict(), allow_nan=False)


def test_refusals():
    with pytest.raises(OptionError, match="fewer than there are"):
        block_plan(4, 4)
    with pytest.raises(OptionError, match="cannot serve 9 samples"):
        block_plan(9, 3, 2)


@pytest.mark.parametrize(
    ("v", "k"),
    [(6, 3), (7, 3), (7, 4), (8, 4), (9, 4), (11, 5), (11, 6), (13, 3), (13, 4), (15, 7), (21, 5)],
)
def test_difference_sets_are_what_they_are_called(v: int, k: int):
    """Every difference of two numbers of a set comes equally often, so none else is looked for."""
    assert balanced_design(v, k)[0] == "difference set"
