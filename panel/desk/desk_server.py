"""Serving the desk to the browser of this machine.

Below an address with a random part, to this machine's own name alone; forms from other pages are
refused, nothing from elsewhere is loaded. Needs ``kikichoko[desk]``.
"""

from __future__ import annotations

import asyncio
import secrets
import socket
import sqlite3
from collections import OrderedDict, defaultdict
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import TypeVar
from urllib.parse import parse_qs, quote, urlencode

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, RedirectResponse, Response
from starlette.routing import Route

from ..base.errors import InputRefused, PanelError
from ..base.fault_boundary import in_words
from ..base.session_log import append
from ..base.words import reader, say, speaking
from ..handouts.server_files import SERVER
from ..returns.guarded_pages import FORM, body, guarded
from ..returns.patient_protocol import patient_server
from . import session_pages as pages
from .acts import Done, act
from .cellar import FORMS, cellar_fields, cellar_words
from .page_writer import LANGUAGES, PageOf, Told
from .reviews import Reviews
from .setting_fields import AT_FIRST, given_of, setting_fields
from .shelf import REPORTED, SessionShelf, stage
from .uploads import LARGEST, MULTIPART, dropped
from .visitors import LANGUAGE, Visitors

HERE = "127.0.0.1"
LARGEST_FORM = 2_000_000
"""Bytes of a form without files."""
REMEMBERED = 50
"""What the last acts did, kept for the pages that tell it."""
REPORT_KINDS = (".html", ".xlsx", ".json", ".png", ".svg")
Found = TypeVar("Found")
Handler = Callable[[Request], Awaitable[Response]]


class DeskServer:
    """A server of one folder of sessions.

    Parameters
    ----------
    folder : Path
    port : int
        0 for any that is free.

    Raises
    ------
    InputRefused
        If the folder is no place for sessions.
    OSError
        If the port is taken.
    """

    def __init__(self, folder: Path, port: int = 0) -> None:
        self.shelf = SessionShelf(folder)
        self.visitors = Visitors()
        self._spoken = reader()
        self._one = asyncio.Lock()
        """Around what is said: the reader's language is one for the whole process."""
        self._acts: dict[str, asyncio.Lock] = defaultdict(asyncio.Lock)
        self._told: OrderedDict[str, Told] = OrderedDict()
        self._kept: OrderedDict[str, pages.Kept] = OrderedDict()
        self._reviews = Reviews()
        self._socket = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        self._socket.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            self._socket.bind((HERE, port))
            self._socket.listen(256)
        except BaseException:
            self._socket.close()
            raise
        self.host = f"{HERE}:{self._socket.getsockname()[1]}"
        self.address = f"http://{self.host}{self.visitors.entry}"
        application = Starlette(routes=self._routes())
        kinds = {FORM: LARGEST_FORM, MULTIPART: LARGEST}
        self._server = patient_server(guarded(application, {self.host}, kinds))

    def run(self, ready: Callable[[], None] = lambda: None) -> None:
        """Serve until `stop` is called or the person stops it (Ctrl-C)."""
        with self._socket:
            ready()
            try:
                self._server.run(sockets=[self._socket])
            finally:
                self._reviews.end()

    def stop(self) -> None:
        """Let `run` end."""
        self._server.should_exit = True

    def _routes(self) -> list[Route]:
        root = self.visitors.root
        own = root + "s/{session}/"
        shown: dict[str, tuple[Handler, Handler | None]] = {
            root: (self._shelf, None),
            f"{root}new": (self._new, self._make),
            f"{root}cellar": (self._cellar, None),
            own: (self._session, None),
            f"{own}settings": (self._settings, self._save_settings),
            f"{own}bottles": (self._table, self._save_table),
            f"{own}assessors": (self._table, self._save_table),
            f"{own}plan": (self._plan, self._do_plan),
            f"{own}sheets": (self._sheets, self._do_sheets),
            f"{own}returns": (self._returns, self._read),
            f"{own}open": (self._open, self._report),
        }
        routes = [Route(f"{root}enter/{{secret}}", self._enter, methods=["GET"])]
        for path, (show, do) in shown.items():
            routes.append(Route(path, self._inside(show), methods=["GET"]))
            if do is not None:
                routes.append(Route(path, self._inside(do), methods=["POST"]))
        acts = {"settle": self._settle, "review": self._review, "unblind": self._unblind}
        for name, do in acts.items():
            routes.append(Route(f"{own}{name}", self._inside(do), methods=["POST"]))
        routes += [
            Route(f"{own}file/{{part}}/{{name}}", self._inside(self._file), methods=["GET"]),
            Route(f"{own}report/{{name:path}}", self._inside(self._report_file), methods=["GET"]),
            Route("/pour/{secret}/", self._boundary(self._who), methods=["GET"]),
            Route("/pour/{secret}/", self._boundary(self._look), methods=["POST"]),
            Route("/pour/{secret}/{look}/", self._boundary(self._pours), methods=["GET"]),
            Route("/pour/{secret}/{look}/{name}", self._boundary(self._pour_file), methods=["GET"]),
        ]
        return routes

    # Who is let in, in which language, and what a page is given.

    async def _enter(self, request: Request) -> Response:
        return self.visitors.enter(request.path_params["secret"])

    def _inside(self, handler: Handler) -> Handler:
        """Let only those in who came by the link."""

        async def known(request: Request) -> Response:
            if not self.visitors.knows(request):
                return Response(status_code=404)
            return await self._boundary(handler)(request)

        return known

    def _boundary(self, handler: Handler) -> Handler:
        """Turn what the machine throws into words, and keep the language that was chosen."""

        async def bounded(request: Request) -> Response:
            try:
                answer = await handler(request)
            except (OSError, sqlite3.Error, PanelError) as fault:
                told = Told(
                    well=False, heading=say("desk.trouble", self._language(request)),
                    lines=tuple(_words(fault, self._language(request)).splitlines()),
                )  # fmt: skip
                answer = self._page(request, "trouble", told=told)
            asked = request.query_params.get("language", "")
            if asked in LANGUAGES:
                path = self.visitors.root if self.visitors.knows(request) else request.url.path
                answer.set_cookie(LANGUAGE, asked, path=path, httponly=True, samesite="strict")
            return answer

        return bounded

    def _language(self, request: Request) -> str:
        asked = request.query_params.get("language", request.cookies.get(LANGUAGE, ""))
        return asked if asked in LANGUAGES else self._spoken

    def _place(self, request: Request) -> Path:
        """Return the folder of the session that is asked for; nothing else is found."""
        place = self.shelf.places().get(request.path_params["session"])
        if place is None:
            raise HTTPException(404)
        return place

    def _of(self, request: Request, step: str = "", told: Told | None = None) -> PageOf:
        query = {key: one for key, one in request.query_params.items() if key != "language"}
        inside = request.url.path.startswith(self.visitors.root)
        return PageOf(
            language=self._language(request),
            nonce=secrets.token_urlsafe(16),
            home=self.visitors.root if inside else "",
            path=quote(request.url.path),
            query=query,
            told=told or self._told.get(query.get("told", "")),
            session=request.path_params.get("session", ""),
            step=step,
        )

    async def _shown(
        self, request: Request, step: str, write: Callable[[PageOf], str], status: int = 200
    ) -> Response:
        """Write a page in a thread, in the reader's language."""
        page = self._of(request, step)
        return _html(await self._said(page.language, lambda: write(page)), page.nonce, status)

    async def _said(self, language: str, work: Callable[[], Found]) -> Found:
        def spoken() -> Found:
            with speaking(language):
                return work()

        async with self._one:
            return await asyncio.to_thread(spoken)

    def _page(self, request: Request, name: str, told: Told | None = None) -> Response:
        page = self._of(request, told=told)
        return _html(page.write("base", page.say(name)), page.nonce)

    def _back(
        self, request: Request, to: str, told: Told | None, kept: pages.Kept | None = None
    ) -> Response:
        """Go to a page that tells what was done."""
        marks = {}
        if told is not None:
            marks["told"] = _remember(self._told, told)
        if kept is not None:
            marks["kept"] = _remember(self._kept, kept)
        own = f"{self.visitors.root}s/{quote(request.path_params.get('session', ''))}/"
        query = f"?{urlencode(marks)}" if marks else ""
        return RedirectResponse(f"{own}{to}{query}", status_code=303)

    async def _form(self, request: Request) -> dict[str, str]:
        content = await body(request, LARGEST_FORM)
        if content is None:
            raise HTTPException(413)
        text = content.decode("utf-8", "replace")
        try:
            told = parse_qs(text, keep_blank_values=True, max_num_fields=20_000)
        except ValueError as many:
            raise HTTPException(413) from many
        return {name: values[0] for name, values in told.items()}

    async def _act(self, request: Request, *words: str | Path) -> Done:
        """Run a command, one after the other for a session."""
        async with self._acts[request.path_params.get("session", "")]:
            return await act(self._language(request), *words)

    def _done(self, request: Request, done: Done, key: str) -> Told:
        """Say what a command did: why not, or that it did, with its own words to unfold."""
        language = self._language(request)
        said = tuple(line for line in done.said.splitlines() if line.strip())
        if done.well:
            return Told(well=True, heading=say(f"desk.done_{key}", language), more=said)
        return Told(well=False, heading=say("desk.refused", language), lines=said)

    # The folder.

    async def _shelf(self, request: Request) -> Response:
        def write(page: PageOf) -> str:
            return page.write(
                "shelf", page.say("title"), sessions=self.shelf.sessions(), folder=self.shelf.folder
            )

        return await self._shown(request, "", write)

    async def _new(self, request: Request) -> Response:
        def write(page: PageOf) -> str:
            fields = setting_fields(page.language, AT_FIRST)
            return page.write("new", page.say("new"), fields=fields, values=pages.at_first(fields))

        return await self._shown(request, "", write)

    async def _make(self, request: Request) -> Response:
        form = await self._form(request)
        language = self._language(request)
        name = form.get("folder", "").strip()
        trouble = ""
        try:
            place = self.shelf.free(name)
        except InputRefused as refusal:
            trouble = refusal.sentence.to(language)
        else:
            card = form.get("questions.card", "full")
            done = await self._act(request, "new", "--card", card, "--", place)
            trouble = "" if done.well else done.said
        if trouble:
            told = Told(well=False, heading=say("desk.refused", language), lines=(trouble,))
            page = self._of(request, told=told)
            fields = setting_fields(language, AT_FIRST)
            return _html(page.write("new", page.say("new"), fields=fields, values=form), page.nonce)
        fields = setting_fields(language, AT_FIRST)
        given = given_of(fields, form)
        await self._said(language, lambda: pages.change_settings(place, given))
        request.path_params["session"] = name
        told = Told(well=True, heading=say("desk.done_new", language))
        return self._back(request, "bottles", told)

    async def _cellar(self, request: Request) -> Response:
        """Show the forms of the cellar, and what the command says to the one that was filled."""
        given, language = dict(request.query_params), self._language(request)
        form = given.get("form", "")
        told, printed = None, ""
        if form in FORMS:
            done = await act(language, *cellar_words(form, given))
            printed = done.printed
            if done.code:
                lines = tuple(line for line in done.said.splitlines() if line.strip())
                told = Told(well=False, heading=say("desk.refused", language), lines=lines)
        page = self._of(request, told=told)
        forms = [(key, cellar_fields(key, language)) for key in FORMS]
        return _html(
            page.write(
                "cellar", page.say("cellar"), form=form, forms=forms, values=given, printed=printed
            ),
            page.nonce,
        )

    # A session, step by step.

    async def _session(self, request: Request) -> Response:
        after = {"new": "settings", "planned": "sheets", "answers": "returns", "reported": "open"}
        return self._back(request, after[stage(self._place(request))], None)

    async def _settings(self, request: Request) -> Response:
        place, kept = self._place(request), self._typed(request)
        return await self._shown(
            request, "settings", lambda page: pages.settings_page(page, place, kept)
        )

    def _typed(self, request: Request) -> pages.Kept:
        return self._kept.get(request.query_params.get("kept", ""), pages.Kept())

    async def _save_settings(self, request: Request) -> Response:
        place, form = self._place(request), await self._form(request)
        language = self._language(request)
        try:
            await self._said(language, lambda: pages.save_settings(place, form))
        except pages.ChangedError:
            kept = pages.Kept(text=form.get("text", ""))
            return self._back(request, "settings", self._meanwhile(request), kept)
        except ValueError:
            told = Told(well=False, heading=say("desk.by_text", language))
            return self._back(request, "settings", told)
        return self._back(request, "settings", self._saved(request, place))

    def _meanwhile(self, request: Request) -> Told:
        language = self._language(request)
        return Told(
            well=False, heading=say("desk.meanwhile", language),
            lines=(say("desk.meanwhile_how", language),),
        )  # fmt: skip

    def _saved(self, request: Request, place: Path) -> Told:
        language = self._language(request)
        with speaking(language):
            faults = pages.faults(place)
        lines = (say("desk.faults_left", language, n=faults),) if faults else ()
        return Told(well=True, heading=say("desk.done_save", language), lines=lines)

    async def _table(self, request: Request) -> Response:
        place, kept, stem = self._place(request), self._typed(request), _step(request)
        return await self._shown(
            request, stem, lambda page: pages.table_page(page, place, stem, kept)
        )

    async def _save_table(self, request: Request) -> Response:
        place, form, stem = self._place(request), await self._form(request), _step(request)
        language = self._language(request)
        try:
            await self._said(language, lambda: pages.save_table(place, stem, form))
        except pages.ChangedError:
            kept = pages.kept_rows(place, stem, form)
            return self._back(request, stem, self._meanwhile(request), kept)
        return self._back(request, stem, self._saved(request, place))

    async def _plan(self, request: Request) -> Response:
        place = self._place(request)
        return await self._shown(request, "plan", lambda page: pages.plan_page(page, place))

    async def _do_plan(self, request: Request) -> Response:
        place, form = self._place(request), await self._form(request)
        again = ["--again"] if form.get("again") else []
        done = await self._act(request, "plan", *again, "--", place)
        told = self._done(request, done, "plan")
        return self._back(request, "sheets" if done.well else "plan", told)

    async def _sheets(self, request: Request) -> Response:
        place = self._place(request)
        link = f"http://{self.host}{self.visitors.server_path(place.name)}"
        return await self._shown(
            request, "sheets", lambda page: pages.sheets_page(page, place, link)
        )

    async def _do_sheets(self, request: Request) -> Response:
        place, form = self._place(request), await self._form(request)
        paper = form.get("paper", "A4")
        done = await self._act(request, "sheets", "--paper", paper, "--", place)
        return self._back(request, "sheets", self._done(request, done, "sheets"))

    async def _file(self, request: Request) -> Response:
        wanted = (request.path_params["part"], request.path_params["name"])
        return _taken(pages.handed_out(self._place(request)).get(wanted))

    async def _returns(self, request: Request) -> Response:
        place = self._place(request)
        return await self._shown(request, "returns", lambda page: pages.returns_page(page, place))

    async def _read(self, request: Request) -> Response:
        place = self._place(request)
        async with dropped(request) as came:
            more = ["--correct"] if came.form.get("correct") else []
            who = came.form.get("by", "").strip()
            if not came.paths:
                told = Told(well=False, heading=say("desk.no_file", self._language(request)))
                return self._back(request, "returns", told)
            done = await self._act(
                request, "read", *more, *([f"--by={who}"] if who else []), "--", place, *came.paths
            )
        label = say("read.reading", self._language(request))
        both = f"{done.said}\n{done.printed}".splitlines()
        lines = tuple(line for line in both if line and line != label)
        heading = say("desk.done_read" if done.well else "desk.refused", self._language(request))
        told = Told(well=done.well, heading=heading, lines=lines)
        return self._back(request, "returns", told)

    async def _settle(self, request: Request) -> Response:
        place, form = self._place(request), await self._form(request)
        chosen = [name.removeprefix("n-") for name in form if name.startswith("n-")]
        why = form.get("why", "").strip()
        if not all(one.isdecimal() and len(one) < 10 for one in chosen):
            raise HTTPException(400)
        if not chosen or not why:
            told = Told(well=False, heading=say("desk.choose", self._language(request)))
            return self._back(request, "returns", told)
        settled = [f"--settle={one}" for one in chosen]
        done = await self._act(request, "status", *settled, f"--why={why}", "--", place)
        return self._back(request, "returns", self._done(request, done, "settle"))

    async def _review(self, request: Request) -> Response:
        place = self._place(request)
        address, said = await self._reviews.of(place, self._language(request))
        if address:
            return RedirectResponse(address, status_code=303)
        told = Told(
            well=True, heading=say("desk.no_review", self._language(request)), more=tuple(said)
        )
        return self._back(request, "returns", told)

    async def _open(self, request: Request) -> Response:
        place = self._place(request)
        return await self._shown(request, "open", lambda page: pages.open_page(page, place))

    async def _report(self, request: Request) -> Response:
        place, form = self._place(request), await self._form(request)
        if not form.get("yes"):
            told = Told(well=False, heading=say("desk.say_yes", self._language(request)))
            return self._back(request, "open", told)
        done = await self._act(request, "report", "--", place)
        return self._back(request, "open", self._done(request, done, "report"))

    async def _unblind(self, request: Request) -> Response:
        place, form = self._place(request), await self._form(request)
        if not form.get("yes"):
            told = Told(well=False, heading=say("desk.say_yes", self._language(request)))
            return self._back(request, "open", told)
        more = ["--incomplete"] if form.get("incomplete") else []
        done = await self._act(request, "unblind", "--yes", *more, "--", place)
        return self._back(request, "open", self._done(request, done, "unblind"))

    async def _report_file(self, request: Request) -> Response:
        """Hand out a file of the report, which loads nothing and runs nothing."""
        folder = self._place(request) / REPORTED.parent
        have = {
            one.relative_to(folder).as_posix(): one
            for one in (*folder.glob("*"), *folder.glob("figures/*"))
            if one.suffix in REPORT_KINDS and one.is_file() and not one.is_symlink()
        }
        answer = _taken(have.get(request.path_params["name"]))
        answer.headers["Content-Security-Policy"] = (
            "default-src 'none'; style-src 'unsafe-inline'; img-src 'self' data:; "
            "frame-ancestors 'self'"
        )
        answer.headers["X-Frame-Options"] = "SAMEORIGIN"
        return answer

    # The server's pages, by a link of their own.

    def _served(self, request: Request) -> Path:
        places = self.shelf.places()
        name = self.visitors.served(request.path_params["secret"], list(places))
        if name is None:
            raise HTTPException(404)
        return places[name]

    async def _who(self, request: Request) -> Response:
        place = self._served(request)

        def write(page: PageOf) -> str:
            codes = pages.tasters(place)
            return page.write("pour", page.say("who_title"), assessors=codes, shown=False)

        return await self._shown(request, "", write)

    async def _look(self, request: Request) -> Response:
        """Note who looks before anything is shown: a taster's look is an opening of the key."""
        place, form = self._served(request), await self._form(request)
        language, who = self._language(request), form.get("who", "")
        codes = await self._said(language, lambda: pages.tasters(place))
        if who in codes:
            reason = say("desk.taster_looked", language, assessor=who)
            done = await act(language, "key", f"--reason={reason}", "--", place)
            if not done.well:
                page = self._of(request, told=self._done(request, done, "plan"))
                return _html(page.write("base", page.say("who_title")), page.nonce)
        elif who == "-":
            append(place, "pour_list")
        else:
            raise HTTPException(400)
        return RedirectResponse(f"{self.visitors.look(place.name)}/", status_code=303)

    def _seen(self, request: Request) -> Path:
        place = self._served(request)
        if not self.visitors.looks(request.path_params["look"], place.name):
            raise HTTPException(404)
        return place

    async def _pours(self, request: Request) -> Response:
        place = self._seen(request)

        def write(page: PageOf) -> str:
            pours, text, names = pages.server_tables(place)
            return page.write(
                "pour", page.say("pour_title", session=place.name), shown=True, pours=pours,
                text=text, files=names,
            )  # fmt: skip

        return await self._shown(request, "", write)

    async def _pour_file(self, request: Request) -> Response:
        place, name = self._seen(request), request.path_params["name"]
        have = pages.server_tables(place)[2]
        return _taken(place / SERVER / name if name in have else None)


def _remember(store: OrderedDict[str, Found], one: Found) -> str:
    """Keep something for the page that follows; return how it asks for it."""
    key = secrets.token_urlsafe(9)
    store[key] = one
    while len(store) > REMEMBERED:
        store.popitem(last=False)
    return key


def _step(request: Request) -> str:
    return request.url.path.rpartition("/")[2]


def _taken(path: Path | None) -> Response:
    if path is None:
        raise HTTPException(404)
    shown = path.suffix in (".pdf", ".html", ".png", ".svg")
    way = "inline" if shown else "attachment"
    return FileResponse(path, filename=path.name, content_disposition_type=way)


def _words(fault: Exception, language: str) -> str:
    sentence = fault.sentence if isinstance(fault, PanelError) else in_words(fault)
    return sentence.to(language)


def _html(page: str, nonce: str, status: int = 200) -> Response:
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
