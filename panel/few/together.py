"""How far a few assessors go together: over all marks, beyond own scatter, or one of them alone."""

from __future__ import annotations

from itertools import combinations

import numpy as np

from ...analysis.core.wording import fixed
from ...forms.questions.question_types import Kind
from ..base.words import sentence
from ..findings.evidence import BALANCE, QUALITY, Evidence, once
from ..findings.statement import Line, Statement, joined
from . import directions
from .side_by_side import ALIKE, Row, beyond_own_scatter, people, rows
from .tasters import FEWEST_GAPS, inside, mirrored, said

SWEET = "sweetness"
FEWEST_MARKS = 12
"""Marks of everybody, levels set aside, from which a correlation over all of them is told."""
ALONE = {2: 0.8, 3: 0.7}
"""Share of the differences of all, by their number, from which one rests on one person (a
convention, no source)."""
POINT = 1.0
"""Points that the one sets two bottles apart at least where that is told."""
SHOWN = 4
"""Orders beyond everybody's own scatter that are named, the widest first."""
CONFUSED = (("bitterness", "astringency"), ("bitterness", "acidity"))
"""Tastes that people confuse by name: sour and bitter (O'Mahony, Goldenberg, Stedmon & Alford 1979,
Chem. Senses 4:301-318, from memory), bitter and astringent (common practice, no source)."""
FIT = 1.0
"""Points by which a bottle that somebody finds too sweet is less sweet to the same person than one
that is too dry, from which the two answers do not fit."""


def statements(evidence: Evidence) -> list[Statement]:
    """Say how far the sheets go together, and what is one person's."""
    if len(people(evidence)) == 1:
        return []
    if mirrored(evidence):  # The means may hide that two cups were exchanged.
        return [*_misfit(evidence), *_consumers(evidence)]
    return [
        *_correlation(evidence),
        *_beyond_all(evidence),
        *_alone(evidence),
        *_misfit(evidence),
        *_consumers(evidence),
    ]


def _lines(evidence: Evidence) -> list[Row]:
    return [
        row
        for row in rows(evidence)
        if row.whole and evidence.question(row.attribute).kind is not Kind.BALANCE
    ]


def correlated(evidence: Evidence, lines: list[Row]) -> np.ndarray:
    """Return everybody's marks, a row each, every one's mean of an attribute set aside."""
    parts = [
        row.marks.sub(row.marks.mean(axis=1), axis=0).to_numpy(float)
        for row in lines
        if row.whole and len(row.marks) == len(people(evidence))
    ]
    return np.hstack(parts) if parts else np.empty((len(people(evidence)), 0))


def written(r: float) -> str:
    """Write a correlation with its sign.

    >>> written(-0.614)
    '\u22120.61'
    """
    return fixed(r, 2, sign=True)


def correlations(evidence: Evidence) -> dict[str, float]:
    """Correlate each one's differences between bottles with the mean of the others'.

    Over all attributes that everybody marked, each one's mean of an attribute set aside; of two
    assessors one number, under the first of them. Empty where somebody's marks do not vary or
    there are too few.
    """
    marks = correlated(evidence, _lines(evidence))
    if marks.shape[1] < FEWEST_MARKS:
        return {}
    found = {}
    for place, code in enumerate(people(evidence)[: 1 if len(marks) == 2 else None]):
        others = np.delete(marks, place, axis=0).mean(axis=0)
        if min(marks[place].std(), others.std()) <= ALIKE:
            return {}
        found[code] = float(np.corrcoef(marks[place], others)[0, 1])
    return found


def _correlation(evidence: Evidence) -> list[Statement]:
    found = correlations(evidence)
    if not found:
        return []
    if len(found) == 1:
        return [said("description", "correlated", tuple(people(evidence)),
                     r=written(next(iter(found.values()))))]  # fmt: skip
    listed = [
        sentence("few_report.spread_one", assessor=code, by=written(r)) for code, r in found.items()
    ]
    return [said("description", "correlated_each", tuple(found), listed=listed)]


@once
def beyond_all(evidence: Evidence) -> list[tuple[str, str, str]]:
    """Return attribute, higher and lower bottle that everybody parts beyond own scatter.

    The widest such pair of each attribute, as the sheets' likeliest order has it (of two as wide
    the one that stands first in the session); the widest of all first.
    """
    far = reach(evidence)
    if not far:
        return []
    by_width = [(one.attribute, one.high, one.low) for one in directions.pairs(evidence)]
    found = []
    for row in _lines(evidence):
        own = []
        for high, low in row.agreed:
            gaps = row.marks[high] - row.marks[low]
            if all(float(gap) >= far[str(code)] for code, gap in gaps.items()):
                key = row.attribute, high, low
                at = by_width.index(key) if key in by_width else len(by_width)
                own.append((at, -round(float(gaps.mean()), directions.DIGITS), key))
        if own:
            found.append(min(own))
    return [key for *_, key in sorted(found, key=lambda one: one[1])]


def _beyond_all(evidence: Evidence) -> list[Statement]:
    """Name the orders beyond everybody's own scatter, and how many such comparisons there were."""
    lines = _lines(evidence)
    if not reach(evidence):
        return []
    found = beyond_all(evidence)
    n = sum(row.marks.shape[1] * (row.marks.shape[1] - 1) // 2 for row in lines)
    if not found:
        return [said("description", "beyond_none", who=inside(evidence))]
    listed = [
        sentence("few_report.beyond_one", attribute=evidence.name(name).lower(), high=high, low=low)
        for name, high, low in found[:SHOWN]
    ]
    about = tuple(name for name, *_ in found[:SHOWN])
    more = len(found) - len(listed)
    rest = sentence("few_report.beyond_rest", n=more) if more else ""
    return [
        said("description", "beyond_all", about, who=inside(evidence), listed=listed, rest=rest,
             n=n, k=len(found), of=len(lines))
    ]  # fmt: skip


def beyond_pair(evidence: Evidence, codes: list[str], name: str, high: str, low: str) -> bool:
    """Tell whether each of some people parts two bottles beyond that one's own scatter."""
    far = reach(evidence)
    row = next(row for row in rows(evidence) if row.attribute == name)
    gaps = row.marks[high] - row.marks[low]
    return bool(far) and all(float(gaps[code]) >= far[code] for code in codes)


def reach(evidence: Evidence) -> dict[str, float]:
    """Return what passes each one's own scatter; empty unless it is known of everybody."""
    known = {code: far for code, far, n in beyond_own_scatter(evidence) if n >= FEWEST_GAPS}
    return known if set(known) == set(people(evidence)) else {}


@once
def beyond_person(evidence: Evidence) -> dict[str, list[str]]:
    """Return by assessor the attributes that only this one parts beyond own scatter."""
    far, shared_ = reach(evidence), {name for name, *_ in beyond_all(evidence)}
    found: dict[str, list[str]] = {}
    for row in _lines(evidence) if far else ():
        apart = [str(code) for code in row.marks.index
                 if float(np.ptp(row.marks.loc[code])) >= far[str(code)]]  # fmt: skip
        if len(apart) == 1 and row.attribute not in shared_:
            found.setdefault(apart[0], []).append(row.attribute)
    return evidence.by_roster(found)


@once
def within_all(evidence: Evidence) -> list[str]:
    """Return the attributes in which nobody parts any two bottles beyond own scatter."""
    far = reach(evidence)
    return [
        row.attribute
        for row in (_lines(evidence) if far else ())
        if all(float(np.ptp(row.marks.loc[code])) < far[str(code)] for code in row.marks.index)
    ]


def confused(alone_in: dict[str, list[str]]) -> tuple[str, str, str, str] | None:
    """Return two who each alone set bottles apart, in two tastes that are often confused.

    As assessor, taste, assessor, taste.
    """
    for (one, own), (other, others) in combinations(alone_in.items(), 2):
        for left, right in (*CONFUSED, *((b, a) for a, b in CONFUSED)):
            if left in own and right in others:
                return one, left, other, right
    return None


@once
def alone(evidence: Evidence) -> dict[str, list[str]]:
    """Return by assessor the attributes whose widest order is mostly that assessor's."""
    found: dict[str, list[str]] = {}
    share = ALONE.get(len(people(evidence)))
    if share is None:
        return found
    for row in _lines(evidence):
        pairs = list(combinations([str(name) for name in row.marks.columns], 2))
        gaps = [row.marks[a] - row.marks[b] for a, b in pairs]
        widest = max(gaps, key=lambda gap: abs(float(gap.mean())))
        sizes = widest.abs()
        code = str(sizes.idxmax())
        far = float(sizes[code])
        if len(sizes) > 1 and far >= POINT and far >= share * float(sizes.sum()) and row.flat == []:
            found.setdefault(code, []).append(row.attribute)
    return evidence.by_roster(found)


def _alone(evidence: Evidence) -> list[Statement]:
    """Say what is one person's: beyond own scatter where that is known, else by its share."""
    scatter = bool(reach(evidence))
    found = beyond_person(evidence) if scatter else alone(evidence)
    if not found:
        return []
    listed = [
        sentence("few_report.alone_one", assessor=code, attributes=[
            evidence.name(name).lower() for name in names])
        for code, names in found.items()
    ]  # fmt: skip
    about = tuple(dict.fromkeys(name for names in found.values() for name in names))
    key = "beyond_person" if scatter else "alone"
    nobody = [evidence.name(name).lower() for name in within_all(evidence)]
    none: Line = sentence("few_report.within_all", attributes=nobody) if nobody else ""
    made = [said("description", key, (*found, *about), listed=joined(listed), none=none)]
    two = confused(found)
    if two is not None:
        one, left, other, right = two
        made.append(
            said("advice", "confused", two, one=one, left=evidence.name(left).lower(), other=other,
                 right=evidence.name(right).lower())
        )  # fmt: skip
    return made


@once
def misfits(evidence: Evidence) -> dict[str, tuple[str, str]]:
    """Return whose answers on sweet and dry do not fit that one's marks for sweetness.

    By assessor a bottle found too sweet and one found too dry of which the first is marked less
    sweet by a point or more.
    """
    of = {row.attribute: row.marks for row in rows(evidence)}
    found: dict[str, tuple[str, str]] = {}
    if not {BALANCE, SWEET} <= set(of):
        return found
    sides, sweet = of[BALANCE], of[SWEET]
    for code in [code for code in sides.index if code in sweet.index]:
        for sweet_one in sides.columns[sides.loc[code] > ALIKE]:
            for dry_one in sides.columns[sides.loc[code] < -ALIKE]:
                if not {sweet_one, dry_one} <= set(sweet.columns):
                    continue
                if sweet.loc[code, dry_one] - sweet.loc[code, sweet_one] >= FIT:
                    found.setdefault(str(code), (str(sweet_one), str(dry_one)))
    return found


def _misfit(evidence: Evidence) -> list[Statement]:
    listed: list[Line] = [
        sentence("few_report.misfit_one", assessor=code, sweet=sweet, dry=dry)
        for code, (sweet, dry) in misfits(evidence).items()
    ]
    if not listed:
        return []
    return [said("caution", "misfit", tuple(misfits(evidence)), listed=joined(listed))]


def _consumers(evidence: Evidence) -> list[Statement]:
    """Advise practice for consumers who mark what is in the glass."""
    codes = [one.code for one in evidence.people if one.role == "consumer"]
    if not codes or not any(row.attribute != QUALITY for row in rows(evidence)):
        return []
    return [said("advice", "consumers", tuple(codes), assessors=codes)]
