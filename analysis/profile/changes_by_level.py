"""How one bottle goes over the levels of a condition: its means, and how far it moved, with limits.

A change is each assessor's own difference from the first level, so that nobody's use of the scale
is in it: Student's paired t (Student 1908, Biometrika 6:1-25).
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
import pandas as pd
from scipy.special import stdtrit

COLUMNS = ("attribute", "line", "level", "n", "mean", "change", "low", "high")


def level_changes(
    scores: pd.DataFrame, lines: Mapping[str, Mapping[str, str]], *, level: float = 0.95
) -> pd.DataFrame:
    """Return the mean of each line at each level, and its change since the line's first level.

    Parameters
    ----------
    scores : DataFrame
        ``assessor, sample, attribute, score``; several cups of one sample are averaged.
    lines : mapping
        What is followed, each from level, in order, to the sample that is it there.
    level : float
        Of the limits of one change.

    Returns
    -------
    DataFrame
        `COLUMNS`, from the ``n`` assessors who had every cup of the line; ``low`` and ``high``
        are the limits of ``change``, nan at the first level and for fewer than two assessors.

    Examples
    --------
    >>> rows = [(who, cup, "sweetness", 4 + (cup == "warm") * by)
    ...         for who, by in (("A", 1.0), ("B", 2.0), ("C", 3.0)) for cup in ("cold", "warm")]
    >>> table = pd.DataFrame(rows, columns=["assessor", "sample", "attribute", "score"])
    >>> found = level_changes(table, {"clear": {"10": "cold", "45": "warm"}})
    >>> found[["change", "low", "high"]].round(2).iloc[1].tolist()
    [2.0, -0.48, 4.48]
    """
    rows = []
    means = scores.pivot_table("score", ["attribute", "assessor"], "sample", observed=True)
    for attribute, own in means.groupby(level="attribute", observed=True):
        for line, cups in lines.items():
            names = list(cups.values())
            if not set(names) <= set(own.columns):
                continue
            whole = own[names].dropna()
            n = len(whole)
            if not n:
                continue
            apart = whole.sub(whole[names[0]], axis=0)
            wide = apart.std(ddof=1) / math.sqrt(n)  # of one assessor there is none
            reach = float(stdtrit(n - 1, (1 + level) / 2)) * wide
            for at, name in cups.items():
                change = float(apart[name].mean())
                ends = (change - reach[name], change + reach[name])
                first = name == names[0]
                rows.append(
                    (str(attribute), line, at, n, float(whole[name].mean()), change,
                     *((np.nan, np.nan) if first else ends))
                )  # fmt: skip
    return pd.DataFrame(rows, columns=list(COLUMNS))
