"""What the earlier sessions beside a folder teach of its house: read, no key is opened.

Nothing is kept besides the sessions themselves: the memory is learned anew from those whose
key is open, so a person who was forgotten or a code that was changed is gone from it with them.
"""

from __future__ import annotations

import csv
import datetime as dt
import sqlite3
from collections.abc import Callable, Iterator, Sequence
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
from ..session.bottles import Bottle, read_bottles
from ..session.roster import read_assessors
from ..session.session_folder import SETTINGS, card_of, edition_of, settings_of
from ..session.settings import Settings

if TYPE_CHECKING:
    from ...analysis.memory.house_memory import HouseMemory, Remembered

SCORES = "scores.csv"
_LEAST_OTHERS = 2
_Row = tuple[str, str, str, str, float]


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

    from ...analysis.memory.house_memory import COLUMNS, remember

    dates: list[dt.date] = []
    left_out: list[Sentence] = []
    rows: list[_Row] = []
    styles: list[tuple[str, str, str]] = []
    cards: dict[str, dict[str, Question]] = {}
    kinds: dict[str, str] = {}
    for one in session_folders(folder):
        tick()
        try:
            settings = settings_of(one)
            if before is not None and settings.date >= before:
                continue
            why = _closed(one)
            if why:
                left_out.append(sentence(why, folder=one.name))
                continue
            asked = _lines(settings, one, cards)
            bottles = read_bottles(one)[0]
            found = list(_shares(one, settings, asked, bottles))
        except (FolderFault, ValueError, KeyError, OSError, csv.Error, sqlite3.Error) as fault:
            left_out.append(sentence("memory.broken", folder=one.name, why=fault))
            continue
        if found:
            rows += found
            dates.append(settings.date)
            kinds |= {key: question.sense for key, question in asked.items()}
            styles += [(one.name, bottle.name, bottle.fraction) for bottle in bottles]
    if not rows:
        return Earlier(memory=None, dates=(), left_out=tuple(left_out))
    named = [style for style in styles if style[2]]
    fractions = pd.DataFrame(named, columns=["session", "sample", "style"])
    learned = remember(pd.DataFrame(rows, columns=list(COLUMNS)), kinds=kinds, styles=fractions)
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


def _lines(
    settings: Settings, folder: Path, known: dict[str, dict[str, Question]]
) -> dict[str, Question]:
    """Return the lines that a session asks about its bottles; cards once made are in `known`."""
    wishes = settings.model_dump_json(include={"method", "test", "questions"})
    wishes += f" {edition_of(folder)}"
    if wishes not in known:
        card = card_of(settings, folder)
        known[wishes] = {one.key: one for one in card if one.kind is Kind.LINE and not one.aside}
    return known[wishes]


def _shares(
    folder: Path, settings: Settings, asked: dict[str, Question], bottles: Sequence[Bottle]
) -> Iterator[_Row]:
    """Yield the scores of lines as shares of their length, of those whose scores count."""
    heading, *rows = text_rows(folder / SCORES)
    assessor, sample, attribute, score = (
        heading.index(name) for name in ("assessor", "sample", "attribute", "score")
    )
    apart = {one.name for one in bottles if one.control or one.use != "sample"}
    rows = [
        row for row in rows if row[attribute] in asked and row[score] and row[sample] not in apart
    ]
    people = {row[assessor] for row in rows}
    makers = people & {
        one.code for one in read_assessors(folder, languages())[0] if one.role == "maker"
    }
    if settings.panel.maker_in_means or len(people - makers) < _LEAST_OTHERS:
        makers = set()
    read: dict[str, float | None] = {}
    for row in rows:
        if row[assessor] in makers:
            continue
        if row[score] not in read:
            read[row[score]] = understand(row[score])
        value, question = read[row[score]], asked[row[attribute]]
        if value is not None:
            share = (value - question.low) / (question.high - question.low)
            # Two folders may bear one name: the folder tells them apart.
            yield folder.name, row[assessor], row[sample], row[attribute], share
