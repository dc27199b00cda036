"""What all pages of the desk share: who is let in, in which language, what is told afterwards."""

from __future__ import annotations

import asyncio
import secrets
import sqlite3
from collections import OrderedDict, defaultdict
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import TypeVar
from urllib.parse import parse_qs, quote, urlencode

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from ..base.errors import PanelError
from ..base.fault_boundary import in_words
from ..base.words import reader, say, speaking
from ..returns.guarded_pages import LinesOfRefusal, body
from . import session_pages as pages
from .acts import Done, act
from .page_names import by_pages
from .page_writer import LANGUAGES, PageOf, Told
from .shelf import SessionShelf
from .visitors import LANGUAGE, Visitors

LARGEST_FORM = 2_000_000
"""Bytes of a form without files."""
REMEMBERED = 50
"""What the last acts did, kept for the pages that tell it."""
_LONGEST = 70
"""Letters of what was asked that a line of refusal shows."""
Found = TypeVar("Found")
Handler = Callable[[Request], Awaitable[Response]]


class DeskRequests:
    """Answering requests about one folder of sessions.

    Parameters
    ----------
    folder : Path

    Raises
    ------
    InputRefused
        If the folder is no place for sessions.
    """

    def __init__(self, folder: Path) -> None:
        self.shelf = SessionShelf(folder)
        self.visitors = Visitors()
        self.lines = LinesOfRefusal()
        self._spoken = reader()
        self._one = asyncio.Lock()
        """Around what is said: the reader's language is one for the whole process."""
        self._acts: dict[str, asyncio.Lock] = defaultdict(asyncio.Lock)
        self.told: OrderedDict[str, Told] = OrderedDict()
        self.kept: OrderedDict[str, pages.Kept] = OrderedDict()

    def inside(self, handler: Handler) -> Handler:
        """Let only those in who came by the link."""

        async def known(request: Request) -> Response:
            if not self.visitors.knows(request):
                return Response(status_code=404)
            return await self.boundary(handler)(request)

        return known

    def boundary(self, handler: Handler) -> Handler:
        """Turn what the machine throws into words, and keep the language that was chosen."""

        async def bounded(request: Request) -> Response:
            try:
                answer = await handler(request)
            except (OSError, sqlite3.Error, PanelError) as fault:
                told = Told(
                    well=False, heading=say("desk.trouble", self.language(request)),
                    lines=tuple(_words(fault, self.language(request)).splitlines()),
                )  # fmt: skip
                answer = self.page(request, "trouble", told=told)
            asked = request.query_params.get("language", "")
            if asked in LANGUAGES:
                path = self.visitors.root if self.visitors.knows(request) else request.url.path
                answer.set_cookie(LANGUAGE, asked, path=path, httponly=True, samesite="strict")
            return answer

        return bounded

    def language(self, request: Request) -> str:
        """Return the language that was chosen, else the reader's."""
        asked = request.query_params.get("language", request.cookies.get(LANGUAGE, ""))
        return asked if asked in LANGUAGES else self._spoken

    def place(self, request: Request) -> Path:
        """Return the folder of the session that is asked for; nothing else is found."""
        place = self.shelf.places().get(request.path_params["session"])
        if place is None:
            raise HTTPException(404)
        return place

    def of(self, request: Request, step: str = "", told: Told | None = None) -> PageOf:
        """Say where and for whom a page is written."""
        query = {key: one for key, one in request.query_params.items() if key != "language"}
        inside = request.url.path.startswith(self.visitors.root)
        return PageOf(
            language=self.language(request),
            nonce=secrets.token_urlsafe(16),
            home=self.visitors.root if inside else "",
            path=quote(request.url.path),
            query=query,
            told=told or self.told.get(query.get("told", "")),
            session=request.path_params.get("session", ""),
            step=step,
        )

    async def shown(
        self, request: Request, step: str, write: Callable[[PageOf], str], status: int = 200
    ) -> Response:
        """Write a page in a thread, in the reader's language."""
        page = self.of(request, step)
        return html(await self.said(page.language, lambda: write(page)), page.nonce, status)

    async def said(self, language: str, work: Callable[[], Found]) -> Found:
        """Work in a thread that speaks a language."""

        def spoken() -> Found:
            with speaking(language):
                return work()

        async with self._one:
            return await asyncio.to_thread(spoken)

    def page(self, request: Request, name: str, told: Told | None = None) -> Response:
        """Write a page that has nothing but a heading and what is told."""
        page = self.of(request, told=told)
        return html(page.write("base", page.say(name)), page.nonce)

    def back(
        self, request: Request, to: str, told: Told | None, kept: pages.Kept | None = None
    ) -> Response:
        """Go to a page that tells what was done."""
        marks = {}
        if told is not None:
            self.told_line(request, told)
            marks["told"] = remember(self.told, told)
        if kept is not None:
            marks["kept"] = remember(self.kept, kept)
        own = f"{self.visitors.root}s/{quote(request.path_params.get('session', ''))}/"
        query = f"?{urlencode(marks)}" if marks else ""
        return RedirectResponse(f"{own}{to}{query}", status_code=303)

    def told_line(self, request: Request, told: Told) -> None:
        """Tell the terminal of an act that was not done."""
        if not told.well:
            why = (*told.lines[-1:], told.heading)[0]
            self.lines.tell(say("desk.not_done_line", what=_asked(request, self.visitors), why=why))

    async def form(self, request: Request) -> dict[str, str]:
        """Read the fields of a form, the first value of each."""
        return {name: values[0] for name, values in (await self.fields(request)).items()}

    async def fields(self, request: Request) -> dict[str, list[str]]:
        """Read the fields of a form with all their values."""
        content = await body(request, LARGEST_FORM)
        if content is None:
            raise HTTPException(413)
        text = content.decode("utf-8", "replace")
        try:
            return parse_qs(text, keep_blank_values=True, max_num_fields=20_000)
        except ValueError as many:
            raise HTTPException(413) from many

    async def act(self, request: Request, *words: str | Path, place: Path | None = None) -> Done:
        """Run a command, one after the other for a session."""
        async with self._acts[request.path_params.get("session", "")]:
            return await act(self.language(request), *words, place=place)

    def done(self, request: Request, done: Done, key: str) -> Told:
        """Say what a command did: why not, or that it did, with its own words to unfold."""
        language = self.language(request)
        said = self.lines_of(request, done.said)
        if done.well:
            return Told(well=True, heading=say(f"desk.done_{key}", language), more=said)
        return Told(well=False, heading=say("desk.refused", language), lines=said)

    def lines_of(self, request: Request, said: str) -> tuple[str, ...]:
        """Return what a command said, line by line, with pages for what is to be typed."""
        place = self.shelf.places().get(request.path_params.get("session", ""))
        if place is not None:
            said = by_pages(said, place, self.language(request))
        return tuple(line for line in said.splitlines() if line.strip())

    def refused(self, request: Request, status: int) -> None:
        """Tell the terminal of a request that is answered with 400 and above."""
        what = _asked(request, self.visitors)
        self.lines.tell(say("desk.refused_line", status=status, what=what))


def remember(store: OrderedDict[str, Found], one: Found) -> str:
    """Keep something for the page that follows; return how it asks for it."""
    key = secrets.token_urlsafe(9)
    store[key] = one
    while len(store) > REMEMBERED:
        store.popitem(last=False)
    return key


def _words(fault: Exception, language: str) -> str:
    sentence = fault.sentence if isinstance(fault, PanelError) else in_words(fault)
    return sentence.to(language)


def html(page: str, nonce: str, status: int = 200) -> Response:
    """Hand a page out that may load nothing from elsewhere."""
    return Response(
        page,
        status,
        media_type="text/html",
        headers={
            "Content-Security-Policy": f"default-src 'none'; style-src 'nonce-{nonce}'; "
            f"script-src 'nonce-{nonce}'; img-src 'self' data:; frame-src 'self'; "
            "form-action 'self' http://127.0.0.1:*; base-uri 'none'; frame-ancestors 'none'"
        },
    )


def _asked(request: Request, visitors: Visitors) -> str:
    """Say what was asked for, without any part of a link that is secret."""
    path = quote(request.url.path)
    inside = path.removeprefix(visitors.root)
    if inside == path or inside.startswith("enter/"):
        inside = "…"
    return f"{request.method} {inside[:_LONGEST]}"
