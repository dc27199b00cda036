"""Intervals by likelihood: the values not much less likely than the best one."""

from __future__ import annotations

from collections.abc import Callable
from math import inf

from scipy.optimize import brentq, minimize_scalar
from scipy.special import chdtri

from ..core.result import Interval


def likelihood_interval(
    loglik: Callable[[float], float],
    best: float,
    *,
    level: float = 0.95,
    low: float = 0.0,
    high: float = 40.0,
) -> Interval:
    """Return the values whose log-likelihood is within chi2(level, 1 df) / 2 of the best.

    Parameters
    ----------
    loglik : callable
        Log-likelihood (or profile log-likelihood) of one parameter, with one peak.
    best : float
        Where it is highest; infinity if it rises for ever.
    level : float
        Confidence level, 0 to 1.
    low, high : float
        The parameter's range; a limit that is not met inside it is `low`, or
        infinity.
    """
    start = min(best, high)
    floor = loglik(start) - float(chdtri(1, 1 - level)) / 2

    def above(value: float) -> float:
        return loglik(value) - floor

    lower, upper = low, inf
    if best > low and above(low) < 0:
        lower = brentq(above, low, start, xtol=1e-9)
    if best < high and above(high) < 0:
        upper = brentq(above, start, high, xtol=1e-9)
    return Interval(float(lower), float(upper), level)


def profiled(
    loglik: Callable[[float, float], float], bounds: tuple[float, float]
) -> Callable[[float], float]:
    """Return the log-likelihood of the first parameter, the second at its best in `bounds`."""

    def profile(value: float) -> float:
        found = minimize_scalar(
            lambda other: -loglik(value, other),
            bounds=bounds,
            method="bounded",
            options={"xatol": 1e-9},
        )
        return float(-found.fun)

    return profile
