"""Lin's concordance correlation: how near two assessors lie to the line of equality."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtri

from ..core.errors import NotEstimable
from ..core.ratings_matrix import check_level, matrix
from ..core.result import Interval, Result
from ..core.wording import short, stated_percent
from ..core.words import Sentence

FEW = 10
"""Samples below which Lin's limits are said to be rough."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class LinConcordance(Result):
    """Concordance correlation of two assessors.

    Attributes
    ----------
    concordance : float
        -1 to 1; 1 when both give the same numbers.
    r : float
        Pearson correlation: precision.
    accuracy : float
        ``concordance / r``: what is lost through level and scale (C_b).
    location_shift, scale_shift : float
        Difference of means in units of the geometric mean of both standard
        deviations, and their ratio, second by first.
    se, z, se_z : float
        Asymptotic standard error, Fisher's transform and its standard error;
        nan for a perfect or an exactly zero correlation and below 3 samples.
    interval : Interval or None
        Limits by Fisher's transform.
    n : int
    """

    concordance: float
    r: float
    accuracy: float
    location_shift: float
    scale_shift: float
    se: float
    z: float
    se_z: float
    interval: Interval | None
    n: int

    def sentences(self) -> tuple[Sentence, ...]:
        """Say the coefficient with its limits."""
        values = {
            "concordance": short(self.concordance),
            "r": short(self.r),
            "accuracy": short(self.accuracy),
        }
        if self.interval is None:
            return (Sentence.of("agreement.lin_alone", **values),)
        low, high, level = self.interval
        limits = {"low": short(low), "high": short(high), "level": stated_percent(level)}
        return (Sentence.of("agreement.lin", **values, **limits),)


def concordance_correlation(
    first: ArrayLike, second: ArrayLike, *, level: float = 0.95
) -> LinConcordance:
    """Compute Lin's concordance correlation of two assessors on the same samples.

    Parameters
    ----------
    first, second : arrays, shape (n,)
        Scores; samples with a nan are left out.
    level : float
        Confidence level.

    Raises
    ------
    NotEstimable
        For fewer than two common samples, or when one of the two gives every
        sample the same score: no variation to agree on.

    Notes
    -----
    ``2 s_xy / (s_x**2 + s_y**2 + (m_x - m_y)**2)`` with n as divisor [1]_,
    variance as corrected in 2000.

    References
    ----------
    .. [1] Lin (1989), Biometrics 45, 255-268; correction 56, 324-325 (2000).

    Examples
    --------
    >>> result = concordance_correlation([2.0, 4.0, 6.0, 8.0], [3.0, 5.0, 7.0, 9.0])
    >>> round(result.r, 3), round(result.concordance, 3)
    (1.0, 0.909)
    """
    check_level(level)
    pairs = matrix(np.column_stack([np.asarray(first, float), np.asarray(second, float)]))
    pairs = matrix(pairs[~np.isnan(pairs).any(axis=1)])
    n = len(pairs)
    mean, variance = pairs.mean(axis=0), pairs.var(axis=0)
    if (variance == 0).any():
        raise NotEstimable("agreement.lin_constant", n=n)
    covariance = float(((pairs - mean).prod(axis=1)).mean())
    geometric = float(np.sqrt(variance.prod()))
    rho = 2 * covariance / float(variance.sum() + (mean[0] - mean[1]) ** 2)
    r = float(np.clip(covariance / geometric, -1.0, 1.0))
    shift = float((mean[0] - mean[1]) / np.sqrt(geometric))
    scale = float(np.sqrt(variance[1] / variance[0]))
    accuracy = 2 / (scale + 1 / scale + shift**2)
    se = z = se_z = float("nan")
    limits = None
    if n > 2 and abs(r) > 1e-12 and abs(rho) < 1 - 1e-12:
        spread = (
            (1 - r**2) * rho**2 * (1 - rho**2) / r**2
            + 2 * rho**3 * (1 - rho) * shift**2 / r
            - rho**4 * shift**4 / (2 * r**2)
        ) / (n - 2)
        se = float(np.sqrt(max(spread, 0.0)))
        z = float(np.arctanh(rho))
        se_z = se / (1 - rho**2)
        half = ndtri((1 + level) / 2) * se_z
        limits = Interval(float(np.tanh(z - half)), float(np.tanh(z + half)), level)
    notes = [Sentence.of("agreement.lin_small", n=n)] if n < FEW else []
    return LinConcordance(
        concordance=float(rho),
        r=r,
        accuracy=accuracy,
        location_shift=shift,
        scale_shift=scale,
        se=se,
        z=z,
        se_z=se_z,
        interval=limits,
        n=n,
        warnings=tuple(notes),
    )
