"""Probabilities between two limits, their logarithms and derivatives: logistic and normal."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.special import erfc

Floats = npt.NDArray[np.float64]
Any_ = npt.NDArray[Any]
LINKS = ("logit", "probit")


def log_share(
    upper: Any_, lower: Any_, link: str, apart: Any_ | None = None
) -> tuple[Any_, Any_, Any_]:
    """Return log(F(upper) - F(lower)) and its two derivatives by a common shift down.

    Both derivatives are with respect to s in ``F(upper - s) - F(lower - s)``. `apart` is
    `log_apart` of limits that have this distance, where it is known.
    """
    if link == "logit":
        # F(a) - F(b) = F(a) (1 - F(b)) (1 - exp(b - a)): no cancellation in either tail.
        # Both limits at once: with so few answers it is the number of calls that takes the time.
        (high, low), (log_high, _), (_, log_above) = _logistic(np.array([upper, lower]))
        value = log_high + log_above + (log_apart(upper, lower) if apart is None else apart)
        return value, high + low - 1, -(high * (1 - high) + low * (1 - low))
    # Work in the lower tail, where differences of F keep their digits.
    flip = np.real(upper + lower) > 0
    a, b = np.where(flip, -lower, upper), np.where(flip, -upper, lower)
    share = (erfc(-a / np.sqrt(2)) - erfc(-b / np.sqrt(2))) / 2
    share = np.where(np.abs(share) < 1e-300, 1e-300, share)
    density_a, density_b = _normal(upper), _normal(lower)
    first = (density_b - density_a) / share
    second = (lower * density_b - upper * density_a) / share - first**2
    return np.log(share), first, second


def log_apart(upper: Any_, lower: Any_) -> Any_:
    """Return log(1 - exp(lower - upper)), which no common shift changes."""
    apart: Any_ = np.log(-np.expm1(lower - upper))
    return apart


def limit_slopes(upper: Floats, lower: Floats, link: str) -> tuple[Floats, Floats]:
    """Return the derivatives of log(F(upper) - F(lower)) by `upper` and by `lower`."""
    if link == "logit":
        gap = lower - upper
        squeezed = np.exp(gap) / -np.expm1(gap)
        high, low = _rising(np.array([upper, lower]))
        return 1 - high + squeezed, -low - squeezed
    share = np.exp(log_share(upper, lower, link)[0])
    return _normal(upper) / share, -_normal(lower) / share


def shape_slopes(
    upper: Floats, lower: Floats, link: str
) -> tuple[tuple[Floats, Floats], tuple[Floats, Floats]]:
    """Return the derivatives of `log_share`'s two derivatives, each by `upper` and by `lower`."""
    if link == "logit":
        high, low = _rising(np.array([upper, lower]))
        steep_high, steep_low = high * (1 - high), low * (1 - low)
        second = (-steep_high * (1 - 2 * high), -steep_low * (1 - 2 * low))
        return (steep_high, steep_low), second
    a, b = limit_slopes(upper, lower, link)
    b = -b
    # With a and b the densities over the share: first = b - a, second = lower b - upper a - first².
    first = (a * (upper + a - b), b * (b - lower - a))
    lean = 2 * (b - a)
    return first, (
        -a * (lower * b + 1 - upper**2 - upper * a) - lean * first[0],
        b * (1 - lower**2 + lower * b - upper * a) - lean * first[1],
    )


def _logistic(z: Any_) -> tuple[Any_, Any_, Any_]:
    """Return F, log F and log(1 - F), all from one exponential."""
    if np.iscomplexobj(z):
        positive = np.real(z) > 0
        tail = np.exp(np.where(positive, -z, z))
        grown = np.log1p(tail)
        below = np.where(positive, 1, tail) / (1 + tail)
        return below, np.where(positive, 0, z) - grown, np.where(positive, -z, 0) - grown
    tail = np.exp(-np.abs(z))
    grown = np.log1p(tail)
    below = np.where(z > 0, 1, tail) / (1 + tail)
    return below, np.minimum(z, 0) - grown, np.minimum(-z, 0) - grown


def _rising(z: Floats) -> Floats:
    """Return F alone, in the digits of `_logistic`."""
    tail = np.exp(-np.abs(z))
    below: Floats = np.where(z > 0, 1, tail) / (1 + tail)
    return below


def _normal(z: Any_) -> Any_:
    value: Any_ = np.exp(-(z**2) / 2) / np.sqrt(2 * np.pi)
    return value


def cdf(z: Any_, link: str) -> Any_:
    """Return F, also for complex arguments."""
    return _logistic(z)[0] if link == "logit" else erfc(-z / np.sqrt(2)) / 2
