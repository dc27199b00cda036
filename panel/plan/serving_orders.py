"""Serving orders balanced for position and first-order carry-over.

Williams, E. J. (1949), Aust. J. Sci. Res. A 2:149–168: with t samples, t
orders (2 t if t is odd) in which each sample stands once (twice) at each
place and follows each other sample once (twice). When the panel is no
multiple of that, `nearly_balanced` looks for orders whose counts are only the
floor and the ceiling of their mean.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise, permutations
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Orders = NDArray[np.int64]


def williams(t: int) -> Orders:
    """Return Williams orders of `t` samples.

    Parameters
    ----------
    t : int
        Number of samples, at least 1.

    Returns
    -------
    ndarray of int, shape (t, t) if t is even, else (2 t, t)
        Each row an order of the samples 0 … t−1.

    Examples
    --------
    >>> williams(4).tolist()
    [[0, 1, 3, 2], [1, 2, 0, 3], [2, 3, 1, 0], [3, 0, 2, 1]]
    """
    import numpy as np

    steps = range(1, t)
    first = [0, *((step + 1) // 2 if step % 2 else t - step // 2 for step in steps)]
    square = (np.array(first)[None, :] + np.arange(t)[:, None]) % t
    if t % 2 == 0 or t == 1:
        return square
    return np.concatenate([square, square[:, ::-1]])


@dataclass(frozen=True, slots=True)
class Balance:
    """How well orders are balanced.

    Attributes
    ----------
    position_spread : int
        Largest minus smallest count of a sample at a place.
    pair_spread : int
        Largest minus smallest count of an ordered pair served one after the other.
    pair_mean : float
        Mean count of an ordered pair.
    exact : bool
        Whether all counts are equal.
    nearly : bool
        Whether all counts are the floor or the ceiling of their mean.
    """

    position_spread: int
    pair_spread: int
    pair_mean: float
    exact: bool
    nearly: bool


def counts(orders: Orders) -> tuple[Orders, Orders]:
    """Count samples at places (t × t) and ordered pairs (t × t, diagonal 0)."""
    import numpy as np

    t = orders.shape[1]
    places = np.zeros((t, t), dtype=int)
    pairs = np.zeros((t, t), dtype=int)
    np.add.at(places, (orders, np.broadcast_to(np.arange(t), orders.shape)), 1)
    np.add.at(pairs, (orders[:, :-1], orders[:, 1:]), 1)
    return places, pairs


def balance(orders: Orders) -> Balance:
    """Measure the balance of orders for position and first-order carry-over."""
    import numpy as np

    n, t = orders.shape
    places, pairs = counts(orders)
    apart = pairs[~np.eye(t, dtype=bool)] if t > 1 else np.zeros(1, dtype=int)
    place_spread, pair_spread = int(np.ptp(places)), int(np.ptp(apart))
    return Balance(
        position_spread=place_spread,
        pair_spread=pair_spread,
        pair_mean=n / t if t > 1 else 0.0,
        exact=place_spread == 0 and pair_spread == 0,
        nearly=place_spread <= 1 and pair_spread <= 1,
    )


def nearly_balanced(t: int, blocks: list[int], seed: int) -> Orders:
    """Return orders of `t` samples, balanced as far as the numbers allow.

    An even number of samples needs no search: any run of Williams' orders will
    do. For three or five samples an integer programme chooses among all
    orders; for seven and more, places are swapped within orders, now and then
    to the worse (simulated annealing), until no count misses its mean.

    Parameters
    ----------
    t : int
        Number of samples.
    blocks : list of int
        Number of orders in each block (for example assessors per replicate);
        positions are balanced within each block as well as over all.
    seed : int

    Returns
    -------
    ndarray of int, shape (sum of blocks, t)
        Rows in block order. Over all rows, counts of places and of ordered
        pairs are the floor or the ceiling of their mean wherever the search
        finds such orders. For three samples and an odd multiple of three
        orders, or four more than a multiple of six, none exist; then, and
        where the search gives up, near ones are returned (`balance` tells).
    """
    import numpy as np

    rng = np.random.default_rng(seed)
    full = williams(t)
    total = sum(blocks)
    rows = np.concatenate([full] * (total // len(full) + 1))[:total]
    if _cost(rows, blocks):
        tried = [_chosen(t, blocks, rng)] if t <= 5 else []
        if not tried or (t > 3 and _cost(tried[0], [total])):
            tried.append(_swapped(full, total, rng))
        rows = min(tried, key=lambda found: _cost(found, [total]))
        rows = _into_blocks(rows, blocks, rng)
    return rng.permutation(t)[_shuffled(rows, blocks, rng)]


def _chosen(t: int, blocks: list[int], rng: np.random.Generator) -> Orders:
    """Choose orders for each block so that as few counts as possible miss their mean."""
    import numpy as np
    from scipy.optimize import Bounds, LinearConstraint, milp

    orders = rng.permutation(np.array(list(permutations(range(t)))))
    n, total = len(orders), sum(blocks)
    places = np.zeros((n, t * t))
    pairs = np.zeros((n, t * t))
    for row, order in enumerate(orders):
        places[row, order * t + np.arange(t)] = 1
        pairs[row, order[:-1] * t + order[1:]] = 1
    pairs = pairs[:, ~np.eye(t, dtype=bool).ravel()]
    every = list(range(len(blocks)))
    wanted = [(places, every, total / t, 100.0), (pairs, every, total / t, 10.0)]
    wanted += [(places, [block], size / t, 1.0) for block, size in enumerate(blocks)]
    rows, low, high, price = [], [], [], []
    for table, over, mean, weight in wanted:
        part = np.zeros((table.shape[1], n * len(blocks)))
        for block in over:
            part[:, block * n : (block + 1) * n] = table.T
        rows.append(part)
        low += [np.floor(mean + 1e-9)] * len(part)
        high += [np.ceil(mean - 1e-9)] * len(part)
        price += [weight] * len(part)
    counted = np.concatenate(rows)
    slack = np.eye(len(counted))
    sizes = np.zeros((len(blocks), n * len(blocks)))
    for block in range(len(blocks)):
        sizes[block, block * n : (block + 1) * n] = 1
    none = np.zeros((len(blocks), 2 * len(counted)))
    costs = np.concatenate([np.zeros(n * len(blocks)), price, price])
    found = milp(
        costs,
        integrality=np.concatenate([np.ones(n * len(blocks)), np.zeros(2 * len(counted))]),
        bounds=Bounds(0, np.inf),
        constraints=[
            LinearConstraint(np.hstack([counted, slack, -slack]), low, high),
            LinearConstraint(np.hstack([sizes, none]), blocks, blocks),
        ],
        options={"node_limit": 200},
    )
    if found.x is None:
        return np.concatenate([williams(t)] * (total // t + 1))[:total]
    taken = np.round(found.x[: n * len(blocks)]).astype(int).reshape(len(blocks), n)
    return np.concatenate([np.repeat(orders, block, axis=0) for block in taken])


def _shuffled(rows: Orders, blocks: list[int], rng: np.random.Generator) -> Orders:
    """Deal the orders of each block out by lot."""
    import numpy as np

    parts = np.split(rows, np.cumsum(blocks)[:-1])
    return np.concatenate([part[rng.permutation(len(part))] for part in parts])


def _excess(counted: Orders, mean: float) -> float:
    """Sum how far counts lie outside the floor and the ceiling of their mean."""
    import numpy as np

    below, above = np.floor(mean + 1e-9), np.ceil(mean - 1e-9)
    outside = np.maximum(below - counted, 0) + np.maximum(counted - above, 0)
    return float(outside.sum())


def _cost(rows: Orders, blocks: list[int]) -> float:
    """Add up the excess of places in each block and over all, and of ordered pairs."""
    import numpy as np

    n, t = rows.shape
    if t == 1:
        return 0.0
    places, pairs = counts(rows)
    cost = 2 * _excess(places, n / t) + 2 * _excess(pairs[~np.eye(t, dtype=bool)], n / t)
    if len(blocks) > 1:
        for part in np.split(rows, np.cumsum(blocks)[:-1]):
            cost += _excess(counts(part)[0], len(part) / t)
    return cost


def _swapped(full: Orders, total: int, rng: np.random.Generator) -> Orders:
    """Complete whole sets of Williams' orders by as many further orders as are needed.

    Whole sets are exact, so only the further orders have to be balanced: places
    are swapped within them until no count misses its mean, or patience ends.
    """
    import numpy as np

    t = full.shape[1]
    n = total % len(full)
    sets = [full] * (total // len(full))
    mean = n / t
    low, high = int(np.floor(mean + 1e-9)), int(np.ceil(mean - 1e-9))
    orders = [list(map(int, row)) for row in full[rng.permutation(len(full))[:n]]]
    counted: dict[tuple[bool, int, int], int] = {}

    def keys(order: list[int]) -> list[tuple[bool, int, int]]:
        places = [(True, sample, place) for place, sample in enumerate(order)]
        return places + [(False, one, two) for one, two in pairwise(order)]

    def miss(touched: set[tuple[bool, int, int]]) -> int:
        return sum(
            (1 + key[0]) * max(low - counted.get(key, 0), 0, counted.get(key, 0) - high)
            for key in touched
        )

    def swap(order: list[int], one: int, two: int) -> int:
        old = keys(order)
        order[one], order[two] = order[two], order[one]
        new = keys(order)
        touched = {*old, *new}
        before = miss(touched)
        for key in old:
            counted[key] -= 1
        for key in new:
            counted[key] = counted.get(key, 0) + 1
        return miss(touched) - before

    for order in orders:
        for key in keys(order):
            counted[key] = counted.get(key, 0) + 1
    everything = {(True, i, j) for i in range(t) for j in range(t)}
    everything |= {(False, i, j) for i in range(t) for j in range(t) if i != j}
    cost = miss(everything)
    best, best_cost, heat = np.array(orders), cost, 0.8
    for _ in range(60_000):
        if best_cost == 0:
            break
        order = orders[rng.integers(n)]
        one, two = (int(place) for place in rng.choice(t, 2, replace=False))
        change = swap(order, one, two)
        if change > 0 and rng.random() >= np.exp(-change / heat):
            swap(order, one, two)
            continue
        cost += change
        if cost < best_cost:
            best, best_cost = np.array(orders), cost
        heat = max(heat * 0.9999, 0.12)
    return np.concatenate([*sets, best])


def _into_blocks(rows: Orders, blocks: list[int], rng: np.random.Generator) -> Orders:
    """Deal orders into blocks so that places are balanced within each block as well."""
    best, cost = rows, _cost(rows, blocks)
    if len(blocks) == 1:
        return best
    floor = _cost(rows, [len(rows)])
    for _ in range(2_000):
        if cost <= floor:
            break
        one, two = rng.choice(len(rows), 2, replace=False)
        dealt = best.copy()
        dealt[[one, two]] = dealt[[two, one]]
        if (now := _cost(dealt, blocks)) <= cost:
            best, cost = dealt, now
    return best
