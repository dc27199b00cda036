"""The tables of bottles and people as they are typed into a page, and their faults at the cells.

What is typed is saved as it is, faulty or not: the folder is the truth, and reading it says what
is wrong, in the words of the command line.
"""

from __future__ import annotations

import csv
import hashlib
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from ...forms.questions.words import languages
from ..base.headings import renamed
from ..base.problems import Problem
from ..base.table_grid import ENDINGS, NoTable, read_grid, text_in
from ..base.words import Sentence
from ..session import bottles, roster

LARGEST = 2_000_000
MORE = 2
"""Empty lines at the end of a page's table."""
TABLES: Mapping[str, Sequence[str]] = {"bottles": bottles.COLUMNS, "assessors": roster.COLUMNS}
CHOICES: Mapping[str, Mapping[str, Sequence[str]]] = {
    "bottles": {
        "use": bottles.USES,
        "pasteurised": bottles.PASTEURISED,
        "supernatant": ("", "yes", "no"),
    },
    "assessors": {
        "role": roster.ROLES,
        "style": ("", *roster.STYLES),
        "language": languages(),
        "tastes": ("yes", "no"),
    },
}
Row = tuple[int, tuple[str, ...]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Typed:
    """A table as it stands in its file, or as it was typed.

    Attributes
    ----------
    stem : str
        ``bottles`` or ``assessors``.
    file : str
        Name of the file.
    state : str
        SHA-256 of the file, by which it is noticed that another changed it.
    columns : tuple of (str, str)
        Each column's name and its heading in the file.
    rows : tuple of (int, tuple of str)
        Number in the file, and the cells.
    had : int
        Columns of the file; those after them are further ones that could be filled.
    fixed : bool
        Whether it cannot be typed into: a workbook, or a file that cannot be read.
    """

    stem: str
    file: str
    state: str
    columns: tuple[tuple[str, str], ...]
    rows: tuple[Row, ...] = ()
    had: int = 0
    fixed: bool = False


def read_typed(folder: Path, stem: str) -> Typed:
    """Read a table of a session for its page."""
    known = TABLES[stem]
    every = tuple((name, name) for name in known)
    found = [path for ending in ENDINGS if (path := folder / f"{stem}{ending}").is_file()]
    if len(found) != 1:
        return Typed(
            stem=stem, file=f"{stem}.csv", state="", columns=every, had=len(every),
            fixed=bool(found),
        )  # fmt: skip
    (path,) = found
    state = hashlib.sha256(path.read_bytes()).hexdigest()
    try:
        grid = read_grid(path, LARGEST)
    except (NoTable, OSError):
        return Typed(stem=stem, file=path.name, state=state, columns=every, fixed=True)
    names = renamed(list(grid.heading), known)
    have = [(names.get(text, text.lower()), text) for text in grid.heading]
    wide = max((len(row) for _, row in grid.rows), default=0) > len(have)
    twice = len({name for name, _ in have}) < len(have) or any(not text for _, text in have)
    added = [(name, name) for name in known if name not in {own for own, _ in have}]
    blank = ("",) * len(added)
    rows = tuple((number, (*(text_in(cell) for cell in row), *blank)) for number, row in grid.rows)
    fixed = path.suffix != ".csv" or wide or twice
    return Typed(
        stem=stem, file=path.name, state=state, columns=(*have, *added), rows=rows,
        had=len(have), fixed=fixed,
    )  # fmt: skip


def typed_rows(table: Typed, given: Mapping[str, str]) -> tuple[Row, ...]:
    """Return the lines that a form sent: fields ``LINE.COLUMN``, columns counted from 0."""
    lines = sorted({int(name.partition(".")[0]) for name in given if _is_cell(name)})
    rows: list[Row] = []
    for line in lines:
        cells = tuple(given.get(f"{line}.{place}", "") for place in range(len(table.columns)))
        if any(cell.strip() for cell in _without_choices(table, cells)):
            rows.append((len(rows) + 2, cells))
    return tuple(rows)


def _is_cell(name: str) -> bool:
    line, dot, place = name.partition(".")
    return bool(dot) and line.isdecimal() and place.isdecimal() and len(name) < 12


def _without_choices(table: Typed, cells: Sequence[str]) -> Iterable[str]:
    """Return the cells that somebody typed: a choice stands there from the beginning."""
    chosen = CHOICES[table.stem]
    pairs = zip(table.columns, cells, strict=True)
    return [cell for (name, _), cell in pairs if name not in chosen]


def as_csv(table: Typed, rows: Iterable[Row]) -> str:
    """Write a table as CSV; columns that the file had not, and nobody filled, stay away."""
    lines = [cells for _, cells in rows]
    places = range(len(table.columns))
    kept = [place for place in places if place < table.had or any(cells[place] for cells in lines)]
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([table.columns[place][1] for place in kept])
    writer.writerows([cells[place] for place in kept] for cells in lines)
    return out.getvalue()


def at_cells(
    table: Typed, problems: Iterable[Problem], language: str
) -> tuple[dict[tuple[int, str], list[str]], list[str]]:
    """Divide the problems of a table into those of a cell, and others with their place."""
    cells: dict[tuple[int, str], list[str]] = {}
    others = []
    shown = {(number, name) for number, _ in table.rows for name, _ in table.columns}
    for one in problems:
        place = one.place
        if isinstance(place, Sentence):
            told = dict(place.values)
            if told.get("file") != table.file:
                continue
            where = (told.get("row"), told.get("column"))
            row, column = where
            if isinstance(row, int) and (row, str(column)) in shown:
                cells.setdefault((row, str(column)), []).append(one.what.to(language))
                continue
        elif not str(place).startswith(table.stem):
            continue
        others.append(one.to(language))
    return cells, others
