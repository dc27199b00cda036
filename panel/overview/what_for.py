"""What each bottle could be released as, and which one stays out, with the reason."""

from __future__ import annotations

from ..base.words import Sentence, sentence
from ..findings import tainted, ticks
from ..findings.budget import Budget, gap_of
from ..findings.differences import upper_end
from ..findings.evidence import BALANCE, QUALITY, Evidence
from ..findings.statement import Line, Statement, joined
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
    """Write what each bottle that may go out has most or least of, among those that may."""
    sound = [one for one in _sound(evidence) if one not in lower(evidence, budget)]
    words = ticks.label_words(evidence, budget)
    telling = {(one.about, high) for one in budget.claimed("word") for high, low in one.pairs
               if low in sound}  # fmt: skip
    hinted = {(one.attribute, one.high, one.low) for one in hints(evidence, budget)}
    alone = _superlatives(evidence, budget, sound)
    more: dict[str, list[Sentence]] = {}
    for name in sound:
        parts: list[Sentence] = []
        done: set[tuple[str, str]] = set()
        for one in gaps(evidence, budget):
            mine = name in (one.high, one.low) and {one.high, one.low} <= set(sound)
            mine = mine and one.attribute not in (QUALITY, BALANCE)
            shown = one.claimed or (one.attribute, one.high, one.low) in hinted
            side = "more" if name == one.high else "less"
            if not mine or not shown or (one.attribute, side) in done:
                continue
            means = evidence.means[one.attribute][sound].dropna()
            if name != str(means.idxmax() if side == "more" else means.idxmin()):
                continue
            done.add((one.attribute, side))
            attribute = evidence.name(one.attribute)
            if not one.claimed:
                parts.append(sentence(f"overview.use_{side}_hint", attribute=attribute))
            elif alone.get((one.attribute, side)) == name:
                parts.append(sentence(f"overview.use_{side}", attribute=attribute))
            elif others := _told_apart(evidence, budget, (one.attribute, side, name), alone, sound):
                parts.append(
                    sentence(f"overview.use_{side}_than", attribute=attribute, others=others)
                )
        parts += [
            sentence("overview.use_word", word=evidence.name(word))
            for word in words.get(name, [])
            if (word, name) in telling
        ]
        if parts:
            more[name] = parts
    if not more:
        return _alike(evidence, budget, sound)
    if len(more) < SEVERAL:
        return []
    listed = [sentence("overview.use_of", bottle=name, parts=own) for name, own in more.items()]
    return [said("use", NEXT, tuple(more), kind="advice", listed=joined(listed))]


def _apart(
    evidence: Evidence, budget: Budget, sound: list[str]
) -> dict[tuple[str, str], dict[str, list[str]]]:
    """Return by attribute and side whom each bottle is claimed above, or below, among `sound`."""
    found: dict[tuple[str, str], dict[str, list[str]]] = {}
    for one in gaps(evidence, budget):
        if one.claimed and {one.high, one.low} <= set(sound):
            found.setdefault((one.attribute, "more"), {}).setdefault(one.high, []).append(one.low)
            found.setdefault((one.attribute, "less"), {}).setdefault(one.low, []).append(one.high)
    return found


def _superlatives(
    evidence: Evidence, budget: Budget, sound: list[str]
) -> dict[tuple[str, str], str]:
    """Return which bottle has most, or least, of an attribute: claimed apart from all others."""
    return {
        key: name
        for key, own in _apart(evidence, budget, sound).items()
        for name, others in own.items()
        if len(others) == len(sound) - 1
    }


def _told_apart(
    evidence: Evidence,
    budget: Budget,
    what: tuple[str, str, str],
    alone: dict[tuple[str, str], str],
    sound: list[str],
) -> list[str]:
    """Name whom a bottle is claimed apart from, but for who has most or least and is told so."""
    attribute, side, name = what
    other_side = "less" if side == "more" else "more"
    others = _apart(evidence, budget, sound)[attribute, side][name]
    return [one for one in others if one != alone.get((attribute, other_side))]


def _alike(evidence: Evidence, budget: Budget, sound: list[str]) -> list[Statement]:
    """Say what bottles that nothing sets apart from each other have beside the others."""
    rest = [name for name in evidence.compared if name not in sound]
    claimed = budget.claimed("scale", "balance", "word")
    within = any({high, low} <= set(sound) for one in claimed for high, low in one.pairs)
    if len(sound) < SEVERAL or not rest or within:
        return []
    sides: dict[str, list[str]] = {"more": [], "less": []}
    ends: list[Line] = []
    for one in claimed:
        if one.kind == "word" or one.about == QUALITY:
            continue
        pairs, name = set(one.pairs), evidence.name(one.about)
        over = all((own, other) in pairs for own in sound for other in rest)
        under = all((other, own) in pairs for own in sound for other in rest)
        if not over and not under:
            continue
        if one.kind == "balance":
            key = f"overview.alike_{'nearer' if over else 'further'}"
            ends.append(sentence(key, end=upper_end(evidence, one.about), attribute=name))
        else:
            sides["more" if over else "less"].append(name)
    parts = [
        *(sentence(f"overview.alike_{side}", attributes=own) for side, own in sides.items() if own),
        *ends,
    ]
    if not parts:
        return []
    but = _beside(evidence, budget, sound)
    return [said("alike", NEXT, tuple(sound), kind="advice", bottles=sound, others=rest, but=but,
                 n=len(sound), parts=joined(parts))]  # fmt: skip


def _beside(evidence: Evidence, budget: Budget, sound: list[str]) -> Sentence | str:
    """Say what does set bottles apart where no attribute and no word does: a claimed gap."""
    apart = {one.about for one in budget.claimed("gap")
             if any({high, low} <= set(sound) for high, low in one.pairs)}  # fmt: skip
    named = [sentence(f"overview.alike_but_{kind}") for kind in ("promise", "expected")
             if gap_of(kind, evidence) in apart]  # fmt: skip
    return sentence("overview.alike_but", listed=joined(named)) if named else ""


def _lower(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say of bottles that came lower in quality that they need not go out alone."""
    names = [one for one in lower(evidence, budget) if one in _sound(evidence)]
    rest = [one for one in _sound(evidence) if one not in names]
    if not names or not rest:
        return []
    shown = any(one.claimed for one in gaps(evidence, budget) if one.attribute == QUALITY)
    key = "use_lower" if shown else "use_lower_hint"
    return [said(key, NEXT, (QUALITY, *names), kind="advice", bottles=names, n=len(names))]
