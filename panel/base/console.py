"""Terminal and pipes: what cannot be shown or heard there stops no work."""

from __future__ import annotations

import codecs
import errno
import io
import locale
import os
import sys
import unicodedata
from collections.abc import Sequence

_GONE = (errno.EPIPE, errno.EIO, errno.EBADF)
_ALIKE = str.maketrans(
    {"–": "-", "—": "-", "−": "-", "〜": "～", "·": "・", "≥": "≧", "≤": "≦", "✓": "v"}
)
"""Letters that an older Japanese terminal (cp932) lacks, and what stands for them there."""


class Console(io.TextIOWrapper):
    """A stream for people: letters that it lacks become signs, a listener who left is forgotten."""

    before: io.TextIOWrapper
    """The stream whose file this one writes to; were it let go, it would close the file."""

    def write(self, text: str, /) -> int:
        """Write; what nobody hears any more is dropped."""
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


def columns(text: str) -> int:
    """Count the columns that a text takes on a terminal.

    Examples
    --------
    >>> columns("sake"), columns("酒"), columns("か\u3099")
    (4, 2, 2)
    """
    alone = [letter for letter in text if not unicodedata.combining(letter)]
    return len(alone) + sum(unicodedata.east_asian_width(letter) in "WF" for letter in alone)


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
