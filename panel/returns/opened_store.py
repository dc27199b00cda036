"""Opening the store's file: to write, or to look at it without touching the folder."""

from __future__ import annotations

import os
import sqlite3
import tempfile
import time
from pathlib import Path

PATIENCE = 30.0
"""Seconds to wait for another program that uses the store."""


def open_database(path: Path, *, reading: bool) -> tuple[sqlite3.Connection, bool]:
    """Open the store, in autocommit mode.

    Parameters
    ----------
    path : Path
    reading : bool
        Whether it is only looked at. A store that is not there is an empty one then.

    Returns
    -------
    Connection, bool
        And whether it is the file itself; else a copy in memory.
    """
    if reading and not _in_use(path):
        return _in_memory(path), False
    if reading and not os.access(path.parent, os.W_OK):
        return _brought_together(path), False
    database = sqlite3.connect(path, timeout=PATIENCE, isolation_level=None)
    try:
        _ahead_log(database)
        database.execute("PRAGMA synchronous = FULL")
    except BaseException:
        database.close()
        raise
    return database, True


def _in_use(path: Path) -> bool:
    """Tell whether a part of the store lies beside its file: in use now, or cut off by a kill."""
    log = path.with_name(path.name + "-wal")
    return log.exists() and log.stat().st_size > 0


def _in_memory(path: Path) -> sqlite3.Connection:
    """Return a copy in memory."""
    database = sqlite3.connect(":memory:", isolation_level=None)
    content = bytearray(path.read_bytes()) if path.exists() else bytearray()
    if content:
        content[18:20] = b"\x01\x01"  # no log ahead of a store in memory
        database.deserialize(bytes(content))
    return database


def _brought_together(path: Path) -> sqlite3.Connection:
    """Return a copy in memory of a store that cannot be written and has a log ahead of it."""
    with tempfile.TemporaryDirectory() as place:
        for ending in ("", "-wal"):
            copied = Path(place, f"{path.name}{ending}")
            copied.write_bytes(path.with_name(f"{path.name}{ending}").read_bytes())
        whole = sqlite3.connect(Path(place, path.name), isolation_level=None)
        try:
            whole.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        finally:
            whole.close()
        return _in_memory(Path(place, path.name))


def _ahead_log(database: sqlite3.Connection) -> None:
    """Write ahead; two that open a new store at once may have to wait for each other."""
    until = time.monotonic() + PATIENCE
    while True:
        try:
            if database.execute("PRAGMA journal_mode = WAL").fetchone()[0] == "wal":
                return
        except sqlite3.OperationalError as busy:
            if busy.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY or time.monotonic() > until:
                raise
            time.sleep(0.02)
        else:
            return  # a disk that cannot: a journal beside the file is as safe, only slower
