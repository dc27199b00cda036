"""Does the maker stand further from the others than single others stand from the rest?

The maker is one person. The spread of the others says how far one more person
of their kind would stand from them: the prediction interval, not the interval
of a mean, judges the shift.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from scipy.special import stdtr, stdtrit

from ..core.ratings_matrix import Floats
from ..core.two_way import levels
from .cell_table import CellTable

COLUMNS = [
    "maker", "attribute", "shift", "low", "high", "spread", "t", "df", "p", "n_others", "n_samples",
]  # fmt: skip
_FEWEST = 2


def maker_shifts(
    table: CellTable,
    makers: Sequence[str],
    *,
    others: Sequence[str],
    attributes: Sequence[str],
    level: float = 0.95,
) -> pd.DataFrame:
    """Compare each maker with the others, attribute by attribute.

    Parameters
    ----------
    table : CellTable
        With the rows of makers and others.
    makers, others : sequence of str
        Codes; at least two others are needed for an attribute to be judged.
    attributes : sequence of str
    level : float
        Level of the prediction interval.

    Returns
    -------
    DataFrame
        ``maker, attribute, shift, low, high`` (what of the shift is more than
        one more person of the others' kind would show: shift ± reach of the
        prediction), ``spread`` (of the others' levels), ``t, df, p, n_others,
        n_samples``.

    Notes
    -----
    With m others of spread s, ``t = shift / (s sqrt(1 + 1/m))`` on m - 1 degrees
    of freedom. A person's level is the mean over the bottles, replicates
    averaged first; where not everybody tasted everything, the effect of the
    person beside the bottles' by least squares. s is not below what writing
    whole steps alone makes.

    References
    ----------
    Hahn & Meeker 1991, Statistical Intervals, section 4.8 (prediction of one
    future observation).
    """
    rows = []
    place = {who: row for row, who in enumerate(table.assessors)}
    for name in attributes if makers else ():
        every = table.means(name)
        floor = table.floor(name)
        for maker in makers:
            values = every[[place[maker], *(place[who] for who in others)]]
            values = values[:, ~np.isnan(values[0])]
            values = values[:, (~np.isnan(values[1:])).any(axis=0)]
            there = np.asarray((~np.isnan(values)).any(axis=1))
            if values.size and there[0] and there.sum() > _FEWEST:
                shift = _shift(values[there], floor / values.shape[1], level)
                rows.append((maker, name, *shift, values.shape[1]))
    return pd.DataFrame(rows, columns=COLUMNS)


def _shift(
    values: Floats, floor: float, level: float
) -> tuple[float, float, float, float, float, int, float, int]:
    level_of = levels(values)
    rest = level_of[1:]
    m = rest.size
    shift = float(level_of[0] - rest.mean())
    spread = float(np.sqrt(max(float(rest.var(ddof=1)), floor)))
    se = spread * float(np.sqrt(1 + 1 / m))
    df = m - 1
    if se <= 0:  # nobody's level differs and scores have no step: nothing to judge by
        return shift, -np.inf, np.inf, 0.0, 0.0, df, 1.0, m
    reach = float(stdtrit(df, (1 + level) / 2)) * se
    t = shift / se
    return shift, shift - reach, shift + reach, spread, t, df, float(2 * stdtr(df, -abs(t))), m
