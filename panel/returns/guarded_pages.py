"""What every page that is served passes through: nothing that did not come from it gets in.

Names of hosts are compared (against names that are bound anew, "DNS rebinding"), origins of what
is sent, kinds and lengths; every answer says that nothing from elsewhere is loaded or may frame it.
"""

from __future__ import annotations

import asyncio
import sys
import time
from collections import deque
from collections.abc import Awaitable, Callable, Collection, Mapping

from starlette.datastructures import MutableHeaders
from starlette.requests import ClientDisconnect, Request
from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

BODY_SECONDS = 10.0
LINES = 30
"""Refusals that are told in a minute."""
LETTERS = 140
"""Of the line of one."""
FORM = "application/x-www-form-urlencoded"
_HEADERS = {
    "Content-Security-Policy": "default-src 'none'; frame-ancestors 'none'",
    "Cache-Control": "no-store",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}


class LinesOfRefusal:
    """Lines at the terminal, with the time, but not so many that nobody reads them.

    Parameters
    ----------
    most : int
        Lines a minute; what is more is not told.
    """

    def __init__(self, most: int = LINES) -> None:
        self._told: deque[float] = deque(maxlen=most)

    def tell(self, line: str) -> None:
        """Write a line with the time."""
        self.pass_on(f"{time.strftime('%H:%M:%S')} {line}")

    def pass_on(self, line: str) -> None:
        """Write a line as it is."""
        now = time.time()
        if len(self._told) == self._told.maxlen and now - self._told[0] < 60:
            return
        self._told.append(now)
        sys.stderr.write(f"{line[:LETTERS]}\n")
        sys.stderr.flush()


async def body(request: Request, largest: int) -> bytes | None:
    """Read what was sent; None if it is longer, or slower than `BODY_SECONDS`."""
    content = b""
    try:
        async with asyncio.timeout(BODY_SECONDS):
            async for piece in request.stream():
                content += piece
                if len(content) > largest:
                    return None
    except (TimeoutError, ClientDisconnect):
        return None
    return content


def guarded(
    application: ASGIApp,
    hosts: Collection[str],
    kinds: Mapping[str, int],
    tell: Callable[[Request, int], None] = lambda *_: None,
) -> ASGIApp:
    """Let nothing through that did not come from these pages.

    Parameters
    ----------
    application : ASGIApp
    hosts : collection of str
        Names and ports under which the pages are reached.
    kinds : mapping of str to int
        Media types that may be sent, each with its largest length in bytes.
    tell : callable
        Told of each request that is answered with 400 and above, and of the status.
    """

    async def guard(scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            return
        request = Request(scope)
        refusal = _refusal(request, hosts, kinds)

        async def sent(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in _HEADERS.items():
                    headers.setdefault(name, value)
                if message["status"] >= 400:
                    tell(request, message["status"])
            await send(message)

        answer: Callable[[Scope, Receive, Send], Awaitable[None]] = application
        if refusal:
            answer = Response(status_code=refusal)
        await answer(scope, receive, sent)

    return guard


def _refusal(request: Request, hosts: Collection[str], kinds: Mapping[str, int]) -> int:
    """Return the status by which a request is refused, 0 if it is not."""
    host = request.headers.get("host")
    if host not in hosts:
        return 400
    if request.method != "POST":
        return 0
    # With `Referrer-Policy: no-referrer` browsers send a form's origin as null.
    origin = request.headers.get("origin", f"http://{host}")
    from_here = request.headers.get("sec-fetch-site", "same-origin") == "same-origin"
    if origin not in (f"http://{host}", "null") or not from_here:
        return 403
    largest = kinds.get(request.headers.get("content-type", "").partition(";")[0])
    if largest is None:
        return 415
    length = request.headers.get("content-length", "0")
    return 413 if not length.isdecimal() or int(length[:9]) > largest else 0
