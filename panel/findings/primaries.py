"""The questions named before the tasting: answered first, whatever the answer."""

from __future__ import annotations

from ...analysis.core.p_values import holds
from ..base.words import Sentence, sentence
from ..session.primary_questions import Primary
from .budget import WHOLE, Budget, Weighed, gap_of
from .evidence import Evidence
from .statement import Line, Statement, joined

SECTION = "named"
RANK = 2
_KINDS = {"promise": "gap", "expected": "gap"}


def statements(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Answer each question that was named: claimed, or not shown."""
    said = []
    for one in evidence.primary:
        found = _judged(one, budget, evidence)
        p, adjusted = (found.p, found.adjusted) if found is not None else (None, None)
        if found is not None and len(one.bottles) == 2:
            p, adjusted = budget.pair(found.kind, found.about, one.bottles) or (1.0, 1.0)
        claimed = adjusted is not None and holds(adjusted, WHOLE)
        asked = title(one, evidence)
        if found is None or not found.tested:
            line = sentence("findings.named_unasked", question=asked)
        elif claimed:
            line = sentence("findings.named_yes", question=asked, answer=_answer(one, found))
        else:
            line = sentence("findings.named_no", question=asked)
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


def _judged(one: Primary, budget: Budget, evidence: Evidence) -> Weighed | None:
    kind = _KINDS.get(one.kind, one.kind)
    for found in budget.judged:
        about = gap_of(one.kind, evidence) if kind == "gap" else one.attribute
        if found.kind != kind or found.about != about:
            continue
        if kind != "majority" or found.sample == one.bottles[0]:
            return found
    return None


def _answer(one: Primary, found: Weighed) -> Line:
    if found.kind == "maker":
        way = "above" if found.shift > 0 else "below"
        return sentence(f"findings.answer_maker_{way}", by=f"{abs(found.shift):.1f}")
    if found.kind == "majority":
        return sentence(f"findings.answer_{found.side}")
    pairs = [pair for pair in found.pairs if not one.bottles or set(pair) == set(one.bottles)]
    return joined([sentence("findings.above", high=high, low=low) for high, low in pairs])
