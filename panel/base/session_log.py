"""The log of a session: what was done when, each entry holding the one before it.

``log.jsonl`` in the session folder, one JSON object a line, added to and never
rewritten. An entry holds the SHA-256 of the line before it, so that no line can be
changed, taken out or put in without breaking the chain at that place; what was cut off
at the end is seen by whoever noted a head (it stands on the pour list and in the
report, and the store remembers it). The order is that of the chain; the clock is only
told. The log holds codes and seals, never a name, a reason or what is in a cup.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import IO, Any

from .clock import now
from .one_at_a_time import NO_LOCKS
from .whole_files import to_disk

fcntl: Any
try:
    fcntl = import_module("fcntl")
except ImportError:  # Windows
    fcntl = None

FILE = "log.jsonl"
_FAR = 1 << 40


@dataclass(frozen=True, slots=True, kw_only=True)
class LogEntry:
    """One entry.

    Attributes
    ----------
    number : int
        From 1.
    at : str
        What the clock said (ISO 8601 with offset).
    act : str
    values : dict
        What else is told.
    head : str
        SHA-256 of its line, 64 hexadecimal digits.
    """

    number: int
    at: str
    act: str
    values: dict[str, Any]
    head: str


@dataclass(frozen=True, slots=True)
class Break:
    """Where a log is not whole: ``torn``, ``broken`` or ``clock``, at a line from 1."""

    kind: str
    line: int


@dataclass(frozen=True, slots=True)
class Log:
    """A log as it was read.

    Attributes
    ----------
    entries : tuple of LogEntry
        Those that can be read.
    breaks : tuple of Break
    there : bool
        Whether there is a file.
    """

    entries: tuple[LogEntry, ...] = ()
    breaks: tuple[Break, ...] = ()
    there: bool = False

    @property
    def head(self) -> str:
        """SHA-256 of the last entry; empty without one."""
        return self.entries[-1].head if self.entries else ""

    def of(self, *acts: str) -> list[LogEntry]:
        """Return the entries of some acts."""
        return [entry for entry in self.entries if entry.act in acts]


def to_the_minute(at: str) -> str:
    """Write a time of the log to the minute.

    >>> to_the_minute("2026-03-14T10:05:39+00:00")
    '2026-03-14 10:05 UTC'
    """
    day, _, time = at.partition("T")
    zone = time[8:].replace("+00:00", "UTC")
    return " ".join(part for part in (day, time[:5], zone) if part)


def read_log(folder: Path) -> Log:
    """Read the log of a session folder and follow its chain."""
    path = folder / FILE
    try:
        content = path.read_bytes()
    except FileNotFoundError:
        return Log()
    return _followed(content)


def _followed(content: bytes) -> Log:
    lines = content.split(b"\n")
    torn_end = bool(lines.pop())
    entries: list[LogEntry] = []
    breaks: list[Break] = []
    torn: tuple[int, str] | None = None
    for number, line in enumerate(lines, start=1):
        found = _parsed(line)
        if found is None:
            if torn is not None:
                breaks.append(Break("broken", torn[0]))
            torn = (number, _digest(line))
            continue
        if torn is not None:
            kind = "torn" if found.get("torn") == torn[1] else "broken"
            breaks.append(Break(kind, torn[0]))
            torn = None
        expected = (entries[-1].head, entries[-1].number + 1) if entries else ("", 1)
        if (found["before"], found["n"]) != expected:
            breaks.append(Break("broken", number))
        if entries and _moment(found["at"]) < _moment(entries[-1].at):
            breaks.append(Break("clock", number))
        known = ("n", "at", "act", "before", "torn")
        values = {name: value for name, value in found.items() if name not in known}
        entries.append(
            LogEntry(
                number=found["n"],
                at=found["at"],
                act=found["act"],
                values=values,
                head=_digest(line),
            )
        )
    if torn is not None:
        breaks.append(Break("broken", torn[0]))
    if torn_end:
        breaks.append(Break("torn", len(lines) + 1))
    return Log(tuple(entries), tuple(breaks), there=True)


def append(folder: Path, act: str, **values: Any) -> LogEntry:
    """Add an entry and bring it to the disk before anything else is done.

    A last line that a power failure left half written is kept as it is; the new entry
    says that it is there.
    """
    with _locked(folder / FILE) as out:
        out.seek(0)
        content = out.read()
        tail = content.rpartition(b"\n")[2]
        log = _followed(content)
        said: dict[str, Any] = {
            "n": log.entries[-1].number + 1 if log.entries else 1,
            "at": now(),
            "act": act,
            **values,
            "before": log.head,
        }
        if tail:
            said["torn"] = _digest(tail)
        line = json.dumps(said, ensure_ascii=True, allow_nan=False).encode()
        out.seek(0, os.SEEK_END)
        out.write((b"\n" if tail else b"") + line + b"\n")
        out.flush()
        os.fsync(out.fileno())
    known = {"n", "at", "act", "before", "torn"}
    return LogEntry(
        number=said["n"],
        at=said["at"],
        act=act,
        values={name: value for name, value in said.items() if name not in known},
        head=_digest(line),
    )


def _parsed(line: bytes) -> dict[str, Any] | None:
    try:
        found = json.loads(line)
    except (ValueError, RecursionError):
        return None
    kinds = {"n": int, "at": str, "act": str, "before": str}
    if not isinstance(found, dict):
        return None
    if any(not isinstance(found.get(name), kind) for name, kind in kinds.items()):
        return None
    try:
        _moment(found["at"])
    except (ValueError, OverflowError):
        return None
    return found


def _moment(text: str) -> float:
    return dt.datetime.fromisoformat(text).timestamp()


def _digest(line: bytes) -> str:
    return hashlib.sha256(line).hexdigest()


@contextmanager
def _locked(path: Path) -> Iterator[IO[bytes]]:
    """Open the log for one writer at a time."""
    new = not path.exists()
    with path.open("ab+") as out, _alone(out.fileno()):
        yield out
    if new and fcntl is not None:
        to_disk(path.parent)


@contextmanager
def _alone(handle: int) -> Iterator[None]:
    """Lock an open file until the block ends.

    Windows keeps others from reading what is locked: there it is a byte far behind the end,
    and the place is set on the handle itself, since a buffer may not pass it on.
    """
    if fcntl is not None:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX)  # closing the file ends it
        except OSError as fault:
            if fault.errno not in NO_LOCKS:
                raise
        yield
        return
    msvcrt: Any = import_module("msvcrt")
    os.lseek(handle, _FAR, os.SEEK_SET)
    msvcrt.locking(handle, msvcrt.LK_LOCK, 1)
    try:
        yield
    finally:
        os.lseek(handle, _FAR, os.SEEK_SET)
        msvcrt.locking(handle, msvcrt.LK_UNLCK, 1)
