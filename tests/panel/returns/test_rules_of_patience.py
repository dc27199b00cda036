"""Whom the review's server keeps waiting and how much it takes in, at every bound."""

from __future__ import annotations

import asyncio
import sqlite3
from types import SimpleNamespace

import pytest
from kikichoko.panel.returns import opened_store
from kikichoko.panel.returns.guarded_pages import FORM, _refusal, body
from kikichoko.panel.returns.patient_protocol import PatientProtocol
from kikichoko.panel.returns.review_server import LARGEST
from starlette.requests import Request


class Connection:
    """One that was opened at time 0 and is looked at later."""

    def __init__(self, now: float = 0.0, *, served: bool = False, begun: bool = False) -> None:
        self.loop = SimpleNamespace(time=lambda: now, call_later=lambda *_: "later")
        self.idle, self._served, self._begun = True, served, begun
        self._open: dict[Connection, float] = {self: 0.0}
        self._look_again, self.gone = None, False

    def let_go(self) -> None:
        self.gone = True


@pytest.mark.parametrize(
    ("now", "served", "begun", "gone"),
    [
        (8.0, False, False, False),
        (8.1, False, False, True),
        (30.0, True, False, False),
        (30.1, True, False, True),
        (8.1, True, True, True),
    ],
)
def test_a_request_has_8_seconds_and_30_may_pass_between_two(now, served, begun, gone: bool):
    one = Connection(now, served=served, begun=begun)
    PatientProtocol._look_again(one)
    assert one.gone is gone


@pytest.mark.parametrize(("n", "closed"), [(200, 0), (201, 1)])
def test_of_more_than_200_connections_the_longest_idle_is_closed(n: int, closed: int):
    every = [Connection() for _ in range(n)]
    every[-1]._open = {one: float(place) for place, one in enumerate(every)}
    PatientProtocol._make_room(every[-1])
    assert [one.gone for one in every] == [True] * closed + [False] * (n - closed)


def request(**headers: str) -> Request:
    given = {"host": "here", "content-type": "application/x-www-form-urlencoded"} | headers
    pairs = [(name.replace("_", "-").encode(), one.encode()) for name, one in given.items()]
    return Request({"type": "http", "method": "POST", "path": "/", "headers": pairs})


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"content_length": "20000"}, 0),
        ({"content_length": "20001"}, 413),
        ({"content_length": "much"}, 413),
        ({"content-type": "text/plain"}, 415),
        ({"content-type": "application/x-www-form-urlencoded; charset=utf-8"}, 0),
    ],
)
def test_a_form_is_a_form_and_has_20000_bytes_at_most(headers: dict[str, str], status: int):
    assert _refusal(request(**headers), {"here"}, {FORM: LARGEST}) == status


@pytest.mark.parametrize(("length", "taken"), [(20_000, True), (20_001, False)])
def test_what_comes_is_counted_whatever_was_stated(length: int, taken: bool):
    async def stream():
        yield b"x" * (length - 1)
        yield b"x"

    content = asyncio.run(body(SimpleNamespace(stream=stream), LARGEST))
    assert (content is not None) is taken


def busy(code: int) -> sqlite3.OperationalError:
    fault = sqlite3.OperationalError("no")
    fault.sqlite_errorcode = code
    return fault


class Database:
    """One that fails once and then writes ahead."""

    def __init__(self, fault: Exception) -> None:
        self.faults = [fault]

    def execute(self, _: str):
        if self.faults:
            raise self.faults.pop()
        return SimpleNamespace(fetchone=lambda: ("wal",))


def test_a_store_that_is_busy_is_waited_for_and_nothing_else_is(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(opened_store.time, "sleep", lambda _: None)
    opened_store._ahead_log(Database(busy(sqlite3.SQLITE_BUSY)))
    opened_store._ahead_log(Database(busy(sqlite3.SQLITE_BUSY_SNAPSHOT)))
    with pytest.raises(sqlite3.OperationalError):
        opened_store._ahead_log(Database(busy(sqlite3.SQLITE_READONLY)))
