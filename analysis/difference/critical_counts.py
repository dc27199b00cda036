"""Right answers counted: how many are needed, and what a number of assessors can find.

Everything here is the exact binomial distribution; the rules are those of ISO
4120 (triangle), ISO 10399 (duo-trio) and ISO 5495 (paired comparison).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import betainc, betaincinv
from scipy.stats import binom

from ..core.errors import NotEstimable, OptionError
from ..core.options import whole
from ..core.result import Interval
from ..inference.proportions import clopper_pearson

_FARTHEST = 200_000
_SLACK = 1e-12  # a probability equal to the limit but for rounding is within it


def count(name: str, value: float, n: int) -> int:
    """Return `value` as a whole number from 0 to `n`, or refuse it by name."""
    number = whole(name, value, 0)
    if number > n:
        raise OptionError("difference.more_than", name=name, found=number, n=n)
    return number


def _reach(x: ArrayLike, n: ArrayLike, p: float) -> NDArray[np.float64]:
    """Return P(X >= x) of the binomial distribution, by the incomplete beta function."""
    least, most = np.asarray(x), np.asarray(n)
    inside = betainc(np.maximum(least, 1), np.maximum(most - least, 0) + 1, p)
    return np.where(least <= 0, 1.0, np.where(least > most, 0.0, inside))


def needed(n: int, chance: float, alpha: float) -> int | None:
    """Return the smallest count x with P(X >= x) <= alpha by guessing; None if there is none.

    Examples
    --------
    >>> needed(30, 1 / 3, 0.05)
    15
    """
    tail = _reach(np.arange(n + 1), n, chance)
    enough = np.flatnonzero(tail <= alpha + _SLACK)
    return int(enough[0]) if enough.size else None


def allowed(n: int, p: float, beta_: float) -> int | None:
    """Return the largest count x with P(X <= x) <= beta when the true share is `p`.

    Examples
    --------
    >>> allowed(18, 1 / 3 + 2 / 3 * 0.3, 0.05)
    5
    """
    tail = 1 - _reach(np.arange(1, n + 2), n, p)
    within = np.flatnonzero(tail <= beta_ + _SLACK)
    return int(within[-1]) if within.size else None


def needed_for_each(n: NDArray[np.int64], chance: float, alpha: float) -> NDArray[np.int64]:
    """Return `needed` for many n at once; n + 1 where no count suffices."""
    x = np.asarray(binom.isf(alpha, n, chance)).astype(np.int64) + 1
    lower = _reach(x - 1, n, chance) <= alpha + _SLACK
    x = np.where(lower, x - 1, x)
    higher = _reach(x, n, chance) > alpha + _SLACK
    return np.clip(np.where(higher, x + 1, x), 0, n + 1)


def power(n: int, chance: float, alpha: float, p: float) -> float:
    """Return the probability of a significant count when the true share of right answers is `p`.

    Examples
    --------
    >>> round(power(12, 1 / 3, 0.05, 1 / 3 + 2 / 3 * 0.5), 3)
    0.632
    """
    least = needed(n, chance, alpha)
    return 0.0 if least is None else float(_reach(least, n, p))


def smallest_found(n: int, chance: float, alpha: float, wanted: float = 0.8) -> float | None:
    """Return the least proportion of distinguishers found with probability `wanted`, or None.

    Examples
    --------
    >>> round(smallest_found(12, 1 / 3, 0.05), 3)
    0.596
    """
    least = needed(n, chance, alpha)
    if least is None:
        return None
    right = float(betaincinv(least, n - least + 1, wanted))
    return max(0.0, (right - chance) / (1 - chance))


def exact_interval(correct: int, n: int, level: float = 0.95, *, sides: int = 2) -> Interval:
    """Return the Clopper-Pearson limits of a share.

    With ``sides=1`` each limit alone has the confidence `level`: read one of them.
    """
    low, high = clopper_pearson(correct, n, 1 - 2 * (1 - level) / sides)
    return Interval(float(low), float(high), level)


def smallest_panel(chance: float, p: float, alpha: float, beta: float) -> tuple[int, int]:
    """Return the first n that keeps both risks, and the n from which on all do."""
    top = 256
    while top <= _FARTHEST:
        n = np.arange(1, top + 1)
        least = needed_for_each(n, chance, alpha)
        good = (least <= n) & (binom.cdf(least - 1, n, p) <= beta + 1e-12)
        if good.any():
            first = int(n[good][0])
            # beta oscillates within a few steps; past twice the first and 60 it is settled
            if top >= 2 * first + 60:
                bad = n[~good]
                return first, int(bad[-1]) + 1 if bad.size else 1
        top *= 2
    raise NotEstimable("size.too_many", most=f"{_FARTHEST:,}")
