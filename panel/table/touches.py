"""One touch: is it allowed, what does it mean, and into the store with it, once.

A touch bears the number that its device gave it. What was taken is told again when it comes
again; what comes again with another content is a conflict; what may not be is kept with the
reason and changes no answer.
"""

from __future__ import annotations

import json
import math
import re
import time
from dataclasses import dataclass
from typing import Any

from ...forms.answers.answer import REMARK, Answer, Fault, is_remark
from ...forms.answers.answer_values import understand
from ...forms.answers.cells import Written
from ...forms.answers.gathering import GROUPS
from ...forms.answers.numbers import Unclear, written_number
from ...forms.questions.question_types import Kind, Question
from ...forms.questions.sheet import Presentation
from ..base.clock import now
from ..base.file_names import text_of
from ..returns.store import PHONE, Store
from ..returns.timed_events import KIND as TIMED
from ..returns.timed_events import Moment, moment_of
from .seats import Seat, follow

LONGEST = 2_000
"""Signs of free words."""
MOST = 200
"""Touches that are taken at one go."""
DEVICE = re.compile(r"[0-9a-f]{16,64}")
KINDS = ("answer", "done", "finish", TIMED)
_LARGEST_NUMBER = 1 << 50
Value = float | str | None


class Malformed(ValueError):
    """What was sent is not what the page sends."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Touch:
    """One touch as a device tells it.

    Attributes
    ----------
    number : int
        From 1, counted by the device.
    kind : str
        ``answer``; ``done``, gone on from a cup; ``finish``, from the questions at the end;
        ``timed``, a moment of a sip. The leader's are ``pause``, ``go`` and ``back``.
    code, attribute : str
        Of a moment the attribute is its part.
    value : float, str, Moment or None
        None takes an answer back.
    """

    number: int
    kind: str
    code: str = ""
    attribute: str = ""
    value: Value | Moment = None

    @property
    def said(self) -> str:
        """The value as it is kept."""
        value = self.value
        return json.dumps(value.plain() if isinstance(value, Moment) else value)


def touches_of(content: bytes) -> tuple[str, list[Touch]]:
    """Read what a page sent: its device, and touches in the order of their numbers.

    Raises
    ------
    Malformed
    """
    try:
        told = json.loads(content, parse_constant=_refuse)
    except (ValueError, RecursionError) as fault:
        raise Malformed from fault
    if not isinstance(told, dict):
        raise Malformed
    device, listed = told.get("device"), told.get("touches")
    if not isinstance(device, str) or not DEVICE.fullmatch(device):
        raise Malformed
    if not isinstance(listed, list) or len(listed) > MOST:
        raise Malformed
    found = [_touch(one) for one in listed]
    return device, sorted(found, key=lambda one: one.number)


def _refuse(constant: str) -> float:
    raise Malformed(constant)


def _touch(one: Any) -> Touch:
    if not isinstance(one, dict):
        raise Malformed
    number, value = one.get("n"), one.get("value")
    texts = [one.get(name, "") for name in ("kind", "code", "attribute")]
    if not all(isinstance(text, str) and len(text) <= 200 for text in texts):
        raise Malformed
    if type(number) is not int or not 0 < number < _LARGEST_NUMBER or texts[0] not in KINDS:
        raise Malformed
    if texts[0] == TIMED:
        value = moment_of(value)
        if value is None:
            raise Malformed
        return Touch(number=number, kind=TIMED, code=texts[1], attribute=texts[2], value=value)
    if isinstance(value, str) and len(value) > LONGEST:
        raise Malformed
    if type(value) not in (int, float, str, type(None)):
        raise Malformed
    if isinstance(value, (int, float)):
        value = float(value) if abs(value) < 1e6 else math.inf
    return Touch(
        number=number, kind=texts[0], code=texts[1], attribute=texts[2], value=value
    )  # fmt: skip


def take(store: Store, seat: Seat, device: str, touch: Touch) -> str:
    """Take one touch, in a transaction of the store; return what became of it.

    Returns
    -------
    str
        ``saved``; ``conflict``, the number was taken with another content; ``late``, a later
        number came first; ``closed``, the cup is not at hand; ``strange``, no such cup or
        question; ``value``, no answer to it; ``taken``, another cup has that place; ``differs``,
        paper or a workbook says otherwise.
    """
    known = store.database.execute(
        "SELECT kind, code, attribute, value, outcome FROM touches "
        "WHERE assessor = ? AND device = ? AND number = ?",
        (seat.sheet.assessor, device, touch.number),
    ).fetchone()
    if known is not None:
        told = (text_of(touch.kind), text_of(touch.code), text_of(touch.attribute), touch.said)
        return str(known[4]) if known[:4] == told else "conflict"
    late = touch.number < seat.numbers.get(device, 0)
    if late:
        outcome = "late"
    elif isinstance(touch.value, Moment):
        outcome = _moment(seat, device, touch, touch.value)
    else:
        outcome = _done(store, seat, touch)
    at = keep(store, seat.plan, seat.sheet.assessor, device, touch, outcome)
    seat.numbers[device] = max(touch.number, seat.numbers.get(device, 0))
    if outcome == "saved":
        follow(seat, touch.kind, touch.code, at)
    return outcome


def keep(  # noqa: PLR0917
    store: Store, plan: str, assessor: str, device: str, touch: Touch, outcome: str
) -> float:
    """Keep a touch with what became of it; return the time."""
    store.database.execute(
        "INSERT INTO touches (plan, assessor, device, number, kind, code, attribute, value, "
        "outcome, at) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (plan, assessor, device, touch.number, touch.kind, text_of(touch.code),
         text_of(touch.attribute), touch.said, outcome, now()),
    )  # fmt: skip
    return time.time()


def _moment(seat: Seat, device: str, touch: Touch, moment: Moment) -> str:
    """Take a moment of a sip: only at the cup at hand, in its order."""
    cup, asked = seat.cup(touch.code), seat.sheet.timed
    if cup is None or not cup.timed or asked is None or touch.attribute not in asked.parts:
        return "strange"
    if seat.at != cup:
        return "closed"
    key = (device, touch.code, touch.attribute, moment.run)
    if not seat.followed.may(key, moment, asked):
        return "value"
    seat.followed.note(key, moment)
    return "saved"


def _done(store: Store, seat: Seat, touch: Touch) -> str:
    if touch.kind == "finish":
        if seat.stage == "cup":
            return "closed"
        for each in seat.cups:
            _leave(store, seat, each, seat.questions(each, end=True))
        return "saved"
    cup = seat.cup(touch.code)
    if cup is None:
        return "strange"
    if touch.kind == "done":
        if cup.name in seat.closed:
            return "saved"
        if seat.at != cup:
            return "closed"
        _leave(store, seat, cup, seat.questions(cup))
        return "saved"
    remark, asked = is_remark(touch.attribute), touch.attribute.removesuffix(REMARK)
    found = [
        question
        for question in seat.sheet.questions(cup)
        if asked in question.attributes_of(cup.codes)
    ]
    if not found or (remark and asked not in seat.remarked(cup)):
        return "strange"
    at_end = found[0] in seat.questions(cup, end=True)
    if seat.stage != "end" if at_end else seat.at != cup:
        return "closed"
    return _answer(store, seat, cup, found[0], touch)


def _answer(
    store: Store, seat: Seat, cup: Presentation, question: Question, touch: Touch
) -> str:  # fmt: skip
    value = touch.value if not isinstance(touch.value, Moment) else None
    if isinstance(value, str) and not value.strip():
        value = None
    if is_remark(touch.attribute):
        if isinstance(value, float):
            return "value"
        kept = None if value is None else text_of(value)
        return _put(store, seat, cup, touch.attribute, kept)
    if value is not None:
        try:
            value = _meant(question, cup, value, seat.sheet.language)
        except Unclear:
            return "value"
    if question.kind is Kind.RANKING and value is not None:
        others = (one for one in question.attributes_of(cup.codes) if one != touch.attribute)
        stood = (store.at(_cell(seat, cup, one)) for one in others)
        if any(one is not None and one.answer.value == value for one in stood):
            return "taken"
    return _put(store, seat, cup, touch.attribute, value)


def _meant(question: Question, cup: Presentation, value: float | str, language: str) -> float | str:
    """Read a value by the rules of sheets and tables; only the page's own kinds of values."""
    named = question.kind in (Kind.WORDS, Kind.CHOICE)
    if named != isinstance(value, str):
        raise Unclear("not_an_option")
    if isinstance(value, float) and not math.isfinite(value):
        raise Unclear("out_of_range")
    if question.kind is Kind.LINE:
        value = round(float(value), 2)
    if question.kind is Kind.RANKING and float(value) % 1:
        raise Unclear("not_an_option")
    text = value if isinstance(value, str) else written_number(value)
    cell = Written(value, text_of(text))
    return understand(question, cell, language, cup.codes, places_used=False)


def _cell(seat: Seat, cup: Presentation, attribute: str) -> tuple[str, str, str, str]:
    return seat.plan, seat.sheet.assessor, cup.name, attribute


def _put(store: Store, seat: Seat, cup: Presentation, attribute: str, value: Value) -> str:
    old = store.at(_cell(seat, cup, attribute))
    if (old.answer.value if old else None) == value:
        return "saved"
    text = "" if value is None else value if isinstance(value, str) else written_number(value)
    answer = Answer(
        session=seat.sheet.session,
        assessor=seat.sheet.assessor,
        code=cup.name,
        attribute=attribute,
        value=0.0 if value is None else value,
        file=PHONE,
        place=str(cup.number),
        written=text,
    )
    if old is not None and old.answer.file != PHONE:
        before = old.answer
        place = f"{before.file}, {before.place}"
        found = f"{before.as_written()} ({place}) / {text or '–'} ({PHONE})"
        told = {"assessor": answer.assessor, "code": answer.code, "attribute": attribute}
        fault = Fault(kind="two_answers", file=PHONE, place=answer.place, found=found, **told)
        store.note_faults([fault], seat.plan)
        return "differs"
    store.put(answer, plan=seat.plan, old=old, blank=value is None)
    return "saved"


def _leave(
    store: Store, seat: Seat, cup: Presentation, questions: tuple[Question, ...]
) -> None:  # fmt: skip
    """Take what was not ticked for 0 where anything else was answered, as a sheet says it."""
    asked = [
        attribute
        for question in seat.sheet.questions(cup)
        if question.kind is not Kind.WORDS
        for attribute in question.attributes_of(cup.codes)
    ]
    if not any(store.at(_cell(seat, cup, attribute)) for attribute in asked):
        return
    for question in questions:
        if question.kind in GROUPS:
            for attribute in question.attributes:
                if store.at(_cell(seat, cup, attribute)) is None:
                    _put(store, seat, cup, attribute, 0.0)
