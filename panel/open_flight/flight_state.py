"""Where the open flight stands, for `kikichoko status`, and whether it is whole, for `check`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from ..base.session_log import LogEntry, read_log, to_the_minute
from ..base.words import say
from ..plan.open_plan import OpenPlan
from ..returns.closed_flights import ACT, FOLDER, closed
from ..returns.logged_answers import standing
from ..returns.session_status import Status, status
from ..returns.store import Store
from ..session.session import Session
from .flight import load_flight
from .named_returns import TooLate, too_late
from .named_sheets import SHEETS


@dataclass(frozen=True, slots=True, kw_only=True)
class FlightState:
    """The state of an open flight.

    Attributes
    ----------
    planned : bool
        Whether ``session.toml`` asks for one.
    entry : LogEntry or None
        When it was opened.
    sheets : Status or None
        Its named sheets, faults and marks.
    late : tuple of TooLate
        Answers about blind cups that came after it was opened.
    written : bool
        Whether its sheets are there.
    """

    planned: bool
    entry: LogEntry | None = None
    sheets: Status | None = None
    late: tuple[TooLate, ...] = ()
    written: bool = False

    def to_dict(self) -> dict[str, Any]:
        """Return the state as a dict that is valid JSON."""
        told: dict[str, Any] = {"planned": self.planned, "opened_at": None}
        if self.entry is None or self.sheets is None:
            return told
        return told | {
            "opened_at": self.entry.at,
            "sheets_written": self.written,
            "blind_left_open": {
                name: self.entry.values.get(name) for name in ("cups_missing", "faults", "marks")
            },
            "sheets": [
                {"assessor": one.assessor, "answered": one.answered, "asked": one.asked}
                for one in self.sheets.sheets
            ],
            "blind_answers_too_late": len(self.late),
        }

    def lines(self, session: Session, language: str) -> list[str]:
        """Write the state for a terminal."""
        folder = session.folder
        if self.entry is None or self.sheets is None:
            planned = say("open_flight.planned", language, folder=folder)
            return [planned] if self.planned else []
        told = [say("open_flight.opened", language, at=to_the_minute(self.entry.at))]
        left = {name: self.entry.values.get(name, 0) for name in ("faults", "marks")}
        if any(left.values()):
            told.append(say("open_flight.left", language, **left))
        if not self.written:
            told.append(say("open_flight.no_sheets", language, folder=folder))
        told += [f"  {line}" for line in self.sheets.sheet_lines(language)]
        if self.late:
            told.append(say("open_flight.late", language, n=len(self.late)))
        told += self.sheets.needs(language)
        return told


def flight_state(session: Session, plan: OpenPlan) -> FlightState:
    """Return where the open flight of a session stands; nothing is written."""
    planned = session.settings.serving.open_flight
    entry = closed(session.folder)
    if entry is None:
        return FlightState(planned=planned)
    flight = load_flight(session, plan)
    with Store(session.folder / FOLDER, reading=True) as store:
        return FlightState(
            planned=planned,
            entry=entry,
            sheets=status(session, flight, store),
            late=tuple(too_late(session, store)),
            written=(session.folder / SHEETS).is_dir(),
        )


def untold_change(session: Session, store: Store) -> LogEntry | None:
    """Return the entry of the opening if the blind answers are not what they were then.

    Whoever was forgotten since leaves other rows, which the log tells as an act of its own.
    """
    log = read_log(session.folder)
    telling = [entry for entry in log.of(ACT, "forget") if "standing" in entry.values]
    entry = closed(session.folder)
    if entry is None or not telling or telling[-1].number < entry.number:
        return None
    return entry if telling[-1].values["standing"] != standing(store) else None
