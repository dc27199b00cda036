"""What is served beside the desk: pages of marks (`review`) and tables of telephones (`serve`).

Each is its command, started here, one a session. It ends when its input is closed, so that none
goes on unseen when the desk is closed or killed.
"""

from __future__ import annotations

import asyncio
import re
import sys
from collections import defaultdict
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from .acts import RUN, environment

_ADDRESS = re.compile(r"http://[\w.:\[\]-]+:\d+/\S+/")
SECONDS = 10.0
"""Time that a server has to end by itself."""


@dataclass
class SideServers:
    """The servers of one command that run beside the desk.

    Attributes
    ----------
    command : str
    tell : callable
        Given each line that one of them writes once it serves.
    """

    command: str
    tell: Callable[[str], None]
    _running: dict[Path, tuple[asyncio.subprocess.Process, str]] = field(default_factory=dict)
    _starting: dict[Path, asyncio.Lock] = field(default_factory=lambda: defaultdict(asyncio.Lock))
    _readers: set[asyncio.Task[None]] = field(default_factory=set)

    def address(self, place: Path) -> str:
        """Return where the server of a session is reached; empty where none runs."""
        process, address = self._running.get(place, (None, ""))
        return address if process is not None and process.returncode is None else ""

    async def of(self, place: Path, language: str, *options: str) -> tuple[str, Sequence[str]]:
        """Return the address of the server of a session, or none and why.

        It is started where none runs; two who ask at once get the same.
        """
        async with self._starting[place]:
            if address := self.address(place):
                return address, ()
            return await self._start(place, language, options)

    async def _start(
        self, place: Path, language: str, options: Sequence[str]
    ) -> tuple[str, Sequence[str]]:
        words = (self.command, "--until-closed", *options, "--", str(place))
        process = await asyncio.create_subprocess_exec(
            sys.executable, "-u", "-c", RUN, *words, stdin=asyncio.subprocess.PIPE,
            stdout=asyncio.subprocess.PIPE, stderr=asyncio.subprocess.STDOUT,
            env=environment(language),
        )  # fmt: skip
        said: list[str] = []
        while line := await _line(process):
            said.append(line)
            found = _ADDRESS.search(line)
            if found:
                self._running[place] = process, found[0]
                reading = asyncio.create_task(self._read(process))
                self._readers.add(reading)
                reading.add_done_callback(self._readers.discard)
                return found[0], said
        await process.wait()
        return "", said

    async def _read(self, process: asyncio.subprocess.Process) -> None:
        """Pass on what a server says, so that it never waits for a reader."""
        while line := await _line(process):
            self.tell(line)
        await process.wait()

    async def stop(self, place: Path) -> None:
        """End the server of a session; what was saved stays."""
        process, _ = self._running.pop(place, (None, ""))
        if process is None:
            return
        _close(process)
        try:
            async with asyncio.timeout(SECONDS):
                await process.wait()
        except TimeoutError:
            process.kill()
            await process.wait()

    def end(self) -> None:
        """Let all of them end."""
        for process, _ in self._running.values():
            _close(process)


async def _line(process: asyncio.subprocess.Process) -> str:
    """Return the next line that is not blank; empty at the end."""
    while process.stdout and (line := await process.stdout.readline()):
        if text := line.decode("utf-8", "replace").strip():
            return text
    return ""


def _close(process: asyncio.subprocess.Process) -> None:
    with suppress(OSError, RuntimeError):
        if process.stdin:
            process.stdin.close()
