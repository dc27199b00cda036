"""What each student of a class may be told, at one rate of error for the whole class.

In a class in which everybody scores as the expert does, but for an own level within half
a margin and own scatter within a margin, anybody is told anything false in at most `ALPHA`
of classes. The budget is shared evenly between those of `PARTS` that the class can show at
all; within a part half goes to the whole card, half to single attributes, and Holm's method
over all students and attributes.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import NamedTuple

import numpy as np
import pandas as pd

from ..core.p_values import holds
from ..inference.adjusted_p import adjust
from ..performance.assessor_findings import MOST, name_findings
from .class_scores import ClassScores
from .class_summary import SMALLEST
from .expert_ground import Ground
from .progress_tests import COURSE, StudentCourse
from .student_tests import ALONE, ASPECTS, NARROW, WHOLE_CARD, WIDE, Test, rest_of_class, tests_of
from .turns import Turn

ALPHA = 0.05
"""Chance, at most, that anybody of a clean class is told anything false."""
PARTS = (*ASPECTS, "course", "class", "experts", "slips")
"""What shares `ALPHA` evenly, as far as the design can show it."""
SAME_WAY = 0.25
"""An attribute goes the way of the whole card from this share of its level on."""
SCALE_KINDS = ("reversed", "guessing", "narrow", "wide")
FINDING_COLUMNS = [
    "student", "attribute", "finding", "value", "low", "high", "p", "times", "of_sessions",
]  # fmt: skip


class Shown(NamedTuple):
    """What is shown of one student.

    Attributes
    ----------
    findings : DataFrame
        ``attribute`` ("" for the whole card), ``finding`` (as in `assessors`), ``value, low,
        high, p`` (Holm, over the class), ``times, of_sessions``: in how many of the sessions
        that count the student did so.
    follows : list of str
        Attributes on which the student's order is shown to follow the expert's.
    follows_whole : bool
        Over the whole card it is.
    turns : list of Turn
        Attributes on which the order turned round from one session to the next.
    courses : list of StudentCourse
        Shown ones.
    sessions : list of str
        The sessions that findings are about: all, or the latest third where a course is shown.
    """

    findings: pd.DataFrame
    follows: list[str]
    follows_whole: bool
    turns: list[Turn]
    courses: list[StudentCourse]
    sessions: list[str]


def parts_of(*, sessions: int, experts: int, students: int) -> tuple[str, ...]:
    """Return what of `PARTS` a class of this size can show at all."""
    there = {
        "course": sessions >= COURSE,
        "class": students >= SMALLEST,
        "experts": experts > 1,
    }
    return tuple(name for name in PARTS if there.get(name, True))


def share_of_alpha(alpha: float, parts: Sequence[str] = PARTS) -> float:
    """Return the part of the budget that one of `parts` has."""
    return alpha / len(parts)


def shown_courses(
    found: Mapping[str, list[StudentCourse]], part: float
) -> dict[str, list[StudentCourse]]:
    """Return the courses that hold over all students and both measures (Holm at `part`)."""
    flat = [(who, course) for who, courses in found.items() for course in courses]
    p = adjust(np.array([course.p for _, course in flat])).tolist() if flat else []
    shown: dict[str, list[StudentCourse]] = {who: [] for who in found}
    for (who, course), value in zip(flat, p, strict=True):
        if holds(value, part):
            shown[who].append(course)
    return shown


def watched_course(
    found: Sequence[StudentCourse], number: int, part: float
) -> StudentCourse | None:
    """Return the course of the distance with limits that go with the rule for `number` courses.

    Where no course is shown, these limits hold "no change": text and limits never part.
    """
    course = next((one for one in found if one.measure == "distance"), None)
    if course is None:
        return None
    low, high = course.limits(1 - part / number)
    return course._replace(low=low, high=high)


def latest(sessions: Sequence[str], *, changing: bool) -> list[str]:
    """Return the sessions that advice is about: all, or the latest third of a changing student."""
    return list(sessions[-max(1, round(len(sessions) / 3)) :] if changing else sessions)


def class_findings(
    scores: ClassScores,
    ground: Ground,
    sessions: Mapping[str, list[str]],
    courses: Mapping[str, list[StudentCourse]],
    turned: Mapping[str, list[Turn]],
    *,
    margin: float,
    part: float,
) -> dict[str, Shown]:
    """Test everybody, adjust over the class, and name what holds.

    Parameters
    ----------
    scores : ClassScores
    ground : Ground
    sessions : mapping of str to list of str
        By student: the sessions attended, in order.
    courses : mapping of str to list of StudentCourse
        By student: the courses that are shown.
    turned : mapping of str to list of Turn
        By student: the turns that are shown.
    margin : float
    part : float
        Of the error budget, for each of `ASPECTS`: half for the whole card, half for attributes.
    """
    attributes = scores.attributes
    counted = {who: latest(there, changing=bool(courses[who])) for who, there in sessions.items()}
    others = rest_of_class(scores, ground, counted)
    tests = {
        who: tests_of(scores, ground, who, sessions=counted[who], margin=margin, others=others[who])
        for who in sessions
    }
    adjusted: dict[tuple[str, str, int], float] = {}
    for aspect in ASPECTS:
        for whole in (True, False):
            mine = [
                (who, test) for who, own in tests.items() for test in own
                if test.aspect == aspect and (test.attribute == WHOLE_CARD) is whole
            ]  # fmt: skip
            held = adjust(np.array([test.p for _, test in mine])) if mine else ()
            for (who, test), p in zip(mine, held, strict=True):
                adjusted[who, aspect, test.attribute] = min(1.0, 2 * float(p))
    found = {}
    for who, own in tests.items():
        p_of = {(test.aspect, test.attribute): adjusted[who, *test[:2]] for test in own}
        rows, follows, whole = _named(own, p_of, attributes, part)
        each = {
            session: tests_of(scores, ground, who, sessions=[session], margin=margin, others=ALONE)
            for session in counted[who]
            if rows
        }
        told = _as_of_late(rows, each, attributes)
        told, round_ = _with_whole_card(told, turned[who], len(ground.order_told))
        told, follows = _with_turns(told, follows, round_, attributes)
        table = pd.DataFrame([(who, *row) for row in told], columns=FINDING_COLUMNS)
        found[who] = Shown(
            findings=table.drop(columns="student"),
            follows=follows,
            follows_whole=whole,
            turns=round_,
            courses=courses[who],
            sessions=counted[who],
        )
    return found


Row = tuple[str, str, float, float, float, float]
Told = tuple[str, str, float, float, float, float, int, int]


def _named(
    own: list[Test], p_of: Mapping[tuple[str, int], float], attributes: Sequence[str], part: float
) -> tuple[list[Row], list[str], bool]:
    """Turn one student's tests into findings by the naming of `assessors`."""
    by_place: dict[int, dict[str, Test]] = {}
    for test in own:
        by_place.setdefault(test.attribute, {})[test.aspect] = test
    rows: list[Row] = []
    follows: list[str] = []
    whole: str | None = None
    follows_whole = False
    for place in sorted(by_place):
        mine = by_place[place]
        counts = {aspect for aspect in mine if holds(p_of[aspect, place], part)}
        if place == WHOLE_CARD:
            counts = {aspect for aspect in counts if together(mine[aspect], by_place)}
        name = "" if place == WHOLE_CARD else attributes[place]
        slope = mine.get("direction")
        if slope is not None and "direction" in counts and slope.value > 0:
            counts.discard("direction")
            if place == WHOLE_CARD:
                follows_whole = True
            else:
                follows.append(name)
        if "width" in counts and not _surely_named(mine["width"]):
            counts.discard("width")
        given = {test.as_comparison().aspect: test.as_comparison() for test in mine.values()}
        scale = {"direction", "width"} & counts
        if slope is not None and (name in follows if name else follows_whole):
            # whoever is shown to follow uses the line narrowly or widely, and never guesses
            del given["scale"]
            kept = [("narrow" if slope.value < 1 else "wide", *slope[3:6], slope.p)]
            named = [*(kept if scale else []), *name_findings(given, counts - scale, whole)]
        else:
            named = name_findings(given, (counts - scale) | ({"scale"} if scale else set()), whole)
        explained = {kind for kind, *_ in named} & {"reversed", "guessing"}
        for kind, value, low, high, _ in named:
            aspect = {"noisy": "repeatability", "high": "level", "low": "level"}.get(kind)
            if kind == "guessing" and not scale:
                continue
            if aspect == "level" and (explained or whole in ("reversed", "guessing")):
                continue
            if place != WHOLE_CARD and said_already(kind, {row[1] for row in rows if not row[0]}):
                continue
            used = [aspect] if aspect else sorted(scale)
            p = min(p_of[one, place] for one in used)
            rows.append((name, kind, value, low, high, p))
        if place == WHOLE_CARD:
            whole = next((row[1] for row in rows if row[1] in SCALE_KINDS), "")
    if whole == "guessing":
        follows = []
    return rows, follows, follows_whole


def together(test: Test, by_place: Mapping[int, Mapping[str, Test]]) -> bool:
    """Tell whether most attributes go the way of the whole card."""
    each = [
        tests[test.aspect].value
        for place, tests in by_place.items()
        if place != WHOLE_CARD and test.aspect in tests
    ]
    if test.aspect == "repeatability" or not each:
        return True
    if test.aspect == "level":
        way = [np.sign(test.value) * value > SAME_WAY * abs(test.value) for value in each]
    elif test.aspect == "direction":
        way = [np.sign(test.value) * value > 0 for value in each]
    else:
        way = [value < NARROW if test.value < NARROW else value > 1 for value in each]
    return float(np.mean(way)) >= MOST


def _surely_named(test: Test) -> bool:
    """Tell whether a width has its name for certain: following is shown, or not even hinted at."""
    return test.value > WIDE or test.low > 0 or test.limits(0.95)[0] <= 0


def said_already(kind: str, whole: Collection[str]) -> bool:
    """Tell whether what was found over the whole card says the same, or what explains it."""
    if kind in ("narrow", "wide", "guessing"):
        return bool({*whole} & {*SCALE_KINDS})
    if kind in ("high", "low", "noisy"):
        return bool({*whole} & {"high", "low", "noisy", *SCALE_KINDS} - {"narrow", "wide"}) or (
            kind != "noisy" and bool({*whole} & {"narrow", "wide"})
        )
    return kind in whole


def _as_of_late(
    rows: list[Row], each: Mapping[str, list[Test]], attributes: Sequence[str]
) -> list[Told]:
    """Count the sessions that a finding held in, and drop what the latest contradicts."""
    kept: list[Told] = []
    for row in rows:
        place = WHOLE_CARD if row[0] == "" else attributes.index(row[0])
        aspect = {"noisy": "repeatability", "high": "level", "low": "level"}.get(row[1], "width")
        seen = [
            test
            for tests in each.values()
            for test in tests
            if test.aspect == aspect and test.attribute == place
        ]
        if aspect == "width" and len(seen) > 1 and _contradicts(row[1], seen[-1]):
            continue
        kept.append((*row, sum(_did(row[1], test.value) for test in seen), len(seen)))
    return kept


def _with_whole_card(
    told: list[Told], turned: list[Turn], number: int
) -> tuple[list[Told], list[Turn]]:
    """Keep the whole card's scale finding or the turns: the one of which more attributes speak."""
    whole = [row for row in told if row[0] == "" and row[1] in SCALE_KINDS]
    if not whole or not turned:
        return told, turned
    if len(turned) >= MOST * number:
        return [row for row in told if row not in whole], turned
    return told, ([] if any(row[1] == "guessing" for row in whole) else turned)


def _with_turns(
    told: list[Told], follows: list[str], turned: Sequence[Turn], attributes: Sequence[str]
) -> tuple[list[Told], list[str]]:
    """Put the order since the turn in place of that over all sessions, which is of neither part."""
    mended = {turn.attribute for turn in turned if turn.mended}
    lost = [turn for turn in turned if not turn.mended]
    gone = mended | {turn.attribute for turn in lost}
    kept = [row for row in told if row[0] not in gone or row[1] not in SCALE_KINDS]
    for turn in lost:
        number = len(turn.since)
        value, low, high = turn.test.value, turn.test.low, turn.test.high
        kept.append((turn.attribute, "reversed", value, low, high, turn.p, number, number))
    follow = (set(follows) | mended) - {turn.attribute for turn in lost}
    return kept, [name for name in attributes if name in follow]


def _contradicts(kind: str, test: Test) -> bool:
    low, high = test.limits(0.95)
    match kind:
        case "reversed" | "guessing":
            return low > 0
        case "narrow":
            return low > NARROW
        case _:
            return high < WIDE


def _did(kind: str, value: float) -> bool:
    match kind:
        case "reversed":
            return value < 0
        case "narrow" | "guessing":
            return value < NARROW
        case "wide":
            return value > 1
        case "low":
            return value < 0
        case _:
            return value > 0
