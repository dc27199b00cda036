"""The clock that records are dated by: that of the machine, but in a demonstration.

A demonstration tells of days in an invented spring: dated by the machine its key was opened
months after its tasting. No command sets this clock; what is done in a session of one's own has
the time of the machine.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

_TOLD: ContextVar[dt.datetime | None] = ContextVar("told", default=None)


def now() -> str:
    """Return the time to the second, with its offset, as ISO 8601 writes it."""
    told = _TOLD.get()
    return (told or dt.datetime.now().astimezone()).isoformat(timespec="seconds")


@contextmanager
def clock_at(day: dt.date, hour: int, *, later: int = 0) -> Iterator[None]:
    """Let records be dated by an hour of a day of a scenario, in UTC; it stands still within.

    Parameters
    ----------
    day : date
    hour : int
        0 to 23.
    later : int
        Days after `day`; negative before it.
    """
    moment = dt.datetime.combine(day, dt.time(hour), dt.UTC) + dt.timedelta(days=later)
    token = _TOLD.set(moment)
    try:
        yield
    finally:
        _TOLD.reset(token)
