"""The test of ranks that a table allows: complete, or with holes."""

from __future__ import annotations

from typing import Unpack

import pandas as pd

from ..core.tidy_table import Columns, Tidy
from .friedman_test import Ranking, friedman
from .rank_table import SEED, one_answer_each
from .ranks_in_blocks import BlockRanking, rank_blocks


def rank_test(
    table: Tidy | pd.DataFrame,
    attribute: str | None = None,
    *,
    alpha: float = 0.05,
    seed: int = SEED,
    **column_names: Unpack[Columns],
) -> Ranking | BlockRanking:
    """Test whether samples differ in rank: `friedman`, or `rank_blocks` where cells are empty.

    Parameters
    ----------
    table : Tidy or DataFrame
        A tidy table; ranks, or scores that are turned into ranks within the assessor.
    attribute : str, optional
        May be left out if there is one only.
    alpha : float
        Risk of finding a difference where there is none.
    seed : int
        For random orders beyond the exact range.
    **column_names : str
        What the columns of a DataFrame are called, as in `tidy`.

    Returns
    -------
    Ranking or BlockRanking

    Raises
    ------
    NotEstimable
        As the two tests do.

    Examples
    --------
    >>> rows = [(a, s, r) for a, row in enumerate([[1, 2, 3], [1, 3, 2], [1, 2, None]])
    ...         for s, r in zip("xyz", row) if r is not None]
    >>> made = pd.DataFrame(rows, columns=["assessor", "sample", "score"])
    >>> type(rank_test(made)).__name__, type(rank_test(made[made["assessor"] < 2])).__name__
    ('BlockRanking', 'Ranking')
    """
    wide, attribute, _ = one_answer_each(table, attribute, **column_names)
    test = rank_blocks if wide.isna().to_numpy().any() else friedman
    return test(table, attribute, alpha=alpha, seed=seed, **column_names)
