"""What the earlier sessions beside a folder teach of its house: read, no key is opened.

Nothing is kept besides the sessions themselves: the memory is learned anew from those whose
key is open, so a person who was forgotten or a code that was changed is gone from it with them.
"""

from __future__ import annotations

import csv
import datetime as dt
import sqlite3
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from ...analysis.core.words import Sentence
from ...forms.questions.question_types import Kind, Question
from ...forms.questions.words import languages
from ..base.errors import FolderFault
from ..base.table_grid import text_rows
from ..base.words import sentence
from ..base.written_numbers import understand
from ..returns.store import FILE
from ..session.bottles import read_bottles
from ..session.roster import read_assessors
from ..session.session_folder import SETTINGS, settings_and_card
from ..session.settings import Settings

if TYPE_CHECKING:
    import pandas as pd

    from ...analysis.memory.house_memory import HouseMemory, Remembered

SCORES = "scores.csv"
_LEAST_OTHERS = 2
_TEXT = ("assessor", "sample", "attribute")


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Earlier:
    """What is remembered, and from when.

    Attributes
    ----------
    memory : HouseMemory or None
        None where no session counts.
    dates : tuple of date
        Of the sessions that count, in order.
    left_out : tuple of Sentence
        Sessions that do not count, and why.
    """

    memory: HouseMemory | None
    dates: tuple[dt.date, ...]
    left_out: tuple[Sentence, ...]

    @property
    def source(self) -> Sentence:
        """Where it comes from: "from 7 earlier sessions, 2024–2026"."""
        first, last = self.dates[0].year, self.dates[-1].year
        years = str(first) if first == last else f"{first}–{last}"
        return sentence("memory.source", n=len(self.dates), years=years)

    def known(self, question: Question) -> Remembered | None:
        """Return what is remembered of a question, in points of its scale."""
        if self.memory is None:
            return None
        return self.memory.known(question.key, question.high - question.low)


def earlier_sessions(
    folder: Path,
    *,
    before: dt.date | None = None,
    tick: Callable[[], None] = lambda: None,
) -> Earlier:
    """Learn from the sessions in a folder.

    Parameters
    ----------
    folder : Path
        The folder in which the session folders stand.
    before : date, optional
        Only sessions held before that day.
    tick : callable
        Called after each session.
    """
    import pandas as pd

    from ...analysis.memory.house_memory import remember

    dates: list[dt.date] = []
    left_out: list[Sentence] = []
    tables: list[pd.DataFrame] = []
    styles: list[dict[str, str]] = []
    kinds: dict[str, str] = {}
    for one in session_folders(folder):
        tick()
        try:
            settings, card = settings_and_card(one)
            if before is not None and settings.date >= before:
                continue
            lines = {question.key: question for question in card if question.kind is Kind.LINE}
            asked = {key: question for key, question in lines.items() if not question.aside}
            why = _closed(one)
            scores = None if why else _shares(one, settings, asked)
        except (FolderFault, ValueError, KeyError, OSError, csv.Error, sqlite3.Error) as fault:
            left_out.append(sentence("memory.broken", folder=one.name, why=fault))
            continue
        if scores is None or scores.empty:
            if why:
                left_out.append(sentence(why, folder=one.name))
            continue
        # Two folders may bear one name: the folder tells them apart.
        tables.append(scores.assign(session=one.name))
        dates.append(settings.date)
        kinds |= {key: question.sense for key, question in asked.items()}
        styles += [
            {"session": one.name, "sample": bottle.name, "style": bottle.fraction}
            for bottle in read_bottles(one)[0]
            if bottle.fraction
        ]
    if not tables:
        return Earlier(memory=None, dates=(), left_out=tuple(left_out))
    fractions = pd.DataFrame(styles, columns=["session", "sample", "style"])
    learned = remember(pd.concat(tables, ignore_index=True), kinds=kinds, styles=fractions)
    return Earlier(memory=learned, dates=tuple(sorted(dates)), left_out=tuple(left_out))


def session_folders(folder: Path) -> Iterator[Path]:
    """Yield the session folders that stand in a folder."""
    yield from sorted(path.parent for path in folder.glob(f"*/{SETTINGS}"))


def _closed(folder: Path) -> str:
    """Say why a session does not count: its key is closed, or answers came after its report."""
    path = folder / FILE
    if not path.is_file() or not (folder / SCORES).is_file():
        return "memory.closed"
    with sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True) as database:
        last = database.execute("SELECT max(opened_at) FROM openings").fetchone()[0]
        late = database.execute("SELECT max(entered_at) FROM answers").fetchone()[0]
    database.close()
    if last is None:
        return "memory.closed"
    return "memory.stale" if late is not None and late > last else ""


def _shares(folder: Path, settings: Settings, asked: dict[str, Question]) -> pd.DataFrame:
    """Read the scores of lines as shares of their length, of those whose scores count."""
    import pandas as pd

    heading, *rows = text_rows(folder / SCORES)
    table = pd.DataFrame(rows, columns=heading, dtype=str)
    table = table[table["attribute"].isin(set(asked)) & (table["score"] != "")]
    bottles = read_bottles(folder)[0]
    apart = {bottle.name for bottle in bottles if bottle.control or bottle.use != "sample"}
    table = table[~table["sample"].isin(apart)]
    people = set(table["assessor"])
    roles = {one.code: one.role for one in read_assessors(folder, languages())[0]}
    makers = {code for code in people if roles.get(code) == "maker"}
    if makers and not settings.panel.maker_in_means and len(people - makers) >= _LEAST_OTHERS:
        table = table[~table["assessor"].isin(makers)]
    low = table["attribute"].map({key: one.low for key, one in asked.items()}).astype(float)
    high = table["attribute"].map({key: one.high for key, one in asked.items()}).astype(float)
    score = pd.Series([understand(cell) for cell in table["score"]], table.index, dtype=float)
    found: pd.DataFrame = table[list(_TEXT)].assign(score=(score - low) / (high - low))
    return found
