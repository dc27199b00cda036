"""Terminal and pipes: what cannot be shown or heard there stops no work."""

from __future__ import annotations

import errno
import io
import os
import sys

_GONE = (errno.EPIPE, errno.EIO, errno.EBADF)


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


def guard() -> None:
    """Put both streams for people behind a `Console`."""
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if isinstance(stream, io.TextIOWrapper) and not isinstance(stream, Console):
            own = Console(
                stream.buffer,
                encoding=stream.encoding,
                errors="backslashreplace",
                line_buffering=stream.line_buffering,
            )
            own.before = stream
            setattr(sys, name, own)
