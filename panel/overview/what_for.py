"""What each bottle could be released as, and which one stays out; which to choose, where asked."""

from __future__ import annotations

from dataclasses import replace

from ...rounding import half_up
from ..base.words import Sentence, sentence
from ..findings import balance, tainted, ticks
from ..findings.budget import Budget, gap_of
from ..findings.camps import of_bottle
from ..findings.design import asked_for, question_names
from ..findings.differences import order_of, upper_end
from ..findings.evidence import BALANCE, QUALITY, SCALED, Evidence
from ..findings.statement import Line, Statement, joined
from .gaps import gaps, hints, size
from .order import marks
from .told import NEXT, SWEETNESS, said

MOST = 0.5
"""Share of the other bottles beyond which a bottle that came lower need not go out alone."""
SEVERAL = 2
"""Bottles with something of their own from which on it is told what each could go out as."""
ASKED = ("asks_release", "asks_choice")
"""What a question asks that wants to know which bottle to choose."""
RANK_ANSWER = 13
"""Of the answer in the box: below what holds a bottle back, above all else."""
CLOYING = "cloying"
NAMED = 4
"""Bottles that the answer names with their means; of more, the highest."""


def statements(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say what each sound bottle could go out as, what came lower, and which to choose."""
    return [
        *_answer(evidence, budget),
        *_cloying(evidence, budget),
        *_as_it_is(evidence, budget),
        *_lower(evidence, budget),
    ]


def asked_which(evidence: Evidence) -> bool:
    """Tell whether the session's question asks which bottle to choose, and marks can answer it.

    Nothing but overall quality orders bottles; makers alone let none pass, and where camps part
    over a bottle's quality it is no one order that answers.
    """
    return (
        len(evidence.compared) > 1
        and len(evidence.makers) < len(evidence.people)
        and len(marks(evidence)) > 1
        and any(question_names(evidence, key) for key in ASKED)
        and not any(of_bottle(evidence, name) == [QUALITY] for name in evidence.compared)
    )


def choice(evidence: Evidence, budget: Budget) -> list[str]:
    """Name the bottles that an answer leaves: not held back, not shown below another of these.

    The highest mean of quality comes first.
    """
    held = tainted.held(evidence)
    means = evidence.means[QUALITY].dropna().sort_values(ascending=False, kind="stable")
    free = [str(name) for name in means.index if name in evidence.compared and name not in held]
    below = {
        one.low
        for one in gaps(evidence, budget)
        if one.attribute == QUALITY and one.claimed and {one.high, one.low} <= set(free)
    }
    return [name for name in free if name not in below]


def _answer(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Answer which bottle to choose: as far as quality settles it, and never one held back."""
    if not asked_which(evidence):
        return []
    means = evidence.means[QUALITY].dropna()
    held = [name for name in tainted.held(evidence) if name in evidence.compared and name in means]
    free = [name for name in evidence.compared if name not in held and name in means]
    left = choice(evidence, budget)
    out = [name for name in free if name not in left]
    below = {one.low for one in gaps(evidence, budget)
             if one.attribute == QUALITY and one.claimed and [one.high] == left}  # fmt: skip
    listed = [_with_firsts(evidence, name) for name in left[:NAMED]]
    key = (
        "open_many" if len(left) > NAMED else "open" if len(left) > 1 else "one" if out else "left"
    )
    key = key if left else "none"
    best = half_up(max((float(means[name]) for name in left), default=0.0), 1)
    above = [name for name in held if left and half_up(float(means[name]), 1) > best]
    more = []
    if above:
        told = [_with_firsts(evidence, name) for name in above]
        more.append(sentence("overview.answer_held", bottles=told, n=len(above)))
    off: dict[str, list[str]] = {}
    if BALANCE in set(evidence.scores["attribute"]):
        for row in balance.counts(evidence).to_dict("records"):
            how = balance.standing(row)
            if str(row["sample"]) in left and how in ("sweet", "dry") and row["n"] > 1:
                off.setdefault(how, []).append(str(row["sample"]))
    more += [sentence(f"overview.answer_{how}", bottles=names, n=len(names))
             for how, names in off.items()]  # fmt: skip
    also = sentence("overview.answer_also", also=joined(more)) if more else ""
    made = said(f"answer_{key}", NEXT, (QUALITY, *left), kind="advice", listed=listed, n=len(left),
                others=[name for name in out if name in below], also=also)  # fmt: skip
    which = question_names(evidence, "asks_choice")  # what may be released the box says already
    return [replace(made, rank=RANK_ANSWER if which else None)]


def _cloying(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Answer a question about cloying: by its own line, or by the balance where none is too sweet.

    What is claimed on its line stands in the box already, and so does a bottle that is too sweet
    for more than half or splits the panel.
    """
    scaled = evidence.attributes(*SCALED)
    if not question_names(evidence, "asks_cloying") and CLOYING not in asked_for(evidence):
        return []
    if CLOYING in scaled:
        means = evidence.means[CLOYING].dropna()
        listed = [sentence("findings.pair_value", name=name, value=size(float(means[name])))
                  for name in evidence.compared if name in means]  # fmt: skip
        question, one = evidence.question(CLOYING), budget.of("scale", CLOYING)
        pairs = one.pairs if one is not None and one in budget.claimed("scale") else ()
        order = joined(order_of(pairs, evidence.products)) if pairs else ""
        apart = sentence(f"overview.cloying_{'apart' if pairs else 'alike'}", order=order)
        made = said("cloying_line", SWEETNESS, (CLOYING,), listed=listed, apart=apart,
                    least=question.low_label.to(evidence.language), low=f"{question.low:g}",
                    most=question.high_label.to(evidence.language), high=f"{question.high:g}",
                    )  # fmt: skip
        return [replace(made, rank=None if pairs else RANK_ANSWER)] if listed else []
    if BALANCE not in scaled or len(evidence.counted) < SEVERAL:
        return []
    rows = [row for row in balance.counts(evidence).to_dict("records") if row["n"]]
    if not rows or any(balance.standing(row) in ("sweet", "split") for row in rows):
        return []
    listed = [
        sentence("overview.cloying_of", bottle=str(row["sample"]), k=row["too_sweet"], n=row["n"])
        for row in rows
    ]
    made = said("cloying_balance", SWEETNESS, (BALANCE,), listed=listed)
    return [replace(made, rank=RANK_ANSWER)]


def _with_firsts(evidence: Evidence, name: str) -> Sentence:
    """Write a bottle with its mean of quality and how many put it first, alone."""
    whole = marks(evidence)
    whole = whole[[one for one in whole if one in evidence.compared]].dropna()
    most = whole.eq(whole.max(axis=1), axis=0)
    alone = most[most.sum(axis=1) == 1]
    mean = size(float(evidence.means[QUALITY][name]))
    return sentence("overview.answer_of", bottle=name, mean=mean,
                    k=int(alone[name].sum()) if name in alone else 0, n=len(whole))  # fmt: skip


def _sound(evidence: Evidence) -> list[str]:
    return [one for one in evidence.compared if tainted.stands_against_nothing(evidence, one)]


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
            key, named = f"overview.use_{side}", {"attribute": evidence.name(one.attribute)}
            if end := upper_end(evidence, one.attribute):
                key, named = f"{key}_end", {**named, "end": end}
            if not one.claimed:
                parts.append(sentence(f"{key}_hint", **named))
            elif alone.get((one.attribute, side)) == name:
                parts.append(sentence(key, **named))
            elif others := _told_apart(evidence, budget, (one.attribute, side, name), alone, sound):
                parts.append(sentence(f"{key}_than", others=others, **named))
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
        if end := upper_end(evidence, one.about):
            key = f"overview.alike_{'nearer' if over else 'further'}"
            ends.append(sentence(key, end=end, attribute=name))
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
