"""What the machine refuses, in words: the one place where such faults are told.

Readers, the store and the writers let a full disk or a damaged file through to
here. `kikichoko.panel.cli` asks this file before anybody sees a traceback.
"""

from __future__ import annotations

import errno
import json
import sqlite3
import traceback
from pathlib import Path

from ...analysis.core.words import Sentence
from ...forms.paper.typeset import LackingLetters
from .words import say, sentence

_LONGEST = 300  # signs of a fault's own text
_FULL = (errno.ENOSPC, errno.EFBIG, getattr(errno, "EDQUOT", errno.ENOSPC))
_NO_RIGHT = (errno.EACCES, errno.EPERM, errno.EROFS)


def in_words(fault: BaseException) -> Sentence:
    """Say what happened and what to do.

    Parameters
    ----------
    fault : BaseException
        Anything but the refusals of `errors`, which have words of their own.
    """
    match fault:
        case KeyboardInterrupt():
            return sentence("machine.stopped")
        case MemoryError():
            return sentence("machine.memory")
        case RecursionError():
            return sentence("machine.nested")
        case sqlite3.DatabaseError():
            return _of_database(fault)
        case OSError():
            return _of_disk(fault)
        case LackingLetters():
            return sentence("machine.no_letter", letters=fault.letters, text=fault.text[:_LONGEST])
        case UnicodeError():
            return sentence("machine.letters", why=_short(fault), where=_where(fault))
        case json.JSONDecodeError():
            return sentence("machine.not_json", why=_short(fault), where=_where(fault))
    return sentence(
        "machine.unforeseen", kind=type(fault).__name__, why=_short(fault), where=_where(fault)
    )


def _of_disk(fault: OSError) -> Sentence:
    name = fault.filename2 or fault.filename
    some = name is None or isinstance(name, int)
    path = say("machine.some_file") if some else str(name)
    if fault.errno in _FULL:
        return sentence("machine.full", path=path)
    if fault.errno in _NO_RIGHT:
        return sentence("machine.no_right", path=path, why=fault.strerror)
    if fault.errno == errno.ENAMETOOLONG:
        return sentence("machine.long_name", path=path)
    return sentence("machine.disk", path=path, why=_short(fault))


def _of_database(fault: sqlite3.DatabaseError) -> Sentence:
    kind = getattr(fault, "sqlite_errorcode", 0) & 0xFF
    file = "answers.sqlite"
    if kind in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return sentence("machine.store_in_use", file=file)
    if kind in (sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR):
        return sentence("machine.full", path=file)
    if kind in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM, sqlite3.SQLITE_CANTOPEN):
        return sentence("machine.no_right", path=file, why=_short(fault))
    if kind in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_ERROR):
        return sentence("machine.store_damaged", file=file, why=_short(fault))
    return sentence("machine.store_refused", file=file, why=_short(fault))


def _short(fault: BaseException) -> str:
    text = " ".join(str(fault).split()) or type(fault).__name__
    return text if len(text) <= _LONGEST else text[:_LONGEST] + " …"


def _where(fault: BaseException) -> str:
    """Name the line of this program, for those who mend it."""
    lines = [
        one for one in traceback.extract_tb(fault.__traceback__) if "kikichoko" in one.filename
    ]
    return f"{Path(lines[-1].filename).name}:{lines[-1].lineno}" if lines else "–"
