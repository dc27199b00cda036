"""The page of marks as it is served, and a browser of it in a few lines."""

from __future__ import annotations

import http.client
import threading
import urllib.parse
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from kikichoko.panel.returns.review_page import Review
from kikichoko.panel.returns.review_server import ReviewServer
from kikichoko.panel.returns.store import Store

FORM = "application/x-www-form-urlencoded"


class Page:
    """A running server and a browser of it."""

    def __init__(self, server: ReviewServer, place: Path) -> None:
        self.server, self.place = server, place
        self.host = server.host
        self.path = f"/{server.secret}/"

    def ask(
        self, path: str = "", data: dict[str, str] | bytes | None = None, **headers: str
    ) -> tuple[int, str, dict[str, str]]:
        asked = {"Host": self.host, **{k.replace("_", "-"): v for k, v in headers.items()}}
        body = urllib.parse.urlencode(data).encode() if isinstance(data, dict) else data
        if body is not None:
            asked.setdefault("Content-Type", FORM)
        line = http.client.HTTPConnection(self.host, timeout=200)
        line.putrequest("POST" if body is not None else "GET", self.path + path, skip_host=True)
        if body is not None and "Content-Length" not in asked:
            asked["Content-Length"] = str(len(body))
        for name, value in asked.items():
            line.putheader(name, value)
        line.endheaders(body)
        reply = line.getresponse()
        told = reply.read().decode("utf-8", "replace"), dict(reply.getheaders())
        line.close()
        if reply.status == 303:
            return self.ask(reply.headers["Location"].removeprefix(self.path))
        return reply.status, *told


@contextmanager
def served(place: Path, review_of: Callable[[Store], Review]) -> Iterator[Page]:
    """Serve the page of a session from a thread, as the command does, until the block ends."""
    ready = threading.Event()
    made: list[ReviewServer] = []

    def work() -> None:
        with Store(place) as store:
            made.append(ReviewServer(review_of(store)))
            ready.set()
            made[0].run()

    worker = threading.Thread(target=work)
    worker.start()
    assert ready.wait(200)
    try:
        yield Page(made[0], place)
    finally:
        made[0].stop()
        worker.join(200)
    assert not worker.is_alive()
