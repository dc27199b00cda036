"""Terminal and pipes: what cannot be shown or heard there stops no work."""

from __future__ import annotations

import codecs
import errno
import io
import locale
import os
import shutil
import sys
from collections.abc import Sequence
from pathlib import Path

from ...line_breaks import folded

_GONE = (errno.EPIPE, errno.EIO, errno.EBADF)
OWN_PROCESS = "own process"
"""What a command finds in the root of its context where the process ends with it."""
NARROWEST, WIDEST = 40, 100
"""Columns for which lines are broken at least and at most."""
_ALIKE = str.maketrans(
    {
        "–": "-",
        "—": "-",
        "−": "-",
        "〜": "～",
        "·": "・",
        "≥": "≧",
        "≤": "≦",
        "✓": "v",
        "酛": "もと",
    }
)
"""Letters that an older Japanese terminal (cp932) lacks, and what stands for them there."""


class Console(io.TextIOWrapper):
    """A stream for people: letters that it lacks become signs, a listener who left is forgotten.

    Its lines are broken where a person reads them: see `width_of`.
    """

    before: io.TextIOWrapper
    """The stream whose file this one writes to; were it let go, it would close the file."""

    def write(self, text: str, /) -> int:
        """Write, in lines of the terminal's width; what nobody hears any more is dropped."""
        width = width_of(self)
        if width and len(text) > width // 2 and not ({"\r", "\x1b"} & set(text)):
            text = "\n".join(
                line if _is_path(line) else folded(line, width) for line in text.split("\n")
            )
        return self.write_whole(text)

    def write_whole(self, text: str) -> int:
        """Write data as it is, whatever the width of the terminal."""
        try:
            return super().write(text)
        except OSError as fault:
            self._forget(fault)
            return len(text)

    def flush(self) -> None:
        """Bring out what was written; what nobody hears any more is dropped."""
        try:
            super().flush()
        except OSError as fault:
            self._forget(fault)

    def _forget(self, fault: OSError) -> None:
        """Let the rest go nowhere: the pipe was closed, or the terminal of a background run."""
        if fault.errno not in _GONE:
            raise fault
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, self.fileno())
        os.close(nowhere)


def _is_path(line: str) -> bool:
    try:
        return bool(line) and Path(line).exists()
    except (OSError, ValueError):  # too long for a name, or a sign that no name has
        return False


def _stand_in(fault: UnicodeError) -> tuple[str | bytes, int]:
    """Write a letter that the terminal lacks as one that looks alike, else as its number."""
    if isinstance(fault, UnicodeEncodeError):
        lacking = fault.object[fault.start : fault.end]
        alike = lacking.translate(_ALIKE)
        for written in (alike, alike.translate({ord("～"): "~", ord("・"): "-"})):
            try:
                return written.encode(fault.encoding), fault.end
            except UnicodeEncodeError:
                continue
    return codecs.backslashreplace_errors(fault)


_LACKING = "kikichoko.lacking"
codecs.register_error(_LACKING, _stand_in)


def language_of_the_system(known: Sequence[str]) -> str:
    """Return the one of `known` that the system speaks, else the first of them.

    Examples
    --------
    >>> language_of_the_system(["en"])
    'en'
    """
    told = [os.environ.get(name, "") for name in ("LC_ALL", "LC_MESSAGES", "LANG")]
    if sys.platform == "win32" and not any(told):
        import ctypes

        told = [locale.windows_locale.get(ctypes.windll.kernel32.GetUserDefaultUILanguage(), "")]
    first = next(filter(None, told), "")
    spoken = first.partition("_")[0].partition(".")[0].lower()
    return spoken if spoken in known else known[0]


def width_of(stream: object) -> int:
    """Return how many columns lines may have, or 0 where whole lines are wanted.

    Lines are broken on a terminal, and in a pipe where the variable ``COLUMNS`` asks for it.
    """
    asked = os.environ.get("COLUMNS", "")
    if not (asked.isdecimal() and int(asked)) and not getattr(stream, "isatty", bool)():
        return 0
    return min(max(shutil.get_terminal_size().columns, NARROWEST), WIDEST)


def guard() -> None:
    """Put both streams for people behind a `Console`."""
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if isinstance(stream, io.TextIOWrapper) and not isinstance(stream, Console):
            own = Console(
                stream.buffer,
                encoding=stream.encoding,
                errors=_LACKING,
                line_buffering=stream.line_buffering,
            )
            own.before = stream
            setattr(sys, name, own)
