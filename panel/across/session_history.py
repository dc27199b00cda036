"""Several session folders put together.

Only what a report has opened is read: this never opens a key. A folder whose
answers changed after its report is told, not silently taken.
"""

from __future__ import annotations

import csv
import math
from array import array
from collections import Counter
from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import dataclass
from itertools import compress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ...forms.questions.words import languages
from ..base.errors import FolderFault, InputRefused, NotReady
from ..base.problems import listed
from ..base.table_grid import text_rows
from ..base.toml_text import toml_of
from ..base.words import say, sentence
from ..base.written_numbers import understand
from ..batches.of_session import book_of, referred
from ..batches.written_cells import tank_key
from ..returns.opened_store import open_database
from ..returns.store import FILE
from ..session.bottles import CONDITIONS, Bottle, read_bottles
from ..session.conditions import written
from ..session.roster import read_assessors
from ..session.session_folder import card_of, settings_of

if TYPE_CHECKING:
    import pandas as pd

    from ...analysis.core.words import Sentence

SCORES = "scores.csv"
_LEAST_OTHERS = 2
_TEXT = ("session", "assessor", "sample", "attribute")
_SERVED = ("poured_from", *CONDITIONS)
TIMES = {"days": "opened_days", "months": "stored_months"}
"""What a series may run over, and the column of the bottles that says when."""
_NUMBERS = ("abv", "meter_value", "acidity", "amino_acidity", "glucose", "polishing")


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Collected:
    """Several sessions as tables.

    Attributes
    ----------
    scores : DataFrame
        Tidy rows; names are categories. `sample` carries its batch in brackets
        where bottles of different batches share a name.
    sessions : DataFrame
        ``session, date, folder``.
    bottles : DataFrame
        ``session, sample, batch, tank, lot, fraction`` and the measurements.
    cautions : tuple of Sentence
        Folders whose answers changed after their report.
    """

    scores: pd.DataFrame
    sessions: pd.DataFrame
    bottles: pd.DataFrame
    cautions: tuple[Sentence, ...]


def folders_of(paths: Sequence[Path]) -> list[Path]:
    """Return the session folders that are named, or lie one level below what is named."""
    found: list[Path] = []
    for path in paths:
        if (path / "session.toml").is_file():
            found.append(path)
        elif path.is_dir():
            found += sorted(one.parent for one in path.glob("*/session.toml"))
    if not found:
        raise InputRefused("history.no_folders", listed=[str(path) for path in paths])
    return list(dict.fromkeys(found))


def collect(folders: Sequence[Path], tick: Callable[[], None] = lambda: None) -> Collected:
    """Read session folders whose reports were made.

    Parameters
    ----------
    folders : sequence of Path
    tick : callable
        Called after each folder.

    Raises
    ------
    NotReady
        Naming every folder without a report.
    InputRefused
        If two folders carry the same session name, or a table of bottles is faulty.
    """
    import pandas as pd

    waiting = [str(folder) for folder in folders if not (folder / SCORES).is_file()]
    if waiting:
        commands = [say("history.make", folder=folder) for folder in waiting[:20]]
        raise NotReady("history.no_report", n=len(waiting), listed="\n".join(commands))
    stack = _Stack()
    sessions, bottles = [], []
    cautions: list[Sentence] = []
    makers: set[str] = set()
    for folder in folders:
        settings = _settings(folder)
        name = str(settings.get("name", folder.name))
        makers |= stack.add(folder / SCORES, name, _makers(folder, settings))
        sessions.append({"session": name, "date": settings.get("date"), "folder": str(folder)})
        bottles += _rows(name, folder)
        if _stale(folder):
            cautions.append(sentence("history.stale", folder=folder))
        tick()
    _refuse_twins(sessions)
    if makers:
        cautions.append(sentence("history.makers", listed=sorted(makers)))
    known = pd.DataFrame(bottles)
    known["sample"] = _identities(known)
    return Collected(
        scores=stack.table(known),
        sessions=pd.DataFrame(sessions),
        bottles=known.drop(columns="bottle"),
        cautions=tuple(cautions),
    )


def labels_of(folders: Sequence[Path], attributes: Sequence[str], language: str) -> dict[str, str]:
    """Return the words of each attribute as its sheets ask it, for use inside a sentence.

    What no session can say, or two attributes share, or is the key of another, keeps its key.
    """
    found: dict[str, str] = {}
    left = set(attributes)
    for folder in folders:
        if not left:
            break
        try:
            card = card_of(settings_of(folder), folder)
        except FolderFault:
            continue
        known = {name for name in left if name.partition(":")[0] in card}
        found |= {name: _spoken(card.name(name, language)) for name in known}
        left -= known
    often = Counter(found.values())
    keys = set(attributes)
    return {
        name: label if often[label] == 1 and label not in keys - {name} else name
        for name, label in found.items()
    }


def _spoken(label: str) -> str:
    """Begin a label with a small letter, unless it is an abbreviation.

    >>> _spoken("Aroma intensity"), _spoken("SMV felt")
    ('aroma intensity', 'SMV felt')
    """
    plain = label[1:2].islower() or label[1:2] == " "
    return label[:1].lower() + label[1:] if plain else label


class _Stack:
    """Scores of many sessions: each name once, and a code a row."""

    def __init__(self) -> None:
        self.names: dict[str, dict[str, int]] = {name: {} for name in _TEXT}
        self.codes = {name: array("i") for name in _TEXT}
        self.scores = array("d")
        self.replicates = array("h")

    def add(self, path: Path, session: str, apart: set[str]) -> set[str]:
        """Add a session's scores, without those of `apart` if enough others are left.

        Returns
        -------
        set of str
            Whose scores were left out.
        """
        try:
            head, *rows = text_rows(path)
            columns = dict(zip(head, zip(*rows, strict=True), strict=True))
            people = set(columns["assessor"])
            out = apart & people if len(people - apart) >= _LEAST_OTHERS else set()
            if out:
                kept = [one not in out for one in columns["assessor"]]
                columns = {name: tuple(compress(cells, kept)) for name, cells in columns.items()}
            self.scores.extend(map(_number, columns["score"]))
            whole = {cell: int(float(cell)) if cell else 1 for cell in set(columns["replicate"])}
            self.replicates.extend([whole[cell] for cell in columns["replicate"]])
            columns["session"] = (session,) * len(columns["score"])
            for name in _TEXT:
                known, cells = self.names[name], columns[name]
                for cell in dict.fromkeys(cells):
                    known.setdefault(cell, len(known))
                self.codes[name].extend([known[cell] for cell in cells])
        except (ValueError, KeyError, OSError, csv.Error) as fault:
            raise InputRefused("history.broken", path=path, why=fault) from fault
        return out

    def table(self, bottles: pd.DataFrame) -> pd.DataFrame:
        """Return the tidy rows, bottles named across sessions."""
        import numpy as np
        import pandas as pd

        codes = {name: np.frombuffer(self.codes[name], dtype=np.int32) for name in _TEXT}
        samples = list(self.names["sample"])
        renamed = {
            (row["session"], row["bottle"]): row["sample"]
            for row in bottles.to_dict("records")
            if row["bottle"] != row["sample"]
        }
        if renamed:
            # One look-up for each pair of session and bottle, not for each answer.
            sessions = list(self.names["session"])
            pair = codes["session"].astype(np.int64) * len(samples) + codes["sample"]
            rank, firsts = pd.factorize(pair)
            named = [
                renamed.get((sessions[k // len(samples)], samples[k % len(samples)]))
                or samples[k % len(samples)]
                for k in firsts.tolist()
            ]
            samples = list(dict.fromkeys(named))
            place = {name: k for k, name in enumerate(samples)}
            codes["sample"] = np.array([place[name] for name in named], dtype=np.int32)[rank]
        columns: dict[str, object] = {}
        for name in _TEXT:
            kinds = samples if name == "sample" else list(self.names[name])
            columns[name] = pd.Categorical.from_codes(
                codes[name].tolist(), dtype=pd.CategoricalDtype(kinds)
            )
        columns["replicate"] = np.frombuffer(self.replicates, dtype=np.int16)
        columns["score"] = np.frombuffer(self.scores, dtype=np.float64)
        return pd.DataFrame(columns)


def times_of(collected: Collected, unit: str, reference: str | None) -> pd.DataFrame:
    """Return which series each bottle of a session belongs to, and its day or month.

    A bottle that is served in several sessions under one name is a series; rows of one session
    that are poured from one bottle, in the same condition but for the time, are one too.

    Parameters
    ----------
    collected : Collected
    unit : str
        One of `TIMES`.
    reference : str, optional

    Returns
    -------
    DataFrame
        ``session, sample, series, time``, without the reference.

    Raises
    ------
    InputRefused
        If no bottle has a time, or the reference is not of the same age in all sessions.
    """
    column = TIMES[unit]
    bottles = collected.bottles
    known = bottles[bottles[column].notna()]
    ages = set(known.loc[known["sample"] == reference, column])
    if len(ages) > 1:
        listed_ages = [f"{age:g}" for age in sorted(ages)]
        raise InputRefused(
            "history.reference_ages", name=reference, column=column, ages=listed_ages
        )
    known = known[known["sample"] != reference]
    if known.empty:
        raise InputRefused("history.no_times", column=column)
    kept = [name for name in _SERVED if name not in ("poured_from", column)]
    often = known.groupby("sample")[column].transform("nunique") > 1
    source = known["poured_from"].where(known["poured_from"] != "", known["sample"])
    more = known[kept].apply(
        lambda row: " ".join(
            str(written(name, f"{one:g}" if isinstance(one, float) else one))
            for name, one in row.items()
            if one not in ("", None) and str(one) != "nan"
        ),
        axis=1,
    )
    named = (source + " " + more).str.strip()
    series = known["sample"].where(often, named)
    return known[["session", "sample"]].assign(series=series, time=known[column].astype(float))


def _number(cell: str) -> float:
    """Read a score, also one with a decimal comma."""
    try:
        return float(cell) if cell else math.nan
    except ValueError:
        read = understand(cell)
        if read is None:
            raise
        return read


def _settings(folder: Path) -> dict[str, Any]:
    try:
        return toml_of((folder / "session.toml").read_text("utf-8"))
    except ValueError as fault:
        raise InputRefused("history.broken", path=folder / "session.toml", why=fault) from fault


def _makers(folder: Path, settings: dict[str, Any]) -> set[str]:
    """Name the makers whose scores stand outside the panel's means, as the report has it."""
    if settings.get("panel", {}).get("maker_in_means", False):
        return set()
    assessors, faults = read_assessors(folder, languages())
    if faults:
        raise InputRefused("history.bad_assessors", folder=folder, listed=listed(faults))
    return {one.code for one in assessors if one.role == "maker"}


def _bottles(folder: Path) -> list[Bottle]:
    bottles, faults, _ = read_bottles(folder)
    if faults:
        raise InputRefused("history.bad_bottles", folder=folder, listed=listed(faults))
    return [bottle for bottle in bottles if bottle.use == "sample"]


def _rows(session: str, folder: Path) -> list[dict[str, object]]:
    """Return a row a bottle; with a batch book the mash that it comes from, and its numbers."""
    bottles, book = _bottles(folder), book_of(folder)
    if book is None:
        return [_row(session, bottle) for bottle in bottles]
    filled, found = referred(book, bottles)
    mashes = {name: f"{tank_key(tank)} / {year}" for name, (year, tank, _) in found.places.items()}
    return [
        {**_row(session, bottle), "mash": mashes.get(bottle.name, bottle.batch or bottle.name)}
        for bottle in filled
    ]


def _row(session: str, bottle: Bottle) -> dict[str, object]:
    numbers = {name: getattr(bottle, name) for name in _NUMBERS}
    return {
        "session": session,
        "bottle": bottle.name,
        "batch": bottle.batch or bottle.name,
        "tank": bottle.tank,
        "lot": bottle.lot,
        "fraction": bottle.fraction,
        **{name: getattr(bottle, name) for name in _SERVED},
        **numbers,
    }


def _identities(bottles: pd.DataFrame) -> pd.Series:
    """Name a bottle so that the same name is the same bottle in every session."""
    batches = bottles.groupby("bottle")["batch"].transform("nunique")
    plain: pd.Series = bottles["bottle"]
    return plain.where(batches == 1, plain + " [" + bottles["batch"] + "]")


def _refuse_twins(sessions: list[dict[str, Any]]) -> None:
    first: dict[str, str] = {}
    for row in sessions:
        other = first.setdefault(row["session"], row["folder"])
        if other != row["folder"]:
            raise InputRefused(
                "history.twins", name=row["session"], first=other, second=row["folder"]
            )


def _stale(folder: Path) -> bool:
    """Tell whether answers went in after the last opening of the key."""
    path = folder / FILE
    if not path.is_file():
        return False
    database, _ = open_database(path, reading=True)
    with closing(database):
        last = database.execute("SELECT max(opened_at) FROM openings").fetchone()[0]
        late = database.execute("SELECT max(entered_at) FROM answers").fetchone()[0]
    return bool(last is not None and late is not None and late > last)
