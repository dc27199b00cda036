"""Words and samples on one map: correspondence analysis, simple and multiple.

Simple analysis lays out a table of counts (samples by words): samples stand
near each other when they were called by the same words in the same
proportions. Multiple analysis lays out categories of several variables.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import chdtrc

from ..citations.citation_counts import Citations, cube_of
from ..core.errors import NotEstimable, TableError
from ..core.options import one_of
from ..core.result import Result, copies
from ..core.words import Sentence
from .map_result import Map, Space, asked, drawn_map, steady, wide

Floats = npt.NDArray[np.float64]
_TINY = 1e-12
CORRECTIONS = ("raw", "benzecri", "greenacre")


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Correspondence(Result):
    """Correspondence analysis of a table of counts.

    Attributes
    ----------
    singular_values : ndarray
    inertias : DataFrame
        Columns ``dimension, inertia, share``.
    total : float
        Total inertia, chi-square over n.
    rows, columns : DataFrame
        Principal coordinates: ``name, mass, dim1, dim2, …``. Signs are fixed
        so that the largest column coordinate of each dimension is positive.
    cells : DataFrame
        Columns ``row, column, count, expected, residual, adjusted, share``:
        Pearson and adjusted residuals, and the share of chi-square.
    chi2, p : float
    df : int
        Of independence of rows and columns: only where every count is of
        another person, which is not so when an assessor ticks several words.
    """

    singular_values: Floats
    inertias: pd.DataFrame
    total: float
    rows: pd.DataFrame
    columns: pd.DataFrame
    cells: pd.DataFrame
    chi2: float
    df: int
    p: float
    method: str = "correspondence analysis, principal coordinates"

    def sentences(self) -> tuple[Sentence, ...]:
        """Say what the first two dimensions explain."""
        shares = [*self.inertias["share"], 0.0, 0.0][:2]
        return (
            Sentence.of(
                "correspondence.explained",
                both=f"{sum(shares):.0%}",
                total=f"{self.total:.4f}",
            ),
        )

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return inertias and coordinates."""
        return copies(
            **{
                "correspondence.inertias": self.inertias,
                "correspondence.rows": self.rows,
                "correspondence.columns": self.columns,
            }
        )


def correspondence(counts: pd.DataFrame) -> Correspondence:
    """Analyse a table of counts.

    Parameters
    ----------
    counts : DataFrame, shape (rows, columns)
        Numbers not below 0. Empty rows and columns are left out, with a warning.

    Returns
    -------
    Correspondence

    Raises
    ------
    TableError
        For a missing or negative count.
    NotEstimable
        With fewer than two rows or columns that are not empty.

    References
    ----------
    Greenacre (1984), Theory and Applications of Correspondence Analysis,
    chapter 4.
    """
    table, careful = _counts(counts)
    values = table.to_numpy(dtype=float)
    n = values.sum()
    fit = _decomposed(values)
    expected = np.outer(values.sum(axis=1), values.sum(axis=0)) / n
    residual = (values - expected) / np.sqrt(expected)
    left = np.outer(1 - fit.row_mass, 1 - fit.column_mass)
    chi2 = float((residual**2).sum())
    df = (len(table) - 1) * (table.shape[1] - 1)
    inertia = fit.singular**2
    names = [f"dim{d}" for d in range(1, len(inertia) + 1)]
    grid = [(str(row), str(column)) for row in table.index for column in table.columns]
    return Correspondence(
        singular_values=fit.singular,
        inertias=pd.DataFrame(
            {
                "dimension": np.arange(1, len(inertia) + 1),
                "inertia": inertia,
                "share": inertia / inertia.sum() if inertia.sum() else inertia,
            }
        ),
        total=chi2 / n,
        rows=_coordinates(table.index, fit.row_mass, fit.rows, names),
        columns=_coordinates(table.columns, fit.column_mass, fit.columns, names),
        cells=pd.DataFrame(grid, columns=["row", "column"]).assign(
            count=values.ravel(),
            expected=expected.ravel(),
            residual=residual.ravel(),
            adjusted=(residual / np.sqrt(left)).ravel(),
            share=(residual**2 / chi2).ravel() if chi2 else 0.0,
        ),
        chi2=chi2,
        df=df,
        p=float(chdtrc(df, chi2)),
        warnings=careful,
    )


@dataclass(frozen=True, slots=True)
class _Axes:
    singular: Floats
    rows: Floats
    columns: Floats
    row_mass: Floats
    column_mass: Floats


def _decomposed(values: Floats) -> _Axes:
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
    return _Axes(s, u * s / np.sqrt(r)[:, None] * signs, columns * signs, r, c)


def _counts(counts: pd.DataFrame) -> tuple[pd.DataFrame, tuple[Sentence, ...]]:
    """Check counts and leave out what is empty."""
    values = counts.to_numpy(dtype=float)
    wrong = np.argwhere(~(values >= 0) | ~np.isfinite(values))
    if len(wrong):
        raise TableError(
            tuple(
                Sentence.of(
                    "correspondence.bad_count",
                    row=counts.index[i],
                    column=counts.columns[j],
                    found=values[i, j],
                )
                for i, j in wrong[:20]
            )
        )
    rows, columns = values.sum(axis=1) > 0, values.sum(axis=0) > 0
    empty = [*counts.index[~rows], *counts.columns[~columns]]
    kept = counts.loc[rows, columns]
    if min(kept.shape) < 2:
        raise NotEstimable("correspondence.too_small", rows=kept.shape[0], columns=kept.shape[1])
    listed = [str(name) for name in empty]
    return kept, (Sentence.of("correspondence.empty", listed=listed),) if empty else ()


def _coordinates(names: pd.Index, mass: Floats, positions: Floats, dims: list[str]) -> pd.DataFrame:
    table = pd.DataFrame(positions, columns=dims)
    table.insert(0, "mass", mass)
    table.insert(0, "name", [str(name) for name in names])
    return table


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
    cube = cube_of(counted)
    complete = ~np.isnan(cube).any(axis=(1, 2))
    cube = cube[complete]
    asked(len(counted.samples), len(cube), level, draws)
    sums = cube.sum(axis=0)
    used = sums.sum(axis=0) > 0
    silent = [name for name, n in zip(counted.samples, sums.sum(axis=1), strict=True) if n == 0]
    if used.sum() < 3 or silent:
        raise NotEstimable("correspondence.few_words", n=int(used.sum()), silent=silent or ["–"])
    cube, sums = cube[:, :, used], sums[:, used]
    fit = _decomposed(sums)
    words = [name for name, kept in zip(counted.attributes, used, strict=True) if kept]
    unused = [name for name, kept in zip(counted.attributes, used, strict=True) if not kept]
    positions = wide(fit.columns)
    return drawn_map(
        "correspondence",
        _space(cube, fit),
        samples=list(counted.samples),
        eigenvalues=fit.singular**2,
        arrows=pd.DataFrame({"name": words, "dim1": positions[:, 0], "dim2": positions[:, 1]}),
        level=level,
        draws=draws,
        seed=seed,
        left_out=int((~complete).sum()),
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
    cube = cube_of(counted)
    complete = ~np.isnan(cube).any(axis=(1, 2))
    cube = cube[complete]
    asked(len(counted.samples), len(cube), level, draws)
    share = cube.mean(axis=(0, 1))
    used = (share > 0) & (share < 1)
    J = int(used.sum())
    if J < 3:
        raise NotEstimable("correspondence.few_telling", n=J)
    both = np.concatenate([cube[:, :, used], 1 - cube[:, :, used]], axis=2)
    fit = _decomposed(both.reshape(-1, 2 * J))
    corrected = (J / (J - 1)) ** 2 * np.maximum(fit.singular**2 - 1 / J, 0) ** 2
    if corrected.sum() < _TINY:
        raise NotEstimable("correspondence.apart")
    words = [name for name, kept in zip(counted.attributes, used, strict=True) if kept]
    left = [name for name, kept in zip(counted.attributes, used, strict=True) if not kept]
    positions = wide(fit.columns)[:J]
    return drawn_map(
        "multiple",
        _space(both, fit),
        samples=list(counted.samples),
        eigenvalues=corrected,
        arrows=pd.DataFrame({"name": words, "dim1": positions[:, 0], "dim2": positions[:, 1]}),
        level=level,
        draws=draws,
        seed=seed,
        left_out=int((~complete).sum()),
        warnings=(Sentence.of("correspondence.untelling", listed=left),) if left else (),
    )


def _space(cube: Floats, fit: _Axes) -> Space:
    """Place samples by their profiles over the columns of a fit."""
    root = np.sqrt(fit.column_mass)

    def profile(total: Floats, n: int) -> Floats:  # noqa: ARG001
        with np.errstate(invalid="ignore", divide="ignore"):
            placed: Floats = total / total.sum(axis=-1, keepdims=True) / root
        return placed

    return Space(data=cube, place=profile, axes=_standard(fit), middle=root)


def _standard(fit: _Axes) -> Floats:
    """Return the axes: profiles over the roots of the masses, times these, are the rows."""
    axes: Floats = fit.columns * np.sqrt(fit.column_mass)[:, None] / fit.singular
    return axes


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Multiple(Result):
    """Multiple correspondence analysis.

    Attributes
    ----------
    eigenvalues : DataFrame
        Columns ``dimension, raw, raw_share, corrected, share``: eigenvalues of
        the indicator matrix and their shares, then after the correction, with
        its own shares.
    correction : str
        "raw", "benzecri" or "greenacre": always state it, shares differ widely.
    rows : DataFrame
        Principal coordinates of the rows (of the indicator matrix).
    categories : DataFrame
        Columns ``variable, category, mass, dim1, …``.
    variables : int
        The number of variables, J; not of categories.
    """

    eigenvalues: pd.DataFrame
    correction: str
    rows: pd.DataFrame
    categories: pd.DataFrame
    variables: int
    method: str = "multiple correspondence analysis of the indicator matrix"

    def sentences(self) -> tuple[Sentence, ...]:
        """Say what two dimensions explain, and by which reckoning."""
        table = self.eigenvalues.head(2)
        return (
            Sentence.of(
                "correspondence.multiple",
                correction=Sentence.of(f"correspondence.{self.correction}"),
                share=f"{table['share'].sum():.0%}",
                raw=f"{table['raw_share'].sum():.0%}",
            ),
        )

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return eigenvalues and categories."""
        return copies(
            **{
                "correspondence.eigenvalues": self.eigenvalues,
                "correspondence.categories": self.categories,
            }
        )


def multiple_correspondence(table: pd.DataFrame, *, correction: str = "benzecri") -> Multiple:
    """Analyse several categorical variables together.

    Parameters
    ----------
    table : DataFrame
        One row an evaluation, one column a variable; values are categories.
    correction : {'raw', 'benzecri', 'greenacre'}
        How shares are reckoned. Raw shares are far too low, because the
        indicator matrix codes every variable against itself. Benzecri's are
        shares of the corrected eigenvalues above 1/J; Greenacre's are shares
        of the mean off-diagonal inertia, and more cautious.

    Returns
    -------
    Multiple

    Raises
    ------
    TableError
        For a missing category.
    NotEstimable
        With fewer than two variables or two rows.

    Notes
    -----
    Corrected eigenvalues are ``(J/(J-1))**2 (lambda - 1/J)**2`` where lambda
    is above 1/J, with J variables.

    References
    ----------
    Greenacre and Blasius (2006), Multiple Correspondence Analysis and Related
    Methods, chapter 2. Benzecri (1979), Cahiers de l'analyse des donnees 4.
    """
    one_of("correction", correction, CORRECTIONS)
    if table.isna().to_numpy().any():
        gaps = [str(name) for name in table.columns[table.isna().any()]]
        raise TableError((Sentence.of("correspondence.gap", columns=gaps),))
    if table.shape[1] < 2 or len(table) < 2:
        raise NotEstimable("correspondence.few_variables", n=table.shape[1], rows=len(table))
    J = table.shape[1]
    coded, names = [], []
    for variable in table.columns:
        texts = table[variable].astype(str)
        for category in sorted(texts.unique()):
            coded.append((texts == category).to_numpy(dtype=float))
            names.append((str(variable), category))
    indicator = np.column_stack(coded)
    fit = _decomposed(indicator)
    raw = fit.singular**2
    possible = indicator.shape[1] / J - 1
    above = np.where(raw > 1 / J, raw, 1 / J)
    corrected = (J / (J - 1)) ** 2 * (above - 1 / J) ** 2
    whole = {
        "raw": possible,
        "benzecri": corrected.sum(),
        "greenacre": J / (J - 1) * ((raw**2).sum() - (indicator.shape[1] - J) / J**2),
    }[correction]
    values = raw if correction == "raw" else corrected
    dims = [f"dim{d}" for d in range(1, len(raw) + 1)]
    categories = pd.DataFrame(names, columns=["variable", "category"])
    categories["mass"] = fit.column_mass
    return Multiple(
        eigenvalues=pd.DataFrame(
            {
                "dimension": np.arange(1, len(raw) + 1),
                "raw": raw,
                "raw_share": raw / possible,
                "corrected": values,
                "share": values / whole if whole else math.nan,
            }
        ),
        correction=correction,
        rows=pd.DataFrame(fit.rows, columns=dims, index=table.index),
        categories=pd.concat([categories, pd.DataFrame(fit.columns, columns=dims)], axis=1),
        variables=J,
    )
