"""Words and samples on one map: correspondence analysis, simple and multiple.

Simple analysis lays out the counts of samples by words: samples stand near
each other when they were called by the same words in the same proportions.
Multiple analysis lays out single evaluations by the words ticked together.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ..citations.citation_counts import Citations, cube_of
from ..core.errors import NotEstimable
from ..core.words import Sentence
from .map_result import Map, arrows_of, asked, drawn_map, steady
from .resampled_space import Space

Floats = npt.NDArray[np.float64]
_TINY = 1e-12


@dataclass(frozen=True, slots=True)
class Axes:
    """Singular values, principal coordinates and masses of a table."""

    singular: Floats
    rows: Floats
    columns: Floats
    row_mass: Floats
    column_mass: Floats


def decomposed(values: Floats) -> Axes:
    """Decompose the standardised residuals of a table without empty rows or columns."""
    share = values / values.sum()
    r, c = share.sum(axis=1), share.sum(axis=0)
    standard = (share - np.outer(r, c)) / np.sqrt(np.outer(r, c))
    u, s, vt = np.linalg.svd(standard, full_matrices=False)
    kept = min(values.shape) - 1
    kept = min(kept, int((s > _TINY).sum()))
    u, s, v = u[:, :kept], s[:kept], vt[:kept].T
    columns = v * s / np.sqrt(c)[:, None]
    signs = steady(columns) if kept else np.ones(0)
    return Axes(s, u * s / np.sqrt(r)[:, None] * signs, columns * signs, r, c)


def word_map(counted: Citations, *, level: float = 0.95, draws: int = 500, seed: int = 1) -> Map:
    """Lay out samples by the words used for them, with ellipses over assessors.

    Parameters
    ----------
    counted : Citations
    level : float
        Of the ellipses.
    draws, seed : int
        How often assessors are drawn again, and from which seed.

    Returns
    -------
    Map
        Arrows are the principal coordinates of the words.

    Raises
    ------
    NotEstimable
        With fewer than 3 samples or 4 assessors, or when fewer than 3 words
        were used.
    """
    cube, left_out = _complete(counted, level, draws)
    sums = cube.sum(axis=0)
    used = sums.sum(axis=0) > 0
    silent = [name for name, n in zip(counted.samples, sums.sum(axis=1), strict=True) if n == 0]
    if used.sum() < 3 or silent:
        raise NotEstimable("correspondence.few_words", n=int(used.sum()), silent=silent or ["–"])
    cube, sums = cube[:, :, used], sums[:, used]
    fit = decomposed(sums)
    words, unused = _parted(counted.attributes, used)
    return drawn_map(
        "correspondence",
        _space(cube, fit),
        samples=list(counted.samples),
        eigenvalues=fit.singular**2,
        arrows=arrows_of(words, fit.columns),
        level=level,
        draws=draws,
        seed=seed,
        left_out=left_out,
        warnings=(Sentence.of("correspondence.empty", listed=unused),) if unused else (),
    )


def tick_map(counted: Citations, *, level: float = 0.95, draws: int = 500, seed: int = 1) -> Map:
    """Lay out samples by the company that words keep in single evaluations.

    Every word is a variable, ticked or not, and every assessor's evaluation of
    a sample a row of a multiple correspondence analysis; a sample stands at the
    mean of its evaluations. Unlike in `word_map` not ticking counts as well,
    and the axes do not know the samples: they show how words go together.

    Parameters
    ----------
    counted : Citations
    level : float
        Of the ellipses.
    draws, seed : int
        How often assessors are drawn again, and from which seed.

    Returns
    -------
    Map
        Arrows are the principal coordinates of the words where ticked; shares
        are Benzecri's (see `multiple_correspondence`).

    Raises
    ------
    NotEstimable
        With fewer than 3 samples or 4 assessors, when fewer than 3 words were
        ticked in some evaluations and not in others, or when no two words go
        together.
    """
    cube, left_out = _complete(counted, level, draws)
    share = cube.mean(axis=(0, 1))
    used = (share > 0) & (share < 1)
    J = int(used.sum())
    if J < 3:
        raise NotEstimable("correspondence.few_telling", n=J)
    both = np.concatenate([cube[:, :, used], 1 - cube[:, :, used]], axis=2)
    fit = decomposed(both.reshape(-1, 2 * J))
    corrected = (J / (J - 1)) ** 2 * np.maximum(fit.singular**2 - 1 / J, 0) ** 2
    if corrected.sum() < _TINY:
        raise NotEstimable("correspondence.apart")
    words, left = _parted(counted.attributes, used)
    return drawn_map(
        "multiple",
        _space(both, fit),
        samples=list(counted.samples),
        eigenvalues=corrected,
        arrows=arrows_of(words, fit.columns[:J]),
        level=level,
        draws=draws,
        seed=seed,
        left_out=left_out,
        warnings=(Sentence.of("correspondence.untelling", listed=left),) if left else (),
    )


def _complete(counted: Citations, level: float, draws: int) -> tuple[Floats, tuple[str, ...]]:
    """Return the ticks of those who judged every sample, and name the others."""
    cube = cube_of(counted)
    complete = ~np.isnan(cube).any(axis=(1, 2))
    cube = cube[complete]
    asked(len(counted.samples), len(cube), level, draws)
    return cube, tuple(_parted(counted.assessors, complete)[1])


def _parted(names: Iterable[str], kept: npt.ArrayLike) -> tuple[list[str], list[str]]:
    """Part names into those that are kept and those that are not."""
    pairs = [*zip(names, np.asarray(kept), strict=True)]
    return [name for name, is_in in pairs if is_in], [name for name, is_in in pairs if not is_in]


def _space(cube: Floats, fit: Axes) -> Space:
    """Place samples by their profiles over the columns of a fit."""
    root = np.sqrt(fit.column_mass)

    def profile(total: Floats, n: int) -> Floats:  # noqa: ARG001
        with np.errstate(invalid="ignore", divide="ignore"):
            placed: Floats = total / total.sum(axis=-1, keepdims=True) / root
        return placed

    return Space(data=cube, place=profile, axes=_standard(fit), middle=root)


def _standard(fit: Axes) -> Floats:
    """Return the axes: profiles over the roots of the masses, times these, are the rows."""
    axes: Floats = fit.columns * np.sqrt(fit.column_mass)[:, None] / fit.singular
    return axes
