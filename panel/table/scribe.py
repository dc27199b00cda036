"""The one thread that reads and writes the store of a table; it brings many at once to the disk.

What comes while the disk is busy goes in by the next transaction together ("group commit"), and
nobody is answered before their own is on the disk. The plan and the log are looked at again
when they changed. Settings, bottles and the key are never opened here.
"""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Any, TypeVar

from ..base.errors import NotReady, PanelError
from ..base.session_log import FILE as LOG
from ..plan.codes_before import CHANGES, FORGETTING, OPEN_HALF
from ..plan.plan_file import load_table
from ..returns.closed_flights import refuse_closed
from ..returns.store import Store
from .seats import Seat, brought_up, seats

AT_ONCE = 200
"""Requests of one transaction."""
WATCHED = (OPEN_HALF, CHANGES, Path(LOG), FORGETTING)
Told = TypeVar("Told")


@dataclass
class TableState:
    """What the thread knows.

    Attributes
    ----------
    folder : Path
    store : Store
    seats : dict of str to Seat
    paused : bool
    closed : NotReady or None
        Why nothing more is taken in.
    pours : dict of str to float
        Millilitres of the fullest cup of each assessor.
    """

    folder: Path
    store: Store
    seats: dict[str, Seat] = field(default_factory=dict)
    paused: bool = False
    closed: PanelError | None = None
    pours: dict[str, float] = field(default_factory=dict)
    _seen: tuple[object, ...] = ()

    def look(self) -> None:
        """Lay the seats anew where plan, late changes or log changed."""
        seen = tuple(_state(self.folder / path) for path in WATCHED)
        if seen == self._seen:
            return
        plan = load_table(self.folder)
        before = self.seats
        self.seats = seats(plan)
        self.pours = {}
        for pour in plan.pours:
            self.pours[pour.assessor] = max(pour.ml, self.pours.get(pour.assessor, 0.0))
        rows = self.store.database.execute(
            "SELECT assessor, device, number, kind, code, outcome, at, attribute, value "
            "FROM touches WHERE plan = ? ORDER BY id",
            (plan.version,),
        )
        self.paused = brought_up(self.seats, rows)
        for code, seat in self.seats.items():
            if code in before:
                seat.devices = before[code].devices
        self.closed = None
        try:
            refuse_closed(self.folder)
            if (self.folder / FORGETTING).exists():
                raise NotReady("serve.forgetting", folder=self.folder)
        except PanelError as why:
            self.closed = why
        self._seen = seen

    def forget(self) -> None:
        """Look at everything anew the next time: what was taken last did not reach the disk."""
        self._seen = ()


def _state(path: Path) -> tuple[int, int] | None:
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size


class Scribe:
    """The thread; `start` it, `ask` it, `stop` it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._asked: SimpleQueue[_Work | None] = SimpleQueue()
        self._ready = threading.Event()
        self._fault: BaseException | None = None
        self._thread = threading.Thread(target=self._run, name="scribe", daemon=True)

    def start(self) -> None:
        """Open the store and lay the seats; raise what goes wrong."""
        self._thread.start()
        self._ready.wait()
        if self._fault is not None:
            raise self._fault

    def stop(self) -> None:
        """Take what was asked, close the store, and end."""
        self._asked.put(None)
        self._thread.join()

    async def ask(self, work: Callable[[TableState], Told]) -> Told:
        """Have work done in a transaction; what it returns comes when it is on the disk.

        Raises
        ------
        OSError, sqlite3.Error, PanelError
            If it could not be; nothing of it was done.
        """
        loop = asyncio.get_running_loop()
        asked = _Work(work, loop.create_future(), loop)
        self._asked.put(asked)
        done: Told = await asked.future
        return done

    def _run(self) -> None:
        try:
            with Store(self.folder) as store:
                table = TableState(self.folder, store)
                table.look()
                self._ready.set()
                while asked := self._next():
                    self._do(table, asked)
        except BaseException as fault:  # noqa: BLE001 - `start` raises it
            self._fault = fault
        finally:
            self._ready.set()

    def _next(self) -> list[_Work]:
        """Wait for work; return all that has come meanwhile, nothing when it is the end."""
        found = [self._asked.get()]
        while len(found) < AT_ONCE and found[-1] is not None:
            try:
                found.append(self._asked.get_nowait())
            except Empty:
                break
        if found[-1] is None:
            self._asked.put(None)
        return [one for one in found if one is not None]

    def _do(self, table: TableState, asked: list[_Work]) -> None:
        try:
            with table.store.transaction():
                table.look()
                done = [one.work(table) for one in asked]
        except Exception as fault:  # noqa: BLE001 - who asked is told
            table.forget()
            if len(asked) == 1:
                asked[0].fail(fault)
            else:  # whose fault it is shows one by one
                for one in asked:
                    self._do(table, [one])
        else:
            for one, told in zip(asked, done, strict=True):
                one.tell(told)


@dataclass(frozen=True, slots=True)
class _Work:
    work: Callable[[TableState], Any]
    future: asyncio.Future[Any]
    loop: asyncio.AbstractEventLoop

    def tell(self, told: object) -> None:
        self.loop.call_soon_threadsafe(self._set, told, None)

    def fail(self, fault: Exception) -> None:
        self.loop.call_soon_threadsafe(self._set, None, fault)

    def _set(self, told: object, fault: Exception | None) -> None:
        if self.future.done():
            return  # whoever asked has gone
        if fault is not None:
            self.future.set_exception(fault)
        else:
            self.future.set_result(told)
