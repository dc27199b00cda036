"""An assessor's page: all cups of the sheet in one page, of which one is shown.

All are in it so that the network may go at any moment. Without script the cup at hand is shown
as a plain form.
"""

from __future__ import annotations

import hashlib
import time
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from itertools import accumulate
from typing import TYPE_CHECKING, Any

from ...forms.answers.answer import REMARK
from ...forms.answers.gathering import GROUPS
from ...forms.questions.question_types import Kind, Question
from ...forms.questions.set_questions import how_to
from ...forms.questions.sheet import Presentation
from ...forms.questions.timed_part import DOMINANCE, INTENSITY, TOP
from ...forms.questions.words import say as forms_say
from ..base.words import say
from .scribe import TableState
from .seats import Seat

if TYPE_CHECKING:
    from jinja2 import Template

LANGUAGES = {"en": "English", "ja": "日本語"}
_WORDS = (
    "begin", "on", "stay", "sure", "clear", "mark_none", "save", "rest_title", "rest_left",
    "rest_early", "paused", "over", "over_how", "end_title", "end_how", "others", "saved",
    "saving", "kept", "unkept", "offline", "offline_language", "shut",
    "not_taken", "differs", "script", "conflict", "refused_here", "blank_some", "remark",
)  # fmt: skip
_TIMED = (
    "title", "begin", "again_begin", "done", "broken", "no_script", "ready", "sip",
    "nothing", "spat", "swallowed", "end", "again", "over", "over_close", "slept", "close", "left",
    "running", "low", "high",
)  # fmt: skip
BEFORE_A_SIP = ("appearance", "aroma")
"""Sections that are asked before anything is in the mouth."""


@dataclass(frozen=True, slots=True)
class PageAsked:
    """How a page is asked for.

    Attributes
    ----------
    language : str
        Empty for that of the sheet.
    begun : bool
        Whether the first page, with the cautions, was read.
    left : tuple of str
        Attributes that a form left blank, of which is asked whether that is meant.
    refused : bool
        Whether something of the form was not taken.
    """

    language: str = ""
    begun: bool = False
    left: tuple[str, ...] = ()
    refused: bool = False


@cache
def template(name: str) -> Template:
    """Return a page of this folder, in which everything that is put in is text."""
    from jinja2 import Environment, FunctionLoader

    here = files(__package__)
    known = Environment(
        autoescape=True,
        loader=FunctionLoader(lambda part: here.joinpath(part).read_text("utf-8")),
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return known.get_template(name)


def seat_page(table: TableState, code: str, asked: PageAsked, nonce: str) -> str:
    """Write the page of an assessor.

    Raises
    ------
    KeyError
        If the assessor has no seat.
    """
    seat = table.seats[code]
    language = asked.language if asked.language in LANGUAGES else seat.sheet.language
    seat_sheet = replace(seat.sheet, language=language)
    stands = standing(table, seat)
    now = time.time()
    at = seat.at
    begun = asked.begun or bool(seat.closed) or bool(stands)
    stage = seat.stage if begun else "before"
    words = {word: say(f"serve.{word}", language, n="{n}") for word in _WORDS}
    names = {name: seat.sheet.scorecard.name(name, language) for name in asked.left}
    data = {
        "link": hashlib.sha256(f"{seat.sheet.session}|{code}|{_session_mark(table)}".encode())
        .hexdigest()[:16],
        "mark": seat.mark,
        "closed": [cup.name for cup in seat.cups if cup.name in seat.closed],
        "cups": [cup.name for cup in seat.cups],
        "rests": {cup.name: 60 * cup.rest_before for cup in seat.cups},
        "asked": {cup.name: seat.asked(cup) for cup in seat.cups},
        "names": {
            attribute: seat.sheet.scorecard.name(attribute, language)
            for cup in seat.cups
            for attribute in seat.asked(cup)
        },
        "end": seat.has_end,
        "finished": seat.finished,
        "stage": stage,
        "rest": round(seat.rest_left(now)),
        "paused": table.paused,
        "words": words,
        "timed": _timed_data(seat),
        "languages": [{"key": key, "name": name} for key, name in LANGUAGES.items()],
    }  # fmt: skip
    return template("seat.html").render(
        language=language,
        languages=[
            (key, name) for key, name in LANGUAGES.items() if key != language
        ],
        nonce=nonce,
        w=words,
        sheet=seat.sheet,
        assessor=code,
        stage=stage,
        at=at.name if at else "",
        timed=_timed_words(seat, language),
        begun=begun,
        data=data,
        cautions=_cautions(table, seat, language),
        how=[forms_say(key, language) for key in how_to(seat_sheet)],
        notes=[forms_say(f"sheet.{note}", language) for note in seat.sheet.notes],
        cups=[
            _cup(seat, cup, stands, language, number, end=False)
            for number, cup in numbered(seat)
        ],
        last=[
            _cup(seat, cup, stands, language, number, end=True)
            for number, cup in numbered(seat)
            if seat.questions(cup, end=True)
        ],
        left=list(names.values()),
        blank=say("serve.blank", language, n=len(names)),
        refused=asked.refused,
        shut=table.closed.sentence.to(language) if table.closed else "",
    )  # fmt: skip


def numbered(seat: Seat) -> list[tuple[int, Presentation]]:
    """Return the cups at a seat with their numbers; turning cups over is no further one."""
    numbers = accumulate(int(not cup.beneath) for cup in seat.cups)
    return list(zip(numbers, seat.cups, strict=True))


def _timed_words(seat: Seat, language: str) -> dict[str, Any]:
    """Return what the timed part of a cup says before a sip; empty where there is none."""
    asked = seat.sheet.timed
    if asked is None:
        return {}
    name = asked.intensity.label.to(language) if asked.intensity else ""
    told = {"seconds": asked.seconds, "name": name}
    return {
        "parts": [
            {
                "part": part,
                "name": part_name(seat, part, language),
                "how": say(f"timed.how_{part}", language, **told),
            }
            for part in asked.parts
        ],
        "two": say("timed.two", language, n=len(asked.parts), **told),
        "w": {word: say(f"timed.{word}", language, n="{n}") for word in _TIMED},
    }


def part_name(seat: Seat, part: str, language: str) -> str:
    """Write what is followed in a part."""
    followed = seat.sheet.timed.intensity if seat.sheet.timed else None
    return say(f"timed.name_{part}", language, name=followed.label.to(language) if followed else "")


def _timed_data(seat: Seat) -> dict[str, Any] | None:
    """Return what the script follows a sip by, in every language: it changes without loading."""
    asked = seat.sheet.timed
    if asked is None:
        return None
    return {
        "seconds": asked.seconds,
        "parts": list(asked.parts),
        "keys": {DOMINANCE: list(asked.keys), INTENSITY: []},
        "top": TOP,
        "stands": {cup.name: seat.timed(cup) for cup in seat.cups if cup.timed},
        "in": {
            language: {
                **told["w"],
                "names": {one["part"]: one["name"] for one in told["parts"]},
                "how": {one["part"]: one["how"] for one in told["parts"]},
                "labels": {one.key: one.label.to(language) for one in asked.words},
            }
            for language in LANGUAGES
            if (told := _timed_words(seat, language))
        },
    }


def _session_mark(table: TableState) -> str:
    """Return what tells sessions of one name on one telephone apart."""
    return str(table.folder.resolve())


def standing(table: TableState, seat: Seat) -> dict[tuple[str, str], float | str]:
    """Return what stands at a seat, by cup and attribute."""
    rows = table.store.database.execute(
        "SELECT code, attribute, number, text FROM answers WHERE plan = ? AND assessor = ? "
        "ORDER BY id",
        (seat.plan, seat.sheet.assessor),
    )
    found: dict[tuple[str, str], float | str] = {}
    for code, attribute, number, text in rows:
        value = number if text is None else text
        if value is None:
            found.pop((code, attribute), None)
        else:
            found[code, attribute] = value
    return found


def _cautions(table: TableState, seat: Seat, language: str) -> list[str]:
    """Say to spit, how much there is, who should not taste, and that the law comes first."""
    told = [forms_say(f"sheet.caution_{key}", language) for key in ("spit", "who", "law")]
    ml = table.pours.get(seat.sheet.assessor, 0.0)
    cups = sum(not cup.beneath for cup in seat.cups)
    amount = say("serve.amount", language, n=cups, ml=f"{ml:g}")
    return [told[0], amount, *told[1:]]


def _cup(
    seat: Seat,
    cup: Presentation,
    stands: dict[tuple[str, str], float | str],
    language: str,
    number: int,
    *,
    end: bool,
) -> dict[str, Any]:
    """Describe a cup, or what is asked of it at the end, for the page."""
    asked = seat.questions(cup, end=end)
    total = sum(not one.beneath for one in seat.cups)
    return {
        "name": cup.name,
        "codes": forms_say("sheet.beneath", language) if cup.beneath else " · ".join(cup.codes),
        "number": number,
        "total": total,
        "of": forms_say("sheet.flight", language, flight=cup.flight)
        if cup.beneath
        else forms_say("sheet.cup_of", language, number=number, total=total),
        "flight": forms_say("sheet.warm_up", language) if not cup.counted else "",
        "rest": replace(seat.sheet, language=language).rest_before(cup),
        "closed": cup.name in seat.closed,
        "timed_before": ""
        if end or not cup.timed
        else next((one.section for one in asked if one.section not in BEFORE_A_SIP), "end"),
        "sections": [
            {
                "section": section,
                "title": forms_say(f"scorecard.section_{section}", language),
                "questions": [
                    _question(one, cup, stands, language)
                    | {"remark": _remark(seat, one, cup, stands)}
                    for one in asked
                    if one.section == section
                ],
            }
            for section in dict.fromkeys(one.section for one in asked)
        ],
    }


def _remark(
    seat: Seat, question: Question, cup: Presentation, stands: dict[tuple[str, str], float | str]
) -> dict[str, Any] | None:
    """Describe the field for a remark beside an answer; None where none may stand."""
    if question.key not in seat.remarked(cup):
        return None
    attribute = question.key + REMARK
    return {
        "attribute": attribute,
        "field": f"{cup.name}|{attribute}",
        "id": f"r-{cup.name}-{question.key}",
        "value": stands.get((cup.name, attribute), ""),
    }


def _question(
    question: Question,
    cup: Presentation,
    stands: dict[tuple[str, str], float | str],
    language: str,
) -> dict[str, Any]:
    attributes = question.attributes_of(cup.codes)
    values = [stands.get((cup.name, attribute)) for attribute in attributes]
    labels: list[str] = []
    if question.kind in GROUPS:
        labels = [option.label.to(language) for option in question.options]
    if question.kind is Kind.RANKING:
        labels = list(cup.codes)
    choices: list[tuple[Any, str]] = []
    match question.kind:
        case Kind.CATEGORY | Kind.BALANCE:
            choices = [(one.value, one.label.to(language)) for one in question.options]
            if question.key == "stronger":  # where "no difference" may be said
                named = zip(choices, cup.codes, strict=False)
                choices[: len(cup.codes)] = [
                    (value, f"{code} ({label})") for (value, label), code in named
                ]
        case Kind.CHOICE:
            choices = [(code, code) for code in question.cups(cup.codes)]
        case Kind.FAULTS:
            choices = [(value, f"{value:g}") for value in question.values]
        case Kind.RANKING:
            choices = [(float(place), str(place)) for place in range(1, len(cup.codes) + 1)]
        case _:
            pass
    return {
        "kind": question.kind.value,
        "key": question.key,
        "id": f"{cup.name}-{question.key}",
        "label": question.label.to(language),
        "ask": question.ask.to(language),
        "low": question.low,
        "high": question.high,
        "low_label": question.low_label.to(language),
        "high_label": question.high_label.to(language),
        "choices": choices,
        "items": [
            {
                "attribute": attribute,
                "field": f"{cup.name}|{attribute}",
                "id": f"{cup.name}-{place}-{question.key}",
                "label": labels[place] if place < len(labels) else question.label.to(language),
                "value": value,
            }
            for place, (attribute, value) in enumerate(zip(attributes, values, strict=True))
        ],
    }
