"""The pages of marks, which `kikichoko review` serves: started here, at one address a session."""

from __future__ import annotations

import asyncio
import re
import sys
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from .acts import RUN, environment

_ADDRESS = re.compile(r"http://127\.0\.0\.1:\d+/\S+/")


@dataclass
class Reviews:
    """The rounds of looking that are under way."""

    _running: dict[Path, tuple[asyncio.subprocess.Process, str]] = field(default_factory=dict)

    async def of(self, place: Path, language: str) -> tuple[str, Sequence[str]]:
        """Return the address of the pages of a session, or none and why."""
        process, address = self._running.get(place, (None, ""))
        if process is not None and process.returncode is None:
            return address, ()
        process = await asyncio.create_subprocess_exec(
            sys.executable, "-c", RUN, "review", "--no-browser", "--", str(place),
            stdin=asyncio.subprocess.DEVNULL, stdout=asyncio.subprocess.DEVNULL,
            stderr=asyncio.subprocess.PIPE, env=environment(language),
        )  # fmt: skip
        said = []
        while process.stderr and (line := await process.stderr.readline()):
            said.append(line.decode("utf-8", "replace").strip())
            found = _ADDRESS.search(said[-1])
            if found:
                self._running[place] = process, found[0]
                return found[0], ()
        await process.wait()
        return "", said

    def end(self) -> None:
        """End all of them; what was decided is in the store."""
        for process, _ in self._running.values():
            with suppress(ProcessLookupError):
                process.terminate()
