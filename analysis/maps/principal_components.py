"""Principal components of the panel's mean profile, with its uncertainty.

The plane that shows most of the differences between the samples' means. By
default an attribute is measured in units of its own spread within assessors.
The usual standardising, by the spread of the means, makes an attribute in which
the samples do not differ as loud as one in which they do: it then lays out noise.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from ..core.errors import NotEstimable
from ..core.options import one_of
from ..core.tidy_table import Tidy, tidy
from ..core.words import Sentence
from .map_result import Map, Space, asked, drawn_map, steady, wide

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


def profile_cube(
    table: Tidy | pd.DataFrame, attributes: Sequence[str] | None = None
) -> tuple[Floats, list[str], list[str], int]:
    """Average replicates and stack the answers of complete assessors.

    Parameters
    ----------
    table : Tidy or DataFrame
    attributes : sequence of str, optional
        By default all that have scores other than 0 and 1.

    Returns
    -------
    cube : ndarray, shape (assessors, samples, attributes)
        Each assessor's mean of each attribute taken off.
    samples, attributes : list of str
    left_out : int
        Assessors without an answer for every sample and attribute.
    """
    checked = table if isinstance(table, Tidy) else tidy(table)
    data = checked.data
    if attributes is None:
        scored = {
            name: ~data.loc[data["attribute"] == name, "score"].isin((0, 1))
            for name in checked.attributes
        }
        attributes = [name for name, other in scored.items() if other.any()]
    data = data[data["attribute"].isin(list(attributes))]
    wide_table = data.pivot_table(
        index="assessor", columns=["sample", "attribute"], values="score", aggfunc="mean"
    )
    samples = sorted(str(name) for name in data["sample"].unique())
    names = [name for name in attributes if name in set(data["attribute"])]
    grid = pd.MultiIndex.from_product([samples, names], names=["sample", "attribute"])
    wide_table = wide_table.reindex(columns=grid)
    complete = wide_table.dropna()
    cube = complete.to_numpy(dtype=float).reshape(len(complete), len(samples), len(names))
    if len(cube):
        # An assessor's level moves all samples together: it has no place on a map.
        cube = cube - cube.mean(axis=1, keepdims=True)
    return cube, samples, names, len(wide_table) - len(complete)


def profile_map(
    table: Tidy | pd.DataFrame,
    *,
    attributes: Sequence[str] | None = None,
    units: str = "spread",
    level: float = 0.95,
    draws: int = 500,
    seed: int = 1,
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

    Returns
    -------
    Map
        Arrows are the correlations of attributes with the components.

    Raises
    ------
    NotEstimable
        With fewer than 3 samples, 4 assessors with complete answers, or 2
        attributes in which the means differ.
    """
    cube, samples, names, left_out = profile_cube(table, attributes)
    one_of("units", units, UNITS)
    asked(len(samples), len(cube), level, draws)
    cube, names, same = moving(cube, names)
    means = cube.mean(axis=0)
    noise = np.ones(len(names)) if units == "scores" else within(cube)
    scale = means.std(axis=0) if units == "means" else noise
    fit = components(means / scale, standardise=False)

    def place(total: Floats, n: int) -> Floats:
        placed: Floats = total / n / scale
        return placed

    def metric(total: Floats, n: int) -> Floats:
        placed: Floats = total / n / noise
        return placed

    return drawn_map(
        "pca",
        Space(data=cube, place=place, axes=fit.axes, middle=fit.mean, metric=metric),
        samples=samples,
        eigenvalues=fit.eigenvalues,
        arrows=arrows_of(names, fit.correlations),
        level=level,
        draws=draws,
        seed=seed,
        left_out=left_out,
        warnings=(Sentence.of("pca.same", listed=same),) if same else (),
    )


def moving(cube: Floats, names: list[str]) -> tuple[Floats, list[str], list[str]]:
    """Leave out attributes in which all samples have the same mean.

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
    return cube[:, :, kept], [n for n, keep in zip(names, kept, strict=True) if keep], same


def within(cube: Floats) -> Floats:
    """Return the spread of each attribute within assessors, samples and noise together.

    It does not change when an assessor's answers are dealt to other samples,
    so distances in its units can be tested by dealing them.
    """
    spread: Floats = (cube - cube.mean(axis=1, keepdims=True)).std(axis=(0, 1))
    return spread


def arrows_of(names: list[str], correlations: Floats) -> pd.DataFrame:
    """Return the first two columns of correlations as arrows."""
    both = wide(correlations)
    return pd.DataFrame({"name": names, "dim1": both[:, 0], "dim2": both[:, 1]})
