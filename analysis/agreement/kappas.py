"""Kappas: agreement on categories and ticks beyond chance.

`cohen_kappa` for two assessors, with weights where categories have an order;
`fleiss_kappa` for any number of assessors without holes. With holes take
`kikichoko.analysis.agreement.krippendorff.alpha`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr, ndtri, stdtrit

from ..core.errors import NotEstimable, OptionError
from ..core.ratings_matrix import Floats, check_level, matrix
from ..core.result import Interval, Result, copies
from ..core.wording import short, stated_percent
from ..core.words import Sentence

WEIGHTS = ("none", "linear", "quadratic")
FEW = 30
"""Samples below which the limits of kappa are said to be too narrow."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class CohenKappa(Result):
    """Cohen's kappa of two assessors.

    Attributes
    ----------
    kappa : float
    observed, expected : float
        Weighted agreement seen and expected by chance (0 to 1).
    se, se0 : float
        Standard error, and the one under chance agreement (for `z`).
    z, p : float
        Two-sided test of chance agreement (large samples).
    interval : Interval
        ``kappa`` plus and minus normal quantile times ``se``, cut at -1 and 1.
    percent_agreement : float
        Share of samples in the same category (0 to 1).
    n : int
        Samples.
    weights : str
    """

    kappa: float
    observed: float
    expected: float
    se: float
    se0: float
    z: float
    p: float
    interval: Interval
    percent_agreement: float
    n: int
    weights: str

    def sentences(self) -> tuple[Sentence, ...]:
        """Say kappa and its limits."""
        return (_say("agreement.cohen", self.kappa, self.interval, weights=self.weights),)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class FleissKappa(Result):
    """Fleiss' kappa of a panel.

    Attributes
    ----------
    kappa : float
    observed, expected : float
        Share of agreeing pairs, seen and expected by chance.
    se0, z, p : float
        Standard error under chance agreement, and the test made with it.
    interval : Interval or None
        Limits from the jackknife over samples (t, n - 1 df); None below three samples.
    categories : DataFrame
        ``category, share, kappa, se0``: each category against all others.
    n_samples, n_assessors : int
    """

    kappa: float
    observed: float
    expected: float
    se0: float
    z: float
    p: float
    interval: Interval | None
    categories: pd.DataFrame
    n_samples: int
    n_assessors: int

    def sentences(self) -> tuple[Sentence, ...]:
        """Say kappa and its limits."""
        return (_say("agreement.fleiss", self.kappa, self.interval),)

    def tables(self) -> dict[str, pd.DataFrame]:
        """Return the categories."""
        return copies(**{"agreement.heading_categories": self.categories})


def _say(key: str, kappa: float, limits: Interval | None, **more: object) -> Sentence:
    if limits is None:
        return Sentence.of(f"{key}_alone", kappa=short(kappa), **more)
    return Sentence.of(
        key,
        kappa=short(kappa),
        low=short(limits.low),
        high=short(limits.high),
        level=stated_percent(limits.level),
        **more,
    )


def cohen_kappa(
    first: ArrayLike,
    second: ArrayLike,
    *,
    weights: str | ArrayLike = "none",
    level: float = 0.95,
) -> CohenKappa:
    """Compute Cohen's kappa of two assessors on the same samples.

    Parameters
    ----------
    first, second : arrays, shape (n samples,)
        Categories as numbers; samples with a nan are left out.
    weights : {"none", "linear", "quadratic"} or array
        How much a disagreement costs: none (any costs the same), the distance
        of the two numbers, its square, or an array of costs in the order of
        the sorted categories, 0 on the diagonal.
    level : float
        Confidence level.

    Raises
    ------
    NotEstimable
        When fewer than two samples are left, or both use one and the same category.

    See Also
    --------
    kappa_of_counts : the same from a table of counts, with the formulas.

    Examples
    --------
    >>> round(cohen_kappa([1, 1, 2, 2, 3, 3], [1, 1, 2, 3, 3, 3]).kappa, 3)
    0.75
    """
    pairs = matrix(np.column_stack([np.asarray(first, float), np.asarray(second, float)]))
    pairs = matrix(pairs[~np.isnan(pairs).any(axis=1)])
    values = np.unique(pairs)
    if values.size < 2:
        raise NotEstimable("agreement.no_variation", value=f"{values[0]:g}", n=pairs.size)
    place = np.searchsorted(values, pairs)
    counts = np.zeros((values.size, values.size))
    np.add.at(counts, (place[:, 0], place[:, 1]), 1)
    return kappa_of_counts(counts, weights=weights, values=values, level=level)


def kappa_of_counts(
    counts: ArrayLike,
    *,
    weights: str | ArrayLike = "none",
    values: ArrayLike | None = None,
    level: float = 0.95,
) -> CohenKappa:
    """Compute Cohen's kappa from a square table of counts.

    Parameters
    ----------
    counts : array, shape (c, c)
        Samples by category of the first (rows) and second assessor (columns).
    weights : {"none", "linear", "quadratic"} or array
        See `cohen_kappa`.
    values : array, shape (c,), optional
        Numbers of the categories for linear and quadratic weights; 1 … c by default.
    level : float
        Confidence level.

    Notes
    -----
    Weighted kappa of Cohen [1]_; both standard errors of Fleiss, Cohen &
    Everitt [2]_. They are for many samples: below about 30 the limits are
    too narrow, and a warning says so.

    References
    ----------
    .. [1] Cohen (1968), Psychol. Bull. 70, 213-220.
    .. [2] Fleiss, Cohen & Everitt (1969), Psychol. Bull. 72, 323-327.
    """
    check_level(level)
    table = np.asarray(counts, float)
    if table.ndim != 2 or table.shape[0] != table.shape[1] or table.shape[0] < 2:
        raise OptionError("agreement.not_square", found=table.shape)
    n = table.sum()
    p = table / n
    row, column = p.sum(axis=1), p.sum(axis=0)
    cost, name = _costs(weights, values, table.shape[0])
    w = 1 - cost / cost.max()
    chance = np.outer(row, column)
    observed, expected = float((p * w).sum()), float((chance * w).sum())
    if 1 - expected < 1e-12:
        raise NotEstimable("agreement.no_variation", value=1, n=int(n))
    kappa = (observed - expected) / (1 - expected)
    marginal = (w @ column)[:, None] + (row @ w)[None, :]
    spread = (p * (w * (1 - expected) - marginal * (1 - observed)) ** 2).sum()
    spread -= (observed * expected - 2 * expected + observed) ** 2
    se = float(np.sqrt(max(spread, 0.0) / n) / (1 - expected) ** 2)
    spread0 = (chance * (w - marginal) ** 2).sum() - expected**2
    se0 = float(np.sqrt(max(spread0, 0.0) / n) / (1 - expected))
    z = kappa / se0 if se0 > 0 else float("nan")
    half = ndtri((1 + level) / 2) * se
    notes = [Sentence.of("agreement.kappa_small", n=int(n))] if n < FEW else []
    return CohenKappa(
        kappa=float(kappa),
        observed=observed,
        expected=expected,
        se=se,
        se0=se0,
        z=float(z),
        p=float(2 * ndtr(-abs(z))),
        interval=Interval(max(float(kappa - half), -1.0), min(float(kappa + half), 1.0), level),
        percent_agreement=float(np.trace(p)),
        n=int(n),
        weights=name,
        warnings=tuple(notes),
    )


def _costs(weights: str | ArrayLike, values: ArrayLike | None, size: int) -> tuple[Floats, str]:
    place = np.arange(1.0, size + 1) if values is None else np.asarray(values, float)
    apart: Floats = np.abs(np.subtract.outer(place, place))
    if isinstance(weights, str):
        if weights not in WEIGHTS:
            raise OptionError("agreement.bad_weights", found=weights, allowed=WEIGHTS)
        costs = {"none": (apart > 0).astype(float), "linear": apart, "quadratic": apart**2}
        return costs[weights], weights
    given = np.asarray(weights, float)
    if given.shape != (size, size) or (np.diag(given) != 0).any() or (given < 0).any():
        raise OptionError("agreement.bad_costs", size=size)
    return given, "given"


def category_counts(ratings: ArrayLike | pd.DataFrame) -> tuple[NDArray[np.float64], Floats]:
    """Count how many assessors put each sample (rows) into each category (columns).

    Returns
    -------
    counts : array, shape (n samples, c)
    categories : array, shape (c,)
    """
    table = matrix(ratings)
    values = np.unique(table[~np.isnan(table)])
    return (table[:, :, None] == values).sum(axis=1).astype(float), values


def fleiss_kappa(
    counts: ArrayLike, *, categories: ArrayLike | None = None, level: float = 0.95
) -> FleissKappa:
    """Compute Fleiss' kappa of a panel.

    Parameters
    ----------
    counts : array, shape (n samples, c categories)
        How many assessors put the sample into the category; the same number
        of assessors on every sample.
    categories : array, optional
        Names of the categories for the table; 1 … c by default.
    level : float
        Confidence level.

    Raises
    ------
    NotEstimable
        With holes (take alpha), or when all answers fall into one category.

    References
    ----------
    .. [1] Fleiss (1971), Psychol. Bull. 76, 378-382; the standard error of
       Fleiss, Nee & Landis (1979), Psychol. Bull. 86, 974-977.

    Examples
    --------
    Four bottles, five tasters: how many ticked 'cedar', how many did not.

    >>> round(fleiss_kappa([[5, 0], [4, 1], [0, 5], [1, 4]]).kappa, 3)
    0.6
    """
    check_level(level)
    table = np.asarray(counts, float)
    if table.ndim != 2 or table.shape[0] < 2:
        raise NotEstimable(
            "agreement.too_few",
            samples=len(table),
            assessors=int(table.sum(axis=-1).max(initial=0)),
            need_samples=2,
            need_assessors=2,
        )
    m = table[0].sum()
    if (table.sum(axis=1) != m).any() or m < 2:
        raise NotEstimable("agreement.fleiss_holes")
    n = len(table)
    share = table.sum(axis=0) / (n * m)
    if share.max() == 1:
        raise NotEstimable("agreement.no_variation", value=1, n=int(n * m))
    kappa, observed, expected = _fleiss(table)
    pq = share * (1 - share)
    spread = pq.sum() ** 2 - (pq * (1 - 2 * share)).sum()
    se0 = float(np.sqrt(2 / (n * m * (m - 1)) * max(spread, 0.0)) / pq.sum())
    used = pq > 0
    apart = (table * (m - table)).sum(axis=0)
    single = np.full(share.size, np.nan)
    single[used] = 1 - apart[used] / (n * m * (m - 1) * pq[used])
    named = np.arange(1, share.size + 1) if categories is None else np.asarray(categories)
    rows = pd.DataFrame(
        {
            "category": named,
            "share": share,
            "kappa": single,
            "se0": np.sqrt(2 / (n * m * (m - 1))),
        }
    )
    return FleissKappa(
        kappa=kappa,
        observed=observed,
        expected=expected,
        se0=se0,
        z=kappa / se0,
        p=float(2 * ndtr(-abs(kappa / se0))),
        interval=_jackknife(table, level),
        categories=rows,
        n_samples=n,
        n_assessors=int(m),
    )


def _fleiss(table: Floats) -> tuple[float, float, float]:
    n, m = len(table), table[0].sum()
    share = table.sum(axis=0) / (n * m)
    observed = float(((table**2).sum() - n * m) / (n * m * (m - 1)))
    expected = float((share**2).sum())
    kappa = (observed - expected) / (1 - expected) if expected < 1 else float("nan")
    return kappa, observed, expected


def _jackknife(table: Floats, level: float) -> Interval | None:
    n = len(table)
    if n < 3:
        return None
    whole = _fleiss(table)[0]
    pseudo = np.array([n * whole - (n - 1) * _fleiss(np.delete(table, i, 0))[0] for i in range(n)])
    if np.isnan(pseudo).any():
        return None
    half = stdtrit(n - 1, (1 + level) / 2) * pseudo.std(ddof=1) / np.sqrt(n)
    low, high = np.clip([whole - half, whole + half], -1.0, 1.0)
    return Interval(float(low), float(high), level)
