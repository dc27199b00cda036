"""One command at a time where two would undo each other's work."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from .errors import NotReady

PATIENCE = 30.0
"""Seconds to wait for the other command."""


@contextmanager
def alone(folder: Path, patience: float = PATIENCE) -> Iterator[None]:
    """Keep other commands that ask the same out of a folder; a kill ends that by itself.

    Nothing is written. Where folders cannot be locked (Windows), nobody is kept out.

    Raises
    ------
    NotReady
        If another command does not come to its end in time.
    """
    if os.name != "posix":
        yield
        return
    import fcntl

    until = time.monotonic() + patience
    handle = os.open(folder, os.O_RDONLY)
    try:
        while True:
            try:
                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
                break
            except BlockingIOError:
                if time.monotonic() > until:
                    raise NotReady("machine.in_use", folder=folder) from None
                time.sleep(0.05)
        yield
    finally:
        os.close(handle)
