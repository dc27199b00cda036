"""The key: which bottle is behind a code. Opening it is an act, and is logged."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from ...analysis.core.words import Sentence
from ..base.errors import NotReady
from ..plan.key_file import key_content, key_cups
from ..plan.open_plan import OpenPlan
from ..plan.plan_file import note_broken_off
from ..returns.logged_answers import complete_openings, held, note, note_answers
from ..returns.store import Opening, Store
from ..returns.turned_cups import turned_cups
from ..session.session import Session


@dataclass(frozen=True, slots=True)
class OpenedCup:
    """What a code stood for."""

    bottle: str
    replicate: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """The opened key.

    Attributes
    ----------
    cups : dict
        From assessor and code to what was in the cup.
    opening : Opening
        This opening as it was logged.
    notes : tuple of Sentence
        What the plan said about its design.
    """

    cups: dict[tuple[str, str], OpenedCup]
    opening: Opening
    notes: tuple[Sentence, ...]


def sheets_out(plan: OpenPlan, store: Store) -> list[str]:
    """Name the assessors, spare sheets aside, who were served and from whom nothing came back."""
    back = {stored.answer.assessor for stored in store.answers() if stored.plan == plan.version}
    served = {
        pour.assessor
        for pour in plan.pours
        if (pour.assessor, pour.code) not in plan.course.unserved
    }
    return [
        one.code
        for one in plan.assessors
        if not one.spare and one.code in served and one.code not in back
    ]


def open_key(session: Session, plan: OpenPlan, store: Store, reason: str) -> Key:
    """Open the key and log it with time, reason and how many sheets were still out.

    Raises
    ------
    NotReady
        If a key file is missing or damaged, or is not the one that was planned; or if one person
        alone has not told yet which codes stood under the cups.
    """
    untold = turned_cups(plan, store)
    if untold.untold:
        told = {"rows": untold.where, "n": len(untold.untold), "name": untold.untold[0].name}
        raise NotReady("alone.untold", folder=session.folder, **told)
    contents = [key_content(session, version) for version in plan.versions]
    served = [key_cups(session, version) for version in plan.versions]
    note_broken_off(session.folder)
    note_answers(store, "found")
    out = len(sheets_out(plan, store))
    # Logged before anything is shown: what cannot be logged is not opened.
    with store.transaction():
        complete_openings(store)
        note(store, "open", plan=plan.number, sheets_out=out, **held(store).told())
        opening = store.note_opening(reason, out)
    cups: dict[tuple[str, str], OpenedCup] = {}
    before = 0
    for opened in reversed(served):  # what was served again by a later plan is a replicate more
        cups |= {
            (cup["assessor"], cup["code"]): OpenedCup(cup["bottle"], before + cup["replicate"])
            for cup in opened
        }
        most = max((cup["replicate"] for cup in opened), default=0)
        before += most if _answered(opened, store) else 0
    return Key(
        cups=cups,
        opening=opening,
        notes=tuple(Sentence.brought_back(note) for note in contents[0]["notes"]),
    )


def _answered(cups: list[dict[str, Any]], store: Store) -> bool:
    """Tell whether anything came back about the cups of a key."""
    served = {(cup["assessor"], cup["code"]) for cup in cups}
    return any(
        (stored.answer.assessor, code) in served
        for stored in store.answers()
        for code in stored.answer.code.split("-")
    )
