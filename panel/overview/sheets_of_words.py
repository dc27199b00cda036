"""Words by sheet and by person: which most gave again, which one alone gave, which are strays."""

from __future__ import annotations

from collections import Counter
from typing import Any

from ..base.words import sentence
from ..findings.budget import Budget
from ..findings.evidence import Evidence
from ..findings.statement import Statement, joined
from ..findings.ticks import SECTION, questions
from .told import WORDS, said

SHARED = 2
"""Assessors from whom on a word is shared."""
MOST = 8


def statements(evidence: Evidence, budget: Budget) -> list[Statement]:
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
    shared, single = [], []
    alone: dict[tuple[object, object], list[dict[str, Any]]] = {}
    for (sample, name), own in given.groupby(["sample", "attribute"], observed=True):
        who = own["assessor"].value_counts()
        values: dict[str, Any] = {
            "bottle": str(sample), "word": evidence.name(str(name)), "k": int(who.sum()),
            "n": sheets[str(sample)], "people": len(who), "of": len(evidence.counted),
            "who": str(who.index[0]),
        }  # fmt: skip
        if len(who) >= SHARED:
            shared.append((int(who.sum()), values))
        elif name in lone or int(who.iloc[0]) > 1:
            alone.setdefault((values["word"], values["who"]), []).append(values)
        else:
            single.append(values)
    made = []
    if shared:
        best = [one for _, one in sorted(shared, key=lambda each: -each[0])][:MOST]
        listed = [sentence("overview.word_sheets", **one) for one in best]
        rest = len(shared) - len(best)
        key = "words_shared_most" if rest else "words_shared"
        made.append(said(key, WORDS, listed=joined(listed), m=len(best), rest=rest))
    if alone and sum(map(len, alone.values())) <= MOST:
        listed = [
            sentence("overview.words_alone_of", word=word, who=who,
                     cups=[sentence("overview.words_alone_cups", **one) for one in own])
            for (word, who), own in alone.items()
        ]  # fmt: skip
        made.append(said("words_alone", WORDS, listed=joined(listed)))
    if single and len(single) <= MOST:
        listed = [sentence("overview.words_single_of", **one) for one in single]
        made.append(said("words_single", WORDS, listed=joined(listed), n=len(single)))
    return [*made, *_by_person(evidence, names, budget), *_in_known_cups(evidence, names)]


def _by_person(evidence: Evidence, names: list[str], budget: Budget) -> list[Statement]:
    """Count everybody's ticks, and say where no word belongs to one bottle."""
    rows = evidence.rows(names)
    ticks = (rows["score"] > 0).groupby(rows["assessor"].astype(str)).sum()
    made = []
    if len(ticks) > SHARED and ticks.max() > 0:
        each = [sentence("findings.pair_value", name=str(code), value=f"{k}")
                for code, k in ticks.items()]  # fmt: skip
        made.append(said("words_by_person", WORDS, each=each))
    by_bottle = (rows["score"] > 0).groupby([rows["sample"], rows["attribute"]], observed=True)
    known = budget.claimed("word") or budget.hinted("word")
    if not known and len(evidence.compared) > 1:
        counts = by_bottle.agg(["sum", "size"]).sort_values("sum", ascending=False)
        k, n = (int(value) for value in counts.to_numpy()[0]) if len(counts) else (0, 0)
        if k:
            made.append(said("words_of_none", WORDS, k=k, n=n))
    return made


def _in_known_cups(evidence: Evidence, names: list[str]) -> list[Statement]:
    """Count the words that two people or more gave to a known cup."""
    rows = evidence.rows(names, everybody=True, controls=True)
    rows = rows[~rows["sample"].isin(evidence.products)]
    if not evidence.products or rows.empty:
        return []
    listed = []
    for (sample, name), own in rows.groupby(["sample", "attribute"], observed=True):
        given = own[own["score"] > 0]
        people = given["assessor"].nunique()
        if people >= SHARED:
            listed.append(
                sentence("overview.word_sheets", bottle=str(sample), word=evidence.name(str(name)),
                         k=len(given), n=len(own), people=people, of=own["assessor"].nunique())
            )  # fmt: skip
    if not listed or len(listed) > MOST:
        return []
    return [said("words_known", WORDS, listed=joined(listed))]
