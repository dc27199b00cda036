"""Canonical variates: the directions in which samples differ most against assessor noise.

Principal components show where means differ most, however unsure; canonical
variates weigh every difference by how far assessors disagree about it. The
noise is the interaction of assessor and sample, so assessors' levels do not count.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Unpack

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.linalg import eigh
from scipy.stats import f as f_distribution

from ..core.errors import NotEstimable
from ..core.options import ALPHA
from ..core.p_values import holds
from ..core.result import Result, copies
from ..core.tidy_table import LongColumns, Tidy
from ..core.wording import p_words, short
from ..core.words import Sentence
from .map_result import Map, arrows_of, asked, correlated, drawn_map, steady
from .principal_components import moving, profile_cube
from .resampled_space import Space, means_in

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Canonical(Result):
    """Canonical variates of groups.

    Attributes
    ----------
    roots : ndarray
        Between against within, by dimension.
    correlations : ndarray
        Canonical correlations, ``sqrt(root / (1 + root))``.
    wilks, F, df_num, df_den, p : float
        Wilks' lambda over all dimensions, with Rao's F.
    axes : ndarray, shape (attributes, dimensions)
        Scaled so that the noise has variance 1 in every dimension.
    """

    roots: Floats
    correlations: Floats
    wilks: float
    F: float
    df_num: float
    df_den: float
    p: float
    axes: Floats
    method: str = "canonical variates, Wilks' lambda, Rao's F"

    def sentences(self) -> tuple[Sentence, ...]:
        """Say whether the groups differ over all attributes together."""
        key = "canonical.differ" if holds(self.p, ALPHA) else "canonical.not_shown"
        return (
            Sentence.of(
                key,
                wilks=short(self.wilks),
                F=short(self.F),
                df_num=short(self.df_num),
                df_den=short(self.df_den),
                p=p_words(self.p),
            ),
        )

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return roots and correlations."""
        table = pd.DataFrame({"root": self.roots, "correlation": self.correlations})
        table.insert(0, "dimension", np.arange(1, len(table) + 1))
        return copies(**{"canonical.roots": table})


def canonical(between: Floats, noise: Floats, *, df_between: int, df_noise: int) -> Canonical:
    """Decompose sums of squares and products between groups against noise.

    Parameters
    ----------
    between, noise : ndarray, shape (attributes, attributes)
        Sums of squares and products.
    df_between, df_noise : int

    Returns
    -------
    Canonical

    Raises
    ------
    NotEstimable
        If the noise has fewer degrees of freedom than there are attributes,
        or a direction without any.

    References
    ----------
    Rencher (2002), Methods of Multivariate Analysis, sections 6.1 and 8.4.
    """
    p, q = len(noise), df_between
    if df_noise < p or np.linalg.matrix_rank(noise) < p:
        raise NotEstimable("canonical.noise", attributes=p, df=df_noise)
    values, vectors = eigh(between, noise)
    kept = min(p, q)
    roots = np.maximum(values[::-1][:kept], 0)
    axes = vectors[:, ::-1][:, :kept] * np.sqrt(df_noise)
    axes = axes * steady(axes)
    wilks = float(np.prod(1 / (1 + roots)))
    t = np.sqrt((p**2 * q**2 - 4) / (p**2 + q**2 - 5)) if p**2 + q**2 > 5 else 1.0
    w = df_noise + q - (p + q + 1) / 2
    df_den = w * t - (p * q - 2) / 2
    ratio = wilks ** (1 / t)
    F = float((1 - ratio) / ratio * df_den / (p * q))
    return Canonical(
        roots=roots,
        correlations=np.sqrt(roots / (1 + roots)),
        wilks=wilks,
        F=F,
        df_num=float(p * q),
        df_den=float(df_den),
        p=float(f_distribution.sf(F, p * q, df_den)),
        axes=axes,
    )


def canonical_map(
    table: Tidy | pd.DataFrame,
    *,
    attributes: Sequence[str] | None = None,
    level: float = 0.95,
    draws: int = 500,
    seed: int = 1,
    **column_names: Unpack[LongColumns],
) -> Map:
    """Map the samples by canonical variates against the assessors' disagreement.

    Parameters
    ----------
    table : Tidy or DataFrame
        Scores; replicates of an assessor are averaged.
    attributes : sequence of str, optional
        By default all that have scores other than 0 and 1. The noise must have
        more degrees of freedom than there are attributes.
    level, draws, seed
        Of the ellipses and tests.
    **column_names : str
        What the columns of a DataFrame are called, as in `tidy`.

    Returns
    -------
    Map

    Raises
    ------
    NotEstimable
        As `profile_map`; or with too many attributes for so few assessors.
    """
    stacked = profile_cube(table, attributes, **column_names)
    cube, samples, names = stacked[:3]
    asked(len(samples), len(cube), level, draws)
    cube, names, same, tested = moving(cube, names, stacked.tested)
    n, s, p = cube.shape
    centred = cube - cube.mean(axis=1, keepdims=True)
    means = centred.mean(axis=0)
    rest = (centred - means).reshape(-1, p)
    noise, between = rest.T @ rest, n * means.T @ means
    df = (n - 1) * (s - 1)
    found = canonical(between, noise, df_between=s - 1, df_noise=df)
    total = np.linalg.cholesky(np.linalg.inv((noise + between) / df))

    def metric(sums: Floats, people: int) -> Floats:
        placed: Floats = sums / people @ total
        return placed

    middle = cube.mean(axis=(0, 1))
    rows = means @ found.axes
    return drawn_map(
        "canonical",
        Space(
            data=cube,
            place=means_in(),
            axes=found.axes,
            middle=middle,
            metric=metric,
            tested=tested,
        ),
        samples=samples,
        eigenvalues=found.roots,
        arrows=arrows_of(names, correlated(means, rows)),
        level=level,
        draws=draws,
        seed=seed,
        left_out=stacked.left_out,
        notes=found.sentences(),
        warnings=(*stacked.gaps(), *((Sentence.of("pca.same", listed=same),) if same else ())),
    )
