"""Words by sheet and by person: which most gave again, which one alone gave, which are strays."""

from __future__ import annotations

from collections import Counter

from ..base.words import sentence
from ..findings.evidence import Evidence
from ..findings.statement import Statement, joined
from ..findings.ticks import SECTION, questions
from .told import WORDS, said

SHARED = 2
"""Assessors from whom on a word is shared."""
MOST = 8


def statements(evidence: Evidence) -> list[Statement]:
    """Count sheets and people for each word and bottle."""
    names = questions(evidence).get(SECTION, [])
    if not names or len(evidence.counted) < SHARED:
        return []
    rows = evidence.rows(names)
    rows = rows.assign(
        assessor=rows["assessor"].astype(str), attribute=rows["attribute"].astype(str)
    )
    cups = rows[["sample", "assessor", "replicate"]].drop_duplicates()
    sheets = Counter(cups["sample"].astype(str))
    given = rows[rows["score"] > 0]
    givers = given.groupby("attribute", observed=True)["assessor"].agg(["nunique", "size"])
    lone = givers.index[(givers["nunique"] == 1) & (givers["size"] > 1)]
    shared, alone, single = [], [], []
    for (sample, name), own in given.groupby(["sample", "attribute"], observed=True):
        who = own["assessor"].value_counts()
        values = {
            "bottle": str(sample), "word": evidence.name(str(name)), "k": int(who.sum()),
            "n": sheets[str(sample)], "people": len(who), "of": len(evidence.counted),
            "who": str(who.index[0]),
        }  # fmt: skip
        if len(who) >= SHARED:
            shared.append((int(who.sum()), values))
        elif name in lone or int(who.iloc[0]) > 1:
            alone.append(values)
        else:
            single.append(values)
    made = []
    if shared:
        best = [one for _, one in sorted(shared, key=lambda each: -each[0])][:MOST]
        listed = [sentence("overview.word_sheets", **one) for one in best]
        made.append(said("words_shared", WORDS, listed=joined(listed)))
    for key, found in (("words_alone", alone), ("words_single", single)):
        if found and len(found) <= MOST:
            listed = [sentence(f"overview.{key}_of", **one) for one in found]
            made.append(said(key, WORDS, listed=joined(listed), n=len(found)))
    return made
