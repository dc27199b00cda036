"""What was changed after planning, while the session went on.

``plan/changes.json`` lists the changes of a plan in their order, in codes only; what is
in new cups lies with the key, each change in a file of its own that is sealed in the
list. Nothing is erased: a change that was wrong is undone by another one.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, field
from typing import Any, Literal

from ..session.roster import Assessor
from .pours import Pour

Kind = Literal[
    "late", "left", "joined", "cut", "label", "unknown", "replaced", "added", "order", "undone"
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One change.

    Attributes
    ----------
    number : int
        From 1 in its plan.
    at : str
        What the clock said.
    kind : str
        ``late`` and ``left``: an assessor was not there for the first or last flights or
        cups; ``joined``: an assessor who was not planned; ``cut``: a flight was not
        served; ``label``: a cup got another code; ``unknown``: nobody knows which cup it
        was; ``replaced``, ``added``: another bottle under new codes; ``order``: an assessor
        was served in another order; ``undone``.
    assessor, code : str
        Whom and what it is about; empty where it is about all.
    flight, place : int
        From which flight (late, replaced, added) or which one (cut); after which place (left).
    codes : tuple of str
        Codes that were dealt for it.
    undoes : int
        Number of the change that it undoes.
    assessors, pours : tuple or None
        The open half of the plan after it, where it deals cups anew.
    sealed : str
        Seal of the part that lies with the key.
    """

    number: int
    at: str
    kind: Kind
    assessor: str = ""
    code: str = ""
    flight: int = 0
    place: int = 0
    codes: tuple[str, ...] = ()
    undoes: int = 0
    assessors: tuple[Assessor, ...] | None = None
    pours: tuple[Pour, ...] | None = None
    sealed: str = ""

    def same_as(self, other: Change) -> bool:
        """Tell whether another change says the same."""
        told = ("kind", "assessor", "code", "flight", "place", "undoes")
        return all(getattr(self, name) == getattr(other, name) for name in told)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangedCourse:
    """How a plan was served after its changes.

    Attributes
    ----------
    changes : tuple of Change
        All of them, in their order.
    standing : tuple of Change
        Those that were not undone.
    assessors, pours
        Who was served what, with the cups that were dealt anew.
    unserved : dict
        From assessor and code of a planned cup that was not served to the kind of change.
    unknown : frozenset
        Assessor and code of cups of which nobody knows which they were.
    also : dict
        From assessor and new code to the code that the cup was planned under.
    steps : tuple of (assessors, pours)
        The plan as it was made and after each dealing anew: what sheets were printed from.
    """

    changes: tuple[Change, ...] = ()
    standing: tuple[Change, ...] = ()
    assessors: tuple[Assessor, ...] = ()
    pours: tuple[Pour, ...] = ()
    unserved: dict[tuple[str, str], str] = field(default_factory=dict)
    unknown: frozenset[tuple[str, str]] = frozenset()
    also: dict[tuple[str, str], str] = field(default_factory=dict)
    steps: tuple[tuple[tuple[Assessor, ...], tuple[Pour, ...]], ...] = ()


def brought_back(content: dict[str, Any]) -> Change:
    """Return a change from its plain values."""
    values = dict(content)
    if values.get("assessors") is not None:
        values["assessors"] = tuple(Assessor(**one) for one in values["assessors"])
    if values.get("pours") is not None:
        values["pours"] = tuple(Pour(bottle="", replicate=0, **pour) for pour in values["pours"])
    values["codes"] = tuple(values.get("codes", ()))
    return Change(**values)


def plain(change: Change) -> dict[str, Any]:
    """Return a change as plain values that name no bottle."""
    values = asdict(change)
    for pour in values["pours"] or ():
        del pour["bottle"], pour["replicate"]
    return values


def standing(changes: Sequence[Change]) -> tuple[Change, ...]:
    """Return the changes that were not undone; an undoing can be undone itself."""
    undone: set[int] = set()
    for change in reversed(changes):
        if change.kind == "undone" and change.number not in undone:
            undone.add(change.undoes)
    return tuple(
        change for change in changes if change.kind != "undone" and change.number not in undone
    )


def follow(
    assessors: Sequence[Assessor], pours: Sequence[Pour], changes: Sequence[Change]
) -> ChangedCourse:
    """Follow the changes from the plan as it was made."""
    left = standing(changes)
    now: tuple[tuple[Assessor, ...], tuple[Pour, ...]] = (tuple(assessors), tuple(pours))
    steps = [now]  # what was printed meanwhile may come back, undone or not
    steps += [
        (change.assessors or now[0], change.pours) for change in changes if change.pours is not None
    ]
    for change in left:
        if change.pours is not None:
            now = (change.assessors or now[0], change.pours)
    unserved: dict[tuple[str, str], str] = {}
    for change in left:
        for pour in now[1]:
            if _missed(change, pour):
                unserved[pour.assessor, pour.code] = change.kind
    return ChangedCourse(
        changes=tuple(changes),
        standing=left,
        assessors=now[0],
        pours=now[1],
        unserved=unserved,
        unknown=frozenset(
            (pour.assessor, pour.code)
            for change in left
            if change.kind == "unknown"
            for pour in _about(change, now[1])
        ),
        also={
            (pour.assessor, change.codes[0]): change.code
            for change in left
            if change.kind == "label"
            for pour in _about(change, now[1])
        },
        steps=tuple(steps),
    )


def _about(change: Change, pours: Iterable[Pour]) -> list[Pour]:
    """Return the cups that a change of a label is about: of one assessor, or of all."""
    return [
        pour
        for pour in pours
        if pour.code == change.code and change.assessor in ("", pour.assessor)
    ]


def _missed(change: Change, pour: Pour) -> bool:
    """Tell whether a cup was not served because of a change."""
    if change.kind == "cut":
        return pour.flight == change.flight and change.assessor in ("", pour.assessor)
    if pour.assessor != change.assessor:
        return False
    if change.kind in ("late", "joined"):
        return pour.flight < change.flight
    if change.kind == "left":
        return pour.presentation > change.place
    return False
