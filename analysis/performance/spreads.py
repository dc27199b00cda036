"""Two standard deviations that are not known exactly: of the error, and of the samples.

Few assessors say little about either, so both are integrated out over their logarithms.
What was known before is a mixture of lognormals on a lattice: one point for a default or a
stated prior, many for what earlier sessions taught.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr, ndtri

from ..core.two_way import TINY, centred, inverse, normal_matrix

Floats = npt.NDArray[np.float64]
REACH = 4.5
"""Standard deviations to which a prior is integrated on either side."""
STEP = 0.25
"""Widest step of the integration, in logarithms."""
NOTHING = 1e-7
"""Weight, as a share of the largest, below which a point of the integration is left out."""
SEEN = 1e-300, 1 - 1e-16
"""Shares below a point that are told apart from none and all."""
CLOSE, MOST_STEPS = 1e-9, 60
"""Last step to a quantile, as a share of where it can lie at all; steps, if it comes to halving."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Spreads:
    """What is known of the two standard deviations, in scale points.

    Attributes
    ----------
    log_error, log_sample : ndarray, shape (g,) and (h,)
        Logarithms of the standard deviation of a single score's error (assessor × sample
        and replicate together) and of the samples' true means.
    weight : ndarray, shape (g, h)
        Of each pair of them; sum 1.
    error_blur, sample_blur : float
        Standard deviations by which the two logarithms of a session lie around these.
    interaction_share : float
        Share of assessor × sample in the error variance of a single score (0 to 1).
    """

    log_error: Floats
    log_sample: Floats
    weight: Floats
    error_blur: float
    sample_blur: float
    interaction_share: float

    @property
    def error_sd(self) -> float:
        """Median standard deviation of a single score's error."""
        return float(np.exp(self.weight.sum(axis=1) @ self.log_error))

    @property
    def sample_sd(self) -> float:
        """Median standard deviation of the samples' true means."""
        return float(np.exp(self.weight.sum(axis=0) @ self.log_sample))

    def scaled(self, error: float, sample: float) -> Spreads:
        """Return the same with both standard deviations multiplied."""
        return replace(
            self,
            log_error=self.log_error + np.log(error),
            log_sample=self.log_sample + np.log(sample),
        )

    def vague(self, error_blur: float, sample_blur: float) -> Spreads:
        """Return the same medians, known so vaguely."""
        return replace(self, error_blur=error_blur, sample_blur=sample_blur)

    def of_means(self, replicates: float) -> Spreads:
        """Return the same for means of so many replicates of one assessor and sample."""
        share = self.interaction_share
        return self.scaled(float(np.sqrt(share + (1 - share) / replicates)), 1.0)

    def log_density(self, log_error: Floats, log_sample: Floats) -> Floats:
        """Return the log density of pairs of the two logarithms; one node only."""
        error = (log_error - self.log_error[0]) / self.error_blur
        sample = (log_sample - self.log_sample[0]) / self.sample_blur
        found: Floats = -(error**2 + sample**2) / 2 - np.log(self.error_blur * self.sample_blur)
        return found

    def points(self) -> tuple[Floats, Floats, Floats]:
        """Return nodes of the integration: log error, log sample, weight (sum 1), each (n,)."""
        error = _axis(self.log_error, self.error_blur)
        sample = _axis(self.log_sample, self.sample_blur)
        density = (
            _normal(error, self.log_error, self.error_blur)
            @ self.weight
            @ _normal(sample, self.log_sample, self.sample_blur).T
        )
        x, y = np.meshgrid(error, sample, indexing="ij")
        return x.ravel(), y.ravel(), (density / density.sum()).ravel()


def _axis(nodes: Floats, blur: float) -> Floats:
    low, high = nodes.min() - REACH * blur, nodes.max() + REACH * blur
    step = min(STEP, blur / 1.5)
    return np.linspace(low, high, int(np.ceil((high - low) / step)) + 1)


def _normal(at: Floats, nodes: Floats, sd: float) -> Floats:
    found: Floats = np.exp(-(((at[:, None] - nodes) / sd) ** 2) / 2)
    return found


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class TwoWay:
    """What a table of assessors × samples says of both spreads: its sufficient statistics.

    Attributes
    ----------
    effects : ndarray, shape (J,)
        Sample effects by least squares, sum 0.
    basis : ndarray, shape (J, J - 1)
        Directions in which they err independently.
    unit : ndarray, shape (J - 1,)
        Variance of each, in units of the variance of a cell mean.
    squares, df : float
        Sum of squares that is left, and its degrees of freedom.
    wide : float
        Squared relative error of a difference by how widely the assessors use the scale.
    """

    effects: Floats
    basis: Floats
    unit: Floats
    squares: float
    df: float
    wide: float

    def log_likelihood(self, log_error: Floats, log_sample: Floats) -> Floats:
        """Return the restricted log likelihood at each pair; a constant is left out."""
        along = (self.effects @ self.basis) ** 2
        variance, between = np.exp(2 * log_error), np.exp(2 * log_sample)
        squares = np.array([self.squares])
        (found,) = restricted(variance, between, self.unit, along[None], squares, self.df)
        return np.asarray(found)


def restricted(  # noqa: PLR0917
    variance: Floats, between: Floats, unit: Floats, along: Floats, squares: Floats, df: float
) -> Floats:
    """Return the restricted log likelihood of n tables of one design, without a constant: (n, g).

    Parameters
    ----------
    variance, between : ndarray, shape (g,)
        Of the mean of a cell, and of the samples' true means.
    unit : ndarray, shape (d,)
        Variance of each direction, in units of `variance`.
    along : ndarray, shape (n, d)
        Squared effect along each direction.
    squares : ndarray, shape (n,)
        Sum of squares that is left.
    df : float
        Its degrees of freedom.
    """
    spread = between + unit[:, None] * variance
    found: Floats = (
        -df / 2 * np.log(variance)
        - np.log(spread).sum(axis=0) / 2
        - squares[:, None] / (2 * variance)
        - along @ (1 / spread) / 2
    )
    return found


WIDTH_SD = 0.25
"""How far assessors differ in the width of scale that they use (standard deviation, mean 1)."""


def two_way(means: Floats, widths: Floats | None = None, errors: Floats | None = None) -> TwoWay:
    """Fit levels of assessors and effects of samples, each assessor at a width of scale.

    Parameters
    ----------
    means : ndarray, shape (I, J)
        Cell means, nan where there is no answer.
    widths, errors : ndarray, shape (I,), optional
        How widely each uses the scale, as a multiple of the usual, and the standard
        error of that; by default 1 and `WIDTH_SD`.

    Notes
    -----
    ``y_ij = a_i + w_i v_j + e_ij`` with w_i taken as known; that it is not is in `wide`.
    """
    filled = ~np.isnan(means)
    width = np.ones(len(means)) if widths is None else widths
    error = np.full(len(means), WIDTH_SD) if errors is None else errors
    y = centred(means, filled)
    weight = filled * width[:, None] ** 2
    covariance, rank = inverse(normal_matrix(weight))
    effects = covariance @ (width @ y)
    left = y - width[:, None] * centred(np.broadcast_to(effects, means.shape), filled)
    values, vectors = np.linalg.eigh(covariance)
    kept = values > TINY * values.max()
    return TwoWay(
        effects=effects,
        basis=vectors[:, kept],
        unit=values[kept],
        squares=float((left**2).sum()),
        df=float(filled.sum() - len(means) - rank),
        wide=float(((width * error) ** 2).sum() / (width**2).sum() ** 2),
    )


class Mixture(NamedTuple):
    """Samples given each pair of spreads, and the weight of the pair."""

    weight: Floats  # (g,), sum 1
    means: Floats  # (g, J)
    factor: Floats  # (g, J, J - 1): covariance is factor @ factor.T
    error_sd: float
    sample_sd: float
    wide: float
    kept: float  # weight of the first part: what of it the scores let stand

    def of(self, contrasts: Floats) -> tuple[Floats, Floats]:
        """Return means and standard deviations of contrasts given each pair: (g, m)."""
        means = self.means @ contrasts.T
        return means, np.sqrt(((contrasts @ self.factor) ** 2).sum(axis=2) + means**2 * self.wide)

    def above(self, contrasts: Floats) -> Floats:
        """Return the posterior probability that contrasts lie above 0."""
        means, sds = self.of(contrasts)
        above: Floats = self.weight @ ndtr(means / sds)
        return above

    def summary(self, contrasts: Floats, level: float) -> dict[str, Floats]:
        """Return posterior mean, sd, limits and probability above 0 of contrasts."""
        means, sds = self.of(contrasts)
        mean = self.weight @ means
        return {
            "mean": mean,
            "sd": np.sqrt(self.weight @ (sds**2 + means**2) - mean**2),
            "low": quantiles((1 - level) / 2, self.weight, means, sds, self.wide),
            "high": quantiles((1 + level) / 2, self.weight, means, sds, self.wide),
            "above": self.weight @ ndtr(means / sds),
        }


def integrate(data: TwoWay, parts: Sequence[tuple[Spreads, float]]) -> Mixture:
    """Join what a table says to what was known before.

    Parameters
    ----------
    data : TwoWay
    parts : sequence of (Spreads, float)
        Parts of the prior and the share of each; `kept` of the result tells what the
        first one weighs after the scores were seen.
    """
    points = [spreads.points() for spreads, _ in parts]
    error, sample, weight = (np.concatenate(column) for column in zip(*points, strict=True))
    sizes = [len(own[0]) for own in points]
    share = np.repeat([share for _, share in parts], sizes)
    log = data.log_likelihood(error, sample)
    weight = weight * share * np.exp(log - log.max())
    weight /= weight.sum()
    kept = float(weight[: sizes[0]].sum())
    mean_error = float(weight @ np.exp(error))
    mean_sample = float(weight @ np.exp(sample))
    some = weight > NOTHING * weight.max()
    error, sample, weight = error[some], sample[some], weight[some] / weight[some].sum()
    variance, between = np.exp(2 * error)[:, None], np.exp(2 * sample)[:, None]
    lasting = between / (between + variance * data.unit)
    return Mixture(
        weight=weight,
        means=(lasting * (data.effects @ data.basis)) @ data.basis.T,
        factor=data.basis[None] * np.sqrt(lasting * variance * data.unit)[:, None, :],
        error_sd=mean_error,
        sample_sd=mean_sample,
        wide=data.wide,
        kept=kept,
    )


def quantiles(end: float, weight: Floats, means: Floats, sds: Floats, wide: float = 0.0) -> Floats:
    """Find the quantile `end` of mixtures, one per column.

    `weight` has shape (g,) and sums to 1; `means` and `sds` have shape (g, m). With `wide` the
    means were taken at a width of scale of which they are sure by that squared relative error
    (it is in `sds`): a difference x is as far from its mean as ``x * sqrt(wide)`` makes it
    (Fieller 1954), so limits reach further away from zero than towards it.

    By secants on the normal scale, where a mixture of normals is nearly a straight line; a step
    that leaves what is bracketed halves it instead.
    """
    mean = weight @ means
    own = np.maximum(sds**2 - means**2 * wide, 0.0)
    sd = np.sqrt(weight @ (sds**2 + means**2) - mean**2)
    z = ndtri(end)
    # Cantelli: no quantile lies further out, whatever the mixture.
    low = mean - sd * np.sqrt((1 - end) / end)
    high = mean + sd * np.sqrt(end / (1 - end))
    close = (high - low) * CLOSE
    at = mean + sd * z
    before, before_gap = at, np.full_like(at, np.inf)
    rise = 1 / sd
    found = np.zeros(at.shape, dtype=bool)
    for _ in range(MOST_STEPS):
        below = weight @ ndtr((at - means) / np.sqrt(own + at**2 * wide))
        gap = ndtri(np.clip(below, *SEEN)) - z
        low, high = np.where(gap < 0, at, low), np.where(gap < 0, high, at)
        moved = at != before
        rise = np.divide(gap - before_gap, at - before, out=rise, where=moved)
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            then = at - gap / rise
        good = (then >= low) & (then <= high) & (np.abs(gap) <= np.abs(before_gap) / 2)
        then = np.where(found, at, np.where(good, then, (low + high) / 2))
        before, before_gap, at = at, gap, then
        found |= np.abs(at - before) <= close
        if found.all():
            break
    return at
