"""A fault that too few noted to hold a bottle back, and what else on the sheets goes with it."""

from __future__ import annotations

from ...forms.questions.question_types import Kind
from ..base.words import sentence
from ..findings import tainted
from ..findings.evidence import QUALITY, Evidence, once
from ..findings.statement import Line, Statement, joined
from .side_by_side import BOTTLES, people, rows
from .tasters import said
from .together import reach
from .words_few import SECTION as WORDS
from .words_few import by, ticks

POINT = 1.0
"""Points by which a bottle is alone at one end of somebody's quality, where own scatter is not
known, so that it goes with a suspicion (a convention, no source)."""
TIMES = 3
"""Tastings of each bottle from which on a note that holds one back is counted by tasting, with the
quality given with and without it (no source)."""
FITTING = {
    "sulphur": ("struck_match", "match", "rotten_egg"),
    "buttery": ("butter", "popcorn", "tsuwari"),
    "stale": ("wet_cardboard", "cardboard", "pickled_radish"),
    "musty": ("wet_cardboard", "cardboard", "wet_paper", "cellar"),
}
"""Words of a sheet that fit a fault (common practice, no source)."""


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


@once
def slight_once(evidence: Evidence, bottle: str) -> int:
    """Return `tainted.slight_once`, unless somebody has the bottle last in quality."""
    n = tainted.slight_once(evidence, bottle)
    return n if n and not at_end_for(evidence, bottle, -1) else 0


def at_end_for(evidence: Evidence, bottle: str, sign: int) -> list[str]:
    """Return to whom a bottle is alone at one end of overall quality: 1 the upper, -1 the lower.

    Beyond that person's own scatter, or by `POINT` where it is not known. Of all marks this one
    alone fits any fault: a weak smell, for one, supports no added one.
    """
    row = next((row for row in rows(evidence) if row.attribute == QUALITY), None)
    if row is None or bottle not in row.marks:
        return []
    gaps = sign * row.marks.drop(columns=bottle).rsub(row.marks[bottle], axis=0)
    own = reach(evidence)
    far = [own.get(str(code), POINT) for code in gaps.index]
    return [str(code) for code in gaps.index[gaps.ge(far, axis=0).all(axis=1)]]


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
        n = slight_once(evidence, bottle)
        made.append(
            said("advice", "suspected_slight" if n else "suspected", (bottle, *codes),
                 section=BOTTLES, bottle=bottle, assessors=codes, fits=fits, n=n,
                 beside="" if tainted.held(evidence) else sentence("few_report.beside"))
        )  # fmt: skip
    return [*made, *_fitting_words(evidence), *_in_cups(evidence)]


def fitting_words(evidence: Evidence) -> list[tuple[str, str, list[str]]]:
    """Return bottle, word and those who ticked a word that fits a fault and marked no such fault.

    Of bottles in which somebody else noted that fault.
    """
    faults = evidence.attributes(Kind.FAULTS)
    table = evidence.rows(faults, everybody=True)
    table = table[table["score"] > 0]
    noted = set(zip(table["sample"].astype(str), table["attribute"].astype(str),
                    table["assessor"].astype(str), strict=True))  # fmt: skip
    found = []
    for (bottle, word), given in ticks(evidence).items():
        plain = word.partition(":")[2].lower().replace(" ", "_")
        for fault in faults:
            if plain not in FITTING.get(fault.partition(":")[2], ()):
                continue
            by = {code for name, one, code in noted if (name, one) == (bottle, fault)}
            silent = [code for code in given if code not in by]
            if by and silent:
                found.append((bottle, word, silent))
    return found


def _fitting_words(evidence: Evidence) -> list[Statement]:
    """Name who wrote the word and not the fault: perhaps used to it, or less sensitive."""
    return [
        said("description", "fitting_word", (bottle, word, *codes), section=WORDS,
             bottle=bottle, word=evidence.name(word), assessors=codes, n=len(codes))
        for bottle, word, codes in fitting_words(evidence)
    ]  # fmt: skip


def _in_cups(evidence: Evidence) -> list[Statement]:
    """Count of a bottle that is held back the tastings with the note, and quality with and without.

    Where each was tasted `TIMES` or more; quality of those alone who noted it in some of theirs.
    """
    made = []
    for bottle in tainted.held(evidence) if evidence.replicates >= TIMES else []:
        noted = tainted.noted_cups(evidence, bottle)
        listed = [by(code, len(noted[code]), evidence.replicates) for code in people(evidence)
                  if noted.get(code)]  # fmt: skip
        parts = [
            sentence("few_report.noted_cups_of", assessor=code, noted=with_, without=without)
            for code, (with_, without) in tainted.quality_by_note(evidence, bottle).items()
        ]
        quality: Line = ""
        if parts:
            quality = sentence("few_report.noted_cups_quality", listed=joined(parts))
        k = sum(len(noted[code]) for code in people(evidence) if code in noted)
        made.append(said("description", "noted_cups", (bottle,), section=WORDS, bottle=bottle,
                         k=k, n=evidence.replicates * len(noted), listed=listed,
                         quality=quality))  # fmt: skip
    return made
