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


def fill_additive(means: Floats) -> Floats:
    """Fill empty cells with assessor's level plus sample effect (least squares).

    That is where EM for missing cells of the additive model ends. An assessor
    without any cell gets the middle level.

    Parameters
    ----------
    means : ndarray, shape (I, J)
        Cell means, nan where there is no answer.

    Raises
    ------
    NotEstimable
        If the samples cannot be compared through shared assessors.
    """
    if not np.isnan(means).any():
        return means
    some = ~np.isnan(means).all(axis=1)
    effects = additive(means[some])[0]
    level = np.full(len(means), np.nan)
    level[some] = np.nanmean(means[some] - effects, axis=1)
    level = np.where(some, level, np.nanmean(level))
    return np.where(np.isnan(means), level[:, None] + effects, means)


def few_holes(
    hole: npt.NDArray[np.bool_], most: float = 1 / 3
) -> tuple[npt.NDArray[np.bool_], npt.NDArray[np.bool_]]:
    """Choose the assessors and samples of whose cells at most a share is empty.

    The emptiest goes first, until none is left above `most`.

    Parameters
    ----------
    hole : ndarray of bool, shape (A attributes, I assessors, J samples)
        Where there is no answer.
    most : float
        Share of empty cells (0 to 1).

    Returns
    -------
    assessors, samples : ndarrays of bool, shape (I,) and (J,)
        Which of them stay.
    """
    rows, columns = np.ones(hole.shape[1], dtype=bool), np.ones(hole.shape[2], dtype=bool)
    while rows.any() and columns.any():
        by_row = np.where(rows, hole[:, :, columns].mean(axis=(0, 2)), -1.0)
        by_column = np.where(columns, hole[:, rows].mean(axis=(0, 1)), -1.0)
        if max(by_row.max(), by_column.max()) <= most:
            break
        if by_row.max() >= by_column.max():
            rows[by_row.argmax()] = False
        else:
            columns[by_column.argmax()] = False
    return rows, columns
