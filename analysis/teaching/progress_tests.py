"""Does a student come nearer to the expert from session to session, or go away?

Distance from the expert and scatter of the own cups are followed on the log scale. All
sessions count, never the first against the last alone: who began badly by chance comes
back by chance (regression to the mean), and a line through all sessions is not fooled by
one. One or two sessions show no course; from three on it is told whether the sessions
differ, from `SLOPE` on how fast it goes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np
import pandas as pd
from scipy.special import stdtr, stdtrit

from ..core.ratings_matrix import Floats
from .class_scores import ClassScores
from .expert_ground import Ground

COURSE = 3
"""Sessions from which on a course can be judged at all."""
SLOPE = 5
"""Sessions from which on it is a line with its own scatter."""
PROGRESS_COLUMNS = ["session", "rmse", "low", "high", "repeatability", "df", "n_samples",
                    "log_error", "log_error_cups"]  # fmt: skip
MEASURES = ("distance", "repeatability")


class StudentCourse(NamedTuple):
    """The course of one measure over the sessions.

    `ratio` is the last session by the first on the fitted line, with limits; `log_ratio`,
    `se` and `df` make limits at other levels.
    """

    measure: str
    ratio: float
    low: float
    high: float
    p: float
    n_sessions: int
    log_ratio: float
    se: float
    df: float

    def limits(self, level: float) -> tuple[float, float]:
        """Return limits of the ratio at a level."""
        half = float(stdtrit(self.df, (1 + level) / 2)) * self.se
        return float(np.exp(self.log_ratio - half)), float(np.exp(self.log_ratio + half))


def by_session(
    scores: ClassScores, ground: Ground, student: str, level: float, without: Sequence[str] = ()
) -> pd.DataFrame:
    """Return distance and repeatability by session, columns `PROGRESS_COLUMNS`.

    `log_error` is the standard error of the log of the distance, by leaving out bottles, and
    `log_error_cups` that of the repeatability: a hasty cup is off on all attributes at once, so
    its marks are no cups of their own.
    Attributes of `without`, whose order turned round, are told apart and count in no course.
    """
    left_out = {*ground.parted, *without}
    places = [i for i, name in enumerate(scores.attributes) if name not in left_out]
    every = (scores.of(student) - ground.means)[:, places]
    rows = []
    for number, session in enumerate(scores.sessions):
        gaps = every[scores.session == number]
        gaps = gaps[(~np.isnan(gaps)).any(axis=1)]
        if not gaps.size:
            continue
        rmse = float(np.sqrt(np.nanmean(gaps**2)))
        error = _log_error(gaps)
        half = float(stdtrit(max(len(gaps) - 1, 1), (1 + level) / 2)) * error
        at = np.ix_(scores.session == number, places)
        cups, within = (each[scores.people.index(student)][at] for each in
                        (scores.cups, scores.within))  # fmt: skip
        ss, spare = within.sum(axis=1), np.maximum(cups - 1, 0).sum(axis=1)
        df = int(spare.sum())
        rows.append(
            (
                session, rmse, rmse * np.exp(-half), rmse * np.exp(half),
                float(np.sqrt(ss.sum() / df)) if df else np.nan, df, len(gaps), error,
                _jackknife(ss[spare > 0], spare[spare > 0]),
            )
        )  # fmt: skip
    return pd.DataFrame(rows, columns=PROGRESS_COLUMNS)


def _log_error(gaps: Floats) -> float:
    """Return the standard error of the log of the root mean square (jackknife over bottles)."""
    square = np.nanmean(gaps**2, axis=1)
    return _jackknife(square, np.ones_like(square))


def _jackknife(squares: Floats, weights: Floats) -> float:
    """Return the standard error of the log of a root mean square, leaving out bottle by bottle."""
    n = squares.size
    if n < 3 or not squares.sum() > 0:
        return float("nan")
    left_out = (squares.sum() - squares) / (weights.sum() - weights)
    if (left_out <= 0).any():
        return float("nan")
    parts = np.log(left_out) / 2
    return float(np.sqrt((n - 1) / n * ((parts - parts.mean()) ** 2).sum()))


def courses(progress: Mapping[str, pd.DataFrame], level: float) -> dict[str, list[StudentCourse]]:
    """Judge the course of distance and of repeatability over the sessions, student by student.

    The error of a point is the larger of what the cups let expect and, from `SLOPE` sessions
    on, of how the students of the class scatter around their own lines: sessions differ.

    Parameters
    ----------
    progress : mapping of str to DataFrame
        By student, what `by_session` returned.
    level : float
    """
    rest: dict[str, list[Floats]] = {measure: [] for measure in MEASURES}
    spare: dict[str, int] = dict.fromkeys(MEASURES, 0)
    points: dict[tuple[str, str], _Points] = {}
    for who, table in progress.items():
        if len(table) < COURSE:
            continue
        for measure, found in (("distance", _distances(table)), ("repeatability", _repeats(table))):
            if found is None:
                continue
            points[who, measure] = found
            if len(found.y) >= SLOPE:
                rest[measure].append(_line_of(found.y)[1])
                spare[measure] += len(found.y) - 2
    out: dict[str, list[StudentCourse]] = {who: [] for who in progress}
    for (who, measure), found in points.items():
        error, df = found.error, found.df
        if spare[measure] and len(found.y) >= SLOPE:
            seen = float(np.sqrt(sum(float((r**2).sum()) for r in rest[measure]) / spare[measure]))
            if seen > error:
                error, df = seen, float(spare[measure])
        out[who].append(_course(measure, found.y, error, df, level))
    return out


class _Points(NamedTuple):
    """Logs of a measure by session, the error of one of them, and its degrees of freedom."""

    y: Floats
    error: float
    df: float


def _distances(table: pd.DataFrame) -> _Points | None:
    errors = table["log_error"].to_numpy(float)
    if not np.isfinite(errors).all():
        return None
    # One error for all sessions: a jackknife over six bottles is itself uncertain.
    df = float((table["n_samples"] - 1).sum())
    return _Points(np.log(table["rmse"].to_numpy(float)), float(np.sqrt(np.mean(errors**2))), df)


def _repeats(table: pd.DataFrame) -> _Points | None:
    sd, df = table["repeatability"].to_numpy(float), table["df"].to_numpy(float)
    if not (sd > 0).all():
        return None
    # The log of a standard deviation on f degrees of freedom scatters by about 1/sqrt(2 f), more
    # where marks of one cup move together, as leaving out bottles shows.
    plain, seen = float(np.sqrt(np.mean(1 / (2 * df)))), table["log_error_cups"].to_numpy(float)
    jackknife = float(np.sqrt(np.mean(seen**2)))
    if jackknife > plain:
        return _Points(np.log(sd), jackknife, float((table["n_samples"] - 1).sum()))
    return _Points(np.log(sd), plain, float(df.sum()))


def _line_of(y: Floats) -> tuple[float, Floats]:
    x = np.arange(y.size) - (y.size - 1) / 2
    slope = float((x * y).sum() / (x**2).sum())
    return slope, y - y.mean() - slope * x


def _course(measure: str, y: Floats, error: float, df: float, level: float) -> StudentCourse:
    slope, _ = _line_of(y)
    x = np.arange(y.size) - (y.size - 1) / 2
    se = error / float(np.sqrt((x**2).sum()))
    p = 2 * float(stdtr(df, -abs(slope) / se)) if se > 0 else np.nan
    made = StudentCourse(
        measure, 0.0, 0.0, 0.0, p, y.size, slope * (y.size - 1), se * (y.size - 1), df
    )
    low, high = made.limits(level)
    return made._replace(ratio=float(np.exp(made.log_ratio)), low=low, high=high)
