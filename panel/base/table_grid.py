"""One way to open a table for all commands: whatever it is saved as, the same rows come out.

Text in any encoding and with any separator, XLSX, ODS; a title above the heading, blank rows,
and empty columns at the end are passed over.
"""

from __future__ import annotations

import csv
import re
import unicodedata
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from ...forms.answers.cells import Book, Written
from ...forms.answers.numbers import written_number
from ...forms.answers.table_text import decoded, heading_at, laid_out
from ...forms.answers.workbook_bounds import Unopened
from ...forms.questions.words import say as in_forms
from .words import say

_LONE_RETURN = re.compile(r"\r(?!\n)")
"""A line end of old Macintosh programs; beside other ends or quotes it may lie inside a cell."""
JOINER = "\u2060"
"""What our pages write beside a hyphen or a count, so that no line ends there: no letter."""
_TOP = 60  # rows among which the heading is looked for
BOOKS = (".xlsx", ".xlsm", ".ods")
TEXTS = (".csv", ".txt", ".tsv")
ENDINGS = (".csv", ".xlsx", ".ods")
"""What a table of a session folder may end in."""


class NoTable(ValueError):
    """A file that is no table; its text says why and what to do."""


Cell = str | Written
"""A cell of a text table is its text; one of a workbook is more than that."""


@dataclass(frozen=True, slots=True)
class FoundTable:
    """The cells of a table.

    Attributes
    ----------
    heading : tuple of str
    rows : tuple of (int, sequence of Cell)
        Rows below the heading that are not blank, with their numbers in the file; as long
        as the heading, or longer where a row has more cells than the heading.
    head : int
        Number of the heading's row.
    sheets : tuple of str
        Names of all worksheets.
    """

    heading: tuple[str, ...]
    rows: tuple[tuple[int, Sequence[Cell]], ...]
    head: int = 1
    sheets: tuple[str, ...] = ()

    @property
    def twice(self) -> list[str]:
        """Headings that stand there more than once."""
        times = Counter(name for name in self.heading if name)
        return [name for name, n in times.items() if n > 1]

    @property
    def too_wide(self) -> list[int]:
        """Numbers of rows that hold more than the heading has columns."""
        return [number for number, row in self.rows if len(row) > len(self.heading)]


def read_grid(path: Path, largest: int, sheet: str | None = None) -> FoundTable:
    """Read a table.

    Parameters
    ----------
    path : Path
    largest : int
        Bytes beyond which it is not opened.
    sheet : str, optional
        Worksheet of a workbook; the first one by default.

    Raises
    ------
    NoTable
        With what is wrong in words.
    OSError
        If the file cannot be opened.
    """
    if path.stat().st_size > largest:
        raise NoTable(say("folder.too_large", most=largest // 1_000_000))
    try:
        if _is_book(path):
            return _from_book(path, sheet)
        return _from_text(text_of(path))
    except Unopened as refusal:
        raise NoTable(in_forms(f"fault.{refusal.kind}", found=refusal.why)) from refusal
    except csv.Error as fault:
        raise NoTable(str(fault)) from fault


def text_of(path: Path) -> str:
    """Return the text of a file, in the one encoding that makes sense.

    Raises
    ------
    NoTable
        If there is none, or more than one.
    """
    texts = decoded(path.read_bytes())
    if len(texts) != 1:
        raise NoTable(say("folder.letters"))
    text = texts[0]
    if _LONE_RETURN.search(text):
        if "\n" in text or '"' in text:
            raise NoTable(say("folder.line_ends"))
        text = text.replace("\r", "\n")
    return _as_typed(text)


def text_rows(path: Path) -> list[list[str]]:
    """Return the rows of a text table from its heading on, without blank ones.

    Raises
    ------
    NoTable
        If its letters cannot be told.
    """
    rows = [row for row in laid_out(text_of(path)).rows() if any(row)]
    return rows[heading_at(rows) :]


def _is_book(path: Path) -> bool:
    with path.open("rb") as opened:
        packed = opened.read(4) in (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")
    return packed or path.suffix.lower() in BOOKS


def _from_text(text: str) -> FoundTable:
    table = laid_out(text)
    rows = list(table.rows())
    return _grid(rows, heading_at(rows[:_TOP]), table.skipped)


def _from_book(path: Path, sheet: str | None) -> FoundTable:
    book = Book(path)
    pages = {page.title: page for page in book.worksheets}
    if not pages:
        raise NoTable(say("folder.no_pages"))
    if sheet is not None and sheet not in pages:
        raise NoTable(say("folder.no_worksheet", name=sheet, have=list(pages)))
    page = pages[sheet] if sheet is not None else book.worksheets[0]
    cells = book.rows(page)
    texts = [["" if cell.blank else cell.text or "-" for cell in row] for row in cells]
    return replace(_grid(cells, heading_at(texts), 0), sheets=tuple(pages))


def _grid(cells: Sequence[Sequence[Cell]], at: int, skipped: int) -> FoundTable:
    if not cells:
        return FoundTable((), ())
    heading = tuple(" ".join(_text(cell).split()) for cell in cells[at])
    width, rows = len(heading), []
    for number, row in enumerate(cells[at + 1 :], start=at + 2 + skipped):
        last = next((k for k in range(len(row), 0, -1) if not is_blank(row[k - 1])), 0)
        if not last:
            continue
        whole = row if len(row) == width else (*row[: max(last, width)], *[""] * (width - len(row)))
        rows.append((number, whole))
    return FoundTable(heading, tuple(rows), at + 1 + skipped)


def is_blank(cell: Cell) -> bool:
    """Tell whether nothing stands in a cell."""
    return not cell.strip() if isinstance(cell, str) else cell.blank


def trouble(cell: Cell) -> str:
    """Return why a cell of a workbook can hold no value: a formula, a date, an error mark."""
    if isinstance(cell, str):
        return "error_cell" if cell.startswith("#") and Written.typed(cell).trouble else ""
    return cell.trouble


def _text(cell: Cell) -> str:
    return _as_typed(cell if isinstance(cell, str) else cell.text)


def text_in(cell: Cell) -> str:
    """Return what a cell holds as a person would type it; a whole number without its point."""
    if isinstance(cell, str):
        return cell.strip()
    if isinstance(cell.value, bool):
        return "yes" if cell.value else "no"
    if isinstance(cell.value, float) and not cell.trouble:
        return written_number(cell.value)
    return _as_typed(str(cell.value or "")).strip()


def _as_typed(text: str) -> str:
    """Put accents back that macOS parts off, and leave out what our pages join a name with."""
    return unicodedata.normalize("NFC", text).replace(JOINER, "")
