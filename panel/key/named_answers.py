"""The answers of the open flight as tables, apart from the blind ones, with what the log tells."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..base.session_log import LogEntry, read_log
from ..open_flight.flight import VERSION, load_flight
from ..open_flight.named_returns import TooLate, too_late
from ..plan.open_plan import OpenPlan
from ..returns.closed_flights import FOLDER, closed
from ..returns.store import Store
from ..session.session import Session
from .opened_tables import COLUMNS, with_unticked
from .set_answers import Row

if TYPE_CHECKING:
    import pandas as pd

BLIND, OPEN = "blind", "open"
"""What the column ``flight`` holds."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class NamedAnswers:
    """What came of an open flight.

    Attributes
    ----------
    entry : LogEntry
        The entry of the log that closed the blind flights.
    planned : bool
        Whether it was planned from the start.
    scores, words : DataFrame
        As `Scores` has them; the sample is the bottle, the replicate 1.
    late : tuple of TooLate
        Answers about blind cups that came too late.
    key_open : bool
        Whether the key was opened, by a report or otherwise, before names were told.
    """

    entry: LogEntry
    planned: bool
    scores: pd.DataFrame
    words: pd.DataFrame
    late: tuple[TooLate, ...]
    key_open: bool

    def beside(self, blind: pd.DataFrame) -> pd.DataFrame:
        """Return blind and named scores in one tidy table, told apart by the column ``flight``."""
        import pandas as pd

        both = [blind.assign(flight=BLIND), self.scores.assign(flight=OPEN)]
        whole = pd.concat([one for one in both if len(one)])
        return whole[["session", "flight", *COLUMNS[1:]]]


def named_answers(session: Session, plan: OpenPlan) -> NamedAnswers | None:
    """Return what came of the open flight; None where none was opened."""
    import pandas as pd

    entry = closed(session.folder)
    if entry is None:
        return None
    flight = load_flight(session, plan)
    place = {(pour.assessor, pour.code): pour.presentation for pour in flight.pours}
    with Store(session.folder / FOLDER, reading=True) as store:
        answers = [one.answer for one in store.answers() if one.plan == VERSION]
        late = tuple(too_late(session, store))
    rows: list[Row] = [
        (one.session, one.assessor, one.code, 1, place[one.assessor, one.code], one.attribute,
         one.value)
        for one in answers
    ]  # fmt: skip
    numbers = [row for row in rows if not isinstance(row[-1], str)]
    scores = pd.DataFrame(with_unticked(numbers, session.scorecard), columns=COLUMNS)
    words = [row for row in rows if isinstance(row[-1], str)]
    return NamedAnswers(
        entry=entry,
        planned=bool(flight.content["planned"]),
        scores=scores.astype({"replicate": "Int64", "position": "Int64", "score": float}),
        words=pd.DataFrame(words, columns=[*COLUMNS[:-1], "text"]),
        late=late,
        key_open=any(one.number < entry.number for one in read_log(session.folder).of("open")),
    )
