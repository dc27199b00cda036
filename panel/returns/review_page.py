"""The pages on which a person looks at what was read from pictures, and at uncertain marks.

Choices have the keys 1 to 9. `review_server` serves it to this machine alone.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from importlib.resources import files
from typing import TYPE_CHECKING

from ...forms.answers.answer import said_place
from ...forms.questions.sheet import sheet_with
from ...forms.questions.words import say as forms_say
from ..base.words import say
from .open_marks import decide, decisions, left_open, mark, waiting

if TYPE_CHECKING:
    from ...forms.answers.uncertain_marks import Uncertain
    from ...forms.photo.page_view import PageView
    from ..plan.open_plan import OpenPlan
    from .page_names import Nameless, PageNames
    from .page_round import PageRound
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
    pages : PageRound, optional
        The pages of pictures, which are shown before the marks.
    names : PageNames, optional
        The pages whose code could not be read; what they are is asked before all else.
    again : list of int
        Marks that were left open before and are asked once more, after those that wait.
    """

    store: Store
    plan: OpenPlan
    decided_by: str
    language: str
    skipped: list[int] = field(default_factory=list)
    pages: PageRound | None = None
    names: PageNames | None = None
    again: list[int] = field(default_factory=list)

    def nameless(self) -> Nameless | None:
        """Return the page of which is asked now what page it is, None if there is none."""
        return self.names.next() if self.names else None

    def ended(self) -> bool:
        """Tell whether nothing is left to look at."""
        return self.nameless() is None and self.view() is None and self.next() is None

    def which(self, one: Nameless, trouble: str = "", *, nonce: str = "") -> str:
        """Write the page that asks which page a picture shows.

        Parameters
        ----------
        one : Nameless
        trouble : str
            What was wrong with what was said.
        nonce : str
            By which the page's own style is let through.
        """
        return self._write(
            "which_page.html",
            ("which_heading", "which_how", "which_name", "which_label", "which_cover",
             "skip", "which_again"),
            one=one,
            sheets=self.names.pages() if self.names else [],
            where=", ".join(
                part for part in (one.name, said_place(one.page.place, self.language)) if part
            ),
            trouble=trouble,
            nonce=nonce,
        )  # fmt: skip

    def view(self) -> PageView | None:
        """Return the page of a picture that is shown now, None if the marks are next."""
        return self.pages.page() if self.pages else None

    def turn(self, way: str) -> None:
        """Go to the ``next`` page, ``back`` to the one before, or ``end`` the pages."""
        if self.pages is None:
            return
        if way == "end":
            self.pages.end()
        elif way == "next":
            self.pages.turn()
        elif way == "back":
            self.pages.at = max(0, self.pages.at - 1)

    def whole(self, view: PageView, *, nonce: str = "") -> str:
        """Write the page that shows a picture as it was read, with what stands drawn on it.

        Parameters
        ----------
        view : PageView
        nonce : str
            By which the page's own style is let through.
        """
        card = sheet_with(self.plan.sheets, view.assessor, view.code).scorecard
        drawn = self.pages.drawn(view) if self.pages else []
        return self._write(
            "page_view.html",
            ("page_heading", "page_how", "page_large", "page_next", "page_back", "page_end"),
            number=self.pages.at if self.pages else 0,
            size=view.size,
            drawn=[(one, card.name(one.attribute, self.language)) for one in drawn],
            title=say("review.page_title", self.language, code=view.code, assessor=view.assessor),
            nonce=nonce,
        )

    def asked(self) -> list[int]:
        """Return the numbers of the marks that this round still asks for."""
        open_ones = waiting(self.store)
        if not self.again:
            return open_ones
        still = set(left_open(self.store))
        return open_ones + [one for one in self.again if one in still and one not in open_ones]

    def next(self) -> int | None:
        """Return the number of the mark that is shown next, None if all are decided."""
        open_ones = self.asked()
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
        self.again = [one for one in self.again if one != number]
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
        found = None if number is None else mark(self.store, number)
        return self._write(
            "review.html",
            (
                "heading", "done", "skip", "save", "back", "open", "type_number", "type_words",
                "keys", "close", "as_it_was",
            ),
            found=found,
            number=number,
            title=self.title(found) if found else "",
            reason=self.reason(found) if found else "",
            where=f"{found.file}, {said_place(found.place, self.language)}" if found else "",
            last=self.last(),
            open_still=say("review.open_still", self.language, n=n)
            if found is None and (n := len(left_open(self.store)))
            else "",
            trouble=trouble,
            nonce=nonce,
            state="" if number is None else self.state(number),
        )  # fmt: skip

    def _write(self, name: str, words: tuple[str, ...], **values: object) -> str:
        from jinja2 import Environment

        source = files(__package__).joinpath(name).read_text("utf-8")
        return (
            Environment(autoescape=True)
            .from_string(source)
            .render(
                language=self.language,
                w={word: say(f"review.{word}", self.language) for word in words},
                left=say("review.left", self.language, n=len(self.asked())),
                by=say("review.by_whom", self.language, who=self.decided_by),
                **values,
            )
        )
