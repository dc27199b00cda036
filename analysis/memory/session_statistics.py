"""What a session says of the spreads of a house, in a few numbers an attribute.

Scores stand in shares of their scale, so that cards of different length can be joined.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt
import pandas as pd

from ..performance.spreads import Floats, restricted, two_way


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Statistics:
    """Sufficient statistics of n sessions in one attribute.

    Attributes
    ----------
    unit, along : ndarray, shape (n, d)
        Directions in which the samples' effects err independently: variance in units of
        the variance of a cell mean, and squared effect. nan where a session has fewer.
    squares, df : ndarray, shape (n,)
        Sum of squares left beside assessors and samples, and its degrees of freedom.
    replicates : ndarray, shape (n,)
        Replicates a cell (harmonic mean).
    within, within_df : ndarray, shape (n,)
        Sum of squares between replicates of a cell, and its degrees of freedom.
    designs : tuple
        Each different row of `unit`, `df` and `replicates`, and the sessions that have it.
    """

    unit: Floats
    along: Floats
    squares: Floats
    df: Floats
    replicates: Floats
    within: Floats
    within_df: Floats
    designs: tuple[tuple[Floats, npt.NDArray[np.int64]], ...]

    def log_likelihood(self, log_error: Floats, log_sample: Floats, share: float) -> Floats:
        """Return each session's restricted log likelihood at each point, shape (n, g).

        Parameters
        ----------
        log_error, log_sample : ndarray, shape (g,)
            Of a single score and of the samples' true means.
        share : float
            Share of assessor × sample in the error variance of a single score.
        """
        found = np.empty((len(self.df), len(log_error)))
        # Sessions of one design share all logarithms.
        for design, rows in self.designs:
            *unit, df, replicates = design
            variance = np.exp(2 * log_error) * (share + (1 - share) / replicates)
            known = ~np.isnan(unit)
            found[rows] = restricted(
                variance,
                np.exp(2 * log_sample),
                np.array(unit)[known],
                self.along[rows][:, known],
                self.squares[rows],
                df,
            )
        return found


def _alike(designs: Floats) -> Iterator[tuple[Floats, npt.NDArray[np.int64]]]:
    """Yield each different row, and where it stands; nan equals nan."""
    kinds, which = np.unique(np.nan_to_num(designs, nan=-1), axis=0, return_inverse=True)
    for k, kind in enumerate(kinds):
        yield np.where(kind < 0, np.nan, kind), np.flatnonzero(which.ravel() == k)


def statistics(scores: pd.DataFrame) -> dict[str, Statistics]:
    """Gather the statistics of all sessions, by attribute.

    Parameters
    ----------
    scores : DataFrame
        ``session, assessor, sample, attribute, score``; scores in shares of the scale.
        Repeated rows of a cell are replicates.
    """
    rows: dict[str, list[tuple[Floats, Floats, float, float, float, float, float]]] = {}
    for attribute, means, counts, within in _tables(scores):
        if means.shape[1] < 2:
            continue
        filled = counts[counts > 0]
        if len(filled) == counts.size:
            i, j = means.shape
            effects = means.mean(axis=0) - means.mean()
            left = means - means.mean(axis=0) - means.mean(axis=1)[:, None] + means.mean()
            # All directions err alike, so how the effects are shared among them is one.
            unit = np.full(j - 1, 1 / i)
            along = np.full(j - 1, float((effects**2).sum()) / (j - 1))
            squares, df = float((left**2).sum()), float((i - 1) * (j - 1))
        else:
            fit = two_way(means)
            unit, along = fit.unit, (fit.effects @ fit.basis) ** 2
            squares, df = fit.squares, fit.df
        replicates = float(filled.size / (1 / filled).sum())
        extra = float((filled - 1).sum())
        rows.setdefault(attribute, []).append((unit, along, squares, df, replicates, within, extra))
    return {attribute: _stacked(found) for attribute, found in rows.items()}


def _tables(scores: pd.DataFrame) -> Iterator[tuple[str, Floats, Floats, float]]:
    """Yield attribute, cell means, counts and squares within cells of each session."""
    attributes = scores["attribute"].astype("category")
    names = [str(name) for name in attributes.cat.categories]
    what = attributes.cat.codes.to_numpy(np.int64)
    values = scores["score"].to_numpy(float)
    columns = [pd.factorize(scores[name], sort=False)[0] for name in ("assessor", "sample")]
    session = pd.factorize(scores["session"], sort=False)[0]
    order = np.argsort(session, kind="stable")
    bounds = np.searchsorted(session[order], np.arange(session.max(initial=-1) + 2))
    for start, end in pairwise(bounds):
        rows = order[start:end]
        rows = rows[~np.isnan(values[rows])]
        who = np.unique(columns[0][rows], return_inverse=True)[1]
        sample = np.unique(columns[1][rows], return_inverse=True)[1]
        if not rows.size:
            continue
        shape = (len(names), int(who.max()) + 1, int(sample.max()) + 1)
        cell = np.ravel_multi_index((what[rows], who, sample), shape)
        size = int(np.prod(shape))
        counts = np.bincount(cell, minlength=size).astype(float)
        with np.errstate(invalid="ignore"):
            means = np.bincount(cell, values[rows], minlength=size) / counts
        squares = np.bincount(what[rows], (values[rows] - means[cell]) ** 2, len(names))
        for a in np.unique(what[rows]):
            table = slice(a * shape[1] * shape[2], (a + 1) * shape[1] * shape[2])
            n = counts[table].reshape(shape[1:])
            seen = np.ix_((n > 0).any(axis=1), (n > 0).any(axis=0))
            yield names[a], means[table].reshape(shape[1:])[seen], n[seen], float(squares[a])


def _stacked(rows: list[tuple[Floats, Floats, float, float, float, float, float]]) -> Statistics:
    unit = np.full((len(rows), max(len(row[0]) for row in rows)), np.nan)
    along = unit.copy()
    for k, row in enumerate(rows):
        unit[k, : len(row[0])], along[k, : len(row[1])] = row[0], row[1]
    squares, df, replicates, within, within_df = np.array([row[2:] for row in rows]).T
    return Statistics(
        unit=unit,
        along=along,
        squares=squares,
        df=df,
        replicates=replicates,
        within=within,
        within_df=within_df,
        designs=tuple(_alike(np.column_stack([unit, df, replicates]))),
    )
