"""What people like: how they spread over the bottles, and whether their taste moved.

Where liking is asked, people are what varies: a mean may be nobody's liking. So each
bottle gets its mean with limits over people, and the share of people who like it best.
"""

from __future__ import annotations

from typing import Unpack

import numpy as np
import pandas as pd
from scipy.special import stdtr, stdtrit

from ..core.errors import NotEstimable
from ..core.options import ALPHA, share_of
from ..core.p_values import holds
from ..core.tidy_table import Columns, Tidy, as_tidy
from ..inference.proportions import wilson

_TWO = 2
_FOUR = 4


def liked_best(
    table: Tidy | pd.DataFrame,
    attribute: str,
    *,
    level: float = 0.95,
    **column_names: Unpack[Columns],
) -> pd.DataFrame:
    """Return how each bottle is liked, and by how many best of all.

    Parameters
    ----------
    table : Tidy or DataFrame
        A tidy table; scores of any scale on which more is better.
    attribute : str
        The attribute of liking.
    level : float
        Confidence level, between 0 and 1.
    **column_names : str
        What the columns of a DataFrame are called, as in `tidy`.

    Returns
    -------
    DataFrame
        ``sample, n, mean, low, high, lowest, highest, best, of, best_low, best_high``: people,
        the mean of their own means with limits by Student's t (NaN for one person), the
        lowest and the highest of them; how many like it best, of those who tasted every bottle,
        and Wilson's limits of that share. Whoever likes two bottles best counts for neither.

    Raises
    ------
    OptionError
        If the level is out of range.
    NotEstimable
        If the attribute was not scored.

    References
    ----------
    Wilson (1927), J. Am. Stat. Assoc. 22:209-212.

    Examples
    --------
    >>> rows = [("A", "x", 7), ("A", "y", 3), ("B", "x", 6), ("B", "y", 5)]
    >>> rows += [("C", "x", 1), ("C", "y", 9)]
    >>> names = ["assessor", "sample", "score"]
    >>> found = liked_best(pd.DataFrame(rows, columns=names).assign(attribute="liking"), "liking")
    >>> found[["sample", "n", "best", "of"]].to_numpy().tolist()
    [['x', 3, 2, 3], ['y', 3, 1, 3]]
    """
    share_of("level", level)
    own = _own(table, attribute, **column_names)
    whole = own.dropna()
    top = whole.eq(whole.max(axis=1), axis=0)
    alone = top[top.sum(axis=1) == 1]
    rows = []
    for sample in own.columns:
        scores = own[sample].dropna().to_numpy(float)
        mean, reach = _mean(scores, level)
        best, of = int(alone[sample].sum()), len(whole)
        ends = _share(best, of, level)
        spread = (float(scores.min()), float(scores.max()))
        rows.append(
            (sample, len(scores), mean, mean - reach, mean + reach, *spread, best, of, *ends)
        )
    names = ["sample", "n", "mean", "low", "high", "lowest", "highest", "best", "of"]
    return pd.DataFrame(rows, columns=[*names, "best_low", "best_high"])


def divides(
    table: Tidy | pd.DataFrame,
    attribute: str,
    *,
    alpha: float = ALPHA,
    **column_names: Unpack[Columns],
) -> pd.DataFrame:
    """Return over which bottle people lie further apart than over any other.

    Parameters
    ----------
    table : Tidy or DataFrame
        A tidy table; scores of any scale.
    attribute : str
        The attribute of liking.
    alpha : float
        Chance that any bottle is told where people lie equally far apart over all.
    **column_names : str
        What the columns of a DataFrame are called, as in `tidy`.

    Returns
    -------
    DataFrame
        ``sample, n, sd, others_sd, p, told``: the standard deviation of people's own means,
        the largest of another bottle, the p of the least clear of all comparisons with another
        bottle times the number of bottles, whether it is at most `alpha`. Bottles that
        fewer than four people tasted beside another have no p.

    Raises
    ------
    OptionError
        If alpha is out of range.
    NotEstimable
        If the attribute was not scored.

    Notes
    -----
    Two variances of the same people are compared by the correlation of sum and difference
    (Pitman 1939, Morgan 1939), one-sided; a bottle must pass beside every other one, so the
    largest p counts, and any of the bottles may be the one, so it is multiplied by their number.

    References
    ----------
    Pitman (1939), Biometrika 31:9-12. Morgan (1939), Biometrika 31:13-19.
    """
    share_of("alpha", alpha)
    own = _own(table, attribute, **column_names)
    spread = own.std(ddof=1)
    rows = []
    for sample in own.columns:
        others = [other for other in own.columns if other != sample]
        p = max((_wider(own[sample], own[other]) for other in others), default=np.nan)
        p = min(p * len(own.columns), 1.0)
        widest = float(spread[others].max()) if others else np.nan
        rows.append((sample, own[sample].count(), float(spread[sample]), widest, p))
    found = pd.DataFrame(rows, columns=["sample", "n", "sd", "others_sd", "p"])
    return found.assign(told=[holds(p, alpha) for p in found["p"]])


def _wider(one: pd.Series, other: pd.Series) -> float:
    """Return Pitman and Morgan's one-sided p that one bottle spreads people more than another."""
    both = pd.concat([one, other], axis=1).dropna().to_numpy(float)
    n = len(both)
    total, gap = both.sum(axis=1), both[:, 0] - both[:, 1]
    if n < _FOUR or np.ptp(gap) == 0:
        return 1.0
    if np.ptp(total) == 0:
        return 1.0
    r = float(np.corrcoef(total, gap)[0, 1])
    rest = 1 - r * r
    return float(stdtr(n - 2, -r * np.sqrt((n - 2) / rest))) if rest > 0 else float(r < 0)


def moved(
    table: pd.DataFrame, attribute: str, *, level: float = 0.95
) -> tuple[pd.DataFrame, tuple[int, float, float, float]]:
    """Return how far each person's answer moved from the first cup to the last.

    Parameters
    ----------
    table : DataFrame
        Tidy rows with a column ``position``, the cup's place in the person's order.
    attribute : str
        The attribute asked at every cup.
    level : float
        Confidence level, between 0 and 1.

    Returns
    -------
    people : DataFrame
        ``assessor, first, last, change``, people who answered at two cups or more.
    over_all : tuple
        Their number, the mean change, and its limits by Student's t; NaN for fewer than two.

    Raises
    ------
    OptionError
        If the level is out of range.
    NotEstimable
        If nobody answered at two cups.

    Examples
    --------
    >>> rows = [("A", 1, 4), ("A", 2, 6), ("B", 1, 5), ("B", 2, 6)]
    >>> table = pd.DataFrame(rows, columns=["assessor", "position", "score"])
    >>> people, (n, mean, low, high) = moved(table.assign(attribute="style"), "style")
    >>> people["change"].tolist(), n, mean
    ([2.0, 1.0], 2, 1.5)
    """
    share_of("level", level)
    rows = table[table["attribute"] == attribute].sort_values("position", kind="stable")
    found = [
        (str(name), float(own["score"].iloc[0]), float(own["score"].iloc[-1]))
        for name, own in rows.groupby("assessor")
        if own["position"].nunique() >= _TWO
    ]
    if not found:
        raise NotEstimable("liking.one_cup", attribute=attribute)
    people = pd.DataFrame(found, columns=["assessor", "first", "last"])
    people["change"] = people["last"] - people["first"]
    mean, reach = _mean(people["change"].to_numpy(float), level)
    return people, (len(people), mean, mean - reach, mean + reach)


def _own(
    table: Tidy | pd.DataFrame, attribute: str, **column_names: Unpack[Columns]
) -> pd.DataFrame:
    """Return each person's own mean of each bottle, people in rows."""
    rows = as_tidy(table, **column_names).data
    rows = rows[rows["attribute"] == attribute]
    if rows.empty:
        raise NotEstimable("liking.not_asked", attribute=attribute)
    own = rows.pivot_table(
        index="assessor", columns="sample", values="score", aggfunc="mean", observed=True
    )
    return own.rename(columns=str)


def _mean(values: np.ndarray, level: float) -> tuple[float, float]:
    """Return a mean and half the width of its interval."""
    n = len(values)
    if n < _TWO:
        return float(values.mean()), float("nan")
    se = float(values.std(ddof=1)) / np.sqrt(n)
    return float(values.mean()), float(stdtrit(n - 1, (1 + level) / 2)) * se


def _share(k: int, n: int, level: float) -> tuple[float, float]:
    """Return Wilson's limits of a share, NaN of nobody."""
    if not n:
        return float("nan"), float("nan")
    low, high = wilson(k, n, level)
    return float(low), float(high)
