"""The tables of all questions and of their pairs, with p adjusted for the whole report."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import stdtr, stdtrit

from ..citations.cochran_q import paired_difference
from ..core.p_values import holds
from ..core.ratings_matrix import Floats
from ..core.result import Interval
from .claim_members import LIMITS, MEASURED, Member
from .closed_pairs import pairs_of, spread_reached
from .shuffled_bottles import Observed, Shuffled, by_spread
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
_ASKED = [name for name in _TABLE if name != "claimed"]
_ALIKE = 1e-9


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
    overall_named : bool
        Whether it was named before the tasting.
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
    overall_named: bool
    bottles: Sequence[str]
    steps: Steps
    scale: float
    alpha: float


def tables(judged: Judged) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return the table of questions and the table of pairs."""
    column = {number: place for place, number in enumerate(judged.shuffled.tested)}
    rows: list[dict[str, object]] = []
    parts: list[dict[str, npt.NDArray[Any]]] = []
    for number, member in enumerate(judged.members):
        if member.pair is not None:
            continue
        one = judged.questions[column[number]] if number in column else None
        rows.append(_row(member, one, judged.shuffled.observed.get(number), judged))
        if one is not None:
            parts.append(_pair_columns(member, judged.shuffled.observed[number], one, judged))
    if not np.isnan(judged.overall):
        rows.append(_overall_row(judged))
    names = _PAIRS[:-1]
    told = pd.DataFrame(columns=names)
    if parts:
        told = pd.DataFrame(
            {name: np.concatenate([part[name] for part in parts]) for name in names}
        )
    table = pd.DataFrame(rows, columns=_ASKED)
    for number, member in enumerate(judged.members):
        if member.pair is not None and number in column:
            _lower(table, told, member, judged, judged.questions[column[number]].adjusted)
    for frame in (table, told):
        frame["claimed"] = holds(frame["p_adjusted"], judged.alpha).astype(bool)
    return table[_TABLE], told[_PAIRS]


def _lower(
    table: pd.DataFrame, told: pd.DataFrame, member: Member, judged: Judged, adjusted: float
) -> None:
    """Write what a pair that was named beforehand reached by itself, where that is less."""
    both = [judged.bottles[place] for place in member.pair or ()]
    for frame in (table, told):
        rows = (frame["kind"] == member.kind) & (frame["about"] == member.about)
        if frame is told:
            rows &= frame["sample_a"].isin(both) & frame["sample_b"].isin(both)
        known = frame.loc[rows, "p_adjusted"]
        frame.loc[rows, "p_adjusted"] = np.minimum(known, _shown(adjusted, judged))


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
    bottles = len(seen.columns)
    reach = range_reached(level, bottles, seen.df) / np.sqrt(2)
    if by_spread(member, bottles):  # one bottle apart from the others, and its pairs
        apart = spread_reached(level, bottles - 1, seen.df) * bottles / (2 * (bottles - 1))
        reach = float(np.sqrt(max(apart, spread_reached(level, 1, seen.df))))
    return row | {
        "n": seen.n,
        "samples": bottles,
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
        "named": judged.overall_named,
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


def _pair_columns(
    member: Member, seen: Observed, one: StatedQuestion, judged: Judged
) -> dict[str, npt.NDArray[Any]]:
    """Return the columns of one question's pairs, with limits of each pair alone."""
    df = min(seen.df, 1e9)
    first, second = pairs_of(len(seen.columns)).T
    gap = seen.effects[first] - seen.effects[second]
    gap = np.where(np.abs(gap) < _ALIKE, 0.0, gap)
    half = float(stdtrit(df, (1 + LIMITS) / 2)) * seen.se
    low, high = gap - half, gap + half
    if member.kind not in MEASURED:
        low, high = _share_limits(member.cells[:, seen.columns], low, high)
    bottles = np.array(judged.bottles, dtype=object)[seen.columns]
    higher = np.where(gap > 0, bottles[first], np.where(gap < 0, bottles[second], ""))
    adjusted = np.ones(len(gap)) if one.pair_adjusted is None else one.pair_adjusted
    return {
        "kind": np.full(len(gap), member.kind, dtype=object),
        "about": np.full(len(gap), member.about, dtype=object),
        "sample_a": bottles[first],
        "sample_b": bottles[second],
        "higher": higher,
        "difference": gap,
        "low": low,
        "high": high,
        "p": 2 * stdtr(df, -np.abs(gap) / seen.se),
        "p_adjusted": np.minimum(adjusted * judged.scale, 1.0),
    }


@lru_cache(maxsize=4096)
def _tango(more: int, less: int, n: int) -> Interval:
    return paired_difference(more, less, n)


def _share_limits(cells: Floats, low: Floats, high: Floats) -> tuple[Floats, Floats]:
    """Return Tango's limits where every mark is 0 or 1, else the given ones within -1 and 1."""
    filled = ~np.isnan(cells)
    if not np.isin(cells[filled], (0.0, 1.0)).all():
        return np.maximum(low, -1.0), np.minimum(high, 1.0)
    ticked, empty = (filled & (cells == mark) for mark in (1.0, 0.0))
    more = ticked.T.astype(int) @ empty
    both = filled.T.astype(int) @ filled
    limits = [
        _tango(int(more[a, b]), int(more[b, a]), int(both[a, b])) if both[a, b] else (-1.0, 1.0)
        for a, b in pairs_of(cells.shape[1])
    ]
    return np.array([limit[0] for limit in limits]), np.array([limit[1] for limit in limits])
