"""What each bottle could be released as, and which one stays out, with the reason."""

from __future__ import annotations

from ..base.words import Sentence, sentence
from ..findings import tainted, ticks
from ..findings.budget import Budget
from ..findings.evidence import BALANCE, QUALITY, Evidence
from ..findings.statement import Statement, joined
from .gaps import gaps, hints
from .told import NEXT, said

MOST = 0.5
"""Share of the other bottles beyond which a bottle that came lower need not go out alone."""
SEVERAL = 2
"""Bottles with something of their own from which on it is told what each could go out as."""


def statements(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say what each sound bottle could go out as, and what came lower than another of its kind."""
    return [*_as_it_is(evidence, budget), *_lower(evidence, budget)]


def _sound(evidence: Evidence) -> list[str]:
    return [name for name in evidence.compared if tainted.decision(evidence, name) == "pass"]


def lower(evidence: Evidence, budget: Budget) -> list[str]:
    """Name the bottles that came lower in quality than most others, shown or as clear hints."""
    hinted = any(one.about == QUALITY for one in budget.hinted("scale"))
    below: dict[str, set[str]] = {}
    for one in gaps(evidence, budget):
        if one.attribute == QUALITY and (one.claimed or (hinted and one.clear)):
            below.setdefault(one.low, set()).add(one.high)
    most = (len(evidence.compared) - 1) * MOST
    return [name for name in evidence.compared if len(below.get(name, ())) > most]


def _as_it_is(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Write what each sound bottle is shown, or hinted, to have most or least of."""
    sound = [one for one in _sound(evidence) if one not in lower(evidence, budget)]
    words = ticks.label_words(evidence, budget)
    hinted = {(one.attribute, one.high, one.low) for one in hints(evidence, budget)}
    more: dict[str, list[Sentence]] = {}
    for name in sound:
        parts: list[Sentence] = []
        done: set[tuple[str, str]] = set()
        for one in gaps(evidence, budget):
            mine = name in (one.high, one.low) and one.attribute not in (QUALITY, BALANCE)
            shown = one.claimed or (one.attribute, one.high, one.low) in hinted
            side = "more" if name == one.high else "less"
            if not mine or not shown or (one.attribute, side) in done:
                continue
            means = evidence.means[one.attribute][evidence.compared].dropna()
            if name != str(means.idxmax() if side == "more" else means.idxmin()):
                continue
            done.add((one.attribute, side))
            hint = "" if one.claimed else "_hint"
            parts.append(
                sentence(f"overview.use_{side}{hint}", attribute=evidence.name(one.attribute))
            )
        parts += [
            sentence("overview.use_word", word=evidence.name(word)) for word in words.get(name, [])
        ]
        if parts:
            more[name] = parts
    if len(more) < SEVERAL:
        return []
    listed = [sentence("overview.use_of", bottle=name, parts=own) for name, own in more.items()]
    return [said("use", NEXT, tuple(more), kind="advice", listed=joined(listed))]


def _lower(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say of bottles that came lower in quality that they need not go out alone."""
    names = [one for one in lower(evidence, budget) if one in _sound(evidence)]
    rest = [one for one in _sound(evidence) if one not in names]
    if not names or not rest:
        return []
    shown = any(one.claimed for one in gaps(evidence, budget) if one.attribute == QUALITY)
    key = "use_lower" if shown else "use_lower_hint"
    return [said(key, NEXT, (QUALITY, *names), kind="advice", bottles=names, n=len(names))]
