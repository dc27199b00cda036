"""The page on which a person looks at uncertain marks, one by one, in a browser.

It is served to this machine alone, below an address with a random part, and
needs no network. Choices have the keys 1 to 9.
"""

from __future__ import annotations

import secrets
from dataclasses import dataclass, field
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, HTTPServer
from importlib.resources import files
from typing import TYPE_CHECKING, Any
from urllib.parse import parse_qs, urlsplit

from ...forms.questions.sheet import sheet_with
from ...forms.questions.words import say as forms_say
from ..base.words import say
from .open_marks import decide, decisions, mark, waiting

if TYPE_CHECKING:
    from ...forms.answers.uncertain_marks import Uncertain
    from ..plan.pours import OpenPlan
    from .store import Store

_LARGEST = 20_000  # bytes of a form


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

    def answer(self, number: int, given: str, typed: str) -> str:
        """Take what a person chose or typed; return what is wrong with it, or nothing.

        Parameters
        ----------
        number : int
        given : str
            ``skip``, ``open``, ``type``, or the place of a choice from 1.
        typed : str
            A number on the line, or words.
        """
        found = mark(self.store, number)
        if found is None:
            return say("review.gone", self.language)
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
        elif given.isdecimal() and 1 <= int(given) <= len(found.choices):
            value = found.choices[int(given) - 1].value
        else:
            return say("review.bad_choice", self.language)
        try:
            decide(self.store, number, value, decided_by=self.decided_by)
        except ValueError:
            return say("review.bad_number", self.language, low=found.low, high=found.high)
        return ""

    def page(self, number: int | None, trouble: str = "") -> str:
        """Write the page of one mark, or the one that says that all is done."""
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
        )


def serve(review: Review, port: int = 0) -> tuple[HTTPServer, str]:
    """Return a server that answers on this machine alone, and its address.

    The address holds a random part, so that no other page in the browser can
    send decisions.
    """
    secret = secrets.token_urlsafe(12)

    class Handler(BaseHTTPRequestHandler):
        """Answers for one review."""

        def do_GET(self) -> None:
            """Show a mark or its picture."""
            parts = urlsplit(self.path)
            steps = parts.path.strip("/").split("/")
            of_picture = len(steps) == 2 and steps[1].isdecimal()
            if steps[0] != secret or not (of_picture or len(steps) == 1):
                self._send(HTTPStatus.NOT_FOUND, b"", "text/plain")
            elif of_picture:
                found = mark(review.store, int(steps[1]))
                self._send(HTTPStatus.OK, found.picture if found else b"", "image/png")
            else:
                asked = parse_qs(parts.query).get("n", [""])[0]
                number = int(asked) if asked.isdecimal() else review.next()
                self._page(number, "")

        def do_POST(self) -> None:
            """Take a decision."""
            if self.path.strip("/") != secret:
                self._send(HTTPStatus.NOT_FOUND, b"", "text/plain")
                return
            length = min(int(self.headers.get("Content-Length") or 0), _LARGEST)
            form = parse_qs(self.rfile.read(length).decode("utf-8", "replace"))
            given = {name: values[0] for name, values in form.items()}
            number = int(given["number"]) if given.get("number", "").isdecimal() else 0
            trouble = review.answer(number, given.get("choice", ""), given.get("typed", ""))
            if trouble:
                self._page(number, trouble)
                return
            self.send_response(HTTPStatus.SEE_OTHER)
            self.send_header("Location", f"/{secret}/")
            self.send_header("Content-Length", "0")
            self.end_headers()

        def _page(self, number: int | None, trouble: str) -> None:
            text = review.page(number, trouble)
            self._send(HTTPStatus.OK, text.encode(), "text/html; charset=utf-8")

        def _send(self, status: HTTPStatus, content: bytes, kind: str) -> None:
            self.send_response(status)
            self.send_header("Content-Type", kind)
            self.send_header("Content-Length", str(len(content)))
            self.send_header("Cache-Control", "no-store")
            self.send_header("Referrer-Policy", "no-referrer")
            self.end_headers()
            self.wfile.write(content)

        def log_message(self, *_: Any) -> None:
            """Keep the terminal quiet."""

    server = HTTPServer(("127.0.0.1", port), Handler)
    return server, f"http://127.0.0.1:{server.server_port}/{secret}/"
