"""Whether the blind flights of a session are closed for good.

They are from the entry of the log on that tells that the open flight was opened: who has
seen which bottle it is can no longer answer blind. From then on nothing is added to
``answers.sqlite`` of the session; what comes back is kept in the folder of the open flight.
"""

from __future__ import annotations

from pathlib import Path

from ..base.errors import NotReady
from ..base.session_log import LogEntry, read_log, to_the_minute

ACT = "open_flight"
"""The act in the log."""
FOLDER = Path("open_flight")
"""Where the open flight has its sheets, its store and its originals, below the session."""


def closed(folder: Path) -> LogEntry | None:
    """Return the entry of the log that closed the blind flights, or None."""
    found = read_log(folder).of(ACT)
    return found[0] if found else None


def refuse_closed(folder: Path) -> None:
    """Refuse to add to the blind part once it is closed.

    Raises
    ------
    NotReady
        With the time at which it was closed.
    """
    entry = closed(folder)
    if entry is not None:
        raise NotReady("open_flight.closed", at=to_the_minute(entry.at), folder=folder)
