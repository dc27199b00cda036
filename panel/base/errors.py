"""What this room refuses, by what the reader can do about it.

::

    PanelError (Exception)
    ├── FolderFault     the session folder has faults: correct the named files
    ├── PlanRefused     the session cannot be served like this: change the plan
    ├── InputRefused    a file or table cannot be taken as it is
    └── NotReady        a step before this one is still to be done

Each carries a `Sentence` for the reader's language. `kikichoko.panel.cli`
turns them into words and exit code 1; no traceback for a brewer's mistake.
"""

from __future__ import annotations

from ...analysis.core.words import Sentence
from .words import sentence

REFUSED = 1
NEEDS_A_PERSON = 3
STOPPED = 130
"""Exit codes: refused with the reason; done, but something needs a person; stopped by Ctrl-C."""


class PanelError(Exception):
    """Root of all refusals of this room."""

    def __init__(self, key: str, /, **values: object) -> None:
        self.sentence: Sentence = sentence(key, **values)
        super().__init__(str(self.sentence))


class FolderFault(PanelError):
    """The session folder has faults, all of them told at once."""


class PlanRefused(PanelError):
    """The session cannot be served like this."""


class InputRefused(PanelError):
    """A file or a table cannot be taken as it is."""


class NotReady(PanelError):
    """A step before this one is still to be done."""
