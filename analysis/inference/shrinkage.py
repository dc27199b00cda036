"""Shrinkage: an estimate from few data, pulled towards what was known before.

The mean of two assessors is as likely to be off as each of them is noisy. A
stated prior says how far such values lie apart as a rule; the estimate then
moves towards the prior's mean by the share of its own noise.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import ndtr, ndtri

from ..core.errors import NotEstimable, OptionError
from ..core.options import at_least, share_of
from ..core.result import Interval, Result, copies
from ..core.wording import short
from ..core.words import Sentence

Floats = npt.NDArray[np.float64]
_GRID = 2001


def shrink(
    estimates: npt.ArrayLike,
    se: npt.ArrayLike,
    *,
    prior_sd: float,
    prior_mean: float = 0.0,
    level: float = 0.95,
) -> pd.DataFrame:
    """Combine estimates with a stated normal prior.

    Parameters
    ----------
    estimates, se : array_like, shape (n,)
        Estimates and their standard errors, taken as known.
    prior_sd, prior_mean : float
        Normal prior of the true values: its standard deviation (above 0), its mean.
    level : float
        Level of the posterior intervals.

    Returns
    -------
    DataFrame
        ``estimate, se, weight, mean, sd, low, high, above``: `weight` is the share
        of the estimate in the posterior mean, ``prior_sd**2 / (prior_sd**2 +
        se**2)``; `above` the posterior probability of a value above `prior_mean`.

    Raises
    ------
    OptionError
        If the arrays do not match or a standard deviation is not above 0.

    Examples
    --------
    >>> shrink([1.0], [0.5], prior_sd=0.5)["mean"].tolist()
    [0.5]
    """
    values, errors = _pair(estimates, se)
    at_least("prior_sd", prior_sd, strictly=True)
    weight = prior_sd**2 / (prior_sd**2 + errors**2)
    mean = prior_mean + weight * (values - prior_mean)
    sd = np.sqrt(weight) * errors
    half = ndtri((1 + share_of("level", level)) / 2) * sd
    return pd.DataFrame(
        {
            "estimate": values,
            "se": errors,
            "weight": weight,
            "mean": mean,
            "sd": sd,
            "low": mean - half,
            "high": mean + half,
            "above": ndtr((mean - prior_mean) / sd),
        }
    )


def james_stein(values: npt.ArrayLike, variance: float) -> tuple[Floats, float]:
    """Shrink values of one known variance towards their mean, without a stated prior.

    Parameters
    ----------
    values : array_like, shape (n,)
        At least 4 estimates.
    variance : float
        Their common known variance.

    Returns
    -------
    shrunk : ndarray, shape (n,)
        ``mean + c * (values - mean)``.
    c : float
        ``max(0, 1 - (n - 3) * variance / sum((values - mean)**2))``.

    Raises
    ------
    NotEstimable
        With fewer than four values, or values all the same.

    References
    ----------
    Efron and Morris (1975), J. Am. Stat. Assoc. 70:311-319.
    """
    given = np.asarray(values, dtype=float)
    at_least("variance", variance, strictly=True)
    if given.size < 4:
        raise NotEstimable("shrinkage.four", n=given.size)
    centred = given - given.mean()
    squares = float((centred**2).sum())
    if squares == 0:
        raise NotEstimable("shrinkage.same")
    c = max(0.0, 1 - (given.size - 3) * variance / squares)
    return given.mean() + c * centred, c


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Shrunk(Result):
    """Estimates shrunk towards a common mean, the spread between them not known.

    Attributes
    ----------
    pooled, pooled_se : float
        Precision-weighted mean if all true values were the same, and its standard error.
    q : float
        Cochran's Q of the estimates around it.
    mean : float
        Posterior mean of the common mean.
    tau, tau_median : float
        Posterior mean and median of the standard deviation of the true values.
    tau_interval : Interval
        Its posterior limits.
    prior : str
        ``'flat'`` or ``'half-normal'``: prior of that standard deviation.
    prior_scale : float
        Scale of the half-normal prior; infinite for the flat one.
    level : float
        Level of posterior intervals.
    table : DataFrame
        ``name, estimate, se, mean, sd, low, high``.
    """

    pooled: float
    pooled_se: float
    q: float
    mean: float
    tau: float
    tau_median: float
    tau_interval: Interval
    prior: str
    prior_scale: float
    level: float
    table: pd.DataFrame
    method: str = "normal hierarchical model, quadrature over the spread"

    def sentences(self) -> tuple[Sentence, ...]:
        """Say how far the values spread and that a prior is in it."""
        return (
            Sentence.of(
                f"shrinkage.{self.prior.replace('-', '_')}",
                tau=short(self.tau_median),
                low=short(self.tau_interval.low),
                high=short(self.tau_interval.high),
                level=f"{self.level * 100:g}",
                scale=short(self.prior_scale) if np.isfinite(self.prior_scale) else "",
            ),
        )

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return estimates and what became of them."""
        return copies(**{"shrinkage.table": self.table})


def hierarchical(
    estimates: npt.ArrayLike,
    se: npt.ArrayLike,
    *,
    tau_scale: float | None = None,
    names: list[str] | None = None,
    level: float = 0.95,
) -> Shrunk:
    """Shrink estimates towards their common mean, averaging over its unknown spread.

    Parameters
    ----------
    estimates, se : array_like, shape (n,)
        Estimates and their standard errors, taken as known.
    tau_scale : float, optional
        Scale of a half-normal prior of the standard deviation between the true
        values. Without it the prior is flat, which needs at least four estimates
        to mean anything (three to be finite).
    names : list of str, optional
        Names for the table.
    level : float
        Level of posterior intervals.

    Returns
    -------
    Shrunk

    Raises
    ------
    OptionError
        If the arrays do not match or a number is out of its range.
    NotEstimable
        With fewer than two estimates, or fewer than four and no `tau_scale`.

    Notes
    -----
    The common mean has a flat prior. Given tau all is normal; tau is integrated out
    on a grid of 2,001 points.

    References
    ----------
    Rubin (1981), J. Educ. Stat. 6:377-401; Gelman et al., Bayesian Data Analysis,
    section 5.4.
    """
    values, errors = _pair(estimates, se)
    share_of("level", level)
    if values.size < 2:
        raise NotEstimable("shrinkage.two", n=values.size)
    if tau_scale is None and values.size < 4:
        raise NotEstimable("shrinkage.state_prior", n=values.size)
    if tau_scale is not None:
        at_least("tau_scale", tau_scale, strictly=True)
    # Flat in tau on (0, inf): u = tau / (tau + scale) brings it to (0, 1).
    scale = float(np.median(errors)) + float(values.std())
    u = (np.arange(_GRID) + 0.5) / _GRID
    tau = scale * u / (1 - u)
    log_jacobian = np.log(scale) - 2 * np.log1p(-u)
    total = errors**2 + tau[:, None] ** 2
    precision = (1 / total).sum(axis=1)
    mu = (values / total).sum(axis=1) / precision
    log_density = (
        -np.log(precision) / 2
        - np.log(total).sum(axis=1) / 2
        - ((values - mu[:, None]) ** 2 / total).sum(axis=1) / 2
        + log_jacobian
    )
    if tau_scale is not None:
        log_density -= (tau / tau_scale) ** 2 / 2
    density = np.exp(log_density - log_density.max())
    weight = density / density.sum()
    # Given tau: mean and variance of each true value, the common mean integrated out.
    share = tau[:, None] ** 2 / total
    means = share * values + (1 - share) * mu[:, None]
    variances = share * errors**2 + (1 - share) ** 2 / precision[:, None]
    mean = weight @ means
    sd = np.sqrt(weight @ (variances + means**2) - mean**2)
    ends = ((1 - level) / 2, (1 + level) / 2)
    low, high = (quantiles(end, weight, means, np.sqrt(variances)) for end in ends)
    cumulative = np.cumsum(weight) - weight / 2
    tau_low, tau_median, tau_high = (
        float(np.interp(end, cumulative, tau)) for end in (ends[0], 0.5, ends[1])
    )
    pooled_precision = float((1 / errors**2).sum())
    pooled = float((values / errors**2).sum()) / pooled_precision
    return Shrunk(
        pooled=pooled,
        pooled_se=pooled_precision**-0.5,
        q=float((((values - pooled) / errors) ** 2).sum()),
        mean=float(weight @ mu),
        tau=float(weight @ tau),
        tau_median=tau_median,
        tau_interval=Interval(tau_low, tau_high, level),
        prior="flat" if tau_scale is None else "half-normal",
        prior_scale=np.inf if tau_scale is None else tau_scale,
        level=level,
        table=pd.DataFrame(
            {
                "name": names or [str(i + 1) for i in range(values.size)],
                "estimate": values,
                "se": errors,
                "mean": mean,
                "sd": sd,
                "low": low,
                "high": high,
            }
        ),
    )


def quantiles(end: float, weight: Floats, means: Floats, sds: Floats) -> Floats:
    """Find the quantile `end` of mixtures of normals by bisection, one per column.

    `weight` has shape (g,) and sums to 1; `means` and `sds` have shape (g, m).
    """
    low = (means - 10 * sds).min(axis=0)
    high = (means + 10 * sds).max(axis=0)
    for _ in range(48):
        middle = (low + high) / 2
        below = weight @ ndtr((middle - means) / sds) < end
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    middle = (low + high) / 2
    found: Floats = middle
    return found


def _pair(estimates: npt.ArrayLike, se: npt.ArrayLike) -> tuple[Floats, Floats]:
    values, errors = np.asarray(estimates, dtype=float), np.asarray(se, dtype=float)
    if values.ndim != 1 or values.shape != errors.shape:
        raise OptionError("shrinkage.shapes", estimates=values.size, se=errors.size)
    for error in errors:
        at_least("se", float(error), strictly=True)
    return values, errors
