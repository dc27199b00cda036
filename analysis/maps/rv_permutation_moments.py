"""Exact moments of the RV coefficient over all orders of the samples.

With S and T the products of samples of two tables, the statistic is the sum of
``s_ij t_p(i)p(j)`` over samples, p an order of them. Its k-th power is a sum
over 2k samples; what an order can do to a term depends only on which of them
are the same. So terms are gathered by that pattern of sameness, and the mean
over all orders is found without going through any.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import cache

import numpy as np
import numpy.typing as npt

Pattern = tuple[int, ...]
Sums = Mapping[Pattern, float]


@cache
def patterns(length: int) -> tuple[Pattern, ...]:
    """Return all patterns of sameness among `length` samples, fewest different ones first.

    Examples
    --------
    >>> patterns(2)
    ((0, 0), (0, 1))
    """
    made: list[Pattern] = [()]
    for _ in range(length):
        made = [(*one, label) for one in made for label in range(len(set(one)) + 1)]
    return tuple(sorted(made, key=lambda one: (max(one), one)))


def pattern_sums(products: npt.NDArray[np.float64], power: int) -> dict[Pattern, float]:
    """Return the sums of products of `power` entries over every pattern of their samples.

    Samples that the pattern gives different labels may be the same here. A
    pattern in which a label stands once has the sum 0, rows being centred, and
    is left out.

    Parameters
    ----------
    products : ndarray, shape (samples, samples)
        Symmetric, rows sum to 0.
    power : int
    """
    sums = {}
    for pattern in patterns(2 * power):
        if min(pattern.count(label) for label in set(pattern)) > 1:
            entries = zip(pattern[::2], pattern[1::2], strict=True)
            spelled = ",".join(f"{chr(97 + a)}{chr(97 + b)}" for a, b in entries)
            sums[pattern] = float(np.einsum(f"{spelled}->", *[products] * power))
    return sums


@cache
def _merged(pattern: Pattern) -> tuple[Pattern, ...]:
    """Return the patterns in which some of the labels of `pattern` are the same as others."""
    found = []
    for joined in patterns(max(pattern) + 1)[:-1]:
        labels = [joined[label] for label in pattern]
        order = {label: rank for rank, label in enumerate(dict.fromkeys(labels))}
        found.append(tuple(order[label] for label in labels))
    return tuple(found)


def _distinct(sums: Sums, length: int) -> dict[Pattern, float]:
    """Return the sums over samples that are different wherever the labels are."""
    apart: dict[Pattern, float] = {}
    for pattern in patterns(length):
        apart[pattern] = sums.get(pattern, 0.0) - sum(apart[one] for one in _merged(pattern))
    return apart


def mean_power(first: Sums, second: Sums, n: int, power: int) -> float:
    """Return the mean of a power of the statistic over all orders of `n` samples.

    Parameters
    ----------
    first, second : mapping
        `pattern_sums` of the two tables, of the same power.
    """
    one, two = _distinct(first, 2 * power), _distinct(second, 2 * power)
    return math.fsum(
        one[pattern] * two[pattern] / math.perm(n, max(pattern) + 1)
        for pattern in patterns(2 * power)
        if max(pattern) < n
    )


def central(first: Mapping[int, Sums], second: Mapping[int, Sums], n: int) -> tuple[float, ...]:
    """Return mean, standard deviation and skewness from the sums of powers 1 to 3."""
    mean, square, cube = (mean_power(first[k], second[k], n, k) for k in (1, 2, 3))
    variance = square - mean**2
    return mean, math.sqrt(variance), (cube - 3 * mean * variance - mean**3) / variance**1.5


def rv_moments(
    first: npt.NDArray[np.float64], second: npt.NDArray[np.float64]
) -> tuple[float, float, float]:
    """Return mean, standard deviation and skewness of RV over all orders of the samples.

    Parameters
    ----------
    first, second : ndarray, shape (samples, samples)
        Products of samples, columns of the tables centred.

    References
    ----------
    Kazi-Aoual, Hitier, Sabatier and Lebreton (1995), Comput. Stat. Data Anal.
    20:643-656, whose closed forms these are equal to.
    """
    sums = []
    for products in (first, second):
        scaled = products / math.sqrt(np.sum(products * products))
        sums.append({power: pattern_sums(scaled, power) for power in (1, 2, 3)})
    mean, sd, skewness = central(sums[0], sums[1], len(first))
    return mean, sd, skewness
