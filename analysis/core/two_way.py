"""Two-way fits of assessor and sample by least squares, cells may be empty."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from .errors import NotEstimable

Floats = npt.NDArray[np.float64]
TINY = 1e-10
"""Below this share of the largest, a sum of squares or an eigenvalue counts as nothing."""


def additive(means: Floats) -> tuple[Floats, Floats, Floats, int]:
    """Fit ``y_ij = a_i + v_j`` by least squares, assessors absorbed.

    Parameters
    ----------
    means : ndarray, shape (I, J)
        As `bundle_of_lines`.

    Returns
    -------
    effects : ndarray, shape (J,)
        Sample effects, sum 0.
    covariance : ndarray, shape (J, J)
        Their covariance in units of the variance of a cell mean.
    left : ndarray, shape (I, J)
        What the model leaves; 0 in empty cells.
    df : int
        Degrees of freedom of what is left.

    Raises
    ------
    NotEstimable
        If the samples cannot be compared through shared assessors.
    """
    filled = ~np.isnan(means)
    y = centred(means, filled)
    covariance, rank = inverse(normal_matrix(filled.astype(float)))
    if rank < means.shape[1] - 1:
        raise NotEstimable("bundle.apart")
    effects = covariance @ y.sum(axis=0)
    df = int(filled.sum()) - len(means) - rank
    return effects, covariance, y - centred(effects, filled), df


def normal_matrix(weight: Floats) -> Floats:
    """Return the normal matrix of the samples once assessors are absorbed."""
    matrix: Floats = np.diag(weight.sum(axis=0)) - (weight / weight.sum(axis=1)[:, None]).T @ weight
    return matrix


def centred(values: Floats, filled: npt.NDArray[np.bool_]) -> Floats:
    """Subtract each assessor's mean over the filled cells; empty cells become 0."""
    kept = np.where(filled, values, 0.0)
    return np.where(filled, kept - (kept.sum(axis=1) / filled.sum(axis=1))[:, None], 0.0)


def inverse(matrix: Floats) -> tuple[Floats, int]:
    """Return the pseudo-inverse of a symmetric matrix and its rank."""
    values, vectors = np.linalg.eigh(matrix)
    kept = values > TINY * max(float(values.max(initial=0.0)), 1.0)
    return (vectors[:, kept] / values[kept]) @ vectors[:, kept].T, int(kept.sum())


def levels(panel: Floats) -> Floats:
    """Return each assessor's level by least squares of assessor and sample effects."""
    seen = ~np.isnan(panel)
    if seen.all():
        return np.asarray(panel.mean(axis=1))
    row, column = np.nonzero(seen)
    design = np.hstack([np.eye(panel.shape[0])[row], np.eye(panel.shape[1])[column][:, 1:]])
    effect = np.linalg.lstsq(design, panel[row, column], rcond=None)[0]
    rest = np.concatenate([[0.0], effect[panel.shape[0] :]])
    return np.asarray(effect[: panel.shape[0]] + rest.mean())
