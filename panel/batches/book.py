"""The batch book of a brewery: a folder of facts, each with the cell that it came from.

Nothing in it is ever changed: a later reading adds rows, and of one question the last row counts.
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from ..base.errors import InputRefused
from ..base.file_names import safe_name
from ..base.headings import folded
from ..base.plain_cells import as_written, write_csv
from ..base.table_files import LARGEST
from ..base.table_grid import NoTable, read_grid, text_in
from ..base.toml_text import toml_of
from ..base.whole_files import write_bytes, write_text
from .columns import BREWED, COLUMNS, PLACE
from .written_cells import tank_key

if TYPE_CHECKING:
    import pandas as pd

FOLDER = "batches"
"""Name of the folder, beside the sessions that refer to it."""
FACTS, NAMES, ORIGINALS = "book.csv", "names.toml", "originals"

Key = tuple[str, str, str, str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """One thing that a table says of a tank, a bottling or a day.

    Attributes
    ----------
    year, tank : str
        Brewing year and tank: one mash.
    lot : str
        The bottling, "" for the tank as a whole.
    day : str
        Day of the mash, or a date (ISO 8601); "" for what is of no day.
    column : str
        One of `columns.COLUMNS`, or a heading of one's own.
    value : str
        Numbers in the unit of the book, dates as ISO 8601, texts as they stand.
    written : str
        What stood in the cell.
    file, sheet : str
    row : int
        As a spreadsheet counts.
    """

    year: str
    tank: str
    lot: str = ""
    day: str = ""
    column: str
    value: str
    written: str
    file: str
    sheet: str = ""
    row: int

    @property
    def key(self) -> Key:
        """What this fact answers: of two with one key the later one counts."""
        return (self.year, tank_key(self.tank), self.lot.casefold(), self.day, self.column)


@dataclass(frozen=True, eq=False, kw_only=True)
class BatchBook:
    """A batch book.

    Attributes
    ----------
    folder : Path
    facts : tuple of Fact
        In the order in which they were read.
    names : mapping of str to str
        Columns by the headings that were told once, as `folded` writes these.
    """

    folder: Path
    facts: tuple[Fact, ...] = ()
    names: Mapping[str, str] = None  # type: ignore[assignment]

    def __post_init__(self) -> None:
        object.__setattr__(self, "names", dict(self.names or {}))

    @cached_property
    def now(self) -> dict[Key, Fact]:
        """The facts that count; headings that were given a column since are left to it."""
        return {
            one.key: one
            for one in self.facts
            if one.column in COLUMNS or folded(one.column) not in self.names
        }

    @cached_property
    def tanks(self) -> list[tuple[str, str]]:
        """Year and tank of each mash, as first written, by year."""
        found: dict[tuple[str, str], str] = {}
        for one in self.facts:
            found.setdefault((one.year, tank_key(one.tank)), one.tank)
        return sorted(((year, tank) for (year, _), tank in found.items()), key=_in_order)

    def spellings(self, year: str, tank: str) -> list[str]:
        """Return all ways in which the tables write one tank."""
        key = (year, tank_key(tank))
        return list(dict.fromkeys(one.tank for one in self.facts if one.key[:2] == key))

    def of_tank(self, year: str, tank: str) -> dict[str, Fact]:
        """Return what is known of a tank as a whole, by column."""
        return self._of(year, tank, "", "")

    def of_lot(self, year: str, tank: str, lot: str) -> dict[str, Fact]:
        """Return what is known of a bottling, by column; how it was brewed is its tank's.

        So are columns that the book has no name for, unless the bottling has its own.
        """
        whole = self.of_tank(year, tank)
        brewed = {name: one for name, one in whole.items() if name in BREWED or name not in COLUMNS}
        return brewed | self._of(year, tank, lot, "")

    def _of(self, year: str, tank: str, lot: str, day: str) -> dict[str, Fact]:
        wanted = (year, tank_key(tank), lot.casefold(), day)
        return {one.column: one for key, one in self.now.items() if key[:4] == wanted}

    def lots(self, year: str = "", tank: str = "") -> list[tuple[str, str, str]]:
        """Return year, tank and lot of all bottlings, or those of one tank."""
        found: dict[tuple[str, ...], tuple[str, str, str]] = {}
        for key, one in self.now.items():
            if one.lot and (not tank or key[:2] == (year, tank_key(tank))):
                found.setdefault(key[:3], (one.year, one.tank, one.lot))
        return list(found.values())

    def days(self, year: str, tank: str) -> pd.DataFrame:
        """Return the measurements of a tank, a row a day, columns as in the book."""
        import pandas as pd

        wanted = (year, tank_key(tank))
        rows: dict[str, dict[str, str]] = {}
        for key, one in self.now.items():
            if key[:2] == wanted and one.day:
                rows.setdefault(one.day, {"day": one.day})[one.column] = one.value
        made = sorted(rows.values(), key=lambda row: (len(row["day"]), row["day"]))
        columns = [name for name in COLUMNS if any(name in row for row in made)]
        further = [name for row in made for name in row if name not in COLUMNS]
        return pd.DataFrame(made, columns=[*columns, *dict.fromkeys(further)])

    def table(self) -> pd.DataFrame:
        """Return a row a bottling, or a tank without any, as other commands read bottles.

        ``bottle`` names it, ``batch`` the mash that it comes from; then the columns of the book.
        """
        import pandas as pd

        rows = []
        for year, tank in self.tanks:
            batch = {"batch": f"{tank} / {year}", "year": year, "tank": tank}
            lots = [lot for _, _, lot in self.lots(year, tank)]
            for lot in lots or [""]:
                own = self.of_lot(year, tank, lot) if lot else self.of_tank(year, tank)
                values = {name: one.value for name, one in own.items()}
                named = {"bottle": lot or batch["batch"], "lot": lot}
                rows.append({**named, **batch, **values})
        known = [name for name in COLUMNS if name not in PLACE and any(name in row for row in rows)]
        further = [name for row in rows for name in row if name not in (*known, *PLACE)]
        first = ["bottle", "batch", "year", "tank", "lot"]
        wanted = dict.fromkeys([*first, *known, *further])
        return pd.DataFrame(rows, columns=list(wanted)).fillna("")


def _in_order(place: tuple[str, str]) -> tuple[str, int, str]:
    year, tank = place
    return year, len(tank_key(tank)), tank_key(tank)


def load_book(folder: Path) -> BatchBook:
    """Read a batch book; an empty one where there is none yet.

    Parameters
    ----------
    folder : Path
        The book's own folder.

    Raises
    ------
    InputRefused
        If its files were changed so that they cannot be read.
    """
    path = folder / FACTS
    facts: list[Fact] = []
    if path.is_file():
        wanted = [field.name for field in fields(Fact)]
        for number, row in _rows(path, wanted):
            if len(row) != len(wanted) or not row[-1].isdecimal():
                raise InputRefused("batches.book_broken", path=path, row=number)
            told = dict(zip(wanted, map(as_written, row), strict=True))
            facts.append(Fact(**{**told, "row": int(row[-1])}))  # type: ignore[arg-type]
    return BatchBook(folder=folder, facts=tuple(facts), names=_names(folder / NAMES))


def _rows(path: Path, wanted: list[str]) -> list[tuple[int, list[str]]]:
    """Return the numbered rows below the heading: as the book was written, or as any table."""
    try:
        text = path.read_text("utf-8-sig")
        heading, *rows = csv.reader(io.StringIO(text, newline=""))
        if heading == wanted:
            return list(enumerate(rows, start=2))
    except (ValueError, csv.Error):  # other letters, nothing at all, or a cell without end
        pass
    try:  # a spreadsheet program saved it in its own way
        grid = read_grid(path, LARGEST)
    except NoTable as fault:
        raise InputRefused("batches.book_unread", path=path, why=fault) from fault
    if list(grid.heading) != wanted:
        raise InputRefused("batches.book_broken", path=path, row=grid.head)
    return [
        (number, [cell if isinstance(cell, str) else text_in(cell) for cell in row])
        for number, row in grid.rows
    ]


def _names(path: Path) -> dict[str, str]:
    """Read the headings that were told once."""
    if not path.is_file():
        return {}
    try:
        told = toml_of(path.read_text("utf-8-sig"))
    except ValueError as fault:
        raise InputRefused("batches.names_broken", path=path, why=str(fault)[:200]) from fault
    for heading, column in told.items():
        if column not in COLUMNS:
            given = {"heading": heading, "found": column, "known": list(COLUMNS)}
            raise InputRefused("batches.names_unknown", path=path, **given)
    return {folded(heading): str(column) for heading, column in told.items()}


def remember(book: BatchBook, told: Mapping[str, str]) -> BatchBook:
    """Keep which column a heading means, for this table and all later ones."""
    if not told:
        return book
    book.folder.mkdir(parents=True, exist_ok=True)
    path = book.folder / NAMES
    before = toml_of(path.read_text("utf-8-sig")) if path.is_file() else {}
    lines = [
        f"{json.dumps(heading, ensure_ascii=False)} = {json.dumps(column)}\n"
        for heading, column in {**before, **told}.items()
    ]
    write_text(path, "".join(lines))
    return load_book(book.folder)


def add(book: BatchBook, facts: Sequence[Fact], original: Path) -> BatchBook:
    """Add facts and a copy of the file that they come from.

    The copy is kept first; the facts take their place in one step.
    """
    if not facts:
        return book
    kept = book.folder / ORIGINALS
    kept.mkdir(parents=True, exist_ok=True)
    content = original.read_bytes()
    digest = hashlib.sha256(content).hexdigest()[:12]
    write_bytes(kept / f"{digest}-{safe_name(original.name)}", content)
    heading = [field.name for field in fields(Fact)]
    rows = [list(asdict(one).values()) for one in (*book.facts, *facts)]
    write_csv(book.folder / FACTS, [heading, *rows])
    return load_book(book.folder)


def news(book: BatchBook, facts: Iterable[Fact]) -> tuple[list[Fact], list[tuple[Fact, Fact]]]:
    """Part facts into those that the book lacks, and those that change one: old and new."""
    new, changed = [], []
    for one in facts:
        before = book.now.get(one.key)
        if before is None:
            new.append(one)
        elif before.value != one.value:
            changed.append((before, one))
    return new, changed
