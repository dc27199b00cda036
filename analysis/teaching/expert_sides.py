"""Experts who part: who stands alone against whom, and whose order a student's goes with."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd
from scipy.special import stdtr

from ..core.p_values import holds
from ..core.ratings_matrix import Floats
from ..inference.adjusted_p import adjust
from .class_scores import ClassScores, centred

SIDE_COLUMNS = ["expert", "attribute", "times", "of_sessions"]
FEWEST = 3
"""Experts from whom on it is said how many of them go one way."""
Way = tuple[str, int, int]
"""Attribute, experts who put the bottles in a student's order, experts the other way round."""


def who_stands_alone(
    scores: ClassScores, experts: Sequence[str], between: pd.DataFrame
) -> pd.DataFrame:
    """Find experts whom all others contradict, who do not contradict each other.

    Parameters
    ----------
    scores : ClassScores
    experts : sequence of str
        Fewer than `FEWEST` give no rows.
    between : DataFrame
        ``first, second, attribute, parted``, as in `Ground.between`.

    Returns
    -------
    DataFrame
        ``expert, attribute, times, of_sessions``: in how many sessions the order ran against
        that of the others' mean.
    """
    rows = []
    parted = between[between["parted"]]
    if len(experts) < FEWEST:
        parted = parted.iloc[:0]
    for name, mine in parted.groupby("attribute"):
        of_each = {who: ((mine["first"] == who) | (mine["second"] == who)).all() for who in experts}
        alone = [who for who in experts if of_each[who] and len(mine) == len(experts) - 1]
        place = scores.attributes.index(str(name))
        for who in alone:
            own = scores.of(who)[:, place]
            rest = np.stack([scores.of(one)[:, place] for one in experts if one != who])
            ways = _ways(own, rest.mean(axis=0), scores)
            rows.append((who, str(name), sum(way < 0 for way in ways), len(ways)))
    return pd.DataFrame(rows, columns=SIDE_COLUMNS)


def _ways(own: Floats, other: Floats, scores: ClassScores) -> list[float]:
    """Return the covariance of two rows of bottles, session by session."""
    known = ~np.isnan(own) & ~np.isnan(other)
    at = [known & (scores.session == number) for number in range(len(scores.sessions))]
    return [float((own[one] - own[one].mean()) @ other[one]) for one in at if one.sum() > 1]


def ways(
    scores: ClassScores,
    experts: Sequence[str],
    students: Sequence[str],
    parted: Sequence[str],
    alpha: float,
) -> dict[str, list[Way]]:
    """Count for each student the experts who go their way where experts part.

    A line of the student's means on each expert's, levels of the sessions taken off; told of
    an attribute only where the way of every expert is shown (Holm over all at `alpha`).
    """
    keys, slopes, p = [], [], []
    for who in students if len(experts) >= FEWEST else ():
        for name in parted:
            place = scores.attributes.index(name)
            for expert in experts:
                found = _slope(scores, who, expert, place)
                keys.append((who, name))
                slopes.append(found[0])
                p.append(found[1])
    shown = holds(adjust(np.array(p)), alpha) if p else np.array([], dtype=bool)
    told: dict[str, list[Way]] = {who: [] for who in students}
    sides: Mapping[tuple[str, str], list[tuple[float, bool]]] = {key: [] for key in keys}
    for key, slope, sure in zip(keys, slopes, shown, strict=True):
        sides[key].append((slope, bool(sure)))
    for (who, name), mine in sides.items():
        if all(sure for _, sure in mine):
            same = sum(slope > 0 for slope, _ in mine)
            told[who].append((name, same, len(mine) - same))
    return told


def _slope(scores: ClassScores, who: str, expert: str, place: int) -> tuple[float, float]:
    """Return the slope of one person's means on another's and its two-sided p."""
    y, x = scores.of(who)[:, place], scores.of(expert)[:, place]
    known = ~np.isnan(x) & ~np.isnan(y)
    session = scores.session[known]
    df = int(known.sum()) - np.unique(session).size - 1
    if df < 1:
        return 0.0, 1.0
    x, y = centred(x[known], session), centred(y[known], session)
    sxx = float(x @ x)
    if not sxx > 0:
        return 0.0, 1.0
    slope = float(x @ y) / sxx
    rest = y - slope * x
    se = float(np.sqrt(rest @ rest / df / sxx))
    return slope, 2 * float(stdtr(df, -abs(slope) / se)) if se > 0 else float(slope == 0)
