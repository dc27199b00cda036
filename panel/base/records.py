"""Reading the folder's small tables, row by row, into checked records.

A table is a CSV file (comma, semicolon or tab; UTF-8) or an XLSX file of the
same name. Every fault is collected; nothing stops at the first.
"""

from __future__ import annotations

import csv
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from ...forms.answers.workbook_bounds import Unopened, check_workbook
from .problems import Problem, cell, problem
from .words import say

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
    """Read ``stem.csv`` or ``stem.xlsx``.

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
    paths = [folder / f"{stem}{ending}" for ending in (".csv", ".xlsx")]
    found = [path for path in paths if path.is_file()]
    if len(found) != 1:
        key = "no_file" if not found else "two_files"
        return Table(f"{stem}.csv", ()), [problem(f"{stem}.csv", key, stem=stem)]
    (path,) = found
    try:
        cells = _csv(path) if path.suffix == ".csv" else _xlsx(path)
    except (UnicodeDecodeError, csv.Error, OSError, KeyError, ValueError) as fault:
        return Table(path.name, ()), [problem(path.name, "unreadable", why=fault)]
    read, faults = _rows(path.name, cells, required, None if further else known)
    written = [text.strip() for text in cells[0]] if cells else []
    others = tuple(name for name in written if name and name.lower() not in known)
    return (replace(read, further=others) if further else read), faults


def near_column(name: str, known: Sequence[str]) -> str:
    """Return the known column that a heading may be a misspelling of, or nothing.

    Two slips are allowed from six letters on, one below; blanks and signs do not count.

    >>> near_column("Acidty", ("acidity", "abv")), near_column("rice", ("acidity", "abv"))
    ('acidity', '')
    """
    from rapidfuzz.distance import OSA

    def plain(text: str) -> str:
        return "".join(letter for letter in text.lower() if letter.isalnum())

    mine = plain(name)
    near = [(OSA.distance(mine, plain(one)), one) for one in known]
    slips, best = min(near)
    return best if slips <= (2 if len(mine) >= 6 else 1 if len(mine) >= 4 else 0) else ""


def _rows(
    file: str,
    cells: Sequence[Sequence[str]],
    required: Sequence[str],
    known: Sequence[str] | None,
) -> tuple[Table, list[Problem]]:
    heading = [text.strip().lower() for text in cells[0]] if cells else []
    problems = [
        problem(f"{file}, row 1", "no_column", column=column, have=", ".join(heading) or "–")
        for column in required
        if column not in heading
    ]
    problems += [
        problem(f"{file}, row 1", "unknown_column", column=name, known=", ".join(known))
        for name in heading
        if known is not None and name and name not in known
    ]
    problems += [
        problem(f"{file}, row 1", "double_column", column=name)
        for name in sorted({name for name in heading if name and heading.count(name) > 1})
    ]
    if problems:
        return Table(file, ()), problems
    rows = []
    for number, texts in enumerate(cells[1:], start=2):
        if not any(text.strip() for text in texts):
            continue
        if len(texts) > len(heading) and any(text.strip() for text in texts[len(heading) :]):
            problems.append(problem(f"{file}, row {number}", "too_many_cells", n=len(heading)))
            continue
        padded = [*texts, *[""] * (len(heading) - len(texts))]
        rows.append((number, dict(zip(heading, (text.strip() for text in padded), strict=False))))
    if not rows and not problems:
        problems.append(problem(file, "no_rows"))
    return Table(file, tuple(rows)), problems


def _csv(path: Path) -> list[list[str]]:
    if path.stat().st_size > LARGEST:
        raise ValueError(say("folder.too_large", most=LARGEST // 1_000_000))
    text = unicodedata.normalize("NFC", path.read_text("utf-8-sig"))  # macOS parts accents off
    first = text.partition("\n")[0]
    separator = max(",;\t", key=first.count)
    return list(csv.reader(text.splitlines(), delimiter=separator))


def _xlsx(path: Path) -> list[list[str]]:
    from openpyxl import load_workbook

    from ...forms.answers.cells import rectangle

    try:
        check_workbook(path.read_bytes())
        sheet = load_workbook(path, data_only=True).worksheets[0]
        return [[_cell_text(value) for value in row] for row in rectangle(sheet)]
    except Unopened as refusal:
        raise ValueError(f"{refusal.kind}: {refusal.why}") from refusal
    except ValueError:
        raise
    except Exception as torn:  # a torn workbook fails anywhere in zip, XML or styles
        raise ValueError(f"{type(torn).__name__}: {torn}"[:200]) from torn


def _cell_text(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return unicodedata.normalize("NFC", str(value))


class Cells:
    """One row, read field by field; what cannot be understood is noted."""

    def __init__(self, file: str, number: int, row: Row, problems: list[Problem]) -> None:
        self.file = file
        self.number = number
        self._row = row
        self._problems = problems

    def note(self, column: str, key: str, /, **values: object) -> None:
        """Note a problem with one cell of this row."""
        self._problems.append(problem(cell(self.file, self.number, column), key, **values))

    def text(self, column: str, *, default: str = "") -> str:
        """Return a cell as text."""
        return self._row.get(column, "") or default

    def choice(self, column: str, options: Sequence[str], *, default: str) -> str:
        """Return a cell that holds one of a few words, capitals not minded."""
        given = self.text(column)
        if not given:
            return default
        for option in options:
            if given.lower() == option:
                return option
        self.note(column, "not_a_choice", found=given, options=", ".join(options))
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
        if not given:
            if required:
                self.note(column, "empty", low=f"{hard[0]:g}", high=f"{hard[1]:g}")
            return None
        number = understand(given)
        low, high = hard
        if number is None or (whole and not number.is_integer()):
            key = "not_whole" if whole else "not_a_number"
            self.note(column, key, found=given, low=f"{low:g}", high=f"{high:g}")
            return None
        if not low <= number <= high:
            self.note(column, "out_of_range", found=given, low=f"{low:g}", high=f"{high:g}")
            return None
        return number


def understand(text: str) -> float | None:
    """Read a number as people write it, or return None where it is not certain.

    Examples
    --------
    >>> understand("+3"), understand("−2,5"), understand("１５．５"), understand("1,500")
    (3.0, -2.5, 15.5, None)
    """
    plain = unicodedata.normalize("NFKC", text).strip().replace("−", "-").replace("–", "-")
    if plain.count(",") == 1 and "." not in plain:
        before, after = plain.split(",")
        if len(after) == 3 and before.lstrip("+-") not in ("", "0"):
            return None
        plain = f"{before}.{after}"
    try:
        number = float(plain)
    except ValueError:
        return None
    return number if abs(number) < float("inf") and "_" not in plain else None
