"""A score sheet as a description; paper, spreadsheet and page are written from it.

A sheet knows codes and questions and never what is in a cup, but for the sheets of an open
flight: there the names of the bottles stand in place of codes.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from .question_types import Question, Scorecard
from .timed_part import TimedPart
from .words import say

BENEATH = "beneath"
"""The question where each code stood, asked of one person alone when the cups are turned over."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Presentation:
    """What is judged at one go: one coded cup, or a set of cups that belong together.

    Attributes
    ----------
    number : int
        Place in the serving order from 1; 0 for the warm-up.
    flight : int
        Flight from 1; 0 for the warm-up.
    codes : tuple of str
        Blind codes in the order they are to be tasted; several for a set test.
    asked : tuple of str
        Keys of the questions that are asked here.
    counted : bool
        False for the warm-up: it is asked, kept, and left out of every result.
    rest_before : int
        Minutes of rest before it; 0 for none.
    timed : bool
        Whether the time in the mouth is followed here, on a telephone.
    """

    number: int
    flight: int
    codes: tuple[str, ...]
    asked: tuple[str, ...]
    counted: bool = True
    rest_before: int = 0
    timed: bool = False

    @property
    def name(self) -> str:
        """The name its answers are filed under: its code, or its codes joined."""
        return "-".join(self.codes)

    @property
    def beneath(self) -> bool:
        """Whether nothing is tasted here: the cups of a row are turned over and told apart."""
        return BENEATH in self.asked


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """All that one assessor is asked in one session.

    Attributes
    ----------
    session : str
        Short name of the session: letters, digits, hyphens; it names no bottle.
    title : str
        What stands at the head of the sheet; must not tell anything of the bottles.
    assessor : str
        The assessor's code, never a name.
    language : str
    date : str
        ISO date of the session.
    presentations : tuple of Presentation
    scorecard : Scorecard
    notes : tuple of str
        Catalogue keys (topic ``sheet``) of hints to print, e.g. how colour is masked.
    spare : bool
        Whether it waits for somebody who comes late.
    plan : int
        Version of the plan that it belongs to; 0 for sheets from before versions.
    named : bool
        Whether it is of the open flight: its codes are the names of the bottles.
    timed : TimedPart or None
        What is asked while a sip is in the mouth, the words in this assessor's order.
    """

    session: str
    title: str
    assessor: str
    language: str
    date: str
    presentations: tuple[Presentation, ...]
    scorecard: Scorecard
    notes: tuple[str, ...] = ()
    spare: bool = False
    plan: int = 0
    named: bool = False
    timed: TimedPart | None = None

    @property
    def cups(self) -> int:
        """How many cups or sets are judged and counted."""
        return sum(one.counted and not one.beneath for one in self.presentations)

    @property
    def alone(self) -> bool:
        """Whether one person alone pours and tastes: cups stand in a row, codes beneath them."""
        return any(one.beneath for one in self.presentations)

    def row(self, presentation: Presentation) -> tuple[Presentation, ...]:
        """Return the cups that stand in a row with a presentation: those of its flight."""
        return tuple(
            one
            for one in self.presentations
            if one.flight == presentation.flight and one.counted and not one.beneath
        )

    @property
    def fingerprint(self) -> str:
        """Eight hexadecimal digits that change with plan, codes, order or questions."""
        content = [self.session, self.assessor, *([f"plan {self.plan}"] if self.plan else [])]
        content += ["named"] if self.named else []
        for presentation in self.presentations:
            content += [str(presentation.number), presentation.name, *presentation.asked]
        for question in self.scorecard:
            content += [question.key, question.kind, *question.attributes]
            content += [f"{question.low:g}", f"{question.high:g}"]
        content += self.timed.content if self.timed else ()
        return hashlib.sha256("\x1f".join(content).encode()).hexdigest()[:8]

    def flight_name(self, presentation: Presentation) -> str:
        """Write which flight a presentation is of."""
        if self.named:
            return say("sheet.flight_named", self.language)
        return say("sheet.flight", self.language, flight=presentation.flight)

    def rest_before(self, presentation: Presentation) -> str:
        """Write the rest before a presentation, water and bread where it is tasted; or nothing."""
        if not presentation.rest_before:
            return ""
        looked_at = all(one.section == "appearance" for one in self.questions(presentation))
        key = "sheet.rest_looking" if looked_at else "sheet.rest"
        return say(key, self.language, minutes=presentation.rest_before)

    def questions(self, presentation: Presentation) -> tuple[Question, ...]:
        """Return the questions asked at one presentation, in the scorecard's order."""
        return tuple(question for question in self.scorecard if question.key in presentation.asked)

    def presentation(self, name: str) -> Presentation | None:
        """Return the presentation filed under `name` (a code, or codes joined by hyphens)."""
        for presentation in self.presentations:
            if presentation.name == name:
                return presentation
        return None

    @property
    def cells(self) -> int:
        """How many answers a completely filled sheet holds, free words not counted."""
        return self.cells_of(self.presentations)

    def cells_of(self, presentations: Iterable[Presentation]) -> int:
        """Count the answers that some presentations ask for, free words not counted."""
        return sum(
            len(question.attributes_of(presentation.codes))
            for presentation in presentations
            for question in self.questions(presentation)
            if question.kind != "words"
        )


class Sheets(dict[str, Sheet]):
    """The sheets of a session by assessor's code, with those that were printed before.

    After a new plan or a late change, sheets that are still in circulation are read
    as they were printed: a code is never dealt twice in a session, so code and
    fingerprint tell which sheet is meant.

    Attributes
    ----------
    earlier : tuple of Sheet
        Sheets of earlier plans and from before late changes, latest first.
    also : dict of (str, str) to str
        From assessor and new code to the code it stands for, where a label was replaced.
    """

    def __init__(
        self,
        current: Mapping[str, Sheet],
        earlier: Iterable[Sheet] = (),
        also: Mapping[tuple[str, str], str] | None = None,
    ) -> None:
        super().__init__(current)
        self.earlier = tuple(earlier)
        self.also = dict(also or {})


def versions(sheets: Mapping[str, Sheet], assessor: str) -> list[Sheet]:
    """Return all sheets of an assessor, the one that holds now first."""
    now = [sheets[assessor]] if assessor in sheets else []
    before = sheets.earlier if isinstance(sheets, Sheets) else ()
    return [*now, *(sheet for sheet in before if sheet.assessor == assessor)]


def printed_as(sheets: Mapping[str, Sheet], assessor: str, fingerprint: str) -> Sheet | None:
    """Return the sheet of an assessor that bears a fingerprint, or None."""
    found = (one for one in versions(sheets, assessor) if one.fingerprint == fingerprint)
    return next(found, None)


def sheet_with(sheets: Mapping[str, Sheet], assessor: str, name: str) -> Sheet:
    """Return the sheet of an assessor on which a presentation stands; else the one that holds."""
    found = (one for one in versions(sheets, assessor) if one.presentation(name) is not None)
    return next(found, None) or versions(sheets, assessor)[0]
