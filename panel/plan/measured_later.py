"""Measurements of bottles that were added after planning, on the record.

``plan/server/measured.json`` lists old and new value, the time, and whether the key was
open by then; the log holds the seal of the list after each addition.
"""

from __future__ import annotations

import datetime as dt
import secrets
from pathlib import Path
from typing import Any

from ..base.clock import now
from ..base.private_files import close
from ..base.session_log import append, read_log
from ..base.whole_files import write_bytes
from .codes_before import MEASURED, content_or_nothing
from .sealing import seal, written

COLUMNS = (
    "abv",
    "meter_value",
    "acidity",
    "amino_acidity",
    "glucose",
    "polishing",
    "supernatant",
    "available",
    "volume_ml",
    "storage",
)
"""Columns of ``bottles.csv`` that may be filled in or corrected after planning."""


def records(folder: Path, since: str = "") -> list[dict[str, Any]]:
    """Return what was recorded since a moment: bottle, field, planned, now, at, key_open."""
    listed: list[dict[str, Any]] = content_or_nothing(folder / MEASURED).get("records", [])
    if not since:
        return listed
    first = dt.datetime.fromisoformat(since)
    return [one for one in listed if dt.datetime.fromisoformat(one["at"]) >= first]


def record(folder: Path, added: list[dict[str, Any]]) -> None:
    """Record values, each with bottle, field, planned and now."""
    content = content_or_nothing(folder / MEASURED)
    at = now()
    key_open = bool(read_log(folder).of("open"))
    listed = [
        *content.get("records", []),
        *({**one, "at": at, "key_open": key_open} for one in added),
    ]
    whole = {"secret": content.get("secret", secrets.token_hex(32)), "records": listed}
    # The log first: what is broken off in between is told, and mended by another call.
    append(folder, "measured", values=len(listed), sealed=seal(whole))
    write_bytes(folder / MEASURED, written(whole))
    close(folder / MEASURED)


def complete(folder: Path) -> None:
    """Log that the list stands as before, where its last writing was broken off."""
    if is_as_logged(folder):
        return
    content = content_or_nothing(folder / MEASURED)
    told = ["", *(one.values.get("sealed") for one in read_log(folder).of("measured"))]
    if (seal(content) if content else "") == told[-2]:
        here = len(content.get("records", ()))
        append(folder, "measured", values=here, sealed=told[-2], found=True)


def is_as_logged(folder: Path) -> bool:
    """Tell whether the list is the one that the log knows."""
    told = read_log(folder).of("measured")
    content = content_or_nothing(folder / MEASURED)
    sealed = told[-1].values.get("sealed") if told else ""
    return (seal(content) if content else "") == sealed
