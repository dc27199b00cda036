"""Power of a scored panel: what it would find, what it would miss, how many it takes.

Assessors are random, so the samples are tested against the interaction of
assessor and sample. Its variance falls with the number of assessors only:
more replicates cannot push the variance of a difference below
``2 * interaction / assessors``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq
from scipy.special import fdtri, ncfdtr, stdtrit

from ...rounding import rounded
from ..core.errors import NotEstimable, OptionError
from ..core.options import at_least, one_of, share_of, whole

Floats = npt.NDArray[np.float64]
COMPARISONS = ("planned", "all pairs")
_FARTHEST = 100_000


@dataclass(frozen=True, slots=True, kw_only=True)
class ScorePlan:
    """A panel that scores: its numbers and the variances of its scores.

    Attributes
    ----------
    samples, assessors, replicates : int
        Every assessor scores every sample `replicates` times. At least 2
        samples, 2 assessors, 1 replicate.
    interaction : float
        Variance of assessor × sample, in squared scale points: how far an
        assessor's view of a sample lies from the panel's, level set aside.
    residual : float
        Variance of one assessor's repeated scores, in squared scale points.
    comparison : {'planned', 'all pairs'}
        Whether the pair in question is named beforehand (t test), or is any
        pair among all (Tukey).
    alpha : float
        Level of the test, two-sided.

    Raises
    ------
    OptionError
        If a number is out of its range, or both variances are 0.
    """

    samples: int
    assessors: int
    replicates: int = 1
    interaction: float
    residual: float
    comparison: str = "planned"
    alpha: float = 0.05

    def __post_init__(self) -> None:
        """Check what was given."""
        whole("samples", self.samples, 2)
        whole("assessors", self.assessors, 2)
        whole("replicates", self.replicates, 1)
        at_least("interaction", self.interaction)
        at_least("residual", self.residual)
        share_of("alpha", self.alpha)
        one_of("comparison", self.comparison, COMPARISONS)
        if self.interaction + self.residual == 0:
            raise OptionError("power.no_variance")

    @property
    def df_num(self) -> int:
        """Numerator degrees of freedom of the F test."""
        return self.samples - 1

    @property
    def df_den(self) -> int:
        """Denominator degrees of freedom: those of the interaction."""
        return (self.assessors - 1) * (self.samples - 1)

    @property
    def se(self) -> float:
        """Standard error of the difference of two sample means, in scale points."""
        cell = self.interaction + self.residual / self.replicates
        return float(np.sqrt(2 * cell / self.assessors))

    @property
    def critical(self) -> float:
        """Critical value of the t statistic of a pair."""
        return critical_t(self.df_den, self.samples, self.alpha, self.comparison)

    def power(self, difference: npt.ArrayLike) -> Floats:
        """Return the chance that a pair which differs by `difference` points is claimed."""
        ratio = np.abs(np.asarray(difference, dtype=float)) / self.se
        return power_t(ratio, self.df_den, self.critical)

    def power_of_range(self, spread: npt.ArrayLike) -> Floats:
        """Return the power of the F test if two samples lie `spread` apart, the others between.

        This is the least favourable case for that spread: the others exactly midway.
        """
        squares = np.asarray(spread, dtype=float) ** 2 / 2
        cell = self.residual + self.replicates * self.interaction
        return power_f(
            self.assessors * self.replicates * squares / cell, self.df_num, self.df_den, self.alpha
        )

    def power_of_effects(self, effects: npt.ArrayLike) -> float:
        """Return the power of the F test for stated sample means (any common level)."""
        means = np.asarray(effects, dtype=float)
        if means.shape != (self.samples,):
            raise OptionError("power.effects", given=means.size, samples=self.samples)
        cell = self.residual + self.replicates * self.interaction
        squares = float(((means - means.mean()) ** 2).sum())
        ncp = self.assessors * self.replicates * squares / cell
        return float(power_f(ncp, self.df_num, self.df_den, self.alpha))

    def smallest_difference(self, power: float = 0.80) -> float:
        """Return the difference of a pair that is found with probability `power`, in points."""
        return self.se * ratio_for(power, self.df_den, self.critical)

    def least_significant(self) -> float:
        """Return the observed difference of a pair from which on it is claimed, in points."""
        return self.se * self.critical


def critical_t(df: float, samples: int, alpha: float = 0.05, comparison: str = "planned") -> float:
    """Return the critical value of the t statistic of a pair of samples.

    For 'all pairs' it is Tukey's: the studentised range's quantile over sqrt(2).
    """
    one_of("comparison", comparison, COMPARISONS)
    if comparison == "planned" or samples == 2:
        return float(stdtrit(df, 1 - alpha / 2))
    from scipy.stats import studentized_range

    return float(studentized_range.ppf(1 - alpha, samples, df) / np.sqrt(2))


def power_t(ratio: npt.ArrayLike, df: float, critical: float) -> Floats:
    """Return P(|t'| > critical) of the noncentral t with noncentrality `ratio`.

    Computed as the tail of the noncentral F of its square, in which both tails
    are one: the lower tail of the noncentral t itself comes out as nan far out
    (scipy 1.17: ``nct.cdf(-2.07, 21, 12)``).

    Parameters
    ----------
    ratio : array_like
        True difference over its standard error.
    df : float
        Degrees of freedom of the error.
    critical : float
        Critical value of |t|.

    Examples
    --------
    >>> float(power_t(3.0, 21, 2.0796).round(4))
    0.8161
    """
    return power_f_at(np.asarray(ratio, dtype=float) ** 2, 1, df, critical**2)


def power_f(ncp: npt.ArrayLike, df_num: float, df_den: float, alpha: float = 0.05) -> Floats:
    """Return the power of an F test.

    Parameters
    ----------
    ncp : array_like
        Noncentrality: for samples in a balanced panel ``assessors * replicates *
        sum(effect**2) / (residual + replicates * interaction)``.
    df_num, df_den : float
        Degrees of freedom.
    alpha : float
        Level of the test.

    Examples
    --------
    The example of R's help page of ``power.anova.test`` (4 groups of 5, variances 1 and 3):

    >>> float(power_f(5 * 3 * 1 / 3, 3, 16).round(7))
    0.3535594
    """
    return power_f_at(
        np.asarray(ncp, dtype=float), df_num, df_den, float(fdtri(df_num, df_den, 1 - alpha))
    )


def power_f_at(ncp: Floats, df_num: float, df_den: float, critical: float) -> Floats:
    """Return the upper tail of the noncentral F at `critical`."""
    tail = 1 - np.asarray(ncfdtr(df_num, df_den, ncp, critical), dtype=float)
    # Far beyond the critical value nothing is left below it; the library may return nan there.
    sure = np.isnan(tail) & (np.sqrt(ncp) > np.sqrt(df_num * critical) + 40)
    return np.where(sure, 1.0, tail)


def ratio_for(power: float, df: float, critical: float) -> float:
    """Return the noncentrality ratio (difference over standard error) found with `power`.

    Raises
    ------
    OptionError
        If the power lies outside (0, 1) or does not exceed the test's own level.
    """
    share_of("power", power)
    level = float(power_t(0.0, df, critical))
    if power <= level:
        raise OptionError("power.too_little", power=power, level=rounded(level, ".2g"))
    high = critical + 1
    while power_t(high, df, critical) < power:
        high *= 2
    return float(brentq(lambda ratio: float(power_t(ratio, df, critical)) - power, 0, high))


def assessors_for_scores(
    difference: float,
    *,
    samples: int,
    interaction: float,
    residual: float,
    replicates: int = 1,
    power: float = 0.80,
    alpha: float = 0.05,
    comparison: str = "planned",
) -> int:
    """Return the smallest number of assessors that finds a difference of a pair.

    Parameters
    ----------
    difference : float
        The difference to be found, in scale points, above 0.
    samples, interaction, residual, replicates, alpha, comparison
        See `ScorePlan`.
    power : float
        Probability of finding it.

    Raises
    ------
    OptionError
        If a number is out of its range.
    NotEstimable
        If more than 100,000 assessors would be needed.

    Examples
    --------
    >>> assessors_for_scores(1.04, samples=4, interaction=0.25, residual=0.5, replicates=2)
    8
    """
    at_least("difference", difference, strictly=True)
    share_of("power", power)

    def finds(assessors: int) -> bool:
        plan = ScorePlan(
            samples=samples,
            assessors=assessors,
            replicates=replicates,
            interaction=interaction,
            residual=residual,
            comparison=comparison,
            alpha=alpha,
        )
        return float(plan.power(difference)) >= power

    high = 2
    while not finds(high):
        high *= 2
        if high > _FARTHEST:
            raise NotEstimable("power.too_many", difference=f"{difference:g}", most=_FARTHEST)
    low = max(high // 2, 1)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if finds(middle) else (middle, high)
    return high
