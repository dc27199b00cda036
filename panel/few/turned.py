"""One line of the sheet that one of three marks the other way round: read from the wrong end?"""

from __future__ import annotations

import numpy as np

from ..base.words import sentence
from ..findings.evidence import QUALITY, Evidence, once
from ..findings.statement import Line, Statement
from .one_against import THREE, one_against
from .side_by_side import ALIKE, Row, people, rows
from .tasters import mirrored, points, said
from .together import FEWEST_MARKS, correlated, reach, written

FAR = 4.0
"""Points between everybody's highest and lowest bottle from which a line is turned, where own
scatter is not known (a convention, no source)."""
BOTTLES = 3
"""Bottles from which an order can be turned round where own scatter is not known."""


@once
def turned(evidence: Evidence) -> list[tuple[str, str, list[str]]]:
    """Return attribute, who marks it the other way round, and the order of the other two.

    Two of three have one order without ties, the third has it from the other end; each sets the
    ends apart beyond own scatter, or by `FAR` points.
    """
    if len(people(evidence)) != THREE or one_against(evidence) or mirrored(evidence):
        return []
    known = reach(evidence)
    found = []
    for row in rows(evidence):
        if row.attribute == QUALITY or not row.whole or len(row.marks) != THREE:
            continue
        if not known and row.marks.shape[1] < BOTTLES:
            continue
        spans = {str(code): float(np.ptp(row.marks.loc[code])) for code in row.marks.index}
        if any(span < known.get(code, FAR) - ALIKE for code, span in spans.items()):
            continue
        for code in row.marks.index:
            marks = row.marks.copy()
            marks.loc[code] = -marks.loc[code]
            order = Row(attribute=row.attribute, marks=marks).order
            if order:
                found.append((row.attribute, str(code), order))
    return found


def statements(evidence: Evidence) -> list[Statement]:
    """Say which line it is, what the other two say alone, and whether it is this line only."""
    made = []
    for name, code, order in turned(evidence):
        two = [one for one in people(evidence) if one != code]
        row = next(one for one in rows(evidence) if one.attribute == name)
        gaps = row.marks[order[0]] - row.marks[order[-1]]
        others = [one for one in rows(evidence) if one.attribute not in (name, QUALITY)]
        marks = correlated(evidence, others)
        only: Line = ""
        place = people(evidence).index(code)
        rest = np.delete(marks, place, axis=0).mean(axis=0)
        enough = marks.shape[1] >= FEWEST_MARKS
        if enough and min(marks[place].std(), rest.std()) > ALIKE:
            r = float(np.corrcoef(marks[place], rest)[0, 1])
            only = sentence("few_report.turned_only", assessor=code, r=written(r)) if r > 0 else ""
        made.append(
            said("caution", "turned", (name, code), assessor=code,
                 attribute=evidence.name(name).lower(), others=two, order=" > ".join(order),
                 by=[points(float(gaps[one])) for one in two], only=only)
        )  # fmt: skip
    return made
