"""What this room refuses, by what the reader can do about it.

::

    AnalysisError (ValueError)
    ├── TableError      the table cannot be taken as it is: correct the data
    ├── NotEstimable    these data cannot answer the question: more or other data
    └── OptionError     an argument is out of its range: call again, corrected

Every error carries a `Sentence`, so it can be shown in the reader's language.
What *can* be computed but misleads is not an error: it goes into the
``warnings`` of the result.
"""

from __future__ import annotations

from .wording import itemised
from .words import Sentence


class AnalysisError(ValueError):
    """Root of all refusals of this room."""

    def __init__(self, key: str, /, **values: object) -> None:
        self.sentence = Sentence.of(key, **values)
        super().__init__(str(self.sentence))

    def _render_traceback_(self) -> list[str]:
        """Say in a notebook what is wrong, without the calls that led there."""
        return [str(self)]


class TableError(AnalysisError):
    """The table cannot be taken as it is; all its faults are told at once.

    Attributes
    ----------
    faults : tuple of Sentence
        One sentence per fault, naming row and column: the first ones.
    more : int
        How many there are beyond these.
    """

    def __init__(self, faults: tuple[Sentence, ...], *, more: int = 0) -> None:
        self.faults, self.more = faults, more
        told = (*faults, Sentence.of("table.more", n=more)) if more else faults
        super().__init__("table.refused", n=len(faults) + more, listed=itemised(told))


class NotEstimable(AnalysisError):
    """The data cannot answer this question; the message says what would."""


class OptionError(AnalysisError):
    """An argument is out of its range."""
