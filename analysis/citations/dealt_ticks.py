"""What chance does with ticks: every assessor's are dealt out anew over the samples.

Of the sums of squares that the samples' totals then have, the distribution is counted out,
or drawn where it would take too long. It depends on how many ticks each assessor gave alone.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
STEPS = 150_000
"""Ways of dealing to one assessor after another that are counted; beyond, deals are drawn."""
DRAWS = 20_000
_WHOLE = 2.0**53
_KEYS = 2**62


@lru_cache(maxsize=4096)
def squares_dealt(given: tuple[int, ...], k: int) -> tuple[Ints, Floats] | None:
    """Count out the sums of squares of the totals of `k` samples.

    Parameters
    ----------
    given : tuple of int
        Ticks of each assessor, from 1 to ``k - 1``, in ascending order.
    k : int
        Samples.

    Returns
    -------
    squares : ndarray of int
    ways : ndarray of float
        In how many ways each comes about: whole numbers as long as there are fewer than
        2**53 in all, else their shares. None where counting takes more than `STEPS`.
    """
    # The chance of a deal does not depend on which sample holds which total: totals in order.
    totals, ways, steps = np.zeros((1, k), dtype=np.int64), np.ones(1), 0
    for ones in given:
        steps += _steps(totals, ones)
        if steps > STEPS:
            return None
        totals, ways = _dealt(totals, ways, ones)
        if (size := float(ways.sum())) > _WHOLE:
            ways = ways / size
    squares, where = np.unique((totals**2).sum(axis=1), return_inverse=True)
    return squares, np.bincount(where, ways).astype(float)


def _steps(totals: Ints, ones: int) -> int:
    """Count the ways to give `ones` samples one more, equal totals taken together."""
    # Of a run of equal totals the last ones take the ticks. From the last sample down, by
    # ticks given so far: ways in which the sample took one, and in which it did not.
    shape = (len(totals), ones + 1)
    took, passed = np.zeros(shape), np.zeros(shape)
    passed[:, 0] = 1
    for at in reversed(range(totals.shape[1])):
        last = _last_of_run(totals, at)
        free = np.where(last[:, None], took + passed, took)
        passed = took + passed
        took = np.zeros(shape)
        took[:, 1:] = free[:, :-1]
    return int((took + passed)[:, ones].sum())


def _dealt(totals: Ints, ways: Floats, ones: int) -> tuple[Ints, Floats]:
    """Give `ones` samples one more in all ways, and join what comes out the same."""
    k = totals.shape[1]
    rank = np.zeros_like(totals)
    size = np.ones_like(totals)
    for at in reversed(range(k - 1)):
        rank[:, at] = np.where(_last_of_run(totals, at), 0, rank[:, at + 1] + 1)
    for at in range(1, k):
        size[:, at] = np.where(_last_of_run(totals, at - 1), 1, size[:, at - 1] + 1)
    for at in reversed(range(k - 1)):
        size[:, at] = np.where(_last_of_run(totals, at), size[:, at], size[:, at + 1])
    state, left, took = np.arange(len(totals)), np.full(len(totals), ones), np.ones(len(totals))
    given = np.zeros((0, len(totals)), dtype=np.int64)
    before = took
    for at in reversed(range(k)):
        free = (rank[state, at] == 0) | (before == 1)
        with_one = np.flatnonzero(free & (left > 0))
        # Without one here, the samples before this one must be able to take what is left.
        without = np.flatnonzero(left <= at)
        rank_here, size_here = rank[state[with_one], at], size[state[with_one], at]
        times = took[with_one] * (size_here - rank_here) / (rank_here + 1)
        pick = np.concatenate([with_one, without])
        before = np.concatenate([np.ones(with_one.size), np.zeros(without.size)])
        state, took = state[pick], np.concatenate([times, took[without]])
        left = left[pick] - before.astype(np.int64)
        given = np.vstack([before.astype(np.int64), given[:, pick]])
    done = left == 0
    state = state[done]
    return _joined(totals[state] + given[:, done].T, ways[state] * took[done])


def _last_of_run(totals: Ints, at: int) -> npt.NDArray[np.bool_]:
    """Tell where the sample at `at` is the last of those with its total."""
    if at == totals.shape[1] - 1:
        return np.ones(len(totals), dtype=bool)
    last: npt.NDArray[np.bool_] = totals[:, at] != totals[:, at + 1]
    return last


def _joined(totals: Ints, ways: Floats) -> tuple[Ints, Floats]:
    """Add the ways of equal rows."""
    base = int(totals.max()) + 1
    key, range_ = np.zeros(len(totals), dtype=np.int64), 1
    for column in totals.T:
        if range_ > _KEYS // base:
            key = np.unique(key, return_inverse=True)[1]
            range_ = int(key.max()) + 1
        key, range_ = key * base + column, range_ * base
    _, first, where = np.unique(key, return_index=True, return_inverse=True)
    return totals[first], np.bincount(where, ways).astype(float)


def squares_drawn(given: Any, k: int, seed: int) -> Ints:
    """Draw sums of squares of the totals of `k` samples.

    Sample by sample, and all assessors with as many ticks left at once: how many of them
    have one for this sample is binomial.

    Parameters
    ----------
    given : sequence of int
        Ticks of each assessor.
    k : int
        Samples.
    seed : int

    Returns
    -------
    ndarray of int, shape (DRAWS,)
    """
    generator = np.random.default_rng(seed)
    # waiting[:, r] assessors have r ticks left for the samples to come.
    waiting = np.tile(np.bincount(given, minlength=k + 1), (DRAWS, 1))
    squares = np.zeros(DRAWS, dtype=np.int64)
    for to_come in range(k, 0, -1):
        chance = np.arange(to_come + 1) / to_come
        here = generator.binomial(waiting, chance)
        squares += here.sum(axis=1) ** 2
        staying = waiting - here
        waiting = staying[:, :to_come] + here[:, 1:]
    return squares
