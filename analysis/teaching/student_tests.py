"""Each student against the expert: direction, width and level of scale use, and own repeats.

Every test is exact under normal scatter around the student's own line on the expert's
scores, levels of the sessions taken off. An attribute's error is the larger of its own
and that of the whole card; over the whole card the scatter pooled over attributes, times
how far attributes move together by bottle (`Together`), steadied by the rest of the class
where a session has few bottles. The names of what is found are those of
`kikichoko.analysis.performance`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np
from scipy.special import chdtrc, fdtrc, stdtr, stdtrit

from ..core.ratings_matrix import Floats
from ..performance.assessor_tests import Comparison
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
SURELY = 0.95
"""Level of the limits of a slope from which one's own cups may differ more."""
WHOLE_CARD = -1
"""Stands for all attributes together where a test names one by its place."""
FLAT = 1e-9
"""Scale points: who marks bottles of a session no farther apart tells nothing of their order."""
EXACT = 1e-12
"""Variance of who leaves no scatter at all around the own line: far below any reading."""
LENT = 8
"""Degrees of freedom, at most, by which the class steadies how far attributes move together."""
OTHERWISE = 0.05
"""p below which one student's attributes move together otherwise than the class's do."""


class Together(NamedTuple):
    """How far attributes move together by bottle, for slopes and for levels.

    Variance of a sum over attributes by bottle, over that of independent ones: 1 where they
    do not move together. `df` goes with it.
    """

    slope: float
    level: float
    df: float


ALONE = Together(1.0, 1.0, 0.0)
"""Of a student without a class."""


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
    others: Together,
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
    others : Together
        How far attributes move together in the rest of the class, see `rest_of_class`.
    """
    lines = _lines(scores, ground, student, sessions)
    tests = _slope_tests(_judged(lines, scores, ground), others)
    tests += _level_tests(lines, ground, scores.attributes, margin, others)
    tests += _repeat_tests(scores, student, sessions, margin * stretch(tests))
    return [test for test in tests if not np.isnan(test.p)]


def stretch(tests: Sequence[Test]) -> float:
    """Return how many times as far the cups of one bottle may differ, 1 or more.

    Who surely uses more of the line than the expert may scatter as much more; a slope that only
    came out above 1 gives no more room.
    """
    whole = [test for test in tests if test.aspect == "width" and test.attribute == WHOLE_CARD]
    return max([1.0, *(test.limits(SURELY)[0] for test in whole)])


def both_directions(
    scores: ClassScores, ground: Ground, student: str, parts: tuple[Sequence[str], Sequence[str]]
) -> dict[int, tuple[Test, Test]]:
    """Test the direction of each attribute in two parts of the sessions, by its place.

    The error is the scatter around both lines together, or that of the whole card in the part
    itself where it is larger: who learns scatters more at first.
    """
    each = [_judged(_lines(scores, ground, student, one), scores, ground) for one in parts]
    pooled, df = _around([line for part in each for line in part.values()])
    if not df:
        return {}
    own = [_around(list(part.values())) for part in each]
    found = {}
    for place in each[0].keys() & each[1].keys():
        pair = [part[place] for part in each]
        known = max(pooled, _around(pair)[0], EXACT)
        tests = []
        for line, mine in zip(pair, own, strict=True):
            error, spare = max((known, df), mine)
            se = float(np.sqrt(error / line.sxx))
            tests.append(_of_slope(place, line.slope, se, spare, line.expected)[0])
        found[place] = (tests[0], tests[1])
    return found


def rest_of_class(
    scores: ClassScores, ground: Ground, sessions: Mapping[str, Sequence[str]]
) -> dict[str, Together]:
    """Return for each student how far attributes move together in the rest of the class.

    Parameters
    ----------
    scores : ClassScores
    ground : Ground
    sessions : mapping of str to sequence of str
        By student: the sessions that count.
    """
    own = {}
    for who, there in sessions.items():
        lines = _lines(scores, ground, who, there)
        judged = _judged(lines, scores, ground)
        slope, level = _slope_ratio(judged), _level_ratio(lines)
        if slope is not None and level is not None:
            own[who] = Together(slope[0], level[0], slope[1])
    found = {}
    for who in sessions:
        rest = [one for name, one in own.items() if name != who]
        df = sum(one.df for one in rest)
        found[who] = Together(
            sum(one.slope * one.df for one in rest) / df,
            sum(one.level * one.df for one in rest) / df,
            min(df, LENT),
        ) if df else ALONE  # fmt: skip
    return found


def _lines(
    scores: ClassScores, ground: Ground, student: str, sessions: Sequence[str]
) -> dict[int, _Line]:
    there = scores.in_sessions(sessions)
    own = np.where(there[:, None], scores.of(student), np.nan)
    lines = {}
    for place, name in enumerate(scores.attributes):
        if name not in ground.parted:
            line = _line(scores, ground.means[:, place], own[:, place], ground.error[name])
            if line is not None:
                lines[place] = line
    return lines


def _judged(lines: dict[int, _Line], scores: ClassScores, ground: Ground) -> dict[int, _Line]:
    places = [scores.attributes.index(name) for name in ground.order_told]
    return {place: lines[place] for place in places if place in lines}


def _steadied(
    se: float, df: float, own: tuple[float, float], lent: tuple[float, float]
) -> tuple[float, float]:
    """Return the error of the whole card and its degrees of freedom.

    The own ratio of `Together` is averaged with that of the class by degrees of freedom, unless
    it is larger than chance makes of the class's: then it stands alone. `own` and `lent` are
    ratio and degrees of freedom.
    """
    (ratio, own_df), (lent_ratio, lent_df) = own, lent
    if lent_df and fdtrc(own_df, lent_df, ratio / max(lent_ratio, 1.0)) > OTHERWISE:
        ratio = (ratio * own_df + lent_ratio * lent_df) / (own_df + lent_df)
        own_df += lent_df
    return (se * float(np.sqrt(ratio)), min(df, own_df)) if ratio > 1 else (se, df)


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
    if not sxx > 0 or np.abs(y).max() < FLAT:
        return None
    slope = float((x * y).sum()) / sxx
    expected = 1 - error * spare / sxx if np.isfinite(error) else 1.0
    return _Line(
        x, y - slope * x, gap, n, slope, sxx, spare - 1, float(np.clip(expected, 0.2, 1.0))
    )


def _around(lines: Sequence[_Line]) -> tuple[float, int]:
    """Return the scatter around lines, pooled, and its degrees of freedom."""
    df = sum(line.df for line in lines)
    return sum(float((line.rest**2).sum()) for line in lines) / max(df, 1), df


def _pooled(lines: Mapping[int, _Line]) -> tuple[float, int]:
    error, df = _around(list(lines.values()))
    return (max(error, EXACT) if df else np.nan), df


def _variances(lines: Mapping[int, _Line]) -> dict[int, float]:
    """Return the scatter around the own line: the larger of the attribute's and of all."""
    pooled, _ = _pooled(lines)
    return {
        place: max(pooled, float((line.rest**2).sum()) / line.df) for place, line in lines.items()
    }


def _slope_ratio(lines: Mapping[int, _Line]) -> tuple[float, int] | None:
    """Return the variance of slopes added by bottle over that of independent ones, and its df."""
    if not lines or not _pooled(lines)[0] > 0:
        return None
    each = _variances(lines)
    by_bottle = np.sum([line.x * line.rest / each[place] for place, line in lines.items()], axis=0)
    df, n = max((line.df, line.n) for line in lines.values())
    size = sum(line.sxx / each[place] for place, line in lines.items())
    return float((by_bottle**2).sum()) * n / df / size, df


def _level_ratio(lines: Mapping[int, _Line]) -> tuple[float, int] | None:
    variance, _ = _pooled(lines)
    if not lines or not variance > 0:
        return None
    df, n = max((line.df, line.n) for line in lines.values())
    by_bottle = np.mean([line.rest for line in lines.values()], axis=0)
    total = sum(line.n for line in lines.values())
    return float((by_bottle**2).sum()) / df / n * total / variance, df


def _slope_tests(lines: Mapping[int, _Line], others: Together) -> list[Test]:
    variance, df = _pooled(lines)
    ratio = _slope_ratio(lines)
    if ratio is None or not variance > 0:
        return []
    each = _variances(lines)
    tests = []
    for place, line in lines.items():
        se = float(np.sqrt(each[place] / line.sxx))
        tests += _of_slope(place, line.slope, se, df, line.expected)
    weights = {place: line.sxx / each[place] for place, line in lines.items()}
    size = sum(weights.values())
    slope = sum(line.slope * weights[place] for place, line in lines.items()) / size
    expected = sum(line.expected * weights[place] for place, line in lines.items()) / size
    se, whole = _steadied(1 / float(np.sqrt(size)), df, ratio, (others.slope, others.df))
    return [*tests, *_of_slope(WHOLE_CARD, slope, se, whole, expected)]


def _of_slope(place: int, slope: float, se: float, df: float, expected: float) -> list[Test]:
    half = float(stdtrit(df, (1 + LIMITS) / 2)) * se
    follows = 2 * float(stdtr(df, -abs(slope) / se))
    ends = (slope - half, slope + half, se, df)
    return [
        Test("direction", place, follows, slope, *ends),
        Test("width", place, _outside(slope, NARROW * expected, WIDE, se, df), slope, *ends),
    ]


def _outside(value: float, low: float, high: float, se: float, df: float) -> float:
    """Return p against the hypothesis that the truth lies from `low` to `high`.

    Hodges and Lehmann (1954), J. R. Stat. Soc. B 16:261-268: at either end of the interval the
    chance of a value as far outside it on that side, or on the other.
    """
    beyond = max(low - value, value - high)
    return min(1.0, float(stdtr(df, -beyond / se) + stdtr(df, -(beyond + high - low) / se)))


def _level_tests(
    lines: Mapping[int, _Line],
    ground: Ground,
    attributes: Sequence[str],
    margin: float,
    others: Together,
) -> list[Test]:
    """Test the mean difference from the expert against what everybody may have."""
    variance, df = _pooled(lines)
    ratio = _level_ratio(lines)
    if ratio is None:
        return []
    tests, rooms, means = [], [], []
    for place, line in lines.items():
        room = LEVEL_SHARE * margin + ground.level_room[attributes[place]]
        own = max(variance, float((line.rest**2).sum()) / line.df)
        se = float(np.sqrt(own / line.n))
        rooms.append(room)
        means.append(float(np.nanmean(line.gap)))
        tests.append(_of_level(place, means[-1], se, df, room))
    model = float(np.sqrt(variance / sum(line.n for line in lines.values())))
    se, whole = _steadied(model, df, ratio, (others.level, others.df))
    return [*tests, _of_level(WHOLE_CARD, float(np.mean(means)), se, whole, float(np.mean(rooms)))]


def _of_level(place: int, mean: float, se: float, df: float, room: float) -> Test:
    p = _outside(mean, -room, room, se, df)
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
    p = _scatter_of_correlated(df, (sd / most) ** 2, left)
    return [*tests, Test("repeatability", WHOLE_CARD, p, sd, df=df)]


def _scatter_of_correlated(df: float, ratio: float, residuals: Floats) -> float:
    """Return p of a variance pooled over correlated attributes (Satterthwaite 1946).

    A sum of squares of A attributes that correlate by r has its degrees of freedom divided by
    1 + (A - 1) times the mean r squared, less what chance makes of r squared.
    """
    r = np.nan_to_num(np.atleast_2d(np.corrcoef(residuals)), nan=1.0)
    number, each = len(r), df / len(r)
    squared = (float((r**2).sum()) - number) / (number * (number - 1)) if number > 1 else 0.0
    shared = max(0.0, (squared - 1 / each) / (1 - 1 / each)) if each > 1 else 1.0
    own = df / (1 + (number - 1) * shared)
    return float(chdtrc(own, own * ratio))
