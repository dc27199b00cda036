"""A table of ratings as the agreement measures take it: a row a sample, a column an assessor."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from .errors import NotEstimable, OptionError, TableError
from .words import Sentence

Floats = NDArray[np.float64]
STEPS_TO_VARIANCE = 12
"""What is written in steps scatters by the step squared over this (Sheppard 1898)."""


def matrix(ratings: ArrayLike | pd.DataFrame, *, samples: int = 2, assessors: int = 2) -> Floats:
    """Check ratings (samples in rows, assessors in columns, nan where there is none).

    Raises
    ------
    TableError
        If it is not a table of numbers.
    NotEstimable
        If it has fewer samples or assessors than asked for.
    """
    try:
        table = np.asarray(ratings, dtype=float)
    except (TypeError, ValueError) as fault:
        raise TableError((Sentence.of("agreement.not_numbers", why=fault),)) from fault
    if table.ndim != 2:
        raise TableError((Sentence.of("agreement.not_a_table", found=table.ndim),))
    if np.isinf(table).any():
        raise TableError((Sentence.of("agreement.infinite"),))
    seen = ~np.isnan(table)
    table = np.asarray(table[seen.any(axis=1)][:, seen.any(axis=0)])
    if table.shape[0] < samples or table.shape[1] < assessors:
        raise NotEstimable(
            "agreement.too_few",
            samples=table.shape[0],
            assessors=table.shape[1],
            need_samples=samples,
            need_assessors=assessors,
        )
    kept: Floats = table
    return kept


def complete_block(table: Floats) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Choose samples and assessors without a hole between them, keeping many answers.

    Row or column with the largest share of holes goes first, until none is
    left; a table without holes is kept whole.

    Returns
    -------
    rows, columns : arrays of bool
        Which samples and which assessors stay.
    """
    rows = np.ones(table.shape[0], dtype=bool)
    columns = np.ones(table.shape[1], dtype=bool)
    hole = np.isnan(table)
    while hole[np.ix_(rows, columns)].any():
        by_row = np.where(rows, hole[:, columns].mean(axis=1), -1.0)
        by_column = np.where(columns, hole[rows].mean(axis=0), -1.0)
        if by_row.max() >= by_column.max():
            rows[by_row.argmax()] = False
        else:
            columns[by_column.argmax()] = False
    return rows, columns


def refuse_constant(table: Floats) -> None:
    """Say 'no variation to agree on' where every rating is the same number."""
    given = table[~np.isnan(table)]
    if np.ptp(given) == 0:
        raise NotEstimable("agreement.no_variation", value=f"{given[0]:g}", n=given.size)


def check_level(level: float) -> float:
    """Check a confidence level, which lies between 0 and 1."""
    if not 0 < level < 1:
        raise OptionError("agreement.bad_level", found=level)
    return level


def percent_agreement(table: Floats) -> float:
    """Return the share (0 to 1) of pairs of ratings of one sample that are equal."""
    equal = pairs = 0.0
    for row in table:
        given = row[~np.isnan(row)]
        if given.size > 1:
            counts = np.unique(given, return_counts=True)[1]
            equal += float((counts * (counts - 1)).sum())
            pairs += given.size * (given.size - 1)
    return equal / pairs if pairs else float("nan")


def guess_scale(scores: Floats) -> str:
    """Tell the level of measurement from the scores: ticks, few steps, or a line."""
    values = np.unique(scores)
    if set(values.tolist()) <= {0.0, 1.0}:
        return "nominal"
    whole = bool((values == np.round(values)).all())
    return "ordinal" if whole and np.ptp(values) <= 4 else "interval"


def step_of(scores: Floats) -> float:
    """Return the largest step that all scores lie whole multiples of apart.

    0 if there is one score only; a millionth for scores that were not written in steps.

    Examples
    --------
    >>> step_of(np.array([3.0, 4.5, 6.0, 3.5])), step_of(np.array([3.0, 3.0]))
    (0.5, 0.0)
    """
    known = np.unique(np.round(scores * 1e6).astype(np.int64))
    return float(np.gcd.reduce(np.diff(known))) / 1e6 if known.size > 1 else 0.0


def rounding_variance(scores: Floats) -> float:
    """Return the variance that writing in steps alone gives a score: step squared over 12.

    Scatter below it is no sign of precision: three people who wrote the same whole
    numbers may stand up to a step apart.

    References
    ----------
    .. [1] Sheppard (1898), Proc. London Math. Soc. 29, 353-380: the correction for
       grouping, from memory.

    Examples
    --------
    >>> rounding_variance(np.array([3.0, 5.0, 6.0])) * 12
    1.0
    """
    return step_of(scores) ** 2 / STEPS_TO_VARIANCE
