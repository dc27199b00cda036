"""Where each assessor is: which cups are closed, which one is at hand, which rest is due."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass, field

from ...forms.questions.question_types import Kind, Question
from ...forms.questions.set_questions import AT_THE_END, of_a_set
from ...forms.questions.sheet import Presentation, Sheet
from ..plan.open_plan import OpenPlan
from ..returns.timed_events import KIND as TIMED
from ..returns.timed_events import moment_of
from .timed_touches import FollowedSips

AFTER_ALL = AT_THE_END | {"choice_reason"}
"""Questions that are asked when all cups were judged."""
REMARKED = frozenset({Kind.LINE, Kind.CATEGORY, Kind.BALANCE})
"""Questions with room for a remark beside their one answer."""
STILL_THERE = 60.0
"""Seconds after its last word for which a device counts as there."""


@dataclass(slots=True)
class Seat:
    """One assessor at the table.

    Attributes
    ----------
    sheet : Sheet
    cups : tuple of Presentation
        Those that are served, in their order.
    plan : str
        Version of the plan.
    closed : dict of str to float
        Cups that were gone on from, with the time (seconds since 1970).
    finished : bool
        Whether the questions at the end were gone on from, or there are none.
    devices : dict of str to float
        When each device spoke last.
    numbers : dict of str to int
        The highest number of each device.
    followed : FollowedSips
        How far the sips are that are followed.
    """

    sheet: Sheet
    cups: tuple[Presentation, ...]
    plan: str
    closed: dict[str, float] = field(default_factory=dict)
    finished: bool = False
    devices: dict[str, float] = field(default_factory=dict)
    numbers: dict[str, int] = field(default_factory=dict)
    followed: FollowedSips = field(default_factory=FollowedSips)

    @property
    def at(self) -> Presentation | None:
        """The cup at hand; None when all are closed."""
        return next((cup for cup in self.cups if cup.name not in self.closed), None)

    @property
    def has_end(self) -> bool:
        """Whether something is asked when all cups were judged."""
        return any(self.questions(cup, end=True) for cup in self.cups)

    @property
    def stage(self) -> str:
        """Where it is: ``cup``, ``end`` or ``over``."""
        if self.at is not None:
            return "cup"
        return "end" if self.has_end and not self.finished else "over"

    @property
    def mark(self) -> str:
        """A sign that changes with what is asked here."""
        asked = "|".join((self.sheet.fingerprint, *(cup.name for cup in self.cups)))
        return hashlib.sha256(asked.encode()).hexdigest()[:12]

    def cup(self, name: str) -> Presentation | None:
        """Return a cup of this seat by its name."""
        return next((cup for cup in self.cups if cup.name == name), None)

    def questions(self, cup: Presentation, *, end: bool = False) -> tuple[Question, ...]:
        """Return what is asked at a cup, or of it at the end."""
        return tuple(one for one in self.sheet.questions(cup) if (one.key in AFTER_ALL) == end)

    def asked(self, cup: Presentation) -> list[str]:
        """Return the attributes of a cup that should have an answer: no ticks, faults or words."""
        return [
            attribute
            for question in self.sheet.questions(cup)
            if question.kind not in (Kind.TICKS, Kind.FAULTS, Kind.WORDS)
            for attribute in question.attributes_of(cup.codes)
        ]

    def remarked(self, cup: Presentation) -> set[str]:
        """Return the attributes of a cup beside which a remark may stand; none in a test."""
        if of_a_set(cup):
            return set()
        return {one.key for one in self.sheet.questions(cup) if one.kind in REMARKED}

    def timed(self, cup: Presentation) -> dict[str, str]:
        """Return the parts of a cup in which a sip is followed, each with what became of it."""
        asked = self.sheet.timed.parts if cup.timed and self.sheet.timed else ()
        return {part: self.followed.stands(cup.name, part) for part in asked}

    def rest_left(self, now: float) -> float:
        """Return the seconds of rest that are left before the cup at hand."""
        cup = self.at
        if cup is None or not cup.rest_before or not self.closed:
            return 0.0
        return max(0.0, max(self.closed.values()) + 60.0 * cup.rest_before - now)

    def others(self, device: str, now: float) -> int:
        """Count the other devices that are there."""
        return sum(
            other != device and now - seen < STILL_THERE for other, seen in self.devices.items()
        )


def seats(plan: OpenPlan) -> dict[str, Seat]:
    """Lay a seat for each assessor of a plan, spare ones too; nothing is closed yet."""
    return {
        code: Seat(
            sheet=sheet,
            cups=tuple(
                cup
                for cup in sheet.presentations
                if not any((code, one) in plan.course.unserved for one in cup.codes)
            ),
            plan=plan.version,
        )
        for code, sheet in plan.own_sheets.items()
    }


def follow(seat: Seat, kind: str, code: str, at: float) -> None:
    """Let a seat go on, or back, by one touch that was taken."""
    if kind == "done":
        seat.closed.setdefault(code, at)
    elif kind == "finish":
        seat.finished = True
    elif kind == "back":
        seat.closed.pop(code, None)
        seat.finished = False


def brought_up(
    laid: dict[str, Seat], rows: Iterable[tuple[str, str, int, str, str, str, str, str, str]]
) -> bool:
    """Bring seats to where the touches of the store left them; return whether it is paused.

    Parameters
    ----------
    laid : dict of str to Seat
    rows : iterable
        Assessor, device, number, kind, code, outcome, time, attribute and value of each touch, in
        their order.
    """
    paused = False
    for assessor, device, number, kind, code, outcome, at, attribute, said in rows:
        if kind in ("pause", "go") and not assessor:
            paused = kind == "pause"
        seat = laid.get(assessor)
        if seat is None:
            continue
        if device:
            seat.numbers[device] = max(number, seat.numbers.get(device, 0))
        if outcome == "saved" and kind == TIMED:
            moment = moment_of(json.loads(said))
            if moment is not None:
                seat.followed.note((device, code, attribute, moment.run), moment)
        elif outcome == "saved":
            follow(seat, kind, code, dt.datetime.fromisoformat(at).timestamp())
    return paused
