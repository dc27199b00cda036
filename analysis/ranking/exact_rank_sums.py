"""Exact distributions of rank sums: every order of every assessor is equally likely.

Ranks are doubled, so that the mean ranks of ties are whole numbers too.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import permutations
from math import factorial, prod

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]
_MOST_STEPS = 6_000_000
_ALL_WAYS = 300_000
_MOST_SAMPLES_EXACT = 8
DRAWS = 9999


@dataclass(frozen=True, slots=True)
class RankSums:
    """Doubled rank sums, sorted within a state because samples are exchangeable.

    Attributes
    ----------
    states : integer array, shape (states, samples)
    mass : array, shape (states,)
        Probability of each; for a random sample of orders, 1 / draws each.
    draws : int
        0 when exact, else the number of random orders.
    """

    states: Whole
    mass: Floats
    draws: int

    def tail(self, value: Whole, observed: int) -> float:
        """Return P(value >= observed); from draws, the observed order counts as one more."""
        extreme = float(self.mass[value >= observed].sum())
        if self.draws:
            return (extreme * self.draws + 1) / (self.draws + 1)
        return min(1.0, extreme)

    @property
    def squares(self) -> Whole:
        """Sum of squared rank sums of each state, which orders states as Friedman's F does."""
        squares: Whole = (self.states**2).sum(axis=1)
        return squares

    @property
    def ranges(self) -> Whole:
        """Largest less smallest rank sum of each state."""
        return self.states[:, -1] - self.states[:, 0]


def rank_sums(rows: Sequence[Sequence[int]], *, seed: int) -> RankSums:
    """Return the distribution of the rank sums of samples that do not differ.

    Exact where the states can be carried along, else from random orders.

    Parameters
    ----------
    rows : sequence of sequence of int
        Doubled ranks of each assessor.
    seed : int
        For the random orders, if they are needed.
    """
    exact = _convolved(rows)
    if exact is not None:
        return exact
    rng = np.random.default_rng(seed)
    given = np.array(rows, dtype=np.int64)
    sums = np.zeros((DRAWS, given.shape[1]), dtype=np.int64)
    for row in given:
        sums += rng.permuted(np.tile(row, (DRAWS, 1)), axis=1)
    return RankSums(np.sort(sums, axis=1), np.full(DRAWS, 1 / DRAWS), DRAWS)


def _convolved(rows: Sequence[Sequence[int]]) -> RankSums | None:
    """Add assessor by assessor, keeping one state for all orders of the same sums."""
    k = len(rows[0])
    if factorial(k) > 1000:
        return None
    states: Whole = np.sort(np.array([rows[0]], dtype=np.int64), axis=1)
    mass: Floats = np.ones(1)
    base = np.array([(2 * k * len(rows) + 1) ** i for i in range(k)], dtype=np.int64)
    for row in rows[1:]:
        orders: Whole = np.array(sorted(set(permutations(row))), dtype=np.int64)
        if len(states) * len(orders) > _MOST_STEPS:
            return None
        sums = np.sort((states[:, None, :] + orders[None]).reshape(-1, k), axis=1)
        weight = np.repeat(mass, len(orders)) / len(orders)
        _, first, place = np.unique(sums @ base, return_index=True, return_inverse=True)
        states, mass = sums[first], np.bincount(place, weight).astype(np.float64)
    return RankSums(states, mass, 0)


def trend_tail(rows: Sequence[Sequence[int]], observed: int) -> float | None:
    """Return P(sum of place times doubled rank >= observed); None beyond 8 samples.

    Parameters
    ----------
    rows : sequence of sequence of int
        Doubled ranks of each assessor, samples in their expected order.
    observed : int
        The doubled statistic.
    """
    if len(rows[0]) > _MOST_SAMPLES_EXACT:
        return None
    mass, low = np.ones(1), 0
    for row in rows:
        spread, start = _one_trend(tuple(sorted(row)))
        mass, low = np.convolve(mass, spread), low + start
    return float(min(1.0, mass[max(0, observed - low) :].sum()))


def _one_trend(row: tuple[int, ...]) -> tuple[Floats, int]:
    """Return the distribution of one assessor's part, and its least value."""
    counts: dict[int, dict[int, int]] = {0: {0: 1}}
    places = range(1, len(row) + 1)
    # fill the places one after the other; a bit for each rank that is used
    for place in places:
        following: dict[int, dict[int, int]] = {}
        for used, sums in counts.items():
            for i, rank in enumerate(row):
                if used & (1 << i):
                    continue
                target = following.setdefault(used | (1 << i), {})
                for value, ways in sums.items():
                    new = value + place * rank
                    target[new] = target.get(new, 0) + ways
        counts = following
    ((_, sums),) = counts.items()
    low, high = min(sums), max(sums)
    spread = np.zeros(high - low + 1)
    for value, ways in sums.items():
        spread[value - low] = ways
    return spread / spread.sum(), low


def block_sums(
    blocks: Sequence[tuple[Sequence[int], Floats]], k: int, *, seed: int
) -> tuple[Floats, int]:
    """Return weighted rank sums over all orders within incomplete blocks.

    Parameters
    ----------
    blocks : sequence of (columns, weighted ranks)
        Which samples a block holds, and what each of its ranks counts.
    k : int
        Number of samples.
    seed : int
        For random orders, if there are more than 300,000 ways.

    Returns
    -------
    array, shape (ways, k), and int
        The sums, and 0 if these are all ways, else the number of draws.
    """
    ways = prod(factorial(len(columns)) for columns, _ in blocks)
    if ways <= _ALL_WAYS:
        sums = np.zeros((1, k))
        for columns, weights in blocks:
            orders = np.zeros((factorial(len(columns)), k))
            orders[:, list(columns)] = np.array(list(permutations(weights)))
            sums = (sums[:, None, :] + orders[None]).reshape(-1, k)
        return sums, 0
    rng = np.random.default_rng(seed)
    sums = np.zeros((DRAWS, k))
    for columns, weights in blocks:
        sums[:, list(columns)] += rng.permuted(np.tile(weights, (DRAWS, 1)), axis=1)
    return sums, DRAWS
