"""A fault that too few noted to hold a bottle back, and what else on the sheets goes with it."""

from __future__ import annotations

from ...forms.questions.question_types import Kind
from ..base.words import sentence
from ..findings import tainted
from ..findings.evidence import QUALITY, Evidence, once
from ..findings.statement import Line, Statement
from .side_by_side import ALIKE, BOTTLES, people, rows
from .tasters import said

CLOUDED = (QUALITY, "fruity", "aroma_intensity")
"""What a taint takes away (common practice, no source)."""


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


def lowest_for(evidence: Evidence, bottle: str, sign: int) -> dict[str, list[str]]:
    """Return by assessor in what, of `CLOUDED`, a bottle is alone at one end: 1 the upper."""
    found: dict[str, list[str]] = {}
    for row in rows(evidence):
        if row.attribute not in CLOUDED or bottle not in row.marks:
            continue
        gaps = sign * row.marks.drop(columns=bottle).rsub(row.marks[bottle], axis=0)
        for code in row.marks.index[(gaps > ALIKE).all(axis=1)]:
            found.setdefault(str(code), []).append(row.attribute)
    return found


def statements(evidence: Evidence) -> list[Statement]:
    """Call each a suspicion, with the marks that fit it, and say how it is tested."""
    if len(people(evidence)) == 1:
        return []
    made = []
    for bottle, codes in suspected(evidence).items():
        low, high = (lowest_for(evidence, bottle, sign) for sign in (-1, 1))
        with_it = {code: names for code, names in low.items() if QUALITY in names}
        first = [code for code, names in high.items() if QUALITY in names]
        fits: Line = ""
        if with_it:
            alike: dict[tuple[str, ...], list[str]] = {}
            for code, names in with_it.items():
                alike.setdefault(tuple(names), []).append(code)
            listed = [
                sentence("few_report.alone_one", assessor=who,
                         attributes=[evidence.name(name).lower() for name in names])
                for names, who in alike.items()
            ]  # fmt: skip
            fits = sentence("few_report.suspected_low", listed=listed)
        elif first:
            fits = sentence("few_report.suspected_first", assessors=first)
        made.append(
            said("advice", "suspected", (bottle, *codes), section=BOTTLES, bottle=bottle,
                 assessors=codes, fits=fits,
                 beside="" if tainted.held(evidence) else sentence("few_report.beside"))
        )  # fmt: skip
    return made
