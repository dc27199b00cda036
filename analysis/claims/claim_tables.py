"""The tables of all questions and of their pairs, with p adjusted for the whole report."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import pandas as pd
from scipy.special import stdtr, stdtrit

from ..citations.cochran_q import paired_difference
from ..core.ratings_matrix import Floats
from ..core.result import Interval
from .claim_members import MEASURED, WEIGHTS, Member
from .closed_pairs import pairs_of
from .shuffled_bottles import Observed, Shuffled
from .step_down import StatedQuestion, Steps
from .studentized_range import range_reached

_TABLE = [
    "kind", "about", "named", "weight", "tested", "n", "samples", "statistic", "df", "p",
    "p_adjusted", "claimed", "sd", "needed",
]  # fmt: skip
_PAIRS = [
    "kind", "about", "sample_a", "sample_b", "higher", "difference", "low", "high", "p",
    "p_adjusted", "claimed",
]  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Judged:
    """All questions after the step-down.

    Attributes
    ----------
    members : sequence of Member
    shuffled : Shuffled
    questions : sequence of StatedQuestion
        One for each tested member, and the overall one last if there is one.
    overall : float
        Its statistic; nan if it was not asked.
    bottles : sequence of str
    steps : Steps
    scale : float
        What an adjusted p is multiplied with to be compared with `alpha`.
    alpha : float
    """

    members: Sequence[Member]
    shuffled: Shuffled
    questions: Sequence[StatedQuestion]
    overall: float
    bottles: Sequence[str]
    steps: Steps
    scale: float
    alpha: float


def tables(judged: Judged) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return the table of questions and the table of pairs."""
    column = {number: place for place, number in enumerate(judged.shuffled.tested)}
    rows: list[dict[str, object]] = []
    pairs: list[dict[str, object]] = []
    chosen: dict[tuple[str, str, frozenset[str]], float] = {}
    for number, member in enumerate(judged.members):
        one = judged.questions[column[number]] if number in column else None
        if member.pair is not None:
            if one is not None:
                both = frozenset(judged.bottles[place] for place in member.pair)
                chosen[member.kind, member.about, both] = _shown(one.adjusted, judged)
            continue
        rows.append(_row(member, one, judged.shuffled.observed.get(number), judged))
        if one is not None:
            pairs += _pair_rows(member, judged.shuffled.observed[number], one, judged)
    if not np.isnan(judged.overall):
        rows.append(_overall_row(judged))
    for line in pairs:
        both = frozenset((str(line["sample_a"]), str(line["sample_b"])))
        own = chosen.get((str(line["kind"]), str(line["about"]), both), 1.0)
        line["p_adjusted"] = min(float(str(line["p_adjusted"])), own)
    told = pd.DataFrame(pairs, columns=[one for one in _PAIRS if one != "claimed"])
    table = pd.DataFrame(rows, columns=[one for one in _TABLE if one != "claimed"])
    least = told.groupby(["kind", "about"])["p_adjusted"].min()
    known = [least.get((row["kind"], row["about"]), 1.0) for row in rows]
    table["p_adjusted"] = np.minimum(table["p_adjusted"].astype(float), known)
    for frame in (table, told):
        frame["claimed"] = frame["p_adjusted"] <= judged.alpha
    return table[_TABLE], told[_PAIRS]


def _shown(adjusted: float, judged: Judged) -> float:
    return min(adjusted * judged.scale, 1.0)


def _row(
    member: Member, one: StatedQuestion | None, seen: Observed | None, judged: Judged
) -> dict[str, object]:
    """Return the row of one question; a question that was not tested has p = 1."""
    row: dict[str, object] = {
        "kind": member.kind,
        "about": member.about,
        "named": member.named,
        "weight": member.weight,
        "tested": one is not None,
        "n": int((~np.isnan(member.cells)).any(axis=1).sum()),
        "samples": int((~np.isnan(member.cells)).any(axis=0).sum()),
        "statistic": np.nan,
        "df": np.nan,
        "p": 1.0,
        "p_adjusted": 1.0,
        "sd": np.nan,
        "needed": np.nan,
    }
    if one is None or seen is None:
        return row
    level = min(judged.steps.last * member.weight, 1.0)
    reach = range_reached(level, len(seen.columns), seen.df) / np.sqrt(2)
    return row | {
        "n": seen.n,
        "samples": len(seen.columns),
        "statistic": float(np.abs(seen.t).max()),
        "df": seen.df,
        "p": one.p,
        "p_adjusted": _shown(one.adjusted, judged),
        "sd": float(np.sqrt(seen.variance)),
        "needed": reach * float(np.sqrt((seen.se**2).mean())),
    }


def _overall_row(judged: Judged) -> dict[str, object]:
    one = judged.questions[-1]
    return {
        "kind": "overall",
        "about": "",
        "named": one.weight != WEIGHTS["overall"],
        "weight": one.weight,
        "tested": True,
        "n": max(seen.n for seen in judged.shuffled.observed.values()),
        "samples": len(judged.bottles),
        "statistic": judged.overall,
        "df": np.nan,
        "p": one.p,
        "p_adjusted": _shown(one.adjusted, judged),
        "sd": np.nan,
        "needed": np.nan,
    }


def _pair_rows(
    member: Member, seen: Observed, one: StatedQuestion, judged: Judged
) -> list[dict[str, object]]:
    """Return the rows of one question's pairs, with limits of each pair alone."""
    rows: list[dict[str, object]] = []
    df = min(seen.df, 1e9)
    half = float(stdtrit(df, 0.975))
    adjusted = np.ones(len(seen.t)) if one.pair_adjusted is None else one.pair_adjusted
    for place, ends in enumerate(pairs_of(len(seen.columns))):
        first, second = (int(seen.columns[end]) for end in ends)
        gap = float(seen.effects[ends[0]] - seen.effects[ends[1]])
        low, high = gap - half * float(seen.se[place]), gap + half * float(seen.se[place])
        if member.kind not in MEASURED:
            low, high = _share_limits(member.cells[:, first], member.cells[:, second], low, high)
        a, b = judged.bottles[first], judged.bottles[second]
        rows.append(
            {
                "kind": member.kind,
                "about": member.about,
                "sample_a": a,
                "sample_b": b,
                "higher": a if gap > 0 else b if gap < 0 else "",
                "difference": gap,
                "low": low,
                "high": high,
                "p": float(2 * stdtr(df, -abs(seen.t[place]))),
                "p_adjusted": _shown(float(adjusted[place]), judged),
            }
        )
    return rows


@lru_cache(maxsize=1024)
def _tango(more: int, less: int, n: int) -> Interval:
    return paired_difference(more, less, n)


def _share_limits(a: Floats, b: Floats, low: float, high: float) -> tuple[float, float]:
    """Return Tango's limits where every mark is 0 or 1, else the given ones within -1 and 1."""
    both = ~(np.isnan(a) | np.isnan(b))
    marks = np.concatenate([a[both], b[both]])
    if both.any() and np.isin(marks, (0.0, 1.0)).all():
        more, less = int((a[both] > b[both]).sum()), int((a[both] < b[both]).sum())
        limits = _tango(more, less, int(both.sum()))
        return limits.low, limits.high
    return max(low, -1.0), min(high, 1.0)
