"""The leader's page: who is at which cup, what is missing, pause and go on; no result."""

from __future__ import annotations

import time

from ...forms.questions.sheet import Presentation
from ...forms.questions.words import say as forms_say
from ..base.words import say
from .scribe import TableState
from .seat_page import LANGUAGES, numbered, part_name, standing, template
from .seats import STILL_THERE, Seat, follow
from .table_links import Links
from .timed_touches import DONE
from .touches import Touch, keep

_WORDS = (
    "leader", "leader_how", "care", "pause", "go", "back", "col_assessor", "col_at",
    "col_answers", "col_missing", "col_devices", "col_seen", "is_paused", "links", "no_key",
)  # fmt: skip


def leader_page(table: TableState, links: Links, language: str, nonce: str) -> str:
    """Write the leader's page."""
    sheets = [seat.sheet for seat in table.seats.values()]
    if language not in LANGUAGES:
        language = "en"
    now = time.time()
    return template("leader.html").render(
        language=language,
        languages=[(key, name) for key, name in LANGUAGES.items() if key != language],
        nonce=nonce,
        w={word: say(f"serve.{word}", language) for word in _WORDS},
        title=sheets[0].title if sheets else "",
        paused=table.paused,
        shut=table.closed.sentence.to(language) if table.closed else "",
        rows=[
            {"link": links.of(code), **_row(table, seat, language, now)}
            for code, seat in table.seats.items()
            if code in links.seats
        ],
    )


def _row(table: TableState, seat: Seat, language: str, now: float) -> dict[str, object]:
    stands = standing(table, seat)
    asked = {cup.name: seat.asked(cup) for cup in seat.cups}
    answered = sum((cup, one) in stands for cup, names in asked.items() for one in names)
    card = seat.sheet.scorecard
    missing = [
        (cup, left)
        for cup in seat.cups
        if cup.name in seat.closed
        and (
            left := [card.name(one, language) for one in _left(seat, cup, stands)]
            + [
                name
                for part, how in seat.timed(cup).items()
                if how != DONE and (name := part_name(seat, part, language))
            ]
        )
    ]
    seen = max(seat.devices.values(), default=0.0)
    there = sum(now - at < STILL_THERE for name, at in seat.devices.items() if name != "form")
    return {
        "assessor": seat.sheet.assessor,
        "spare": seat.sheet.spare,
        "at": _at(seat, language, now, begun=bool(stands or seat.closed)),
        "answers": f"{answered} / {sum(map(len, asked.values()))}",
        "missing": [f"{_called(cup, language)}: {', '.join(names)}" for cup, names in missing],
        "devices": there,
        "seen": say("serve.ago", language, n=round(now - seen)) if seen else "–",
        "back": seat.closed and max(seat.closed, key=lambda name: _place(seat, name)),
    }


def _left(
    seat: Seat, cup: Presentation, stands: dict[tuple[str, str], float | str]
) -> list[str]:  # fmt: skip
    """Name what is blank at a cup that was gone on from; what is asked at the end, after it."""
    due = {
        attribute
        for end in ((False, True) if seat.finished else (False,))
        for question in seat.questions(cup, end=end)
        for attribute in question.attributes_of(cup.codes)
    }
    return [one for one in seat.asked(cup) if one in due and (cup.name, one) not in stands]


def _place(seat: Seat, name: str) -> int:
    return next((place for place, cup in enumerate(seat.cups) if cup.name == name), -1)


def _at(seat: Seat, language: str, now: float, *, begun: bool) -> str:
    cup = seat.at
    if cup is None:
        return say(f"serve.at_{seat.stage}", language)
    rest = seat.rest_left(now)
    if cup.beneath:
        return _called(cup, language)
    kind = "rest" if rest else "cup" if begun else "begin"
    number = next(number for number, one in numbered(seat) if one == cup)
    total = sum(not one.beneath for one in seat.cups)
    told = {"code": " · ".join(cup.codes), "number": number, "total": total,
            "minutes": max(1, round(rest / 60))}  # fmt: skip
    return say(f"serve.at_{kind}", language, **told)


def _called(cup: Presentation, language: str) -> str:
    """Name a cup by its codes; the page on which cups are turned over by its row."""
    if not cup.beneath:
        return " · ".join(cup.codes)
    row = forms_say("sheet.flight", language, flight=cup.flight)
    return f"{forms_say('sheet.beneath', language)} ({row})"


def act(table: TableState, kind: str, assessor: str) -> bool:
    """Pause, go on, or let an assessor back to the cup that they closed last.

    Returns
    -------
    bool
        Whether it is something that a leader can do now.
    """
    version = next((seat.plan for seat in table.seats.values()), "")
    if kind in ("pause", "go"):
        _note(table, version, "", Touch(number=1, kind=kind))
        table.paused = kind == "pause"
        return True
    seat = table.seats.get(assessor)
    if kind != "back" or seat is None or not seat.closed:
        return False
    last = max(seat.closed, key=lambda name: _place(seat, name))
    _note(table, version, assessor, Touch(number=1, kind="back", code=last))
    follow(seat, "back", last, 0.0)
    return True


def _note(table: TableState, version: str, assessor: str, touch: Touch) -> None:
    """Keep what the leader did; each act is a device of its own, for it has no numbers."""
    (last,) = table.store.database.execute("SELECT coalesce(max(id), 0) FROM touches").fetchone()
    keep(table.store, version, assessor, f"leader-{last + 1}", touch, "saved")
