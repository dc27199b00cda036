"""Serving the page of marks to the browser of this machine.

Below an address with a random part, to this machine's own name alone; forms from
other pages are refused, nothing from elsewhere is loaded. Needs ``kikichoko[desk]``.
"""

from __future__ import annotations

import asyncio
import secrets
import socket
import sqlite3
from urllib.parse import parse_qs

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from ..base.fault_boundary import in_words
from ..base.words import say
from .guarded_pages import FORM, LinesOfRefusal, body, guarded
from .open_marks import mark
from .page_names import Nameless
from .patient_protocol import patient_server
from .review_page import Review

HERE = "127.0.0.1"
LARGEST = 20_000  # bytes of a form
LAST_SECONDS = 3.0  # the page that says that all is done can still be asked for


class ReviewServer:
    """A server of one review.

    Parameters
    ----------
    review : Review
    port : int
        0 for any that is free.

    Raises
    ------
    OSError
        If the port is taken.
    """

    def __init__(self, review: Review, port: int = 0) -> None:
        self.review = review
        self.secret = secrets.token_urlsafe(16)
        self._lines = LinesOfRefusal()
        self._socket = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        self._socket.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            self._socket.bind((HERE, port))
            self._socket.listen(256)
        except BaseException:
            self._socket.close()
            raise
        self.host = f"{HERE}:{self._socket.getsockname()[1]}"
        self.address = f"http://{self.host}/{self.secret}/"
        routes = [
            Route(f"/{self.secret}/", self._show, methods=["GET"]),
            Route(f"/{self.secret}/", self._take, methods=["POST"]),
            Route(f"/{self.secret}/{{number}}", self._picture, methods=["GET"]),
        ]
        self._server = patient_server(
            guarded(Starlette(routes=routes), {self.host}, {FORM: LARGEST}, self._refused)
        )

    def _refused(self, request: Request, status: int) -> None:
        """Tell of a request that is refused, without its address, which is secret."""
        self._lines.tell(say("review.refused_line", status=status, method=request.method))

    def run(self) -> None:
        """Serve until all is decided, or the person stops it (Ctrl-C)."""
        with self._socket:
            self._server.run(sockets=[self._socket])

    def stop(self) -> None:
        """Let `run` end."""
        self._server.should_exit = True

    async def _show(self, request: Request) -> Response:
        asked = _number(request.query_params.get("n", ""))
        touched = request.query_params.get("touch", "")
        if touched and self.review.pages:
            asked = self.review.pages.touch(touched)
        one = self.review.nameless()
        if asked is None and one is not None:
            return self._which(one)
        view = self.review.view()
        if asked is None and view is not None:
            nonce = secrets.token_urlsafe(16)
            return _html(self.review.whole(view, nonce=nonce), nonce)
        return self._page(self.review.next() if asked is None else asked)

    async def _picture(self, request: Request) -> Response:
        asked = request.path_params["number"]
        one = self.review.nameless() if asked.startswith("which-") else None
        if one is not None:
            return Response(one.page.picture(), media_type="image/jpeg")
        view = self.review.view() if asked.startswith("page-") else None
        if view is not None:
            return Response(view.picture(), media_type="image/jpeg")
        number = _number(asked)
        found = None if number is None else mark(self.review.store, number)
        if found is None:
            return Response(status_code=404)
        return Response(found.picture, media_type="image/png")

    async def _take(self, request: Request) -> Response:
        content = await body(request, LARGEST)
        if content is None:
            return Response(status_code=413)
        form = {
            name: values[0] for name, values in parse_qs(content.decode("utf-8", "replace")).items()
        }
        if "page" in form:
            self.review.turn(form["page"])
            return RedirectResponse(f"/{self.secret}/", status_code=303)
        number = _number(form.get("number", "")) or 0
        if "which" in form and self.review.names:
            return self._name(number, form["which"], form.get("page_is", ""))
        try:
            trouble = self.review.answer(
                number, form.get("choice", ""), form.get("typed", ""), form.get("state")
            )
        except (OSError, sqlite3.Error) as fault:  # the disk is full: nothing was decided
            trouble = in_words(fault).to(self.review.language)
        if trouble:
            return self._page(number, trouble)
        return RedirectResponse(f"/{self.secret}/", status_code=303)

    def _which(self, one: Nameless, trouble: str = "") -> Response:
        nonce = secrets.token_urlsafe(16)
        return _html(self.review.which(one, trouble, nonce=nonce), nonce)

    def _name(self, fault: int, way: str, given: str) -> Response:
        names, trouble = self.review.names, ""
        one = self.review.nameless()
        if names is None or one is None:
            pass
        elif way == "later":
            names.skip(fault)
        else:
            try:
                trouble = names.answer(fault, given)
            except (OSError, sqlite3.Error) as full:
                trouble = in_words(full).to(self.review.language)
            if trouble:
                return self._which(one, trouble)
        return RedirectResponse(f"/{self.secret}/", status_code=303)

    def _page(self, number: int | None, trouble: str = "") -> Response:
        if self.review.next() is None:
            asyncio.get_running_loop().call_later(LAST_SECONDS, self._end)
        nonce = secrets.token_urlsafe(16)
        return _html(self.review.page(number, trouble, nonce=nonce), nonce)

    def _end(self) -> None:
        if self.review.ended():
            self.stop()


def _html(page: str, nonce: str) -> Response:
    """Hand a page out that may load nothing from elsewhere."""
    return Response(
        page,
        media_type="text/html",
        headers={
            "Content-Security-Policy": f"default-src 'none'; style-src 'nonce-{nonce}'; "
            f"script-src 'nonce-{nonce}'; img-src 'self' data:; form-action 'self'; "
            "base-uri 'none'; frame-ancestors 'none'"
        },
    )


def _number(text: str) -> int | None:
    """Read the number of a mark; None for what is none."""
    return int(text) if text.isdecimal() and len(text) <= 9 else None
