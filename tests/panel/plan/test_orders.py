"""Serving orders: published squares, their laws, and enumeration where the numbers are small."""

from __future__ import annotations

from itertools import combinations_with_replacement, pairwise, permutations

import numpy as np
import pytest
from kikichoko.panel.plan import balance, nearly_balanced
from kikichoko.panel.plan.serving_orders import counts, williams


def test_against_published_square():
    # Williams (1949), order 4, first row 1 2 4 3 developed cyclically, as in the handbooks.
    rows = ["".join(str(sample + 1) for sample in row) for row in williams(4)]
    assert rows == ["1243", "2314", "3421", "4132"]


def test_against_published_set_of_three():
    # Williams (1949), order 3: all six orders.
    rows = {"".join(str(sample + 1) for sample in row) for row in williams(3)}
    assert rows == {"123", "231", "312", "321", "132", "213"}


@pytest.mark.parametrize("t", range(2, 13))
def test_each_place_and_each_pair_equally_often(t: int):
    orders = williams(t)
    often = 1 if t % 2 == 0 else 2
    assert orders.shape == (often * t, t)
    places, pairs = counts(orders)
    assert (places == often).all()
    assert (pairs + often * np.eye(t, dtype=int) == often).all()
    assert balance(orders).exact


def by_hand(rows: list[tuple[int, ...]], t: int) -> tuple[int, int]:
    """Count places and followers the slow way; return both spreads."""
    places = [sum(row[p] == s for row in rows) for s in range(t) for p in range(t)]
    pairs = [
        sum(one == a and two == b for row in rows for one, two in pairwise(row))
        for a, b in permutations(range(t), 2)
    ]
    return max(places) - min(places), max(pairs) - min(pairs)


@pytest.mark.parametrize(("t", "n"), [(3, n) for n in range(1, 8)])
def test_three_samples_by_enumeration(t: int, n: int):
    """No choice of n among all six orders is better than what is found."""
    orders = list(permutations(range(t)))
    every = [by_hand(list(rows), t) for rows in combinations_with_replacement(orders, n)]
    best = min(every, key=lambda spreads: (max(spreads[0], 1), max(spreads[1], 1)))
    found = balance(nearly_balanced(t, [n], seed=3))
    assert found.position_spread <= max(best[0], 1)
    assert found.pair_spread <= max(best[1], 1)


@pytest.mark.parametrize(
    ("t", "blocks"),
    [
        (5, [8]),
        (4, [5]),
        (4, [9, 9]),
        (6, [7, 7]),
        (5, [7, 7]),
        (8, [30]),
        (3, [9, 9]),
        (7, [5]),
        (7, [9, 9]),
    ],
)
def test_nearly_balanced_when_the_panel_is_no_multiple(t: int, blocks: list[int]):
    # Eight assessors and five samples is the worked case of MacFie et al. (1989), from memory:
    # mean 1.6 followers a pair, so only 1 and 2 may occur.
    orders = nearly_balanced(t, blocks, seed=1)
    reached = balance(orders)
    assert reached.nearly
    assert reached.pair_mean == pytest.approx(sum(blocks) / t)
    for part in np.split(orders, np.cumsum(blocks)[:-1]):
        assert balance(part).position_spread <= 1
    assert all(sorted(row) == list(range(t)) for row in orders.tolist())


def test_same_seed_same_orders_other_seed_others():
    first, again = nearly_balanced(5, [8], seed=4), nearly_balanced(5, [8], seed=4)
    assert (first == again).all()
    assert (first != nearly_balanced(5, [8], seed=5)).any()


def test_one_and_two_samples():
    assert nearly_balanced(1, [3], seed=1).tolist() == [[0], [0], [0]]
    assert balance(nearly_balanced(2, [4], seed=1)).exact
