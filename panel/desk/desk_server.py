"""Serving the desk to the browser of this machine.

Below an address with a random part, to this machine's own name alone; forms from other pages are
refused, nothing from elsewhere is loaded. Needs ``kikichoko[desk]``.
"""

from __future__ import annotations

import re
import shutil
import socket
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, RedirectResponse, Response
from starlette.routing import Route

from ..base.errors import InputRefused
from ..base.session_log import append
from ..base.words import say, speaking
from ..handouts.server_files import SERVER
from ..returns.closed_flights import closed
from ..returns.guarded_pages import FORM, guarded
from ..returns.patient_protocol import patient_server
from ..session.setting_lines import Given, Place
from . import session_pages as pages
from .acts import act
from .cellar import FORMS, cellar_fields, cellar_words
from .command_pages import CommandPages
from .desk_requests import LARGEST_FORM, DeskRequests, Handler, html
from .page_writer import PageOf, Told
from .phones_page import phones_page
from .setting_fields import AT_FIRST, given_of, setting_fields
from .shelf import REPORTED, stage
from .side_servers import SideServers
from .uploads import LARGEST, MULTIPART, dropped

HERE = "127.0.0.1"
REPORT_KINDS = (".html", ".xlsx", ".json", ".png", ".svg")


class DeskServer(DeskRequests):
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
        super().__init__(folder)
        self._reviews = SideServers("review", self.lines.pass_on)
        self._tables = SideServers("serve", self.lines.pass_on)
        self._commands = CommandPages(self)
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
        self._server = patient_server(guarded(application, {self.host}, kinds, self.refused))

    def run(self, ready: Callable[[], None] = lambda: None) -> None:
        """Serve until `stop` is called or the person stops it (Ctrl-C)."""
        with self._socket:
            ready()
            try:
                self._server.run(sockets=[self._socket])
            finally:
                self._reviews.end()
                self._tables.end()
                self._commands.drawer.close()

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
            f"{own}phones": (self._phones, self._serve),
            f"{own}returns": (self._returns, self._read),
            f"{own}open": (self._open, self._report),
        }
        routes = [Route(f"{root}enter/{{secret}}", self._enter, methods=["GET"])]
        for path, (show, do) in shown.items():
            routes.append(Route(path, self.inside(show), methods=["GET"]))
            if do is not None:
                routes.append(Route(path, self.inside(do), methods=["POST"]))
        acts = {"settle": self._settle, "review": self._review, "unblind": self._unblind}
        for name, do in acts.items():
            routes.append(Route(f"{own}{name}", self.inside(do), methods=["POST"]))
        routes += self._commands.routes()
        routes += [
            Route(f"{own}file/{{part}}/{{name}}", self.inside(self._file), methods=["GET"]),
            Route(f"{own}report/{{name:path}}", self.inside(self._report_file), methods=["GET"]),
            Route("/pour/{secret}/", self.boundary(self._who), methods=["GET"]),
            Route("/pour/{secret}/", self.boundary(self._look), methods=["POST"]),
            Route("/pour/{secret}/{look}/", self.boundary(self._pours), methods=["GET"]),
            Route("/pour/{secret}/{look}/{name}", self.boundary(self._pour_file), methods=["GET"]),
        ]
        return routes

    async def _enter(self, request: Request) -> Response:
        return self.visitors.enter(request.path_params["secret"])

    # The folder.

    async def _shelf(self, request: Request) -> Response:
        def write(page: PageOf) -> str:
            return page.write(
                "shelf", page.say("title"), sessions=self.shelf.sessions(), folder=self.shelf.folder
            )

        return await self.shown(request, "", write)

    async def _new(self, request: Request) -> Response:
        def write(page: PageOf) -> str:
            fields = setting_fields(page.language, AT_FIRST)
            return page.write("new", page.say("new"), fields=fields, values=pages.at_first(fields))

        return await self.shown(request, "", write)

    async def _make(self, request: Request) -> Response:
        form = await self.form(request)
        language = self.language(request)
        name = form.get("folder", "").strip()
        trouble = ""
        fields = setting_fields(language, AT_FIRST)
        try:
            place = self.shelf.free(name)
        except InputRefused as refusal:
            trouble = refusal.sentence.to(language)
        else:
            trouble = await self._new_whole(request, place, given_of(fields, form))
        if trouble:
            told = Told(well=False, heading=say("desk.refused", language), lines=(trouble,))
            self.told_line(request, told)
            page = self.of(request, told=told)
            return html(page.write("new", page.say("new"), fields=fields, values=form), page.nonce)
        request.path_params["session"] = name
        told = Told(well=True, heading=say("desk.done_new", language))
        return self.back(request, "bottles", told)

    async def _new_whole(self, request: Request, place: Path, given: Mapping[Place, Given]) -> str:
        """Make a session with its settings: whole, or not at all; return what is in the way."""
        aside = self.shelf.aside()
        try:
            card = str(given.get(("questions", "card")) or "full")
            done = await self.act(request, "new", "--card", card, "--", aside)
            if not done.well:
                return done.said
            language = self.language(request)
            await self.said(language, lambda: pages.change_settings(aside, given))
            aside.rename(place)
        finally:
            shutil.rmtree(aside, ignore_errors=True)
        return ""

    async def _cellar(self, request: Request) -> Response:
        """Show the forms of the cellar, and what the command says to the one that was filled."""
        given, language = dict(request.query_params), self.language(request)
        form = given.get("form", "")
        told, printed = None, ""
        if form in FORMS:
            done = await act(language, *cellar_words(form, given))
            printed = done.printed
            if done.code:
                lines = tuple(line for line in done.said.splitlines() if line.strip())
                told = Told(well=False, heading=say("desk.refused", language), lines=lines)
        page = self.of(request, told=told)
        forms = [(key, cellar_fields(key, language)) for key in FORMS]
        return html(
            page.write(
                "cellar", page.say("cellar"), form=form, forms=forms, values=given, printed=printed
            ),
            page.nonce,
        )

    # A session, step by step.

    async def _session(self, request: Request) -> Response:
        after = {"new": "settings", "planned": "sheets", "answers": "returns", "reported": "open"}
        return self.back(request, after[stage(self.place(request))], None)

    async def _settings(self, request: Request) -> Response:
        place, kept = self.place(request), self._typed(request)
        return await self.shown(
            request, "settings", lambda page: pages.settings_page(page, place, kept)
        )

    def _typed(self, request: Request) -> pages.Kept:
        return self.kept.get(request.query_params.get("kept", ""), pages.Kept())

    async def _save_settings(self, request: Request) -> Response:
        place, form = self.place(request), await self.form(request)
        language = self.language(request)
        try:
            whole = await self.said(language, lambda: pages.save_settings(place, form))
        except pages.ChangedError:
            kept = pages.Kept(text=form.get("text", ""))
            return self.back(request, "settings", self._meanwhile(request), kept)
        except ValueError:
            told = Told(well=False, heading=say("desk.by_text", language))
            return self.back(request, "settings", told)
        told = self._saved(request, place)
        if not whole:
            told = replace(told, lines=(*told.lines, say("desk.timed_untold", language)))
        return self.back(request, "settings", told)

    def _meanwhile(self, request: Request) -> Told:
        language = self.language(request)
        return Told(
            well=False, heading=say("desk.meanwhile", language),
            lines=(say("desk.meanwhile_how", language),),
        )  # fmt: skip

    def _saved(self, request: Request, place: Path) -> Told:
        language = self.language(request)
        with speaking(language):
            faults = pages.faults(place)
        lines = (say("desk.faults_left", language, n=faults),) if faults else ()
        return Told(well=True, heading=say("desk.done_save", language), lines=lines)

    async def _table(self, request: Request) -> Response:
        place, kept, stem = self.place(request), self._typed(request), _step(request)
        return await self.shown(
            request, stem, lambda page: pages.table_page(page, place, stem, kept)
        )

    async def _save_table(self, request: Request) -> Response:
        place, form, stem = self.place(request), await self.form(request), _step(request)
        language = self.language(request)
        try:
            await self.said(language, lambda: pages.save_table(place, stem, form))
        except pages.ChangedError:
            kept = pages.kept_rows(place, stem, form)
            return self.back(request, stem, self._meanwhile(request), kept)
        return self.back(request, stem, self._saved(request, place))

    async def _plan(self, request: Request) -> Response:
        place = self.place(request)
        return await self.shown(request, "plan", lambda page: pages.plan_page(page, place))

    async def _do_plan(self, request: Request) -> Response:
        place, form = self.place(request), await self.form(request)
        again = ["--again"] if form.get("again") else []
        done = await self.act(request, "plan", *again, "--", place)
        told = self.done(request, done, "plan")
        return self.back(request, "sheets" if done.well else "plan", told)

    async def _sheets(self, request: Request) -> Response:
        place, name = self.place(request), request.path_params["session"]
        link = f"http://{self.host}{self.visitors.server_path(name)}"
        return await self.shown(
            request, "sheets", lambda page: pages.sheets_page(page, place, link)
        )

    async def _do_sheets(self, request: Request) -> Response:
        place, form = self.place(request), await self.form(request)
        paper = form.get("paper", "A4")
        done = await self.act(request, "sheets", "--paper", paper, "--", place)
        return self.back(request, "sheets", self.done(request, done, "sheets"))

    async def _file(self, request: Request) -> Response:
        wanted = (request.path_params["part"], request.path_params["name"])
        return _taken(pages.handed_out(self.place(request)).get(wanted))

    async def _phones(self, request: Request) -> Response:
        place = self.place(request)
        leader = self._tables.address(place)
        return await self.shown(request, "phones", lambda page: phones_page(page, place, leader))

    async def _serve(self, request: Request) -> Response:
        """Start the table for telephones, a process that never has the key, or stop it."""
        place, form, language = (
            self.place(request),
            await self.form(request),
            self.language(request),
        )
        if form.get("how") == "stop":
            await self._tables.stop(place)
            told = Told(well=True, heading=say("desk.done_stop", language))
            return self.back(request, "phones", told)
        host = (
            form.get("other", "").strip() if form.get("host") == "other" else form.get("host", "")
        )
        more = ["--new-links"] if form.get("new_links") else []
        paper = form.get("paper", "A4")
        address, said = await self._tables.of(
            place, language, f"--host={host}", f"--paper={paper}", *more
        )
        if address:
            told = Told(well=True, heading=say("desk.done_serve", language))
        else:
            heading = say("desk.refused", language)
            told = Told(well=False, heading=heading, lines=tuple(said))
        return self.back(request, "phones", told)

    async def _returns(self, request: Request) -> Response:
        place = self.place(request)
        return await self.shown(request, "returns", lambda page: pages.returns_page(page, place))

    async def _read(self, request: Request) -> Response:
        place = self.place(request)
        async with dropped(request) as came:
            more = ["--correct"] if came.form.get("correct") else []
            who = came.form.get("by", "").strip()
            if not came.paths:
                told = Told(well=False, heading=say("desk.no_file", self.language(request)))
                return self.back(request, "returns", told)
            done = await self.act(
                request, "read", *more, *([f"--by={who}"] if who else []), "--", place, *came.paths
            )
        label = say("read.reading", self.language(request))
        both = self.lines_of(request, f"{done.said}\n{done.printed}")
        lines = tuple(line for line in both if line != label)
        heading = say("desk.done_read" if done.well else "desk.refused", self.language(request))
        told = Told(well=done.well, heading=heading, lines=lines)
        return self.back(request, "returns", told)

    async def _settle(self, request: Request) -> Response:
        place, form = self.place(request), await self.form(request)
        chosen = [name.removeprefix("n-") for name in form if name.startswith("n-")]
        why = form.get("why", "").strip()
        if not all(re.fullmatch(r"\d{1,9}(-\d{1,9})?", one, re.ASCII) for one in chosen):
            raise HTTPException(400)
        if not chosen or not why:
            told = Told(well=False, heading=say("desk.choose", self.language(request)))
            return self.back(request, "returns", told)
        settled = [f"--settle={one}" for one in chosen]
        done = await self.act(request, "status", *settled, f"--why={why}", "--", place)
        return self.back(request, "returns", self.done(request, done, "settle"))

    async def _review(self, request: Request) -> Response:
        place = self.place(request)
        address, said = await self._reviews.of(place, self.language(request), "--no-browser")
        if address:
            return RedirectResponse(address, status_code=303)
        told = Told(
            well=True, heading=say("desk.no_review", self.language(request)), more=tuple(said)
        )
        return self.back(request, "returns", told)

    async def _open(self, request: Request) -> Response:
        place = self.place(request)
        return await self.shown(request, "open", lambda page: pages.open_page(page, place))

    async def _report(self, request: Request) -> Response:
        place, form = self.place(request), await self.form(request)
        if not form.get("yes"):
            told = Told(well=False, heading=say("desk.say_yes", self.language(request)))
            return self.back(request, "open", told)
        done = await self.act(request, "report", "--", place)
        return self.back(request, "open", self.done(request, done, "report"))

    async def _unblind(self, request: Request) -> Response:
        """Close the blind flights and write named sheets; once closed, write the sheets alone."""
        place, form = self.place(request), await self.form(request)
        again = closed(place) is not None
        if not (again or form.get("yes")):
            told = Told(well=False, heading=say("desk.flight_say_yes", self.language(request)))
            return self.back(request, "open", told)
        more = ["--incomplete"] if form.get("incomplete") else []
        paper = form.get("paper", "A4")
        done = await self.act(request, "unblind", "--yes", *more, f"--paper={paper}", "--", place)
        told = self.done(request, done, "unblind_again" if again else "unblind")
        return self.back(request, "open", told)

    async def _report_file(self, request: Request) -> Response:
        """Hand out a file of the report, which loads nothing and runs nothing."""
        folder = self.place(request) / REPORTED.parent
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

    def _served(self, request: Request) -> tuple[str, Path]:
        places = self.shelf.places()
        name = self.visitors.served(request.path_params["secret"], list(places))
        if name is None:
            raise HTTPException(404)
        return name, places[name]

    async def _who(self, request: Request) -> Response:
        _, place = self._served(request)

        def write(page: PageOf) -> str:
            codes = pages.tasters(place)
            return page.write("pour", page.say("who_title"), assessors=codes, shown=False)

        return await self.shown(request, "", write)

    async def _look(self, request: Request) -> Response:
        """Note who looks before anything is shown: a taster's look is an opening of the key."""
        (name, place), form = self._served(request), await self.form(request)
        language, who = self.language(request), form.get("who", "")
        codes = await self.said(language, lambda: pages.tasters(place))
        if who in codes:
            reason = say("desk.taster_looked", language, assessor=who)
            done = await act(language, "key", f"--reason={reason}", "--", place)
            if not done.well:
                page = self.of(request, told=self.done(request, done, "plan"))
                return html(page.write("base", page.say("who_title")), page.nonce)
        elif who == "-":
            append(place, "pour_list")
        else:
            raise HTTPException(400)
        return RedirectResponse(f"{self.visitors.look(name)}/", status_code=303)

    def _seen(self, request: Request) -> tuple[str, Path]:
        name, place = self._served(request)
        if not self.visitors.looks(request.path_params["look"], name):
            raise HTTPException(404)
        return name, place

    async def _pours(self, request: Request) -> Response:
        name, place = self._seen(request)

        def write(page: PageOf) -> str:
            pours, text, names = pages.server_tables(place)
            return page.write(
                "pour", page.say("pour_title", session=name), shown=True, pours=pours,
                text=text, files=names,
            )  # fmt: skip

        return await self.shown(request, "", write)

    async def _pour_file(self, request: Request) -> Response:
        (_, place), name = self._seen(request), request.path_params["name"]
        have = pages.server_tables(place)[2]
        return _taken(place / SERVER / name if name in have else None)


def _step(request: Request) -> str:
    return request.url.path.rpartition("/")[2]


def _taken(path: Path | None) -> Response:
    if path is None:
        raise HTTPException(404)
    shown = path.suffix in (".pdf", ".html", ".png", ".svg")
    way = "inline" if shown else "attachment"
    return FileResponse(path, filename=path.name, content_disposition_type=way)
