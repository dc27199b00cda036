"""The page on which a person looks at uncertain marks, one by one, in a browser.

Choices have the keys 1 to 9. `review_server` serves it to this machine alone.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from importlib.resources import files
from typing import TYPE_CHECKING

from ...forms.questions.sheet import sheet_with
from ...forms.questions.words import say as forms_say
from ..base.words import say
from .open_marks import decide, decisions, mark, waiting

if TYPE_CHECKING:
    from ...forms.answers.uncertain_marks import Uncertain
    from ..plan.open_plan import OpenPlan
    from .store import Store


@dataclass
class Review:
    """One person's round of looking.

    Attributes
    ----------
    store : Store
    plan : OpenPlan
    decided_by : str
    language : str
    skipped : list of int
        Marks that were put off in this round; they come last.
    """

    store: Store
    plan: OpenPlan
    decided_by: str
    language: str
    skipped: list[int] = field(default_factory=list)

    def next(self) -> int | None:
        """Return the number of the mark that is shown next, None if all are decided."""
        open_ones = waiting(self.store)
        first = [number for number in open_ones if number not in self.skipped]
        return next(iter(first or open_ones), None)

    def last(self) -> int | None:
        """Return the number of the mark that was decided last."""
        made = decisions(self.store)
        return made[-1].number if made else None

    def title(self, found: Uncertain) -> str:
        """Name what is asked: the question as it is printed, the cup, the assessor."""
        card = sheet_with(self.plan.sheets, found.assessor, found.code).scorecard
        name = card.name(found.attribute, self.language)
        owner = card.owner(found.attribute)
        if owner.label.to(self.language) != name:
            name = f"{owner.label.to(self.language)}: {name}"
        return say(
            "review.title", self.language, name=name, code=found.code, assessor=found.assessor
        )

    def reason(self, found: Uncertain) -> str:
        """Say why a person is asked."""
        return forms_say(f"paper.reason_{found.reason}", self.language)

    def state(self, number: int) -> str:
        """Tell how a mark stands, so that a page that is out of date is noticed."""
        made = sum(one.number == number for one in decisions(self.store))
        return f"{made}{'w' if number in waiting(self.store) else 'a'}"

    def answer(self, number: int, given: str, typed: str, state: str | None = None) -> str:
        """Take what a person chose or typed; return what is wrong with it, or nothing.

        Parameters
        ----------
        number : int
        given : str
            ``skip``, ``open``, ``type``, or the place of a choice from 1.
        typed : str
            A number on the line, or words.
        state : str, optional
            What `state` told when the page was made.
        """
        found = mark(self.store, number)
        if found is None:
            return say("review.gone", self.language)
        if state is not None and state != self.state(number):
            return say("review.meanwhile", self.language)
        if given == "skip":
            self.skipped = [one for one in self.skipped if one != number] + [number]
            return ""
        value: float | str | None
        if given == "open":
            value = None
        elif given == "type":
            try:
                value = typed.strip() if found.reason == "words" else float(typed.replace(",", "."))
            except ValueError:
                return say("review.bad_number", self.language, low=found.low, high=found.high)
        elif given.isdecimal() and len(given) < 4 and 1 <= int(given) <= len(found.choices):
            value = found.choices[int(given) - 1].value
        else:
            return say("review.bad_choice", self.language)
        try:
            decide(self.store, number, value, decided_by=self.decided_by)
        except ValueError:
            return say("review.bad_number", self.language, low=found.low, high=found.high)
        return ""

    def page(self, number: int | None, trouble: str = "", *, nonce: str = "") -> str:
        """Write the page of one mark, or the one that says that all is done.

        Parameters
        ----------
        number : int or None
        trouble : str
            What was wrong with what was sent.
        nonce : str
            By which the page's own style and script are let through.
        """
        from jinja2 import Environment

        source = files(__package__).joinpath("review.html").read_text("utf-8")
        template = Environment(autoescape=True).from_string(source)
        found = None if number is None else mark(self.store, number)
        words = {
            name: say(f"review.{name}", self.language)
            for name in (
                "heading", "done", "skip", "save", "back", "open", "type_number", "type_words",
                "keys", "close",
            )
        }  # fmt: skip
        return template.render(
            language=self.language,
            w=words,
            found=found,
            number=number,
            title=self.title(found) if found else "",
            reason=self.reason(found) if found else "",
            where=f"{found.file}, {found.place}" if found else "",
            left=say("review.left", self.language, n=len(waiting(self.store))),
            by=say("review.by_whom", self.language, who=self.decided_by),
            last=self.last(),
            trouble=trouble,
            nonce=nonce,
            state="" if number is None else self.state(number),
        )
