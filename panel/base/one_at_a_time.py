"""One command at a time where two would undo each other's work."""

from __future__ import annotations

import errno
import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from .errors import NotReady

NO_LOCKS = (errno.ENOLCK, errno.ENOSYS, errno.EOPNOTSUPP, errno.EINVAL)
"""What a file system says that knows no locks."""
PATIENCE = 30.0
"""Seconds to wait for the other command."""


@contextmanager
def alone(folder: Path, patience: float = PATIENCE) -> Iterator[None]:
    """Keep other commands that ask the same out of a folder; a kill ends that by itself.

    Nothing is written. Where folders cannot be locked (Windows, some sticks and network
    drives), nobody is kept out.

    Raises
    ------
    NotReady
        If another command does not come to its end in time.
    """
    if os.name != "posix" or not folder.is_dir():
        yield
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        _lock(handle, folder, patience)
        yield
    finally:
        os.close(handle)


def _lock(handle: int, folder: Path, patience: float) -> None:
    import fcntl

    until = time.monotonic() + patience
    while True:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            if time.monotonic() > until:
                raise NotReady("machine.in_use", folder=folder) from None
            time.sleep(0.05)
        except OSError as fault:
            if fault.errno not in NO_LOCKS:
                raise
            return
        else:
            return
