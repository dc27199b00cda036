"""Which pairs of bottles differ, by closed testing over all ways in which bottles may be alike.

A pair may be called different only when every way of being alike that joins
the two is refused. A way of being alike is a partition of the bottles into
groups; for scales it is judged by the largest range within its groups, for
words by how much each group's shares vary (Cochran's Q within the group), and
for scales of three bottles by F: over all three, then t for each pair (Fisher's
least significant difference, which is closed for three and for no more). The
pairs that were already refused rule partitions out, so that later pairs need
less.
"""

from __future__ import annotations

from functools import cache, lru_cache
from itertools import combinations

import numpy as np
import numpy.typing as npt
from scipy.special import chdtrc, chdtri, fdtrc, fdtri

from ..core.ratings_matrix import Floats
from .studentized_range import groups_tail, integer_partitions, set_partitions

Flags = npt.NDArray[np.bool_]
LISTED = 7
"""Up to so many bottles all partitions are gone through; Bell's number for 7 is 877."""
THREE = 3
"""Scales of so many bottles are judged by F; of more, by the range, which then finds more pairs."""


@cache
def pairs_of(n: int) -> npt.NDArray[np.int_]:
    """Return the pairs of `n` bottles, shape (pairs, 2)."""
    return np.array(list(combinations(range(n), 2)), dtype=int).reshape(-1, 2)


@cache
def _listed(n: int) -> tuple[Flags, tuple[tuple[int, ...], ...], npt.NDArray[np.int_]]:
    """Return which pairs each partition joins, the kinds of sizes, and each partition's kind."""
    pairs = pairs_of(n)
    joins, kinds = [], []
    for partition in set_partitions(n):
        place = np.empty(n, dtype=int)
        for number, group in enumerate(partition):
            place[list(group)] = number
        joins.append(place[pairs[:, 0]] == place[pairs[:, 1]])
        kinds.append(tuple(sorted((len(group) for group in partition), reverse=True)))
    known = tuple(sorted(set(kinds)))
    return np.array(joins), known, np.array([known.index(kind) for kind in kinds])


class ClosedPairs:
    """The pairs of one attribute on their way from open to refused.

    Parameters
    ----------
    t : ndarray, shape (pairs,)
        Sizes of the pairs' t statistics, in the order of `pairs_of`.
    bottles : int
        Number of bottles.
    df : float
        Degrees of freedom of their common error; may be inf.
    """

    def __init__(self, t: Floats, bottles: int, df: float) -> None:
        self.bottles = bottles
        self.df = df
        self.range = np.abs(t) * np.sqrt(2)
        self.open = np.ones(len(t), dtype=bool)
        self._tails: dict[tuple[int, ...], Floats] = {}

    def p(self) -> Floats:
        """Return each open pair's p value: the largest over the partitions that join it.

        A pair that is refused already has p = nan.
        """
        found = np.full(len(self.open), np.nan)
        left = np.flatnonzero(self.open)
        if self.open.all():  # all bottles alike is the worst case of every pair
            found = self._tail((self.bottles,)).copy()
        elif self.bottles <= LISTED:
            joins, kinds, kind_of = _listed(self.bottles)
            able = ~joins[:, ~self.open].any(axis=1)
            worst = np.zeros(len(left))
            for number in np.unique(kind_of[able]):
                tail = self._tail(kinds[number])[left]
                joined = joins[able & (kind_of == number)][:, left].any(axis=0)
                worst = np.where(joined, np.maximum(worst, tail), worst)
            found[left] = worst
        else:
            largest = self.bottles - self._matched()
            able_sizes = integer_partitions(self.bottles, largest)
            found[left] = np.max([self._tail(sizes)[left] for sizes in able_sizes], axis=0)
        return found

    def refuse(self, pair: int) -> None:
        """Take a pair as different from now on."""
        self.open[pair] = False

    def _tail(self, sizes: tuple[int, ...]) -> Floats:
        if sizes not in self._tails:
            self._tails[sizes] = groups_tail(self.range, sizes, self.df)
        return self._tails[sizes]

    def _matched(self) -> int:
        """Count refused pairs without a common bottle: no group can hold both of one."""
        used: set[int] = set()
        for first, second in pairs_of(self.bottles)[~self.open]:
            if first not in used and second not in used:
                used |= {int(first), int(second)}
        return len(used) // 2


def spread_tail(spread: Floats, df_num: int | npt.NDArray[np.int_], df: float) -> Floats:
    """Return the chance that bottles which are alike vary as much.

    Parameters
    ----------
    spread : ndarray
        Weighted sum of squares of their effects over a cell's variance.
    df_num : int or ndarray
        Bottles less 1.
    df : float
        Degrees of freedom of the variance: F; inf: chi square.
    """
    plain = np.maximum(spread, 0.0)  # not below 0 by rounding
    if np.isinf(df):
        return np.asarray(chdtrc(df_num, plain))
    return np.asarray(fdtrc(df_num, df, plain / df_num))


def spread_reached(tail: float, df_num: int, df: float) -> float:
    """Return the spread whose tail is `tail`: the inverse of `spread_tail`.

    Examples
    --------
    >>> round(spread_reached(0.05, 2, 10) / 2, 2)  # F table, 5 %
    4.1
    """
    if np.isinf(df):
        return float(chdtri(df_num, tail))
    return df_num * float(fdtri(df_num, df, 1 - tail))


@cache
def _groups(n: int) -> tuple[tuple[tuple[int, ...], ...], Flags, npt.NDArray[np.int_]]:
    """Return all groups of two bottles or more, which each partition has, and their df."""
    partitions = set_partitions(n)
    groups = tuple(group for size in range(2, n + 1) for group in combinations(range(n), size))
    place = {group: number for number, group in enumerate(groups)}
    has = np.zeros((len(partitions), len(groups)), dtype=bool)
    for row, partition in enumerate(partitions):
        for group in partition:
            if len(group) > 1:
                has[row, place[tuple(sorted(group))]] = True
    return groups, has, np.array([len(group) - 1 for group in groups])


class ClosedSpreads(ClosedPairs):
    """The pairs of one attribute whose groups are judged by how much all of their bottles vary.

    Parameters
    ----------
    t : ndarray, shape (pairs,)
        The pairs' t statistics with their signs, in the order of `pairs_of`.
    pair_variances : ndarray, shape (pairs,)
        Variances of the differences, in any one unit, in the same order.
    bottles : int
        At most `LISTED`.
    df : float
        Degrees of freedom of their common error; inf for words and faults.

    Notes
    -----
    A group of m bottles is judged by `spread_tail` on m - 1 degrees of freedom:
    of words Cochran's Q where every cell is filled, of a pair its t. A partition
    has the smallest p of its groups, adjusted for their number (Sidak).
    """

    def __init__(self, t: Floats, pair_variances: Floats, bottles: int, df: float) -> None:
        super().__init__(t, bottles, df)
        has, df_groups = _groups(bottles)[1:]
        forms = _forms(np.asarray(pair_variances, dtype=float).tobytes(), bottles)
        first, second = pairs_of(bottles).T
        apart = np.zeros((bottles, bottles))
        apart[first, second] = t * np.sqrt(pair_variances)
        effects = (apart - apart.T).mean(axis=1)
        tails = spread_tail(np.einsum("j,gjk,k->g", effects, forms, effects), df_groups, df)
        smallest = np.where(has, tails, 1.0).min(axis=1)
        self._partitions = 1 - (1 - smallest) ** has.sum(axis=1)

    def p(self) -> Floats:
        """Return each open pair's p value: see `ClosedPairs.p`."""
        joins = _listed(self.bottles)[0]
        able = ~joins[:, ~self.open].any(axis=1)
        worst = np.where(joins[able], self._partitions[able, None], 0.0).max(axis=0)
        return np.where(self.open, worst, np.nan)


@lru_cache(maxsize=64)
def _forms(pair_variances: bytes, bottles: int) -> Floats:
    """Return for each group the matrix that makes its spread of the effects."""
    apart = np.zeros((bottles, bottles))
    first, second = pairs_of(bottles).T
    apart[first, second] = apart[second, first] = np.frombuffer(pair_variances)
    groups = _groups(bottles)[0]
    forms = np.zeros((len(groups), bottles, bottles))
    for number, group in enumerate(groups):
        m, at = len(group), np.ix_(group, group)
        centre = np.eye(m) - 1 / m
        forms[number][at] = np.linalg.pinv(-centre @ apart[at] @ centre / 2, hermitian=True)
    return forms
