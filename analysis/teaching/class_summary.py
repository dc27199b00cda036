"""A class without names: what its students have in common."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.special import stdtr, stdtrit

from ..core.p_values import holds
from ..inference.adjusted_p import adjust
from ..inference.proportions import wilson
from .expert_ground import Ground

if TYPE_CHECKING:
    from .student_result import Student

SMALLEST = 5
"""Students below whom nothing is said of a class: each could be worked out from it."""
ATTRIBUTE_COLUMNS = [
    "attribute", "n_students", "n_follow", "rmse_median", "bias_mean", "bias_low", "bias_high",
    "p", "shown",
]  # fmt: skip
WORD_COLUMNS = ["word", "chances", "found", "share", "low", "high", "invented"]
BOTTLE_COLUMNS = ["session", "sample", "truth", "n", "right", "wrong", "missed", "false_alarms"]


def by_attribute(
    students: Mapping[str, Student],
    ground: Ground,
    lines: Sequence[str],
    *,
    level: float,
    alpha: float,
) -> pd.DataFrame:
    """Return the class by attribute: shift with limits, and how many follow the expert.

    The error of a shift holds the students' spread and the expert's own scatter
    (Welch-Satterthwaite); ``shown`` is Holm over attributes at `alpha`, and only from
    `SMALLEST` students on. The shift must also leave the distance between experts' levels.
    """
    rows = []
    for name in lines:
        mine = pd.concat([one.lines[one.lines["attribute"] == name] for one in students.values()])
        mine = mine[np.isfinite(mine["rmse"])]
        n = len(mine)
        bias = mine["bias"].to_numpy(float)
        middle = float(bias.mean()) if n else np.nan
        half, p = np.nan, np.nan
        if n > 1:
            own = float(bias.var(ddof=1)) / n
            error = ground.error[name] / float(mine["n_samples"].mean())
            df_error = ground.scatter[name].df
            if np.isfinite(error) and df_error:
                variance = own + error
                df = variance**2 / (own**2 / (n - 1) + error**2 / df_error) if variance else n - 1
                se = float(np.sqrt(variance))
                half = float(stdtrit(df, (1 + level) / 2)) * se
                beyond = abs(middle) - ground.level_room[name]
                p = min(1.0, 2 * float(stdtr(df, -beyond / se))) if se > 0 else np.nan
        rows.append(
            {
                "attribute": name,
                "n_students": n,
                "n_follow": sum(name in one.follows for one in students.values()),
                "rmse_median": float(mine["rmse"].median()) if n else np.nan,
                "bias_mean": middle,
                "bias_low": middle - half,
                "bias_high": middle + half,
                "p": p,
            }
        )
    table = pd.DataFrame(rows, columns=ATTRIBUTE_COLUMNS[:-1])
    judged = table["p"].where(~table["attribute"].isin(ground.parted)).to_numpy(float)
    shown = holds(adjust(judged), alpha) if len(table) else np.array([], dtype=bool)
    return table.assign(shown=shown & (len(students) >= SMALLEST))


def by_word(students: Mapping[str, Student], level: float) -> pd.DataFrame:
    """Return in how many of its chances each word was found; a chance is one student and sample.

    The limits are Wilson's on an effective number of chances: students find words
    together or not at all, and the spread between them is taken into account (design effect).
    """
    parts = [one.words.assign(student=code) for code, one in students.items()
             if one.words is not None]  # fmt: skip
    if not parts:
        return pd.DataFrame(columns=WORD_COLUMNS)
    rows = []
    for word, mine in pd.concat(parts).groupby("word"):
        found = mine["found"].to_numpy(float)
        chances = found + mine["missed"].to_numpy(float)
        invented = int(mine["invented"].sum())
        total = int(chances.sum())
        if not total:
            if invented:
                rows.append((word, 0, 0, np.nan, np.nan, np.nan, invented))
            continue
        share = float(found.sum()) / total
        effective = total / _design_effect(found, chances, share)
        low, high = wilson_share(share, effective, level)
        rows.append((word, total, int(found.sum()), share, low, high, invented))
    table = pd.DataFrame(rows, columns=WORD_COLUMNS)
    return table.sort_values(["share", "word"], kind="stable").reset_index(drop=True)


def _design_effect(found: np.ndarray, chances: np.ndarray, share: float) -> float:
    """Return how many times the binomial variance the spread between students is; 1 at least."""
    kept = chances > 0
    m, total = int(kept.sum()), float(chances.sum())
    plain = share * (1 - share) / total
    if m < 2 or not plain > 0:
        return 1.0
    rest = found[kept] - share * chances[kept]
    return max(1.0, float((rest**2).sum()) * m / (m - 1) / total**2 / plain)


def wilson_share(share: float, n: float, level: float) -> tuple[float, float]:
    """Return Wilson's limits of a share of an effective, not whole, number of chances."""
    whole = max(1, int(n))
    low, high = wilson(round(share * whole), whole, level)
    return min(float(low), share), max(float(high), share)


def by_bottle(students: Mapping[str, Student]) -> pd.DataFrame:
    """Return how the pours of each control were called."""
    parts = [one.faults for one in students.values() if one.faults is not None and len(one.faults)]
    if not parts:
        return pd.DataFrame(columns=BOTTLE_COLUMNS)
    calls = pd.concat(parts, ignore_index=True)
    kinds = ["right", "wrong", "missed", "false alarm"]
    rows = [
        (*key, len(mine), *((mine["outcome"] == kind).sum() for kind in kinds))
        for key, mine in calls.groupby(["session", "sample", "truth"])
    ]
    return pd.DataFrame(rows, columns=BOTTLE_COLUMNS)
