"""Choices between bottles: which nobody objects to, and what a blend or a tainted bottle bears."""

from __future__ import annotations

from ..base.words import sentence
from ..findings import design, tainted
from ..findings.evidence import QUALITY, Evidence
from ..findings.statement import Line, Statement, joined
from . import directions
from .bottles import DOUBTED, last_for_all, parted_on, row_of
from .put_in_order import by_luck
from .side_by_side import ALIKE, BOTTLES, SURE, people, rows
from .suspected import slight_once
from .tasters import points, said
from .together import beyond_all

OBJECTION = 1.0
"""Points by which the lowest mark of one bottle lies above that of any other where it is named as
the one that nobody objects to (a convention, no source)."""
BLEND = "blend"
"""The fraction of a bottle that was mixed."""
RELEASE = {
    "hold": "hold",
    "age": "look", "recheck": "look", "hint": "look",
    "unjudged": "void", "swapped": "void", "bounded": "void", "failed": "void",
    "open": "free", "pass": "free",
    "unheard": "unasked", "unasked": "unasked",
}  # fmt: skip
"""What may go out, by what the rule on faults asks for (`tainted.decision`)."""


def statements(evidence: Evidence) -> list[Statement]:
    """Say what may be chosen, and what may not be read from a bottle that is held back."""
    if len(people(evidence)) == 1:
        return []
    return [
        *_tainted(evidence),
        *_if_one(evidence),
        *_half_of_it(evidence),
        *_blended(evidence),
        *_released(evidence),
    ]


def if_one(evidence: Evidence) -> tuple[str, float] | None:
    """Return the bottle whose lowest mark in quality, of anybody's means, is the highest.

    With that mark; None where everybody has one favourite, or no bottle leads by `OBJECTION`.
    Bottles that are held back are left out.
    """
    row = row_of(evidence, QUALITY)
    if row is None or not row.whole or row.end(1):
        return None
    held = tainted.held(evidence)
    least = row.marks.drop(columns=held, errors="ignore").min().sort_values(ascending=False)
    if len(least) < 2 or least.iloc[0] - least.iloc[1] < OBJECTION - ALIKE:
        return None
    return str(least.index[0]), float(least.iloc[0])


def no_favourite(evidence: Evidence) -> list[str]:
    """Return the bottles that nobody puts first in quality, ties included."""
    row = row_of(evidence, QUALITY)
    if row is None or not row.whole:
        return []
    tops = row.marks.ge(row.marks.max(axis=1) - ALIKE, axis=0).any()
    held = tainted.held(evidence)
    return [str(name) for name in tops.index if not tops[name] and name not in held]


def _if_one(evidence: Evidence) -> list[Statement]:
    found = if_one(evidence)
    if found is None or not any(parted_on(evidence, name) for name in evidence.products):
        return []
    bottle, least = found
    never = [
        name
        for name in no_favourite(evidence)
        if name != bottle and not last_for_all(evidence, name)
    ]
    nobody: Line = sentence("few_report.if_one_never", bottles=never) if never else ""
    return [said("advice", "if_one", (bottle, *never), section=SURE, bottle=bottle,
                 least=points(least), never=nobody)]  # fmt: skip


def _tainted(evidence: Evidence) -> list[Statement]:
    """Say that a tainted bottle's other marks are no word on its tank, and what luck would do."""
    made = []
    for name in tainted.held(evidence):
        low = row_of(evidence, QUALITY)
        last: Line = ""
        if low is not None and low.end(-1) == name:
            last = sentence("few_report.tainted_last")
        made.append(said("caution", "tainted", (name,), section=BOTTLES, bottle=name, last=last))
    return made


def _half_of_it(evidence: Evidence) -> list[Statement]:
    """Advise a smaller share of what was blended in, where the blend is nobody's favourite."""
    row = row_of(evidence, QUALITY)
    if row is None or not row.whole:
        return []
    worse = [name for name in no_favourite(evidence) if evidence.bottle(name).fraction == BLEND]
    if not worse:
        return []
    return [said("advice", "half_blend", tuple(worse), section=BOTTLES, bottles=worse)]


def _blended(evidence: Evidence) -> list[Statement]:
    """Say that blending tanks of one kind is cheaper than showing that they are alike."""
    every = [evidence.bottle(name) for name in evidence.products]
    kinds = {(one.fraction, one.pasteurised) for one in every}
    tanks = {one.tank for one in every}
    if len(kinds) > 1 or len(tanks) < len(every) or "" in tanks or directions.sure(evidence):
        return []
    ends = [row for row in rows(evidence) if row.end(1) or row.end(-1)]
    apart = beyond_all(evidence) or len(ends) > by_luck(evidence, rows(evidence))
    if apart or tainted.held(evidence):
        return []
    return [said("advice", "blend_tanks", tuple(evidence.products), section=SURE)]


def _released(evidence: Evidence) -> list[Statement]:
    """Answer in words what may go out and what may be blended, where the session asks it.

    As far as so few can tell; no blend was tasted unless one was served.
    """
    if not design.question_names(evidence, "asks_release"):
        return []
    groups: dict[str, list[str]] = {
        key: [] for key in ("free", "slight", "look", "void", "hold", "not", "not_yet", "unasked")
    }
    for name in evidence.products:
        decided = tainted.decision(evidence, name)
        answer = "slight" if slight_once(evidence, name) else RELEASE[decided]
        if answer != "hold" and last_for_all(evidence, name):
            answer = "not_yet" if decided in DOUBTED else "not"
        groups[answer].append(name)
    listed = [
        sentence(f"few_report.release_{key}", bottles=names, n=len(names))
        for key, names in groups.items()
        if names
    ]
    served = any(evidence.bottle(name).fraction == BLEND for name in evidence.products)
    blend: Line = "" if served else sentence("few_report.release_blend")
    return [said("advice", "release", tuple(evidence.products), section=BOTTLES,
                 listed=joined(listed), blend=blend)]  # fmt: skip
