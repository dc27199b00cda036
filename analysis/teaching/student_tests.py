"""Each student against the expert: direction, width and level of scale use, and own repeats.

Every test is exact under normal scatter around the student's own line on the expert's
scores, levels of the sessions taken off. An attribute's error is the larger of its own
and that of the whole card; over the whole card the larger of the scatter pooled over
attributes and of the sums over attributes by bottle, so that attributes which move
together are allowed for. The names of what is found are those of
`kikichoko.analysis.performance`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np
from scipy.special import chdtrc, stdtr, stdtrit

from ..core.ratings_matrix import Floats
from ..performance.assessor_tests import Comparison, together
from .class_scores import ClassScores, centred
from .expert_ground import Ground

ASPECTS = ("direction", "width", "level", "repeatability")
NARROW = 0.8
"""Slope on the expert, of what an equal would have, below which a scale is used narrowly."""
WIDE = 1.25
"""Slope on the expert above which a scale is used widely."""
LEVEL_SHARE = 0.5
"""A level is judged beyond this share of the margin: everybody has one of their own."""
LIMITS = 0.99
"""Level of the limits by which a slope gets its name."""
WHOLE_CARD = -1
"""Stands for all attributes together where a test names one by its place."""
EXACT = 1e-12
"""Variance of who leaves no scatter at all around the own line: far below any reading."""


class Test(NamedTuple):
    """One test of a student.

    `attribute` is -1 for the whole card. `low` and `high` are limits of `value` (a slope, or
    scale points) at `LIMITS`; `df` goes with them.
    """

    aspect: str
    attribute: int
    p: float
    value: float
    low: float = float("nan")
    high: float = float("nan")
    se: float = float("nan")
    df: float = float("nan")

    def as_comparison(self) -> Comparison:
        """Return the test as the naming of `assessors` takes it."""
        aspect = "scale" if self.aspect in ("direction", "width") else self.aspect
        return Comparison(aspect, self.attribute, self.p, self.value, self.low, self.high)

    def limits(self, level: float) -> tuple[float, float]:
        """Return limits of the value at another level."""
        half = float(stdtrit(self.df, (1 + level) / 2)) * self.se
        return self.value - half, self.value + half


class _Line(NamedTuple):
    """One attribute over the bottles of a class, shape (U,): unknown ones are 0 in `x`, `rest`.

    `x` is the expert, `rest` what the student's own line leaves (both centred by session),
    `gap` the student less the expert (nan where unknown), `n` the bottles.
    """

    x: Floats
    rest: Floats
    gap: Floats
    n: int
    slope: float
    sxx: float
    df: int
    expected: float


def tests_of(
    scores: ClassScores,
    ground: Ground,
    student: str,
    *,
    sessions: Sequence[str],
    margin: float,
) -> list[Test]:
    """Test one student on every attribute and over the whole card.

    Parameters
    ----------
    scores : ClassScores
    ground : Ground
    student : str
    sessions : sequence of str
        Sessions that count.
    margin : float
        Scale points that are still near enough.
    """
    there = scores.in_sessions(sessions)
    own = np.where(there[:, None], scores.of(student), np.nan)
    lines: dict[int, _Line] = {}
    for place, name in enumerate(scores.attributes):
        if name not in ground.parted:
            line = _line(scores, ground.means[:, place], own[:, place], ground.error[name])
            if line is not None:
                lines[place] = line
    judged = [scores.attributes.index(name) for name in ground.order_told]
    tests = _slope_tests({place: lines[place] for place in judged if place in lines})
    tests += _level_tests(lines, ground, scores.attributes, margin)
    whole = next(
        (test.value for test in tests if test.aspect == "width" and test[1] == WHOLE_CARD), 1.0
    )
    tests += _repeat_tests(scores, student, sessions, margin * max(whole, 1.0))
    return [test for test in tests if not np.isnan(test.p)]


def _line(scores: ClassScores, expert: Floats, own: Floats, error: float) -> _Line | None:
    gap = own - expert
    known = ~np.isnan(gap)
    n, sessions = int(known.sum()), scores.session[known]
    spare = n - np.unique(sessions).size
    if spare < 2:
        return None
    x, y = np.zeros(gap.size), np.zeros(gap.size)
    x[known], y[known] = centred(expert[known], sessions), centred(own[known], sessions)
    sxx = float((x**2).sum())
    if not sxx > 0:
        return None
    slope = float((x * y).sum()) / sxx
    expected = 1 - error * spare / sxx if np.isfinite(error) else 1.0
    return _Line(
        x, y - slope * x, gap, n, slope, sxx, spare - 1, float(np.clip(expected, 0.2, 1.0))
    )


def _pooled(lines: Mapping[int, _Line]) -> tuple[float, int]:
    df = sum(line.df for line in lines.values())
    total = sum(float((line.rest**2).sum()) for line in lines.values())
    return (max(total / df, EXACT) if df else np.nan), df


def _slope_tests(lines: Mapping[int, _Line]) -> list[Test]:
    variance, df = _pooled(lines)
    if not lines or not variance > 0:
        return []
    tests = []
    each: dict[int, float] = {}
    for place, line in lines.items():
        each[place] = max(variance, float((line.rest**2).sum()) / line.df)
        se = float(np.sqrt(each[place] / line.sxx))
        tests += _of_slope(place, line.slope, se, df, line.expected)
    weights = {place: line.sxx / each[place] for place, line in lines.items()}
    size = sum(weights.values())
    slope = sum(line.slope * weights[place] for place, line in lines.items()) / size
    expected = sum(line.expected * weights[place] for place, line in lines.items()) / size
    together_by_bottle = np.sum(
        [line.x * line.rest / each[place] for place, line in lines.items()], axis=0
    )
    own_df, n = max((line.df, line.n) for line in lines.values())
    by_bottle = float(np.sqrt((together_by_bottle**2).sum() * n / own_df)) / size
    se, df_whole = float(1 / np.sqrt(size)), float(df)
    if by_bottle > se:
        se, df_whole = by_bottle, float(own_df)
    return [*tests, *_of_slope(WHOLE_CARD, slope, se, df_whole, expected)]


def _of_slope(place: int, slope: float, se: float, df: float, expected: float) -> list[Test]:
    half = float(stdtrit(df, (1 + LIMITS) / 2)) * se
    follows = 2 * float(stdtr(df, -abs(slope) / se))
    narrow = float(stdtr(df, (slope - NARROW * expected) / se))
    wide = float(stdtr(df, (WIDE - slope) / se))
    ends = (slope - half, slope + half, se, df)
    return [
        Test("direction", place, follows, slope, *ends),
        Test("width", place, min(1.0, 2 * min(narrow, wide)), slope, *ends),
    ]


def _level_tests(
    lines: Mapping[int, _Line], ground: Ground, attributes: Sequence[str], margin: float
) -> list[Test]:
    """Test the mean difference from the expert against what everybody may have."""
    variance, df = _pooled(lines)
    if not lines or not variance > 0:
        return []
    tests, rooms, means = [], [], []
    for place, line in lines.items():
        room = LEVEL_SHARE * margin + ground.level_room[attributes[place]]
        own = max(variance, float((line.rest**2).sum()) / line.df)
        se = float(np.sqrt(own / line.n))
        rooms.append(room)
        means.append(float(np.nanmean(line.gap)))
        tests.append(_of_level(place, means[-1], se, df, room))
    own_df, n = max((line.df, line.n) for line in lines.values())
    model = float(np.sqrt(variance / sum(line.n for line in lines.values())))
    rest = np.mean([line.rest for line in lines.values()], axis=0)
    by_bottle = float(np.sqrt((rest**2).sum() / own_df / n))
    se, df_whole = (by_bottle, own_df) if by_bottle > model else (model, df)
    return [
        *tests,
        _of_level(WHOLE_CARD, float(np.mean(means)), se, df_whole, float(np.mean(rooms))),
    ]


def _of_level(place: int, mean: float, se: float, df: float, room: float) -> Test:
    p = min(1.0, 2 * float(stdtr(df, -(abs(mean) - room) / se)))
    half = float(stdtrit(df, (1 + LIMITS) / 2)) * se
    return Test("level", place, p, mean, mean - half, mean + half, se, df)


def _repeat_tests(
    scores: ClassScores, student: str, sessions: Sequence[str], most: float
) -> list[Test]:
    """Test the scatter of the own cups against what is still near enough (chi-square)."""
    tests: list[Test] = []
    for place in range(len(scores.attributes)):
        own = scores.scatter([student], place, sessions)
        if own.df:
            p = float(chdtrc(own.df, own.df * (own.sd / most) ** 2))
            tests.append(Test("repeatability", place, p, own.sd, df=own.df))
    if not tests:
        return []
    mine = (scores.who == scores.people.index(student)) & scores.in_sessions(sessions)[scores.what]
    names = [test.attribute for test in tests]
    left: Floats = np.nan_to_num(scores.residuals[mine][:, names]).T
    df = sum(test.df for test in tests)
    sd = float(np.sqrt(sum(test.df * test.value**2 for test in tests) / df))
    if not left.any(axis=1).all():
        p = float(chdtrc(df, df * (sd / most) ** 2))
        return [*tests, Test("repeatability", WHOLE_CARD, p, sd, df=df)]
    p = together(np.array([test.p for test in tests]), left)
    return [*tests, Test("repeatability", WHOLE_CARD, p, sd, df=df)]
