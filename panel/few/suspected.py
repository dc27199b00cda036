"""A fault that too few noted to hold a bottle back, and what else on the sheets goes with it."""

from __future__ import annotations

from ...forms.questions.question_types import Kind
from ..base.words import sentence
from ..findings import tainted
from ..findings.evidence import QUALITY, Evidence, once
from ..findings.statement import Line, Statement
from .side_by_side import ALIKE, BOTTLES, people, rows
from .tasters import said


@once
def suspected(evidence: Evidence) -> dict[str, list[str]]:
    """Return by bottle who noted a fault in it, where they were too few to hold it back."""
    names = evidence.attributes(Kind.FAULTS)
    table = evidence.rows(names, everybody=True)
    given = table[table["score"] > 0]
    found = {}
    for bottle in evidence.products:
        codes = set(given.loc[given["sample"] == bottle, "assessor"].astype(str))
        if codes and tainted.decision(evidence, bottle) in ("hint", "recheck"):
            found[bottle] = [code for code in people(evidence) if code in codes]
    return found


def at_end_for(evidence: Evidence, bottle: str, sign: int) -> list[str]:
    """Return to whom a bottle is alone at one end of overall quality: 1 the upper, -1 the lower.

    Of all marks this one alone fits any fault: a weak smell, for one, supports no added one.
    """
    row = next((row for row in rows(evidence) if row.attribute == QUALITY), None)
    if row is None or bottle not in row.marks:
        return []
    gaps = sign * row.marks.drop(columns=bottle).rsub(row.marks[bottle], axis=0)
    return [str(code) for code in row.marks.index[(gaps > ALIKE).all(axis=1)]]


def statements(evidence: Evidence) -> list[Statement]:
    """Call each a suspicion, with the marks that fit it, and say how it is tested."""
    if len(people(evidence)) == 1:
        return []
    made = []
    for bottle, codes in suspected(evidence).items():
        low, first = (at_end_for(evidence, bottle, sign) for sign in (-1, 1))
        fits: Line = ""
        if low:
            quality = evidence.name(QUALITY).lower()
            fits = sentence("few_report.suspected_low", assessors=low, quality=quality)
        elif first:
            fits = sentence("few_report.suspected_first", assessors=first)
        made.append(
            said("advice", "suspected", (bottle, *codes), section=BOTTLES, bottle=bottle,
                 assessors=codes, fits=fits,
                 beside="" if tainted.held(evidence) else sentence("few_report.beside"))
        )  # fmt: skip
    return made
