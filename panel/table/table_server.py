"""Serving the table on the local network: the assessors' pages, the leader's, and their touches.

No concurrent connections are counted, for idle ones would lock everybody out (see
`patient_protocol`). A refusal is told on stderr, without the secret part of a link.
"""

from __future__ import annotations

import hashlib
import secrets
import sqlite3
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TypeVar
from urllib.parse import parse_qs

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from ..base.errors import PanelError
from ..base.fault_boundary import in_words
from ..base.words import FALLBACK, say
from ..returns.guarded_pages import FORM, LinesOfRefusal, body, guarded
from ..returns.patient_protocol import patient_server
from .leader_page import act, leader_page
from .plain_form import form_touches
from .scribe import Scribe, TableState
from .seat_page import LANGUAGES, PageAsked, seat_page
from .seats import Seat
from .table_links import Links, listen
from .touches import DEVICE, Malformed, take, touches_of

JSON = "application/json"
LARGEST = 64_000
"""Bytes of what is sent at once."""
Told = TypeVar("Told")


class TableServer:
    """A server of one table.

    Parameters
    ----------
    folder : Path
        The session folder.
    links : Links

    Raises
    ------
    InputRefused
        If it cannot listen there.
    PanelError, sqlite3.Error
        If plan or store cannot be used.
    """

    def __init__(self, folder: Path, links: Links) -> None:
        self.links = links
        self._socket = listen(links.host, links.port)
        self._scribe = Scribe(folder)
        self._seats = {_digest(secret): code for code, secret in links.seats.items()}
        self._leader = _digest(links.leader)
        self._lines = LinesOfRefusal()
        routes = [
            Route("/t/{secret}/", self._show, methods=["GET"]),
            Route("/t/{secret}/", self._form, methods=["POST"]),
            Route("/t/{secret}/state", self._state, methods=["GET"]),
            Route("/t/{secret}/touches", self._take, methods=["POST"]),
            Route("/l/{secret}/", self._lead, methods=["GET"]),
            Route("/l/{secret}/", self._act, methods=["POST"]),
        ]
        number = self._socket.getsockname()
        hosts = {links.place, f"{number[0]}:{number[1]}"}
        application = guarded(
            Starlette(routes=routes), hosts, {FORM: LARGEST, JSON: LARGEST}, self._refused
        )
        self._server = patient_server(application)

    def run(self, ready: Callable[[], None] = lambda: None) -> None:
        """Serve until `stop` is called or the person stops it (Ctrl-C)."""
        with self._socket:
            self._scribe.start()
            ready()
            try:
                self._server.run(sockets=[self._socket])
            finally:
                self._scribe.stop()

    def stop(self) -> None:
        """Let `run` end."""
        self._server.should_exit = True

    def _whose(self, request: Request) -> str | None:
        return self._seats.get(_digest(request.path_params["secret"]))

    async def _show(self, request: Request) -> Response:
        code = self._whose(request)
        if code is None:
            return Response(status_code=404)
        query = request.query_params
        asked = PageAsked(language=query.get("language", ""), begun="begun" in query)
        return await self._page(code, asked)

    async def _page(self, code: str, asked: PageAsked) -> Response:
        nonce = secrets.token_urlsafe(16)
        return await self._answered(
            lambda table: seat_page(table, code, asked, nonce), partial(_html, nonce=nonce)
        )

    async def _form(self, request: Request) -> Response:
        """Take a form of a browser without script, and show the page that follows."""
        code, content = self._whose(request), await body(request, LARGEST)
        if code is None or content is None:
            return Response(status_code=404 if code is None else 413)
        told = {
            name: values[0]
            for name, values in parse_qs(
                content.decode("utf-8", "replace"), keep_blank_values=True, max_num_fields=2000
            ).items()
        }
        device = hashlib.sha256(content).hexdigest()[:32]
        asked = PageAsked(language=told.get("language", ""), begun=True)

        def work(table: TableState) -> PageAsked:
            if table.closed is not None:
                raise table.closed
            seat = table.seats[code]
            seat.devices["form"] = time.time()
            touches, left = form_touches(table.store, seat, told)
            outcomes = {touch: take(table.store, seat, device, touch) for touch in touches}
            refused = [touch for touch, outcome in outcomes.items() if outcome != "saved"]
            return PageAsked(
                language=asked.language, begun=True, left=tuple(left), refused=bool(refused)
            )

        try:
            after = await self._scribe.ask(work)
        except (KeyError, Malformed):
            return Response(status_code=400)
        except (OSError, sqlite3.Error, PanelError) as fault:
            return Response(_words(fault, asked.language), 503, media_type="text/plain")
        if after.left or after.refused:
            return await self._page(code, after)
        language = f"&language={asked.language}" if asked.language in LANGUAGES else ""
        return RedirectResponse(f"./?begun=1{language}", status_code=303)

    async def _state(self, request: Request) -> Response:
        code = self._whose(request)
        if code is None:
            return Response(status_code=404)
        device = request.query_params.get("device", "")
        return await self._answered(lambda table: _seen(table, code, device), JSONResponse)

    async def _take(self, request: Request) -> Response:
        code, content = self._whose(request), await body(request, LARGEST)
        if code is None or content is None:
            return Response(status_code=404 if code is None else 413)
        try:
            device, touches = touches_of(content)
        except Malformed:
            return Response(status_code=400)

        def work(table: TableState) -> dict[str, object]:
            if table.closed is not None:
                raise table.closed
            seat = table.seats[code]
            done = [[one.number, take(table.store, seat, device, one)] for one in touches]
            return {"done": done, **_seen(table, code, device)}

        def told(found: dict[str, object]) -> Response:
            self._odd(request, found["done"])
            return JSONResponse(found)

        return await self._answered(work, told)

    async def _lead(self, request: Request) -> Response:
        if not secrets.compare_digest(_digest(request.path_params["secret"]), self._leader):
            return Response(status_code=404)
        language, nonce = request.query_params.get("language", ""), secrets.token_urlsafe(16)
        return await self._answered(
            lambda table: leader_page(table, self.links, language, nonce),
            partial(_html, nonce=nonce),
        )

    async def _act(self, request: Request) -> Response:
        content = await body(request, LARGEST)
        if not secrets.compare_digest(_digest(request.path_params["secret"]), self._leader):
            return Response(status_code=404)
        told = parse_qs((content or b"").decode("utf-8", "replace"))
        kind, who = (told.get(name, [""])[0] for name in ("act", "assessor"))
        language = told.get("language", [""])[0]
        query = f"?language={language}" if language in LANGUAGES else ""

        def done(known: bool) -> Response:
            return RedirectResponse(f"./{query}", 303) if known else Response(status_code=400)

        return await self._answered(lambda table: act(table, kind, who), done)

    async def _answered(
        self, work: Callable[[TableState], Told], shown: Callable[[Told], Response]
    ) -> Response:
        """Do work and show it; a disk that is full, or a plan that is gone, is told in words."""
        try:
            found = await self._scribe.ask(work)
        except KeyError:  # no longer at the table
            return Response(status_code=404)
        except (OSError, sqlite3.Error, PanelError) as fault:
            self._lines.tell(_words(fault, FALLBACK))
            return JSONResponse({"trouble": _words(fault, FALLBACK)}, 503)
        return shown(found)

    def _odd(self, request: Request, done: object) -> None:
        """Tell of touches that were not taken."""
        listed = done if isinstance(done, list) else []
        kinds = sorted({outcome for _, outcome in listed if outcome != "saved"})
        if kinds:
            who = self._whose(request) or "–"
            self._lines.tell(say("serve.not_taken_line", assessor=who, kinds=", ".join(kinds)))

    def _refused(self, request: Request, status: int) -> None:
        client = request.client.host if request.client else "–"
        self._lines.tell(say("serve.refused", status=status, client=client))


def _digest(secret: str) -> str:
    return hashlib.sha256(secret.encode("utf-8", "replace")).hexdigest()


def _words(fault: Exception, language: str) -> str:
    if isinstance(fault, PanelError):
        return fault.sentence.to(language)
    return in_words(fault).to(language)


def _seen(table: TableState, code: str, device: str) -> dict[str, object]:
    """Say how things stand, for a page that asks; and note that its device is there."""
    seat: Seat = table.seats[code]
    now = time.time()
    if DEVICE.fullmatch(device):
        seat.devices[device] = now
    return {
        "paused": table.paused,
        "others": seat.others(device, now),
        "closed": [cup.name for cup in seat.cups if cup.name in seat.closed],
        "finished": seat.finished,
        "rest": round(seat.rest_left(now)),
        "mark": seat.mark,
        "shut": table.closed is not None,
    }


def _html(page: str, nonce: str) -> Response:
    return Response(
        page,
        media_type="text/html",
        headers={
            "Content-Security-Policy": f"default-src 'none'; style-src 'nonce-{nonce}'; "
            f"script-src 'nonce-{nonce}'; connect-src 'self'; form-action 'self'; "
            "base-uri 'none'; frame-ancestors 'none'"
        },
    )
