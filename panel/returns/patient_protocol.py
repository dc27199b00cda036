"""HTTP that idle and half-open connections cannot lock out.

A limit on concurrent connections counts idle ones too and would lock everybody out.
Here each connection has a time for its request, and where there are too many, the one
that has been idle longest is closed first.
"""

from __future__ import annotations

from asyncio import AbstractEventLoop, TimerHandle, Transport
from typing import Any, ClassVar

import uvicorn
from starlette.types import ASGIApp
from uvicorn.protocols.http.h11_impl import H11Protocol

HEAD_SECONDS = 8.0  # for a whole request
IDLE_SECONDS = 30.0  # between requests of one connection
MOST = 200  # connections


def patient_server(application: ASGIApp) -> uvicorn.Server:
    """Return a server of an application that speaks this protocol and tells nothing of itself."""
    return uvicorn.Server(
        uvicorn.Config(
            application,
            http=PatientProtocol,
            loop="asyncio",
            ws="none",
            lifespan="off",
            log_config=None,
            access_log=False,
            server_header=False,
            timeout_keep_alive=int(IDLE_SECONDS),
            timeout_graceful_shutdown=2,
        )
    )


class PatientProtocol(H11Protocol):
    """One connection."""

    _open: ClassVar[dict[PatientProtocol, float]] = {}
    loop: AbstractEventLoop
    _look: TimerHandle | None = None
    _served = False

    def connection_made(self, transport: Transport) -> None:  # type: ignore[override]
        """Note the connection; where there are too many, close the longest idle."""
        super().connection_made(transport)
        self._open[self] = self.loop.time()
        self._look = self.loop.call_later(1, self._look_again)
        self._make_room()

    def _make_room(self) -> None:
        """Close the connection that has been idle longest, where there are too many."""
        if len(self._open) > MOST:
            idle = [one for one in self._open if one.idle]
            if idle:
                min(idle, key=self._open.__getitem__).let_go()

    def data_received(self, data: bytes) -> None:
        """Note when something came."""
        if self.idle and not self._begun:
            self._open[self] = self.loop.time()
        super().data_received(data)
        self._served = self._served or self.cycle is not None

    def connection_lost(self, exc: Exception | None) -> None:
        """Forget the connection."""
        self._open.pop(self, None)
        if self._look is not None:
            self._look.cancel()
        super().connection_lost(exc)

    @property
    def idle(self) -> bool:
        """Whether no answer is being made; a request whose body is still open is idle too."""
        cycle: Any = self.cycle
        return cycle is None or cycle.response_complete or cycle.more_body

    @property
    def _begun(self) -> bool:
        """Whether a part of the next request has come."""
        return bool(self.conn.trailing_data[0])

    def _look_again(self) -> None:
        waited = self.loop.time() - self._open.get(self, self.loop.time())
        allowed = IDLE_SECONDS if self._served and not self._begun else HEAD_SECONDS
        if self.idle and waited > allowed:
            self.let_go()
        else:
            self._look = self.loop.call_later(1, self._look_again)

    def let_go(self) -> None:
        """Close the connection."""
        self._open.pop(self, None)
        self.transport.close()
