"""Least squares of a bundle of lines: the arithmetic below `assessor_model`.

All is computed from the means of the cells (assessor × sample), each weighted
equally, absent cells left out. Assessors are absorbed first, so that the
largest matrix has one row per sample, however many assessors there are.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ..core.errors import NotEstimable
from ..core.two_way import TINY, additive, centred, inverse, normal_matrix

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Bundle:
    """Three nested models of a table of cell means, and what each leaves.

    additive   ``y_ij = a_i + v_j``
    lines      ``y_ij = a_i + v_j + b_i x_j``, with x the additive estimate of v
    tukey      ``y_ij = a_i + v_j + gamma a_i v_j``

    Sums of squares are those of cell means; multiply by the number of
    replicates for those of single answers.

    Attributes
    ----------
    level : ndarray, shape (I,)
        Assessors' levels, as differences from their mean.
    x : ndarray, shape (J,)
        Sample effects of the additive model, sum 0.
    grand : float
        Mean of the additive model.
    slope, slope_unit : ndarray, shape (I,)
        Slope of each assessor's own means on x, and its variance in units of
        the variance of a cell mean; nan for an assessor with fewer than two
        different samples.
    deviation_ss, deviation_unit, deviation_df : ndarray, shape (I,)
        Sum of squares around the assessor's own line, its expectation in units
        of the variance of a cell mean, and the number of directions that the
        line leaves (samples tasted less 2).
    covariance : ndarray, shape (J, J)
        Covariance of x in units of the variance of a cell mean.
    assessor_ss, sample_ss, interaction_ss, scaling_ss, tukey_ss, deviations_ss : float
        Sums of squares; assessor and sample each adjusted for the other.
    interaction_df, scaling_df, deviations_df : int
        Degrees of freedom.
    gamma : float
        Tukey's coefficient.
    """

    level: Floats
    x: Floats
    grand: float
    slope: Floats
    slope_unit: Floats
    deviation_ss: Floats
    deviation_unit: Floats
    deviation_df: Floats
    covariance: Floats
    assessor_ss: float
    sample_ss: float
    interaction_ss: float
    scaling_ss: float
    tukey_ss: float
    deviations_ss: float
    interaction_df: int
    scaling_df: int
    deviations_df: int
    gamma: float


def bundle_of_lines(means: Floats) -> Bundle:
    """Fit the bundle to cell means.

    Parameters
    ----------
    means : ndarray, shape (I, J)
        Means of assessor i for sample j; nan where the cell is empty. Every
        row and column has at least one number.

    Raises
    ------
    NotEstimable
        If the samples cannot be compared through shared assessors, do not
        differ at all, or too few cells are filled for a line and what
        deviates from it.

    References
    ----------
    Tukey (1949), Biometrics 5:232-242; Mandel (1961), J. Am. Stat. Assoc.
    56:878-888.
    """
    filled = ~np.isnan(means)
    weight = filled.astype(float)
    per_row = weight.sum(axis=1)
    count = int(per_row.sum())

    x, covariance, left, interaction_df = additive(means)
    line = centred(x, filled)
    y = left + line
    laplace = normal_matrix(weight)
    own = np.nansum(np.where(filled, means - x, 0.0), axis=1) / per_row
    grand = float(own.mean())

    sxx = (line**2).sum(axis=1)
    if sxx.sum() <= TINY * (y**2).sum():
        raise NotEstimable("bundle.no_spread")
    usable = sxx > TINY * sxx.max()
    unit = np.zeros_like(line)
    unit[usable] = line[usable] / np.sqrt(sxx[usable])[:, None]

    # Lines: each assessor's own intercept and slope absorbed, samples free.
    along = (unit * y).sum(axis=1)
    free, free_rank = inverse(laplace - unit.T @ unit)
    shift = free @ (y.sum(axis=0) - along @ unit)
    around = y - centred(shift, filled)
    around -= (around * unit).sum(axis=1)[:, None] * unit
    deviation_ss = (around**2).sum(axis=1)
    deviations_df = count - len(means) - int(usable.sum()) - free_rank
    if deviations_df < 1:
        raise NotEstimable("bundle.too_few")

    slope = np.full(len(means), np.nan)
    slope[usable] = along[usable] / np.sqrt(sxx[usable])
    # Variance of own slope against the panel's: own noise less the part shared with x.
    shared = np.einsum("ij,jk,ik->i", unit, covariance, unit)
    slope_unit = np.where(usable, (1 - shared) / np.where(usable, sxx, 1.0), np.nan)
    # trace(P_i free), P_i the projection off the assessor's own mean and line.
    diagonal = weight @ np.diag(free)
    mean_part = np.einsum("ij,jk,ik->i", weight, free, weight) / per_row
    line_part = np.einsum("ij,jk,ik->i", unit, free, unit)
    deviation_df = per_row - 1 - usable
    deviation_unit = deviation_df - (diagonal - mean_part - line_part)

    gamma, tukey_ss = _tukey(own - grand, x, left, filled, covariance)
    scaling_ss = float((left**2).sum() - deviation_ss.sum())
    by_sample = np.where(filled, means - np.nanmean(means, axis=0), 0.0)
    return Bundle(
        level=own - grand,
        x=x,
        grand=grand,
        slope=slope,
        slope_unit=slope_unit,
        deviation_ss=deviation_ss,
        deviation_unit=deviation_unit,
        deviation_df=deviation_df,
        covariance=covariance,
        assessor_ss=float((by_sample**2).sum() - (left**2).sum()),
        sample_ss=float(x @ y.sum(axis=0)),
        interaction_ss=float((left**2).sum()),
        scaling_ss=max(scaling_ss, 0.0),
        tukey_ss=tukey_ss,
        deviations_ss=float(deviation_ss.sum()),
        interaction_df=interaction_df,
        scaling_df=interaction_df - deviations_df,
        deviations_df=deviations_df,
        gamma=gamma,
    )


def _tukey(
    level: Floats, x: Floats, left: Floats, filled: npt.NDArray[np.bool_], covariance: Floats
) -> tuple[float, float]:
    """Return the coefficient and sum of squares of level × sample effect."""
    product = centred(np.outer(level, x), filled)
    product = product - centred(covariance @ product.sum(axis=0), filled)
    size = float((product**2).sum())
    if size <= TINY * float((x**2).sum()) * float((level**2).sum()) or size == 0:
        return float("nan"), 0.0
    gamma = float((left * product).sum()) / size
    return gamma, gamma**2 * size
