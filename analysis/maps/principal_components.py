"""Principal components of the panel's mean profile, with its uncertainty.

The plane that shows most of the differences between the samples' means. By
default an attribute is measured in units of its own spread within assessors.
The usual standardising, by the spread of the means, makes an attribute in which
the samples do not differ as loud as one in which they do: it then lays out noise.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple, Unpack

import numpy as np
import numpy.typing as npt
import pandas as pd

from ..core.errors import NotEstimable
from ..core.options import one_of
from ..core.tidy_table import LongColumns, Tidy, as_tidy
from ..core.two_way import few_holes, fill_additive
from ..core.words import Sentence
from .map_result import Map, arrows_of, asked, drawn_map, steady
from .resampled_space import Space, means_in

Floats = npt.NDArray[np.float64]
UNITS = ("spread", "means", "scores")
_TINY = 1e-10


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Components:
    """Principal components of a table.

    Attributes
    ----------
    eigenvalues : ndarray
        Variances (divisor: number of rows) of the components, all that exist.
    rows : ndarray, shape (rows, components)
        Positions of the rows.
    axes : ndarray, shape (columns, components)
        Unit vectors; the largest entry of each is positive.
    correlations : ndarray, shape (columns, components)
        Of columns with components.
    mean, scale : ndarray
        What was taken off and divided by.
    """

    eigenvalues: Floats
    rows: Floats
    axes: Floats
    correlations: Floats
    mean: Floats
    scale: Floats


def components(
    table: npt.ArrayLike, *, standardise: bool = True, weights: npt.ArrayLike | None = None
) -> Components:
    """Decompose a table of rows by columns.

    Parameters
    ----------
    table : array_like, shape (rows, columns)
    standardise : bool
        Divide each column by its standard deviation (divisor: rows).
    weights : array_like, shape (columns,), optional
        Weight of each column in the distances; 1 by default.

    Returns
    -------
    Components

    Examples
    --------
    >>> found = components([[1.0, 2.0], [2.0, 4.1], [3.0, 5.9]])
    >>> found.eigenvalues.round(3).tolist()
    [1.999, 0.001]
    """
    values = np.asarray(table, dtype=float)
    mean = values.mean(axis=0)
    spread = values.std(axis=0)
    scale = spread if standardise else np.ones(values.shape[1])
    if weights is not None:
        scale = scale / np.sqrt(np.asarray(weights, dtype=float))
    centred = (values - mean) / scale
    u, s, vt = np.linalg.svd(centred, full_matrices=False)
    kept = s > _TINY * max(s[0], _TINY)
    u, s, axes = u[:, kept], s[kept], vt[kept].T
    signs = steady(axes)
    rows = u * s * signs
    axes = axes * signs
    with np.errstate(invalid="ignore", divide="ignore"):
        correlations = (values - mean).T @ rows / len(values) / np.outer(spread, rows.std(axis=0))
    return Components(
        eigenvalues=s**2 / len(values),
        rows=rows,
        axes=axes,
        correlations=correlations,
        mean=mean,
        scale=scale,
    )


class Cube(NamedTuple):
    """Answers stacked for a map.

    Attributes
    ----------
    scores : ndarray, shape (assessors, samples, attributes)
        Each assessor's mean of each attribute taken off.
    tested : ndarray, shape (assessors, samples, attributes)
        The same with 0 in the cells that were filled, for tests.
    samples, attributes, assessors : list of str
    left_out : tuple of str
        Assessors and samples with too many empty cells.
    filled : int
        Empty cells that were filled.
    """

    scores: Floats
    samples: list[str]
    attributes: list[str]
    assessors: list[str]
    left_out: tuple[str, ...]
    filled: int
    tested: Floats

    def gaps(self) -> tuple[Sentence, ...]:
        """Say what was filled."""
        return (Sentence.of("maps.filled", n=self.filled),) if self.filled else ()


def profile_cube(
    table: Tidy | pd.DataFrame,
    attributes: Sequence[str] | None = None,
    **column_names: Unpack[LongColumns],
) -> Cube:
    """Average replicates and stack the answers of the assessors, few holes filled.

    Parameters
    ----------
    table : Tidy or DataFrame
    attributes : sequence of str, optional
        By default all that have scores other than 0 and 1.
    **column_names : str
        What the columns of a DataFrame are called, as in `tidy`.

    Returns
    -------
    Cube

    Notes
    -----
    An assessor or a sample of whose cells more than a third is empty is left
    out. Other empty cells are filled with what assessor and sample let expect
    in that attribute (the additive model by least squares, where EM ends). The
    tests take the middle of the assessor's other answers instead, which favours
    no sample: with the filled values 10 % of blanks made 25 % of noise "real".
    """
    checked = as_tidy(table, **column_names)
    data = checked.data
    if attributes is None:
        graded = set(data.loc[~data["score"].isin((0, 1)), "attribute"])
        attributes = [name for name in checked.attributes if name in graded]
    data = data[data["attribute"].isin(list(attributes))]
    there = set(data["attribute"])
    names = [name for name in attributes if name in there]
    who, everybody = _places(data["assessor"])
    which, things = _places(data["sample"])
    what = pd.Index(names, dtype=object).get_indexer(pd.Index(data["attribute"], dtype=object))
    shape = len(names), len(everybody), len(things)
    cell = (what * shape[1] + who) * shape[2] + which
    n = np.bincount(cell, minlength=math.prod(shape))
    sums = np.bincount(cell, data["score"].to_numpy(float), minlength=math.prod(shape))
    stacked = np.where(n > 0, sums / np.maximum(n, 1), np.nan).reshape(shape)
    people, kept = few_holes(np.isnan(stacked))
    stacked = stacked[:, people][:, :, kept]
    empty = int(np.isnan(stacked).sum())
    filled = [fill_additive(one) for one in stacked]
    cube = np.array(filled).reshape(stacked.shape).transpose(1, 2, 0)
    tested = cube
    if cube.size:
        if empty:
            given = stacked.transpose(1, 2, 0)
            seen = ~np.isnan(given)
            total = np.where(seen, given, 0.0).sum(axis=1, keepdims=True)
            own = total / np.maximum(seen.sum(axis=1, keepdims=True), 1)
            tested = np.where(seen, given - own, 0.0)
        # An assessor's level moves all samples together: it has no place on a map.
        cube = cube - cube.mean(axis=1, keepdims=True)
    left = [name for name, is_in in zip(everybody, people, strict=True) if not is_in]
    left += [name for name, is_in in zip(things, kept, strict=True) if not is_in]
    return Cube(
        scores=cube,
        samples=[name for name, is_in in zip(things, kept, strict=True) if is_in],
        attributes=names,
        assessors=[name for name, is_in in zip(everybody, people, strict=True) if is_in],
        left_out=tuple(left),
        filled=empty,
        tested=tested if empty else cube,
    )


def _places(names: pd.Series) -> tuple[npt.NDArray[np.intp], list[str]]:
    """Return the place of each name among the sorted ones, and these."""
    number, kinds = pd.factorize(names)
    ordered = sorted(str(kind) for kind in kinds)
    place = {name: at for at, name in enumerate(ordered)}
    return np.array([place[str(kind)] for kind in kinds], dtype=np.intp)[number], ordered


def profile_map(
    table: Tidy | pd.DataFrame,
    *,
    attributes: Sequence[str] | None = None,
    units: str = "spread",
    level: float = 0.95,
    draws: int = 500,
    seed: int = 1,
    **column_names: Unpack[LongColumns],
) -> Map:
    """Map the samples by the principal components of their mean profiles.

    Parameters
    ----------
    table : Tidy or DataFrame
        Scores; replicates of an assessor are averaged.
    attributes : sequence of str, optional
        By default all that have scores other than 0 and 1.
    units : {'spread', 'means', 'scores'}
        'spread': each attribute in units of its spread within assessors,
        differences and noise together; 'means': every attribute's means
        standardised, so that all count the same; 'scores': as scored.
    level, draws, seed
        Of the ellipses and tests.
    **column_names : str
        What the columns of a DataFrame are called, as in `tidy`.

    Returns
    -------
    Map
        Arrows are the correlations of attributes with the components.

    Raises
    ------
    NotEstimable
        With fewer than 3 samples, 4 assessors who answered at least two thirds, or 2
        attributes in which the means differ.
    """
    stacked = profile_cube(table, attributes, **column_names)
    cube, samples, names = stacked[:3]
    one_of("units", units, UNITS)
    asked(len(samples), len(cube), level, draws)
    cube, names, same, tested = moving(cube, names, stacked.tested)
    means = cube.mean(axis=0)
    noise = np.ones(len(names)) if units == "scores" else within(cube)
    scale = means.std(axis=0) if units == "means" else noise
    fit = components(means / scale, standardise=False)
    place, metric = means_in(scale), means_in(noise)
    return drawn_map(
        "pca",
        Space(data=cube, place=place, axes=fit.axes, middle=fit.mean, metric=metric, tested=tested),
        samples=samples,
        eigenvalues=fit.eigenvalues,
        arrows=arrows_of(names, fit.correlations),
        level=level,
        draws=draws,
        seed=seed,
        left_out=stacked.left_out,
        warnings=(*stacked.gaps(), *((Sentence.of("pca.same", listed=same),) if same else ())),
    )


def moving(
    cube: Floats, names: list[str], tested: Floats
) -> tuple[Floats, list[str], list[str], Floats]:
    """Leave out attributes in which all samples have the same mean, of both tables.

    Raises
    ------
    NotEstimable
        If fewer than two are left.
    """
    means = cube.mean(axis=0)
    kept = np.ptp(means, axis=0) > _TINY
    if kept.sum() < 2:
        raise NotEstimable("pca.few_attributes", n=int(kept.sum()))
    same = [name for name, keep in zip(names, kept, strict=True) if not keep]
    left = [name for name, keep in zip(names, kept, strict=True) if keep]
    return cube[:, :, kept], left, same, tested[:, :, kept]


def within(cube: Floats) -> Floats:
    """Return the spread of each attribute within assessors, samples and noise together.

    It does not change when an assessor's answers are dealt to other samples,
    so distances in its units can be tested by dealing them.
    """
    spread: Floats = (cube - cube.mean(axis=1, keepdims=True)).std(axis=(0, 1))
    return spread
