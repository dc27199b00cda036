"""Reading the folder's small tables, row by row, into checked records.

A table is a CSV, XLSX or ODS file of one name (`table_grid`). Every fault is collected;
nothing stops at the first.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from .headings import near_column, renamed, with_words
from .problems import Problem, cell, problem, row_of
from .table_grid import ENDINGS, FoundTable, NoTable, read_grid, text_in, trouble
from .words import CATALOGUE, Sentence, sentence
from .written_numbers import not_measured, understand

_CONTROL = re.compile(r"[\x00-\x1f\x7f\x85\u2028\u2029]")
LARGEST = 2_000_000  # bytes of a table of bottles or assessors

Row = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Table:
    """The text cells of one small table, with the file name for messages.

    `further` are the columns besides those that are known, as their headings are written;
    in the rows they stand, as all do, under the heading in small letters.
    """

    file: str
    rows: tuple[tuple[int, Row], ...]
    further: tuple[str, ...] = ()


def read_rows(
    folder: Path,
    stem: str,
    required: Sequence[str],
    known: Sequence[str],
    *,
    further: bool = False,
) -> tuple[Table, list[Problem]]:
    """Read ``stem.csv``, ``stem.xlsx`` or ``stem.ods``.

    Parameters
    ----------
    folder : Path
    stem : str
        File name without its ending.
    required, known : sequence of str
        Columns that must be there, and all that are understood.
    further : bool
        Whether other columns are kept as they are instead of refused.

    Returns
    -------
    Table, list of Problem
    """
    paths = [folder / f"{stem}{ending}" for ending in ENDINGS]
    found = [path for path in paths if path.is_file()]
    if len(found) != 1:
        key = "no_file" if not found else "two_files"
        have = [path.name for path in found]
        return Table(f"{stem}.csv", ()), [problem(f"{stem}.csv", key, stem=stem, have=have)]
    (path,) = found
    try:
        grid = read_grid(path, LARGEST)
    except (NoTable, OSError) as fault:
        return Table(path.name, ()), [problem(path.name, "unreadable", why=fault)]
    return _rows(path.name, grid, required, known, further=further)


def _rows(
    file: str, grid: FoundTable, required: Sequence[str], known: Sequence[str], *, further: bool
) -> tuple[Table, list[Problem]]:
    written = list(grid.heading)
    names = renamed(written, known)
    heading = [names.get(text, text.lower()) for text in written]
    others = tuple(
        text for text, name in zip(written, heading, strict=True) if text and name not in known
    )
    top = row_of(file, grid.head)
    have = [name for name in written if name] or "–"
    problems = [
        problem(top, "no_column", column=column, have=have)
        for column in required
        if column not in heading
    ]
    if not further:
        problems += [_unknown(top, name, known) for name in others]
    problems += [problem(top, "double_column", column=name) for name in _twice(heading)]
    if problems:
        return Table(file, ()), problems
    rows = []
    for number, cells in grid.rows:
        if len(cells) > len(heading):
            problems.append(problem(row_of(file, number), "too_many_cells", n=len(heading)))
            continue
        problems += [
            problem(cell(file, number, name), trouble(one), found=text_in(one))
            for name, one in zip(heading, cells, strict=True)
            if name in known and trouble(one) in ("formula", "error_cell")
        ]
        texts = [text_in(one) for one in cells]
        problems += [
            problem(cell(file, number, name), "line_break")
            for name, text in zip(heading, texts, strict=True)
            if _CONTROL.search(text)
        ]
        rows.append((number, dict(zip(heading, texts, strict=True))))
    if not rows and not problems:
        problems.append(problem(file, "no_rows"))
    return Table(file, tuple(rows), others), problems


def _unknown(top: Sentence, name: str, known: Sequence[str]) -> Problem:
    near = near_column(name, known)
    if near:
        near = with_words([near], name)[0]
        return problem(top, "misspelled_column", column=name, near=near)
    return problem(top, "unknown_column", column=name, known=with_words(known, name))


def _twice(heading: Sequence[str]) -> list[str]:
    return sorted({name for name in heading if name and heading.count(name) > 1})


Told = dict[tuple[str, str, str], list[int]]
"""Column, what stood there and what it was read as ("" for no number): the numbers of rows."""


def told_once(file: str, told: Told) -> list[Problem]:
    """Tell once a column which numbers were read as something else than was written."""
    return [
        problem(
            sentence("folder.place_column", file=file, column=column),
            "read_as" if meaning else "read_as_no_number",
            found=found,
            meaning=meaning,
            rows=rows,
        )
        for (column, found, meaning), rows in told.items()
    ]


@cache
def _other_words() -> Mapping[str, tuple[str, ...]]:
    """Return the words of all languages for each choice."""
    found: dict[str, tuple[str, ...]] = {}
    for language in CATALOGUE.languages("choice"):
        for option, words in CATALOGUE.topic(language, "choice").items():
            listed = (word.strip().casefold() for word in str(words).split("|"))
            found[option] = (*found.get(option, ()), *listed)
    return found


class Cells:
    """One row, read field by field; what cannot be understood is noted.

    Numbers that are read as something else than was written go into `told`.
    """

    def __init__(
        self, file: str, number: int, row: Row, problems: list[Problem], told: Told
    ) -> None:
        self.file = file
        self.number = number
        self._row = row
        self._problems = problems
        self._told = told

    def note(self, column: str, key: str, /, **values: object) -> None:
        """Note a problem with one cell of this row."""
        self._problems.append(problem(cell(self.file, self.number, column), key, **values))

    def _tell(self, column: str, found: str, meaning: str) -> None:
        self._told.setdefault((column, found, meaning), []).append(self.number)

    def text(self, column: str, *, default: str = "") -> str:
        """Return a cell as text."""
        return self._row.get(column, "") or default

    def choice(self, column: str, options: Sequence[str], *, default: str) -> str:
        """Return a cell that holds one of a few words, capitals and language not minded."""
        given = self.text(column)
        if not given:
            return default
        plain = unicodedata.normalize("NFKC", given).casefold()
        for option in options:
            if plain == option or plain in _other_words().get(option, ()):
                return option
        self.note(column, "not_a_choice", found=given, options=[one for one in options if one])
        return default

    def number_in(
        self,
        column: str,
        hard: tuple[float, float],
        *,
        whole: bool = False,
        required: bool = False,
    ) -> float | None:
        """Return a number within `hard` limits, None for an empty cell.

        A decimal comma and full-width digits are understood; ``1,500`` is not,
        because it can be read in two ways.
        """
        given = self.text(column)
        if not given or not_measured(given):
            if given:
                self._tell(column, given, "")
            if required:
                self.note(column, "empty", low=f"{hard[0]:g}", high=f"{hard[1]:g}")
            return None
        number = understand(given, column)
        low, high = hard
        if number is None or (whole and not number.is_integer()):
            key = "not_whole" if whole else "not_a_number"
            self.note(column, key, found=given, low=f"{low:g}", high=f"{high:g}")
            return None
        if not low <= number <= high:
            self.note(column, "out_of_range", found=given, low=f"{low:g}", high=f"{high:g}")
            return None
        if given.startswith(("▲", "△")):
            self._tell(column, given, f"{number:g}")
        return number
