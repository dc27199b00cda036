"""One of three whose marks go against those of the other two, and what these two say alone."""

from __future__ import annotations

import numpy as np

from ..base.words import sentence
from ..findings.evidence import QUALITY, Evidence, once
from ..findings.statement import Line, Statement, joined
from .side_by_side import ALIKE, Row, people, rows
from .tasters import mirrored, points, said
from .together import FEWEST_MARKS, beyond_pair, correlated, written
from .words_few import ticks

THREE = 3
GOES_ALONG, AGAINST = 0.6, 0.5
"""Correlation of the bottle differences of two from which they go together, and, its sign turned,
of the third with the mean of both from which that one goes against them (a convention, no
source)."""
APART = 1.0
"""Points by which each of the two sets bottles apart, the same way, where that is named."""
SHOWN = 5
"""Orders of the two that are named, the widest first."""


@once
def one_against(evidence: Evidence) -> tuple[str, list[str], float, float] | None:
    """Return who goes against the other two, these two, and both correlations; None for nobody.

    Quality is left out: whoever likes another bottle need not mark otherwise what is in it.
    """
    lines = [row for row in rows(evidence) if row.attribute != QUALITY]
    marks = correlated(evidence, lines)
    if len(people(evidence)) != THREE or marks.shape[1] < FEWEST_MARKS or mirrored(evidence):
        return None
    if marks.std(axis=1).min() <= ALIKE:
        return None
    codes = people(evidence)
    for place, code in enumerate(codes):
        others = np.delete(marks, place, axis=0)
        if others.mean(axis=0).std() <= ALIKE:  # The two cancel each other.
            continue
        along = float(np.corrcoef(*others)[0, 1])
        against = float(np.corrcoef(marks[place], others.mean(axis=0))[0, 1])
        if along >= GOES_ALONG and against <= -AGAINST:
            return code, [one for one in codes if one != code], against, along
    return None


def of_two(evidence: Evidence, two: list[str]) -> list[tuple[float, str, str, str, list[float]]]:
    """Return what two put one way: mean gap, attribute, higher and lower bottle, each one's gap.

    The widest pair of each attribute, where each of the two parts it by `APART` at least.
    """
    found = []
    for row in rows(evidence):
        if not set(two) <= set(row.marks.index):
            continue
        own = Row(attribute=row.attribute, marks=row.marks.loc[two])
        best: tuple[float, str, str, str, list[float]] | None = None
        for high, low in own.agreed:
            gaps = (own.marks[high] - own.marks[low]).tolist()
            if min(gaps) >= APART - ALIKE and (best is None or float(np.mean(gaps)) > best[0]):
                best = float(np.mean(gaps)), row.attribute, high, low, gaps
        if best is not None:
            found.append(best)
    return sorted(found, key=lambda one: -one[0])


def statements(evidence: Evidence) -> list[Statement]:
    """Say who goes against two who go together, and what these two say alone."""
    found = one_against(evidence)
    if found is None:
        return []
    code, two, against, along = found
    shared_ = _words(evidence, code, two)
    words: Line = (
        sentence("few_report.against_words", assessor=code, listed=shared_) if shared_ else ""
    )
    made = [
        said("caution", "against", (code, *two), assessor=code, others=two, r=written(against),
             along=written(along), words=words)
    ]  # fmt: skip
    alone = of_two(evidence, two)
    if not alone:
        return made
    listed = [
        sentence("few_report.beyond_sized", attribute=evidence.name(name).lower(), high=high,
                 low=low, by=[points(gap) for gap in gaps])
        for _, name, high, low, gaps in alone[:SHOWN]
    ]  # fmt: skip
    surest = [evidence.name(name).lower() for _, name, high, low, _ in alone[:SHOWN]
              if beyond_pair(evidence, two, name, high, low)]  # fmt: skip
    beyond: Line = sentence("few_report.two_beyond", attributes=surest) if surest else ""
    about = tuple(name for _, name, *_ in alone[:SHOWN])
    made.append(said("description", "two_alone", (*two, *about), who=two, listed=joined(listed),
                     beyond=beyond))  # fmt: skip
    return made


def _words(evidence: Evidence, code: str, two: list[str]) -> list[Line]:
    """Name the words that tell bottles apart and that this one gave where the others did."""
    given = ticks(evidence)
    found: list[Line] = []
    for bottle, word in given:
        rest = [given.get((other, word), {}) for other in evidence.products if other != bottle]
        both = code in given[bottle, word] and any(one in given[bottle, word] for one in two)
        if both and not any(rest):
            found.append(sentence("few_report.label_one", bottle=bottle, what=evidence.name(word)))
    return found
