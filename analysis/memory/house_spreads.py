"""The two spreads of a house in one attribute, from all of its sessions.

A house has its own error and its own spread of samples; a session deviates from them. Both
are integrated on a lattice that follows the posterior, narrow as it may be.
"""

from __future__ import annotations

import numpy as np
from numpy.polynomial.hermite_e import hermegauss

from ..performance.spreads import Floats, Spreads
from .session_statistics import Statistics

ERROR_BETWEEN = 0.2
"""How far the error of a session lies from its house: standard deviation of its logarithm."""
SAMPLE_BETWEEN = 0.4
"""How far the spread of its samples does: standard deviation of its logarithm (assumed)."""
SHARE_WORTH = 8.0
"""Degrees of freedom that the usual share of assessor × sample is worth."""
POINTS = 17
PARTS = (0.2, 0.8)
"""Shares of what is usual and of the vague rest in the prior of a house: six data sets tell little
of how far houses lie apart."""
_ROUGH = 9
_REACH = 5.0
_ROUNDS = 12


def house_spreads(found: Statistics, usual: Spreads, wide: Spreads) -> Spreads:
    """Return what the sessions teach of a house, for its next session.

    Parameters
    ----------
    found : Statistics
    usual, wide : Spreads
        What is usual, in shares of the scale, and the same vaguely: the prior of the house
        is a mixture of both, so that a house unlike others is learned soon.
    """
    share = interaction_share(found, usual.interaction_share)
    at = np.array([np.log(usual.error_sd), np.log(usual.sample_sd)])
    sd = np.array([usual.error_blur, usual.sample_blur])
    widest = np.array([wide.error_blur, wide.sample_blur])
    for _ in range(_ROUNDS):
        axes, weight = _posterior(found, share, (usual, wide), at, sd, _ROUGH)
        mean, spread = _moments(axes, weight)
        # No narrower than a lattice of this width can see.
        narrow = np.maximum(spread, _REACH * sd / (_ROUGH - 1) / 2)
        settled = bool((np.abs(mean - at) < 0.3 * sd).all() and (narrow > 0.7 * sd).all())
        at, sd = mean, np.minimum(narrow, widest)
        if settled:
            break
    axes, weight = _posterior(found, share, (usual, wide), at, sd, POINTS)
    return Spreads(
        log_error=axes[0],
        log_sample=axes[1],
        weight=weight,
        error_blur=ERROR_BETWEEN,
        sample_blur=SAMPLE_BETWEEN,
        interaction_share=share,
    )


def interaction_share(found: Statistics, usual: float) -> float:
    """Estimate the share of assessor × sample in the error of a single score.

    The mean square of cell means and that between replicates tell the two apart; what is
    usual counts as `SHARE_WORTH` degrees of freedom.
    """
    repeated = (found.within_df > 0) & (found.df > 0)
    df = float(found.df[repeated].sum())
    if not df:
        return usual
    within = float(found.within[repeated].sum() / found.within_df[repeated].sum())
    scaled = found.squares[repeated] * found.replicates[repeated]
    r = float(found.replicates[repeated].mean())
    between = max((float(scaled.sum()) / df - within) / r, 0.0)
    own = between / (between + within) if between + within else usual
    return (df * own + SHARE_WORTH * usual) / (df + SHARE_WORTH)


def _posterior(  # noqa: PLR0917
    found: Statistics,
    share: float,
    prior: tuple[Spreads, Spreads],
    at: Floats,
    sd: Floats,
    points: int,
) -> tuple[tuple[Floats, Floats], Floats]:
    """Return a lattice and the posterior weight of the house's two spreads on it."""
    steps = np.linspace(-_REACH, _REACH, points)
    error, sample = at[0] + sd[0] * steps, at[1] + sd[1] * steps
    x, y = (part.ravel() for part in np.meshgrid(error, sample, indexing="ij"))
    z_error, w_error = hermegauss(3)
    z_sample, w_sample = hermegauss(5)
    whole = np.stack(
        [
            np.log(u * v)
            + found.log_likelihood(x + ERROR_BETWEEN * a, y + SAMPLE_BETWEEN * b, share)
            for a, u in zip(z_error, w_error / w_error.sum(), strict=True)
            for b, v in zip(z_sample, w_sample / w_sample.sum(), strict=True)
        ]
    )
    top = whole.max(axis=0)
    log = (top + np.log(np.exp(whole - top).sum(axis=0))).sum(axis=0)
    parts = [np.log(part) + one.log_density(x, y) for part, one in zip(PARTS, prior, strict=True)]
    log += np.logaddexp(*parts)
    weight = np.exp(log - log.max())
    return (error, sample), (weight / weight.sum()).reshape(points, points)


def _moments(axes: tuple[Floats, Floats], weight: Floats) -> tuple[Floats, Floats]:
    sides = weight.sum(axis=1), weight.sum(axis=0)
    mean = np.array([side @ axis for side, axis in zip(sides, axes, strict=True)])
    square = np.array([side @ axis**2 for side, axis in zip(sides, axes, strict=True)])
    return mean, np.sqrt(np.maximum(square - mean**2, 0.0))
