"""What the open flight serves and asks: the same bottles and questions, with names for codes.

It is drawn when it is opened and kept in ``open_flight/flight.json``; the log holds its
seal. It reads as a plan whose codes are the names of the bottles, under a version of its
own, so that sheets, readers and store treat its answers as any others and never as blind.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

from ...forms.questions.sheet import Sheets
from ..base.clock import now
from ..base.errors import NotReady
from ..base.session_log import read_log
from ..plan.asked_questions import Asked, sheets
from ..plan.key_file import key_content, key_cups
from ..plan.open_plan import OpenPlan
from ..plan.plan_file import content_of
from ..plan.planning import bottle_orders, named_bottles
from ..plan.pours import Pour
from ..plan.sealing import seal
from ..plan.secret_draw import Draw
from ..returns.closed_flights import FOLDER
from ..session.roster import Assessor
from ..session.session import Session

FILE = FOLDER / "flight.json"
FORMAT = 1
VERSION = "open"
"""Under which the store keeps what is answered in it; no plan has that version."""
_NOTE, _OTHERS = "note_named", ("note_appearance_flight",)


def drawn(
    session: Session, plan: OpenPlan, assessors: Sequence[str], secret: bytes | None = None
) -> dict[str, Any]:
    """Return a new open flight as plain values: who tastes which bottles in which order.

    Parameters
    ----------
    session : Session
        With the bottles as they were planned.
    plan : OpenPlan
    assessors : sequence of str
        Codes of those who tasted blind.
    secret : bytes, optional
        What the orders are drawn from; by default new ones from the operating system.
    """
    poured = {cup["bottle"] for version in plan.versions for cup in key_cups(session, version)}
    bottles = [one for one in named_bottles(session) if one.name in poured]
    draw = Draw.fresh() if secret is None else Draw(secret).part("open flight")
    orders, _ = bottle_orders(
        bottles, [len(assessors)], draw, grouped=session.settings.serving.order
    )
    kept = plan.content.get("asked", Asked.of(session).content)
    sealed = key_content(session, plan).get("planned", {}).get("settings", {})
    return {
        "format": FORMAT,
        "session": plan.session,
        "plan": plan.number,
        "drawn_at": now(),
        "planned": bool(sealed.get("serving", {}).get("open_flight")),
        "asked": {name: one for name, one in kept.items() if name != "timed"},
        "ml": session.settings.serving.pour_ml,
        "assessors": [asdict(one) for one in plan.assessors if one.code in assessors],
        "orders": [
            {"assessor": who, "bottles": [bottle.name for bottle in order]}
            for who, order in zip(assessors, orders, strict=True)
        ],
    }


def read_flight(folder: Path) -> dict[str, Any]:
    """Read the open flight as it was opened.

    Raises
    ------
    NotReady
        If its file is missing, damaged, or not the one that the log sealed.
    """
    if not (folder / FILE).is_file():
        raise NotReady("open_flight.missing", path=FILE.as_posix())
    content = content_of(folder / FILE, FILE)
    told = [entry.values.get("flight") for entry in read_log(folder).entries]
    seals = [one for one in told if one]
    if not seals or seal(content) != seals[-1]:
        raise NotReady("open_flight.other", path=FILE.as_posix())
    return content


def as_plan(content: dict[str, Any], plan: OpenPlan) -> OpenPlan:
    """Return an open flight as a plan of its own, with the blind plans before it.

    Parameters
    ----------
    content : dict
        What `drawn` or `read_flight` returned.
    plan : OpenPlan
        The blind plan that holds.

    Returns
    -------
    OpenPlan
        Its sheets are read first; a blind sheet that comes late is read as it was printed,
        under the version of its own plan.
    """
    assessors = tuple(Assessor(**one) for one in content["assessors"])
    pours = tuple(
        Pour(assessor=row["assessor"], presentation=place, flight=1, code=bottle, bottle="",
             replicate=0, ml=content["ml"])
        for row in content["orders"]
        for place, bottle in enumerate(row["bottles"], start=1)
    )  # fmt: skip
    made = sheets(Asked.brought_back(content["asked"]), assessors, pours, content["plan"])
    named = {one.assessor: replace(one, named=True, notes=_notes(one.notes)) for one in made}
    blind = (*plan.sheets.values(), *plan.sheets.earlier)
    return OpenPlan(
        session=content["session"],
        number=plan.number,
        version=VERSION,
        sealed=plan.sealed,
        assessors=assessors,
        pours=pours,
        sheets=Sheets(named, blind, plan.sheets.also),
        own_sheets=Sheets(named),
        content=content,
        earlier=plan.versions,
    )


def _notes(notes: Sequence[str]) -> tuple[str, ...]:
    return (_NOTE, *(one for one in notes if one not in _OTHERS))


def load_flight(session: Session, plan: OpenPlan) -> OpenPlan:
    """Return the open flight of a session as a plan; see `as_plan` and `read_flight`."""
    content = read_flight(session.folder)
    try:
        return as_plan(content, plan)
    except (TypeError, ValueError, LookupError, AttributeError) as fault:
        raise NotReady("plan.damaged", path=FILE.as_posix(), why=fault) from fault
