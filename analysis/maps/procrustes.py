"""One layout from many: generalised Procrustes analysis over assessors.

Assessors may use the scale and even the words in their own ways. Each
assessor's layout of the samples is turned, mirrored and if wanted stretched,
until all fit their mean, the consensus, as well as they can. Noise fits too:
the share of consensus is therefore tested by dealing each assessor's samples
out at random and fitting again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Unpack

import numpy as np
import numpy.typing as npt
import pandas as pd

from ..core.options import whole
from ..core.tidy_table import LongColumns, Tidy
from ..core.wording import percent
from ..core.words import Sentence
from .map_result import (
    Map,
    arrows_of,
    asked,
    correlated,
    ellipses_of,
    points_of,
    said_left_out,
    shares_of,
    steady,
    turned,
    wide,
)
from .principal_components import profile_cube

Floats = npt.NDArray[np.float64]
_TINY = 1e-13
_ROUNDS = 2000


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Procrustes:
    """A generalised Procrustes fit (Gower 1975).

    Attributes
    ----------
    consensus : ndarray, shape (samples, dimensions)
        The mean of the fitted layouts, on its principal axes.
    fitted : ndarray, shape (layouts, samples, dimensions)
        Every layout as turned and stretched, on the same axes.
    share : float
        Of the whole sum of squares, that of the consensus (0 to 1).
    shares : ndarray
        The same by dimension; they add up to `share`.
    residuals : ndarray
        Squared distance of each layout from the consensus.
    scales : ndarray
        Stretch of each layout; the mean of their squares is 1.
    rounds : int
        Rounds until nothing changed.
    """

    consensus: Floats
    fitted: Floats
    share: float
    shares: Floats
    residuals: Floats
    scales: Floats
    rounds: int


def fit_layouts(parts: Floats, *, scale: bool) -> Procrustes:
    """Turn each part to the mean of the others, then stretch, until nothing changes.

    Parameters
    ----------
    parts : ndarray, shape (layouts, samples, columns)
        Columns centred, sum of squares of each layout 1.
    scale : bool
        Whether layouts are stretched as well.

    References
    ----------
    Gower (1975), Psychometrika 40:33-51. Ten Berge (1977), Psychometrika
    42:267-276 (rounds and scales).
    """
    m = len(parts)
    shapes, scales = parts.copy(), np.ones(m)
    last, share, rounds = -1.0, 0.0, 0
    while abs(share - last) >= _TINY and rounds < _ROUNDS:
        last = share
        rounds += 1
        fitted = shapes * scales[:, None, None]
        whole_sum = fitted.sum(axis=0)
        for place in range(m):
            others = whole_sum - fitted[place]
            u, _, vt = np.linalg.svd(shapes[place].T @ others)
            shapes[place] = shapes[place] @ (u @ vt)
            fitted[place] = shapes[place] * scales[place]
            whole_sum = others + fitted[place]
        if scale:
            scales = _stretched(shapes)
        consensus = (shapes * scales[:, None, None]).mean(axis=0)
        share = float((consensus**2).sum())
    fitted = shapes * scales[:, None, None]
    consensus = fitted.mean(axis=0)
    _, values, vt = np.linalg.svd(consensus, full_matrices=False)
    signs = steady(vt.T)
    axes = vt.T * signs
    return Procrustes(
        consensus=consensus @ axes,
        fitted=fitted @ axes,
        share=float((consensus**2).sum() * m / (fitted**2).sum()),
        shares=values**2 * m / float((fitted**2).sum()),
        residuals=((fitted - consensus) ** 2).sum(axis=(1, 2)),
        scales=scales,
        rounds=rounds,
    )


def _stretched(shapes: Floats) -> Floats:
    """Return the scales that make the mean largest: the first eigenvector of the products."""
    flat = shapes.reshape(len(shapes), -1)
    values, vectors = np.linalg.eigh(flat @ flat.T)
    del values
    scales: Floats = np.abs(vectors[:, -1]) * np.sqrt(len(shapes))
    return scales


def procrustes_map(
    table: Tidy | pd.DataFrame,
    *,
    attributes: Sequence[str] | None = None,
    level: float = 0.95,
    draws: int = 200,
    deals: int = 199,
    seed: int = 1,
    **column_names: Unpack[LongColumns],
) -> Map:
    """Map the samples by the consensus of the assessors' own layouts.

    Parameters
    ----------
    table : Tidy or DataFrame
        Scores; replicates of an assessor are averaged.
    attributes : sequence of str, optional
        By default all that have scores other than 0 and 1.
    level : float
        Of the ellipses.
    draws : int
        How often assessors are drawn again for the ellipses.
    deals : int
        How often samples are dealt out at random for the test of the consensus.
    seed : int
    **column_names : str
        What the columns of a DataFrame are called, as in `tidy`.

    Returns
    -------
    Map
        Without pairs: after the turning they cannot be tested.

    Raises
    ------
    NotEstimable
        With fewer than 3 samples or 4 assessors who answered everything and
        told the samples apart.
    """
    stacked = profile_cube(table, attributes, **column_names)
    cube, samples, names, people, *_ = stacked
    moved = np.ptp(cube, axis=1).max(axis=1) > 0 if len(cube) else np.zeros(0, dtype=bool)
    same = [name for name, told in zip(people, moved, strict=True) if not told]
    left_out = (*stacked.left_out, *same)
    cube, tested = cube[moved], stacked.tested[moved]
    asked(len(samples), len(cube), level, draws)
    whole("deals", deals, 99)
    cube = cube - cube.mean(axis=1, keepdims=True)
    cube = cube / np.sqrt((cube**2).sum(axis=(1, 2), keepdims=True))
    tested = tested / np.sqrt((tested**2).sum(axis=(1, 2), keepdims=True))
    fit = fit_layouts(cube, scale=True)
    seen = fit.share if not stacked.filled else fit_layouts(tested, scale=True).share
    generator = np.random.default_rng(seed)
    fixed = wide(fit.consensus)
    n = len(cube)
    cloud = np.array(
        [
            turned(wide(fit_layouts(cube[drawn], scale=True).consensus), fixed)
            for drawn in [generator.integers(n, size=n) for _ in range(draws)]
        ]
    )
    rows = np.arange(n)[:, None]
    orders = generator.random((deals, n, len(samples))).argsort(axis=2)
    by_chance = np.array([fit_layouts(tested[rows, order], scale=True).share for order in orders])
    p = (1 + int((by_chance >= seen).sum())) / (deals + 1)
    said = Sentence.of(
        "procrustes.consensus",
        share=percent(fit.share),
        chance=percent(by_chance.mean()),
        n=n,
    )
    kept = fit.shares > _TINY
    return Map(
        kind="procrustes",
        points=points_of(samples, fixed[:, : max(2, int(kept.sum()))]),
        arrows=_arrows(cube, names, fit),
        eigenvalues=shares_of(fit.shares[kept]),
        ellipses=ellipses_of(samples, fixed, cloud, n, level),
        pairs=pd.DataFrame(columns=["first", "second", "distance", "p", "holm", "apart"]),
        p=p,
        permutations=deals + 1,
        assessors=n,
        draws=draws,
        seed=seed,
        level=level,
        left_out=left_out,
        notes=(said, Sentence.of("procrustes.too_small")),
        warnings=(*stacked.gaps(), *said_left_out(left_out)),
    )


def _arrows(cube: Floats, names: list[str], fit: Procrustes) -> pd.DataFrame:
    """Correlate the mean of each attribute with the consensus."""
    means = cube.mean(axis=0)
    means = means - means.mean(axis=0)
    return arrows_of(names, correlated(means, wide(fit.consensus)[:, :2]))
