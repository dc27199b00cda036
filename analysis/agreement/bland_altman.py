"""Limits of agreement: how far apart two assessors' scores of one sample may lie."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import stdtrit

from ..core.ratings_matrix import check_level, matrix
from ..core.result import Interval, Result
from ..core.wording import short, stated_percent
from ..core.words import Sentence


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class LimitsOfAgreement(Result):
    """Limits of agreement of two assessors (first minus second), in scale points.

    Attributes
    ----------
    bias, sd : float
        Mean and standard deviation of the differences.
    low, high : float
        ``bias`` minus and plus `multiple` times ``sd``.
    multiple : float
    bias_interval, low_interval, high_interval : Interval
        t limits with n - 1 df; those of the two limits use ``sqrt(3 s**2 / n)``.
    r_size : float
        Correlation of difference and mean: do they drift apart on strong
        samples? nan when one of them is constant.
    n : int
    """

    bias: float
    sd: float
    low: float
    high: float
    multiple: float
    bias_interval: Interval
    low_interval: Interval
    high_interval: Interval
    r_size: float
    n: int

    def sentences(self) -> tuple[Sentence, ...]:
        """Say the limits."""
        return (
            Sentence.of(
                "agreement.limits",
                bias=short(self.bias),
                bias_low=short(self.bias_interval.low),
                bias_high=short(self.bias_interval.high),
                low=short(self.low),
                high=short(self.high),
                low_low=short(self.low_interval.low),
                high_high=short(self.high_interval.high),
                level=stated_percent(self.bias_interval.level),
                n=self.n,
            ),
        )


def limits_of_agreement(
    first: ArrayLike, second: ArrayLike, *, multiple: float = 1.96, level: float = 0.95
) -> LimitsOfAgreement:
    """Compute the limits of agreement of two assessors on the same samples.

    Parameters
    ----------
    first, second : arrays, shape (n,)
        Scores; samples with a nan are left out.
    multiple : float
        Standard deviations to each side: 1.96 for 95 % of normal differences;
        the paper rounds it to 2.
    level : float
        Confidence level of the intervals.

    Raises
    ------
    NotEstimable
        For fewer than two common samples.

    References
    ----------
    .. [1] Bland & Altman (1986), Lancet i, 307-310.

    Examples
    --------
    >>> result = limits_of_agreement([5.0, 6.0, 4.0, 7.0], [4.5, 6.5, 3.0, 6.0])
    >>> round(result.bias, 2), round(result.low, 2), round(result.high, 2)
    (0.5, -0.89, 1.89)
    """
    check_level(level)
    pairs = matrix(np.column_stack([np.asarray(first, float), np.asarray(second, float)]))
    pairs = matrix(pairs[~np.isnan(pairs).any(axis=1)])
    n = len(pairs)
    difference, size = pairs[:, 0] - pairs[:, 1], pairs.mean(axis=1)
    bias, sd = float(difference.mean()), float(difference.std(ddof=1))
    t = float(stdtrit(n - 1, (1 + level) / 2))
    low, high = bias - multiple * sd, bias + multiple * sd
    of_limit = t * np.sqrt(3 * sd**2 / n)
    of_bias = t * sd / np.sqrt(n)
    varies = np.ptp(difference) > 0 and np.ptp(size) > 0
    return LimitsOfAgreement(
        bias=bias,
        sd=sd,
        low=low,
        high=high,
        multiple=multiple,
        bias_interval=Interval(float(bias - of_bias), float(bias + of_bias), level),
        low_interval=Interval(float(low - of_limit), float(low + of_limit), level),
        high_interval=Interval(float(high - of_limit), float(high + of_limit), level),
        r_size=float(np.corrcoef(difference, size)[0, 1]) if varies else float("nan"),
        n=n,
    )
