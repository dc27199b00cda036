"""Doing what a command does, by that command: in a process of its own, in the reader's language.

So there is no second truth, no act holds the desk up, and this process never opens the key.
"""

from __future__ import annotations

import asyncio
import os
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from ..base.errors import NEEDS_A_PERSON

_VARIABLE = "KIKICHOKO_LANGUAGE"
RUN = "from kikichoko.panel.cli import main; main()"
_LONGEST = 2_000_000
"""Letters of what a command says that are kept."""


@dataclass(frozen=True, slots=True)
class Done:
    """What a command did.

    Attributes
    ----------
    code : int
        Its exit code.
    said : str
        What it wrote for people.
    printed : str
        What it wrote as its result.
    """

    code: int
    said: str = ""
    printed: str = ""

    @property
    def well(self) -> bool:
        """Whether it was done; perhaps something needs a person."""
        return self.code in (0, NEEDS_A_PERSON)


def environment(language: str) -> Mapping[str, str]:
    """Return the variables of a command that speaks a language."""
    return {**os.environ, _VARIABLE: language, "PYTHONIOENCODING": "utf-8"}


async def act(language: str, *words: str | Path, place: Path | None = None) -> Done:
    """Run a command and wait for its end.

    Parameters
    ----------
    language : str
    *words : str or Path
        The command and what follows it.
    place : Path, optional
        Folder in which it runs.
    """
    process = await asyncio.create_subprocess_exec(
        sys.executable, "-c", RUN, *map(str, words),
        stdin=asyncio.subprocess.DEVNULL, stdout=asyncio.subprocess.PIPE,
        stderr=asyncio.subprocess.PIPE, env=environment(language), cwd=place,
    )  # fmt: skip
    printed, said = await process.communicate()
    return Done(process.returncode or 0, _text(said), _text(printed))


def _text(written: bytes) -> str:
    return written.decode("utf-8", "replace")[:_LONGEST].replace("\r\n", "\n").strip("\n")
