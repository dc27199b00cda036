"""The questions named before the tasting: answered first, whatever the answer."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from typing import Any

import numpy as np

from ...analysis.core.p_values import holds
from ...analysis.core.wording import fixed
from ..base.words import Sentence, sentence
from ..session.primary_questions import Primary
from . import balance, power, tainted, ticks
from .budget import WHOLE, Budget, Weighed, gap_of
from .differences import above
from .evidence import Evidence
from .statement import Line, Statement, joined, limits

SECTION = "named"
RANK = 2
_KINDS = {"promise": "gap", "expected": "gap"}
_SIZED = 3
"""Pairs up to which an answer says of each how far it lies apart."""


def statements(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Answer each question that was named: claimed, or not shown, and what was found."""
    said = []
    for one in evidence.primary:
        every = _judged(one, budget, evidence)
        found = min(every, key=lambda judged: judged.adjusted, default=None)
        p, adjusted = (found.p, found.adjusted) if found is not None else (None, None)
        if found is not None and len(one.bottles) == 2:
            p, adjusted = budget.pair(found.kind, found.about, one.bottles) or (1.0, 1.0)
        claimed = adjusted is not None and holds(adjusted, WHOLE)
        asked = title(one, evidence)
        if found is None or not found.tested:
            line = sentence("findings.named_unasked", question=asked, why=_why(one, evidence))
        elif claimed:
            answer = _answer(one, every, evidence, budget)
            line = sentence("findings.named_yes", question=asked, answer=answer)
        else:
            line = sentence("findings.named_no", question=asked)
            if seen := _seen(one, every, evidence, budget):
                line = sentence("findings.named_no_seen", question=asked, seen=seen)
        said.append(
            Statement(
                kind="claim" if claimed else "description",
                about=(one.attribute, *one.bottles) if one.attribute else one.bottles,
                sentence=line,
                section=SECTION,
                p=p,
                p_adjusted=adjusted,
                family=(one.kind if found.kind == "gap" else found.kind)
                if found is not None
                else "",
                rank=RANK,
            )
        )
    return said


def title(one: Primary, evidence: Evidence) -> Sentence:
    """Write a named question as people read it."""
    values: dict[str, object] = {"bottles": list(one.bottles)}
    values["attribute"] = evidence.name(one.attribute) if one.attribute else ""
    pair = "_pair" if len(one.bottles) == 2 else ""
    return sentence(f"findings.question_{one.kind}{pair}", **values)


def _judged(one: Primary, budget: Budget, evidence: Evidence) -> list[Weighed]:
    """Return what was judged of a question; of the maker's, each maker."""
    kind = _KINDS.get(one.kind, one.kind)
    about = gap_of(one.kind, evidence) if kind == "gap" else one.attribute
    return [
        found
        for found in budget.judged
        if (found.kind, found.about) == (kind, about)
        and (kind != "majority" or found.sample == one.bottles[0])
    ]


def _why(one: Primary, evidence: Evidence) -> Sentence:
    """Say why a question could not be tested."""
    if one.kind == "maker" and not evidence.makers:
        return sentence("findings.why_no_maker")
    if len(evidence.products) < 2 and one.kind not in ("maker", "majority"):
        return sentence("findings.why_alone")
    asked = [one.attribute] if one.attribute else list(_pair_of(one.kind, evidence) or ())
    own = evidence.scores[evidence.scores["attribute"].isin(asked)]
    if own.empty:
        return sentence("findings.why_unanswered")
    if one.kind in ("word", "fault") and not (own["score"] > 0).any():
        return sentence("findings.why_never")
    return sentence("findings.why_few")


def _pair_of(kind: str, evidence: Evidence) -> tuple[str, str] | None:
    return evidence.promise_pair if kind == "promise" else evidence.expected_pair


def _answer(one: Primary, every: list[Weighed], evidence: Evidence, budget: Budget) -> Line:
    found = every[0]
    if found.kind == "maker":
        shown = [judged for judged in every if holds(judged.adjusted, WHOLE)]
        return joined([_shift(judged, "answer", evidence) for judged in shown])
    if found.kind == "majority":
        return sentence(f"findings.answer_{found.side}")
    pairs = [pair for pair in found.pairs if not one.bottles or set(pair) == set(one.bottles)]
    rows = _rows(found, budget)
    if len(pairs) > _SIZED or not {frozenset(pair) for pair in pairs} <= rows.keys():
        groups = above(pairs, evidence.products)
        order = joined([sentence("findings.above", high=high, low=low) for high, low in groups])
        counts = _counts(found, evidence)
        return sentence("findings.answer_counts", order=order, counts=counts) if counts else order
    return joined([_sized(rows[frozenset(pair)], found, evidence) for pair in pairs])


def _seen(one: Primary, every: list[Weighed], evidence: Evidence, budget: Budget) -> Line:
    """Write what was found where nothing is claimed: numbers with limits, or counts."""
    found = every[0]
    if found.kind == "maker":
        return joined([_shift(judged, "seen", evidence) for judged in every])
    if found.kind == "majority":
        cell = balance.cell(evidence, one.bottles[0])
        alike = found.side and balance.unanimous(evidence, one.bottles[0])
        return sentence("findings.seen_all", cell=cell) if alike else cell
    if found.kind in ("word", "fault"):
        counts = _counts(found, evidence)
        return sentence("findings.seen_counts", counts=counts) if counts else ""
    rows = _rows(found, budget)
    if one.bottles:
        row = rows.get(frozenset(one.bottles))
    else:
        row = max(rows.values(), key=lambda own: abs(own["difference"]), default=None)
    if row is None:
        return ""
    seen = _sized(row, found, evidence)
    if not one.bottles:
        seen = sentence("findings.seen_widest", gap=seen)
    table = power.detectable(evidence, budget)
    least = table.loc[(table["kind"] == found.kind) & (table["about"] == found.about), "named"]
    if least.dropna().empty:
        return seen
    return sentence("findings.seen_power", seen=seen, least=fixed(least.iloc[0]))


Row = Mapping[Hashable, Any]


def _rows(found: Weighed, budget: Budget) -> dict[frozenset[str], Row]:
    """Return the pairs of a question that have a difference in points."""
    if budget.found is None or found.kind in ("word", "fault"):
        return {}
    pairs = budget.found.pairs
    own = pairs[(pairs["kind"] == found.kind) & (pairs["about"] == found.about)]
    return {
        frozenset((str(row["sample_a"]), str(row["sample_b"]))): row
        for row in own.dropna(subset=["difference"]).to_dict("records")
    }


def _sized(row: Row, found: Weighed, evidence: Evidence) -> Line:
    """Write how far one bottle stands above another, with the limits of this pair alone."""
    pair, gap, ends = (
        [row["sample_a"], row["sample_b"]],
        row["difference"],
        (row["low"], row["high"]),
    )
    if gap < 0:
        pair, gap, ends = pair[::-1], -gap, (-row["high"], -row["low"])
    widest = power.span(evidence, found.kind, found.about)
    return sentence(
        "findings.sized" if fixed(gap) != "0.0" else "findings.level",
        high=str(pair[0]),
        low=str(pair[1]),
        gap=fixed(gap),
        limits=limits(*np.clip(ends, -widest, widest)),
    )


def _shift(found: Weighed, how: str, evidence: Evidence) -> Sentence:
    """Write how far a maker stands from the others, with limits; by name where there are more."""
    by, low, high = found.away
    who = sentence("findings.maker_is", maker=found.sample) if len(evidence.makers) > 1 else ""
    return sentence(
        f"findings.{how}_maker_{'below' if found.shift < 0 else 'above'}",
        who=who,
        by=fixed(by),
        limits=limits(low, high),
    )


def _counts(found: Weighed, evidence: Evidence) -> list[Sentence]:
    """Write to how many of how many a word or fault came, bottle by bottle."""
    if found.kind == "word":
        return ticks.counted(evidence, found.about)
    noted = tainted.noted(evidence) if found.kind == "fault" else None
    if noted is None:
        return []
    own = noted.table[noted.table["fault"] == found.about]
    return [
        sentence("findings.word_count", sample=row["sample"], k=row["k"], n=row["n"])
        for row in own[own["sample"].isin(evidence.products)].to_dict("records")
    ]
