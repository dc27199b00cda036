"""From the events of sips to the tables that dominance and time-intensity take.

A telephone tells when a sip was taken, what struck from when on, how strong one thing was, and
when it ended. What is told holds until it is told otherwise: a mark that is not moved stays.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from ..core.errors import TableError
from ..core.words import Sentence

COLUMNS = ("assessor", "sample", "part", "run", "state", "time", "event", "attribute", "score")
DOMINANCE, INTENSITY = "dominance", "intensity"
COUNTED = "counted"
KEYS = ["assessor", "sample", "replicate", "run"]
PACE = 0.25
"""Seconds between two heights that a telephone tells of a moving mark: how fast a jump was, nobody
knows better than this."""
HELD = 0.3
"""Seconds for which a mark must have stood still before a point is set at the end of its rest,
`PACE` before it is told of again."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class TimedSips:
    """The sips that count, as tables.

    Attributes
    ----------
    dominance : DataFrame
        ``assessor, sample, replicate, time, attribute`` as `dominance` takes it.
    intensity : DataFrame
        ``assessor, sample, replicate, attribute, time, score`` as `time_intensity` takes it.
        Sips in which the mark was never moved are left out: a blank is no 0.
    words : tuple of str
        All that could strike, where the table says it.
    seconds : float
        How long a sip was followed.
    silent : int
        Sips that count, in which nothing was ever named.
    unmarked : int
        Sips that were followed in which the mark was never moved.
    left_out : dict of str to int
        Sips that do not count, by their state.
    """

    dominance: pd.DataFrame
    intensity: pd.DataFrame
    words: tuple[str, ...]
    seconds: float
    silent: int
    unmarked: int
    left_out: dict[str, int]


def timed_sips(table: pd.DataFrame) -> TimedSips:
    """Bring the events of sips into the form of the analyses.

    Parameters
    ----------
    table : DataFrame
        ``times.csv`` of a session: one row an event, ``assessor, sample, part, run, state, time,
        event, attribute, score``; optional ``replicate, seconds, offered``. Times in seconds
        since the sip; events ``sip, word, level, out, away, end``.

    Returns
    -------
    TimedSips

    Raises
    ------
    TableError
        For a missing column, or a time that is no number from 0.

    Examples
    --------
    >>> rows = [("T1", "A", "dominance", 1, "counted", 0, "sip", None, None),
    ...         ("T1", "A", "dominance", 1, "counted", 2, "word", "sweet", None),
    ...         ("T1", "A", "dominance", 1, "counted", 9, "end", None, None)]
    >>> names = ["assessor", "sample", "part", "run", "state", "time", "event", "attribute",
    ...          "score"]
    >>> timed_sips(pd.DataFrame(rows, columns=names)).dominance[["time", "attribute"]].values
    array([[2, 'sweet'],
           [9, '']], dtype=object)
    """
    missing = [name for name in COLUMNS if name not in table.columns]
    if missing:
        have = [str(name) for name in table.columns]
        raise TableError(
            tuple(Sentence.of("table.no_column", column=name, have=have) for name in missing)
        )
    events = table if "replicate" in table else table.assign(replicate=1)
    times = pd.to_numeric(events["time"], errors="coerce")
    wrong = ~(np.isfinite(times) & (times >= 0))
    if wrong.any():
        rows = [int(place) + 1 for place in np.flatnonzero(wrong)[:20]]
        raise TableError(tuple(Sentence.of("dominance.bad_time", row=row) for row in rows))
    events = events.assign(attribute=events["attribute"].fillna("").astype(str))
    whole = events[events["state"] == COUNTED]
    named = whole[(whole["part"] == DOMINANCE) & whole["event"].isin(["word", "end"])]
    dominant = named.assign(attribute=named["attribute"].where(named["event"] == "word", ""))
    sips = whole.drop_duplicates([*KEYS, "part"])
    spoke = named[named["event"] == "word"].drop_duplicates(KEYS)
    curves, unmarked = _curves(whole[whole["part"] == INTENSITY])
    others = events[events["state"] != COUNTED].drop_duplicates([*KEYS, "part"])
    return TimedSips(
        dominance=dominant[[*KEYS[:3], "time", "attribute"]].reset_index(drop=True),
        intensity=curves,
        words=_offered(whole),
        seconds=float(events["seconds"].max()) if "seconds" in events else float(times.max()),
        silent=int((sips["part"] == DOMINANCE).sum()) - len(spoke),
        unmarked=unmarked,
        left_out={str(state): int(n) for state, n in others["state"].value_counts().items()},
    )


def _offered(events: pd.DataFrame) -> tuple[str, ...]:
    """Return the words that were offered, in the order of their names."""
    if "offered" not in events:
        return ()
    listed = {
        word.strip()
        for said in events.loc[events["part"] == DOMINANCE, "offered"].dropna().unique()
        for word in str(said).split("|")
    }
    return tuple(sorted(listed - {""}))


def _curves(events: pd.DataFrame) -> tuple[pd.DataFrame, int]:
    """Return the curves of intensity point by point, and how many marks were never moved."""
    rows: list[tuple[object, ...]] = []
    unmarked = 0
    for (who, sample, replicate, _), own in events.groupby(KEYS, sort=True):
        levels = own[own["event"] == "level"]
        if levels.empty:
            unmarked += 1
            continue
        end = own[own["event"] == "end"].iloc[-1]
        stated = float(own["seconds"].iloc[0]) if "seconds" in own else float(end["time"])
        points = held(levels["time"].tolist(), levels["score"].tolist(), float(end["time"]), stated)
        name = str(levels["attribute"].iloc[0])
        rows += [(who, sample, replicate, name, time, level) for time, level in points]
    columns = [*KEYS[:3], "attribute", "time", "score"]
    return pd.DataFrame(rows, columns=columns), unmarked


def held(
    times: Sequence[float], levels: Sequence[float], end: float, seconds: float
) -> list[tuple[float, float]]:
    """Write the course of a mark as points to join by straight lines.

    It begins at 0, stands where it was left, and is at 0 again when the assessor ended the sip
    before its time, for nothing was left then. A jump takes the `PACE` of a telephone, or its rate
    would be that of the clock.

    Examples
    --------
    >>> held([1.0, 1.25, 4.0], [3, 5, 2], 10, 10)
    [(0.0, 0.0), (0.75, 0.0), (1.0, 3.0), (1.25, 5.0), (3.75, 5.0), (4.0, 2.0), (10.0, 2.0)]
    """
    points = {0.0: 0.0}
    last, level = 0.0, 0.0
    for time, now in zip(times, levels, strict=True):
        if time - last > HELD:
            points[round(time - PACE, 3)] = level
        last, level = float(time), float(now)
        points[last] = level
    if end < seconds:
        if end - last > HELD:
            points[round(end - PACE, 3)] = level
        points[float(end)] = 0.0
        level = 0.0
    points[float(seconds)] = level
    return sorted(points.items())
