"""Tails of the studentized range, quickly, for many values and for bottles in groups.

The tail of one range is tabulated once for each number of bottles and degrees
of freedom and read off by monotone cubic interpolation on log scales; far out
it is continued along its last piece.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache, lru_cache

import numpy as np
import numpy.typing as npt
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq
from scipy.special import ndtr, stdtr

from ..core.ratings_matrix import Floats
from ..mixed_model.joint_distributions import range_below

_POINTS = 90
_SURE = 2e-5
"""Below this tail the quadrature's own error would show; the table is continued."""


@lru_cache(maxsize=512)
def _table(means: int, df: float) -> tuple[PchipInterpolator, float, float, float]:
    """Return log tail by log range; the last point, its log tail and the slope there."""
    far = 12.0 if df > 30 else 400.0
    q = np.geomspace(0.02, far, _POINTS if df > 30 else 2 * _POINTS)
    tail = 1 - range_below(q, means, np.full(q.shape, df))
    kept = tail > _SURE
    tail = np.minimum.accumulate(np.minimum(tail[kept], 1.0))
    x, y = np.log(q[kept]), np.log(tail)
    return (
        PchipInterpolator(x, y),
        float(x[-1]),
        float(y[-1]),
        float((y[-1] - y[-2]) / (x[-1] - x[-2])),
    )


def range_tail(q: npt.ArrayLike, means: int, df: float) -> Floats:
    """Return the chance that the range of `means` equal means reaches `q`.

    Parameters
    ----------
    q : array_like
        Range in standard errors of a mean, not below 0; may be inf.
    means : int
        Number of means, at least 2.
    df : float
        Degrees of freedom of the standard error; may be inf.

    Returns
    -------
    ndarray
        Exact for two means. For more, within 0.1 % of the tail where it is
        above 1e-4; below 2e-5 it is extrapolated.

    Examples
    --------
    >>> float(range_tail(3.877, 3, 10).round(4))
    0.05
    """
    given = np.asarray(q, dtype=float)
    if means == 2:
        t = given / np.sqrt(2)
        return np.asarray(2 * (stdtr(df, -t) if np.isfinite(df) else ndtr(-t)))
    curve, last, lowest, slope = _table(means, df)
    x = np.log(np.clip(given, np.exp(curve.x[0]), 1e300))
    inside = curve(np.minimum(x, last))
    return np.asarray(np.exp(np.where(x > last, lowest + slope * (x - last), inside)))


@lru_cache(maxsize=512)
def range_reached(tail: float, means: int, df: float) -> float:
    """Return the range whose tail is `tail`: the inverse of `range_tail`.

    Examples
    --------
    >>> round(range_reached(0.05, 3, 10), 3)
    3.877
    """
    if float(range_tail(0.0, means, df)) <= tail:
        return 0.0
    high = 4.0
    while float(range_tail(high, means, df)) > tail:
        high *= 2
    at = brentq(lambda q: float(range_tail(q, means, df)) - tail, 0.0, high, xtol=1e-9)
    return float(at)


def groups_tail(q: npt.ArrayLike, sizes: Sequence[int], df: float) -> Floats:
    """Return an upper limit of the chance that any group's range reaches `q`.

    Parameters
    ----------
    q : array_like
        Range in standard errors of a mean.
    sizes : sequence of int
        Numbers of equal means in each group; groups of one say nothing.
    df : float
        Degrees of freedom of the standard error that all groups share.

    Notes
    -----
    Ranges that share a standard error are positively dependent, so that one
    less the product of the chances to stay below is not too small.

    References
    ----------
    Kimball 1951, Ann. Math. Stat. 22:600-602.
    """
    below = np.ones(np.shape(q))
    for size in sizes:
        if size > 1:
            below = below * (1 - range_tail(q, size, df))
    return np.asarray(1 - below)


@cache
def set_partitions(n: int) -> tuple[tuple[tuple[int, ...], ...], ...]:
    """Return all ways to part ``0 .. n-1`` into groups; Bell's number of them.

    Examples
    --------
    >>> len(set_partitions(4))
    15
    """
    if n == 0:
        return ((),)
    found = []
    for rest in set_partitions(n - 1):
        found.append((*rest, (n - 1,)))
        found += [
            (*rest[:place], (*group, n - 1), *rest[place + 1 :]) for place, group in enumerate(rest)
        ]
    return tuple(found)


@cache
def integer_partitions(n: int, most: int) -> tuple[tuple[int, ...], ...]:
    """Return all ways to write `n` as a sum of parts not above `most`.

    Examples
    --------
    >>> integer_partitions(4, 2)
    ((2, 2), (2, 1, 1), (1, 1, 1, 1))
    """
    if n == 0:
        return ((),)
    return tuple(
        (first, *rest)
        for first in range(min(n, most), 0, -1)
        for rest in integer_partitions(n - first, first)
    )
