"""The form of a browser without script: the same touches, made from the whole form at once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import suppress

from ...forms.answers.answer import REMARK
from ...forms.answers.numbers import Unclear, number_of
from ...forms.questions.question_types import Kind
from ...forms.questions.sheet import Presentation
from ..returns.store import Store
from .seats import Seat
from .touches import LONGEST, Malformed, Touch, Value

CUP, GO, SURE = "cup", "go", "sure"
"""Fields of the form: the cup, the button, and whether blanks are meant."""


def form_touches(
    store: Store, seat: Seat, told: Mapping[str, str]
) -> tuple[list[Touch], list[str]]:
    """Read a form of one cup, or of the questions at the end (no cup).

    Returns
    -------
    list of Touch
        What differs from what stands, numbered from 1; at the end ``done`` or ``finish`` where
        that was asked for.
    list of str
        Attributes that are left blank, where it was not said that this is meant; then nothing
        is gone on from.

    Raises
    ------
    Malformed
        If no page of ours sends such a form.
    """
    name, end = told.get(CUP, ""), not told.get(CUP)
    cups = seat.cups if end else tuple(one for one in seat.cups if one.name == name)
    if not cups or any(len(text) > LONGEST for text in told.values()):
        raise Malformed
    touches: list[tuple[str, str, Value]] = []
    left: list[str] = []
    for cup in cups:
        asked = seat.asked(cup)
        for question in seat.questions(cup, end=end):
            emptied: list[tuple[str, str, Value]] = []
            given: list[tuple[str, str, Value]] = []
            for attribute in question.attributes_of(cup.codes):
                value = _value(question.kind, told.get(f"{cup.name}|{attribute}", ""))
                stands = store.at((seat.plan, seat.sheet.assessor, cup.name, attribute))
                before = stands.answer.value if stands else None
                if value is None and attribute in asked:
                    left.append(attribute)
                if value != before and (value is not None or before != 0.0):
                    (given if value is not None else emptied).append((cup.name, attribute, value))
                    if question.kind is Kind.RANKING and value is not None and before is not None:
                        emptied.append((cup.name, attribute, None))
            touches += [*emptied, *given]
            if question.key in seat.remarked(cup):
                touches += _remark(store, seat, cup, question.key + REMARK, told)
    made = list(_numbered(touches))
    if told.get(GO) != "on" or (left and told.get(SURE) != "1"):
        return made, left if told.get(GO) == "on" else []
    last = Touch(number=len(made) + 1, kind="finish" if end else "done", code=name)
    return [*made, last], []


def _remark(
    store: Store, seat: Seat, cup: Presentation, attribute: str, told: Mapping[str, str]
) -> list[tuple[str, str, Value]]:
    """Return a remark beside an answer where it is another one than stands."""
    value = _value(Kind.WORDS, told.get(f"{cup.name}|{attribute}", ""))
    stands = store.at((seat.plan, seat.sheet.assessor, cup.name, attribute))
    return [(cup.name, attribute, value)] if value != (stands and stands.answer.value) else []


def _numbered(touches: list[tuple[str, str, Value]]) -> Iterator[Touch]:
    for number, (code, attribute, value) in enumerate(touches, start=1):
        yield Touch(number=number, kind="answer", code=code, attribute=attribute, value=value)


def _value(kind: Kind, text: str) -> Value:
    """Read a field; what is no number goes on as text, which is refused where none may stand."""
    if not text.strip():
        return None
    if kind in (Kind.WORDS, Kind.CHOICE):
        return text
    with suppress(Unclear):
        return number_of(text)
    return text
