"""Opening the open flight: the blind flights close for good, on the record, then names are told."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from ...forms.questions.question_types import Kind
from ...forms.questions.sheet import sheet_with
from ..base.errors import NotReady
from ..base.session_log import LogEntry
from ..base.whole_files import write_bytes
from ..plan.open_plan import OpenPlan
from ..plan.plan_file import note_broken_off
from ..plan.sealing import seal, written
from ..plan.since_planning import with_planned_bottles
from ..returns.closed_flights import ACT, FOLDER, closed
from ..returns.logged_answers import complete_openings, held, note, note_answers
from ..returns.open_marks import waiting
from ..returns.store import Store
from ..session.session import Session
from .flight import FILE, drawn


@dataclass(frozen=True, slots=True, kw_only=True)
class Unfinished:
    """What of the blind part could still be answered or mended, and cannot once it is closed.

    Attributes
    ----------
    cups : dict of str to list of str
        By assessor, spare sheets aside, the codes about which nothing came back.
    faults, marks : int
        What needs a person: faults of reading, and marks in pictures.
    """

    cups: dict[str, list[str]]
    faults: int
    marks: int

    def __bool__(self) -> bool:
        return bool(self.cups or self.faults or self.marks)

    @property
    def listed(self) -> list[str]:
        """The assessors with their codes."""
        return [f"{who} ({', '.join(codes)})" for who, codes in self.cups.items()]


def unfinished(plan: OpenPlan, store: Store) -> Unfinished:
    """Return what is missing or in doubt in the blind part."""
    back = {
        (one.answer.assessor, one.answer.code)
        for one in store.answers()
        if _judges(plan, one.answer.assessor, one.answer.code, one.answer.attribute)
    }
    absent: dict[str, list[str]] = {}
    for one in plan.assessors:
        sheet = plan.own_sheets[one.code]
        codes = [
            shown.name
            for shown in sheet.presentations
            if shown.counted
            and (one.code, shown.name) not in back
            and not plan.is_unserved(one.code, shown.name)
        ]
        if codes and not one.spare:
            absent[one.code] = codes
    return Unfinished(cups=absent, faults=len(store.faults()), marks=len(waiting(store)))


def _judges(plan: OpenPlan, assessor: str, code: str, attribute: str) -> bool:
    """Tell whether an answer is more than free words."""
    card = sheet_with(plan.sheets, assessor, code).scorecard
    return card.owner(attribute).kind is not Kind.WORDS


def unblind(
    session: Session,
    plan: OpenPlan,
    store: Store,
    *,
    incomplete: bool = False,
    secret: bytes | None = None,
) -> LogEntry:
    """Close the blind flights for good and draw the open flight, once.

    The entry of the log is the act: before it nothing is closed and no name was told;
    sheets are written after it, from what it seals.

    Parameters
    ----------
    session : Session
    plan : OpenPlan
    store : Store
        The store of the blind part.
    incomplete : bool
        Whether it is opened although blind answers are missing or in doubt.
    secret : bytes, optional
        See `drawn`.

    Returns
    -------
    LogEntry
        The entry that holds; an earlier one where it was open already.

    Raises
    ------
    NotReady
        If none was asked for in ``session.toml``, the session is a test of sets, nothing was
        answered blind, or something is missing or in doubt and `incomplete` is not said.
    """
    before = closed(session.folder)
    if before is not None:
        return before
    refuse_unready(session, plan, store, incomplete=incomplete)
    session = with_planned_bottles(session, plan)
    note_broken_off(session.folder)
    note_answers(store, "found")
    with store.transaction():
        complete_openings(store)
        left = unfinished(plan, store)
        who = [one.code for one in plan.assessors if one.code in _back(store)]
        content = drawn(session, plan, who, secret)
        (session.folder / FOLDER).mkdir(exist_ok=True)
        write_bytes(session.folder / FILE, written(content))
        return note(
            store,
            ACT,
            plan=plan.number,
            flight=seal(content),
            cups_missing=sum(map(len, left.cups.values())),
            faults=left.faults,
            marks=left.marks,
            **held(store).told(),
        )


def refuse_unready(
    session: Session, plan: OpenPlan, store: Store, *, incomplete: bool = False
) -> None:
    """Refuse what cannot be opened, or not yet; see `unblind`."""
    folder = session.folder
    if session.method.compares:
        raise NotReady("open_flight.no_profile", method=session.settings.method)
    if not session.settings.serving.open_flight:
        raise NotReady("open_flight.not_wanted", folder=folder)
    if not _back(store):
        raise NotReady("open_flight.nothing_blind", folder=folder)
    codes = {pour.code for version in plan.versions for pour in version.every_pour}
    alike = [bottle.name for bottle in session.samples if bottle.name in codes]
    if alike:
        raise NotReady("open_flight.like_a_code", bottles=alike)
    left = unfinished(plan, store)
    if left and not incomplete:
        raise NotReady(
            "open_flight.unfinished",
            folder=folder,
            cups=left.listed or ["–"],
            faults=left.faults,
            marks=left.marks,
        )


def _back(store: Store) -> set[str]:
    return {one.answer.assessor for one in store.answers()}


def begun(folder: Path) -> bool:
    """Tell whether the open flight is open and its sheets were not written yet."""
    return closed(folder) is not None and not (folder / FOLDER / "sheets").is_dir()
