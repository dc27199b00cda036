"""A session whose sips are told as telephones tell them, with what is put in known."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from pathlib import Path

from kikichoko.panel.plan.key_file import key_cups
from kikichoko.panel.plan.plan_file import load_open, load_table
from kikichoko.panel.returns.store import Store
from kikichoko.panel.returns.timed_events import Moment
from kikichoko.panel.session.session import Session
from kikichoko.panel.session.session_folder import load
from kikichoko.panel.table.seats import Seat, seats
from kikichoko.panel.table.touches import Touch, take

Event = tuple[int, str, str | float | None]
Course = Callable[[str, str, str], Iterable[Event]]
"""From assessor, bottle and part to what happens, in one sip after another."""


def bottles_of(session: Session) -> dict[tuple[str, str], str]:
    """Return the bottle of each assessor's code."""
    cups = key_cups(session, load_open(session))
    return {(cup["assessor"], cup["code"]): cup["bottle"] for cup in cups}


def fill(
    place: Path, course: Course, marks: Mapping[str, float], paper: Iterable[str] = ()
) -> None:
    """Let everybody but those on `paper` follow their sips, and everybody mark some lines."""
    bottles = bottles_of(load(place))
    with Store(place) as store, store.transaction():
        for code, seat in seats(load_table(place)).items():
            send = Sender(store, seat)
            for cup in seat.cups:
                for part in seat.timed(cup) if code not in set(paper) else ():
                    send.sip(cup.name, part, course(code, bottles[code, cup.name], part))
                for attribute, value in marks.items():
                    send("answer", cup.name, attribute, value)
                send("done", cup.name)


class Sender:
    """One telephone, without the network."""

    def __init__(self, store: Store, seat: Seat, device: str = "") -> None:
        self.store, self.seat, self.number = store, seat, 0
        self.device = device or seat.sheet.assessor.encode().hex().ljust(16, "0")

    def __call__(self, kind: str, code: str, attribute: str = "", value: object = None) -> None:
        self.number += 1
        touch = Touch(number=self.number, kind=kind, code=code, attribute=attribute, value=value)
        assert take(self.store, self.seat, self.device, touch) == "saved", touch

    def sip(self, code: str, part: str, events: Iterable[Event]) -> None:
        run = ""
        for ms, event, value in events:
            run = f"{self.number:08x}" if event == "sip" else run
            self("timed", code, part, Moment(run=run, ms=ms, event=event, value=value))
