"""Exact mean squares for balanced panels: every assessor scored every sample equally often.

Each stratum (assessors, assessors x factor, ...) has one mean square; it is
the error of every effect that varies within it, with its own degrees of
freedom, whatever the sizes of the components. Nothing has to be approximated.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from math import prod

import numpy as np

from .block_layout import Array
from .denominator_df import Inference

Stratum = tuple[int, ...]  # which factors of the sample vary within it


@dataclass(frozen=True, slots=True, eq=False)
class MeanSquares:
    """Mean squares of a balanced design for a responses.

    Attributes
    ----------
    strata : tuple of tuple of int
        Factors of the sample that vary within each stratum; () is assessors.
    df : array, shape (strata,)
    squares : array, shape (a, strata)
    error : array, shape (a,)
        Mean square between replicates; 0 without replicates.
    error_df : int
    components : dict of Stratum to array, shape (a,)
        Variance components from mean squares, which may be negative. Without
        replicates that of the last stratum is the residual.
    inference : Inference
        Its variances are the mean squares.
    """

    strata: tuple[Stratum, ...]
    df: Array
    squares: Array
    error: Array
    error_df: int
    components: dict[Stratum, Array]
    inference: Inference


def mean_squares(
    means: Array, within: Array, replicates: int, levels: tuple[int, ...]
) -> MeanSquares:
    """Compute the mean squares of the strata of assessors.

    Parameters
    ----------
    means : array, shape (a, assessors, samples)
        Means of the replicates; samples in the order of the product of `levels`.
    within : array, shape (a,)
        Sums of squares between replicates.
    replicates : int
    levels : tuple of int
        Number of levels of each factor of the sample; its product is the number of samples.

    Returns
    -------
    MeanSquares
    """
    a, assessors, samples = means.shape
    beta = means.mean(axis=1)
    rest = means - beta[:, None]
    strata = [c for r in range(len(levels) + 1) for c in combinations(range(len(levels)), r)]
    projections = np.stack([_projection(stratum, levels) for stratum in strata])
    df = np.array([(assessors - 1) * prod(levels[f] - 1 for f in s) for s in strata], dtype=float)
    parts = np.einsum("ais,kst->akit", rest, projections, optimize=True)
    squares = replicates * np.sum(parts**2, axis=(2, 3)) / df
    error_df = assessors * samples * (replicates - 1)
    error = within / error_df if error_df else np.zeros(a)
    components: dict[Stratum, Array] = {}
    for index in reversed(range(len(strata))):
        stratum = strata[index]
        above = sum(
            (
                _share(other, levels, replicates) * components[other]
                for other in strata
                if set(stratum) < set(other)
            ),
            start=error,
        )
        components[stratum] = (squares[:, index] - above) / _share(stratum, levels, replicates)
    first = np.broadcast_to(
        projections / (assessors * replicates), (a, len(strata), samples, samples)
    )
    phi = np.einsum("ak,akst->ast", squares, first)
    spread = np.zeros((a, len(strata), len(strata)))
    spread[:, range(len(strata)), range(len(strata))] = 2 * squares**2 / df
    return MeanSquares(
        strata=tuple(strata),
        df=df,
        squares=squares,
        error=error,
        error_df=error_df,
        components=components,
        inference=Inference(
            beta=beta,
            phi=phi,
            first=first,
            spread=spread,
            adjusted=phi,
            plain=np.broadcast_to(np.eye(samples) / (assessors * replicates), phi.shape),
            scaled=False,
            ceiling=np.full(a, np.inf),
        ),
    )


def _share(stratum: Stratum, levels: tuple[int, ...], replicates: int) -> int:
    """Count the scores of one assessor that share a level of the stratum's effect."""
    return replicates * prod(n for f, n in enumerate(levels) if f not in stratum)


def _projection(stratum: Stratum, levels: tuple[int, ...]) -> Array:
    """Return the projection of the samples on what varies with just these factors."""
    matrix = np.ones((1, 1))
    for factor, n in enumerate(levels):
        average = np.full((n, n), 1 / n)
        matrix = np.kron(matrix, np.eye(n) - average if factor in stratum else average)
    return matrix
