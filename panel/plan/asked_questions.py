"""What the sheets of a plan are made from, kept with it, so that they can be made again.

Settings may be edited after printing; a sheet that comes back is read as it was printed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from ...forms.questions.cards import EARLIER
from ...forms.questions.hidden_codes import beneath_question, place_name
from ...forms.questions.question_types import Scorecard
from ...forms.questions.scorecard import change
from ...forms.questions.sheet import BENEATH, Presentation, Sheet
from ...forms.questions.timed_part import TimedPart
from ...forms.questions.words import languages, say
from ..session.methods import METHODS, Method
from ..session.roster import Assessor
from ..session.session import Session
from ..session.set_settings import SetTest
from ..session.settings import Questions
from .pours import Pour
from .secret_draw import Draw
from .serving_orders import nearly_balanced

_WISHES = ("drop", "add", "words", "faults")


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """Questions, heading and serving of a plan, without a word about a bottle.

    Attributes
    ----------
    content : dict
        Plain values: session, title, date, method, attribute, ties, questions,
        appearance, masking, rest_minutes; edition of the cards after the first; timed, where
        the time in the mouth is followed.
    scorecard : Scorecard
    """

    content: dict[str, Any]
    scorecard: Scorecard

    @classmethod
    def of(cls, session: Session) -> Asked:
        """Return what a session asks."""
        settings = session.settings
        questions = settings.questions.model_dump(mode="json")
        content = {
            "session": settings.name,
            "title": settings.title,
            "date": settings.date.isoformat(),
            "method": settings.method,
            "attribute": settings.test.attribute,
            "ties": settings.test.ties,
            "questions": {name: questions[name] for name in _WISHES},
            **_chosen(settings.questions),
            "appearance": settings.serving.appearance,
            "masking": settings.serving.masking,
            "rest_minutes": settings.serving.rest_minutes,
            **({"edition": session.edition} if session.edition > 1 else {}),
            **({"alone": True} if settings.serving.alone else {}),
            **({"timed": session.timed.plain()} if session.timed else {}),
        }
        return cls(content=content, scorecard=_with_beneath(session.scorecard, content))

    @classmethod
    def brought_back(cls, content: dict[str, Any]) -> Asked:
        """Return what an earlier plan asked."""
        test = SetTest(attribute=content["attribute"], ties=content["ties"])
        named, options = content.get("card", EARLIER), content.get("options", [])
        edition = content.get("edition", 1)
        card = METHODS[content["method"]].scorecard(test, named, options, edition)
        card, _ = change(card, **content["questions"])
        return cls(content=content, scorecard=_with_beneath(card, content))

    def with_word_orders(self, assessors: Sequence[Assessor], draw: Draw) -> Asked:
        """Give each assessor the words of the timed part in an order of their own, by lot.

        Each word stands as often at each place, and behind each other word, as numbers allow.
        """
        part = self.timed
        if part is None or not part.words:
            return self
        keys = draw.shuffled(part.keys, "words")
        rows = nearly_balanced(len(keys), [len(assessors)], draw.seed("orders of words"))
        given = draw.shuffled([tuple(keys[place] for place in row) for row in rows], "who")
        orders = tuple((one.code, row) for one, row in zip(assessors, given, strict=True))
        made = replace(part, orders=orders).plain()
        return replace(self, content={**self.content, "timed": made})

    @property
    def timed(self) -> TimedPart | None:
        """What is asked while a sip is in the mouth; None where nothing is."""
        made = self.content.get("timed")
        return TimedPart.brought_back(made) if made else None

    @property
    def method(self) -> Method:
        """The method of the session."""
        return METHODS[self.content["method"]]

    @property
    def appearance_keys(self) -> tuple[str, ...]:
        """Questions about appearance."""
        return tuple(one.key for one in self.scorecard if one.section == "appearance")


def _with_beneath(card: Scorecard, content: dict[str, Any]) -> Scorecard:
    """Ask for the codes under the cups too, where one person pours and tastes."""
    return Scorecard((*card, beneath_question())) if content.get("alone") else card


def _chosen(questions: Questions) -> dict[str, Any]:
    """Return card and options, where a session chose: earlier plans hold neither."""
    if questions.card == EARLIER:
        return {}
    return {"card": questions.card, "options": list(questions.options)}


def sheets(
    asked: Asked, assessors: Sequence[Assessor], pours: Sequence[Pour], number: int
) -> tuple[Sheet, ...]:
    """Make the sheets of a plan; they get codes and questions, never a bottle.

    Parameters
    ----------
    asked : Asked
    assessors : sequence of Assessor
    pours : sequence of Pour
        In serving order of each assessor.
    number : int
        Version of the plan, which the sheets say; 0 for plans from before versions.
    """
    content = asked.content
    appearance, timed = asked.appearance_keys, asked.timed
    apart = {BENEATH} | (set() if content["appearance"] == "with" else set(appearance))
    blind = tuple(key for key in asked.scorecard.keys if key not in apart)
    made = []
    for one in assessors:
        own = [pour for pour in pours if pour.assessor == one.code]
        if asked.method.shows_reference:
            own = [pour for pour in own if pour.counted]  # A is shown openly, without a question
        presentations = []
        flight = own[0].flight if own else 0
        for place in dict.fromkeys(pour.presentation for pour in own):
            cups = [pour for pour in own if pour.presentation == place]
            rest = content["rest_minutes"] if cups[0].flight > max(flight, 1) else 0
            flight = cups[0].flight
            presentations.append(
                Presentation(
                    number=place,
                    flight=flight,
                    codes=tuple(pour.code for pour in cups),
                    asked=blind if cups[0].tasted else appearance,
                    counted=cups[0].counted,
                    rest_before=rest,
                    timed=timed is not None and cups[0].tasted,
                )
            )
        if content.get("alone"):
            presentations = _in_rows(presentations, number)
        made.append(
            Sheet(
                session=content["session"],
                title=_title(content, one.language),
                assessor=one.code,
                language=one.language,
                date=content["date"],
                presentations=tuple(presentations),
                scorecard=asked.scorecard,
                notes=_sheet_notes(asked),
                spare=one.spare,
                plan=number,
                timed=timed.of(one.code) if timed else None,
            )
        )
    return tuple(made)


def _title(content: dict[str, Any], language: str) -> str:
    """Return the heading of a sheet: that of the template, untouched, in the reader's language."""
    title = str(content["title"])
    known = {say("sheet.default_title", one) for one in languages()}
    if content.get("edition", 1) > 1 and title in known:
        return say("sheet.default_title", language)
    return title


def _in_rows(planned: Sequence[Presentation], number: int) -> list[Presentation]:
    """Name cups by their place in the row of their flight, and ask at its end for the codes."""
    made = []
    for flight in dict.fromkeys(one.flight for one in planned):
        own = [one for one in planned if one.flight == flight]
        row = [one for one in own if one.counted]
        made += [one for one in own if not one.counted]  # a warm-up is known and bears its code
        made += [
            replace(one, codes=(place_name(flight, place, number),))
            for place, one in enumerate(row, start=1)
        ]
        if row:
            codes = tuple(sorted(code for one in row for code in one.codes))
            beneath = replace(row[-1], codes=codes, asked=(BENEATH,), rest_before=0, timed=False)
            made.append(beneath)
    return made


def _sheet_notes(asked: Asked) -> tuple[str, ...]:
    content = asked.content
    notes = [f"note_{content['masking'].replace('-', '_')}"]
    if content["appearance"] == "flight" and asked.appearance_keys:
        notes.append("note_appearance_flight")
    if asked.method.shows_reference:
        notes.append("note_a_first")
    if asked.method.right is not None and not content["ties"]:
        notes.append("note_guess")
    return tuple(notes)
