"""How a score sheet looks as a spreadsheet: few inks, one frame, room to breathe."""

from __future__ import annotations

import math
import unicodedata
from copy import copy
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

INK, SOFT, RULE, BAND, TINT = "1F2A33", "5B6770", "8C979F", "E6EAED", "FFF6DD"
FACES = {"ja": "Yu Gothic"}  # on Windows and macOS; others take their own Japanese face
FACE = "Calibri"
LINE = 14.5  # points a line of text needs
COLUMNS = (("A", 24.0), ("B", 7.0), ("C", 26.0), ("D", 7.0), ("E", 22.0), ("F", 7.0))
WIDTH = dict(COLUMNS)
RUN_OVER = 0.8  # of the room beside it that text may fill to be left unmerged: faces differ


@dataclass(frozen=True, slots=True, kw_only=True)
class Dress:
    """How one cell looks."""

    size: float = 10
    bold: bool = False
    soft: bool = False
    across: str = "left"
    down: str = "center"
    indent: int = 0
    edge: str = ""  # "frame" around an answer, "below" for a hairline
    band: bool = False
    answer: bool = False  # open to be written in
    wrap: bool = True


class Look:
    """The looks of one workbook.

    A workbook numbers its looks; each is made once and given to all cells that
    share it, which takes half the time of making it anew for each.
    """

    def __init__(self, language: str) -> None:
        self._face = FACES.get(language, FACE)
        self._made: dict[Dress, Any] = {}

    def dress(self, cell: Any, dress: Dress) -> None:
        """Give a cell its look."""
        if dress in self._made:
            cell._style = self._made[dress]  # noqa: SLF001 - dressed once, so all may share it
            return
        self._make(cell, dress)
        self._made[dress] = copy(cell._style)  # noqa: SLF001

    def _make(self, cell: Any, dress: Dress) -> None:
        from openpyxl.styles import Alignment, Border, Font, PatternFill, Protection, Side

        colour = SOFT if dress.soft else INK
        cell.font = Font(name=self._face, size=dress.size, bold=dress.bold, color=colour)
        cell.alignment = Alignment(
            horizontal=dress.across,
            vertical=dress.down,
            wrap_text=dress.wrap,
            indent=dress.indent,
        )
        if dress.edge == "frame":
            side = Side(style="thin", color=INK)
            cell.border = Border(left=side, right=side, top=side, bottom=side)
        elif dress.edge == "below":
            cell.border = Border(bottom=Side(style="hair", color=RULE))
        if dress.band:
            cell.fill = PatternFill("solid", start_color=BAND, end_color=BAND)
        if dress.answer:
            cell.protection = Protection(locked=False)

    def put(self, sheet: Worksheet, place: str, text: str, dress: Dress, *, to: str = "") -> None:
        """Write text into a cell, with room up to `to`; it is never taken for a formula.

        What surely stands on one line runs over into the empty cells beside it, from the last of
        them if it ends at the right; other text has them merged. Each merged area makes a workbook
        slower to open and harder to sort.
        """
        from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

        one_side = to and dress.across != "center"
        runs = one_side and _runs_over(text, place[0], to[0], dress.size)
        cell = sheet.cell(*_at(to if runs and dress.across == "right" else place))
        cell.value = " ".join(ILLEGAL_CHARACTERS_RE.sub("", text).split()) or None
        if cell.data_type == "f":
            cell.data_type = "s"
        if not runs:
            self.area(sheet, place, to or place, dress)
        elif dress.band or dress.edge:
            self._row(sheet, place, to, _unwrapped(dress))
        else:
            self.dress(cell, _unwrapped(dress))

    def area(self, sheet: Worksheet, place: str, to: str, dress: Dress) -> None:
        """Merge cells of one row and give all of them one look.

        All, since a merged area is open only where each of its cells is. The cells are empty
        and dressed here: openpyxl's `merge_cells` would empty and dress each anew, which takes
        a quarter of the time of a workbook.
        """
        if to != place:
            sheet.merged_cells.add(f"{place}:{to}")
        self._row(sheet, place, to, dress)

    def _row(self, sheet: Any, place: str, to: str, dress: Dress) -> None:
        row, first = _at(place)
        for column in range(first, _at(to)[1] + 1):
            self.dress(sheet.cell(row, column), dress)


@lru_cache(maxsize=2000)
def _at(place: str) -> tuple[int, int]:
    from openpyxl.utils.cell import coordinate_to_tuple

    row, column = coordinate_to_tuple(place)
    return row, column


@cache
def _unwrapped(dress: Dress) -> Dress:
    return replace(dress, wrap=False)


@lru_cache(maxsize=2000)
def _runs_over(text: str, first: str, last: str, size: float) -> bool:
    """Tell whether text surely stands on one line from one column to another."""
    wide = sum(width for letter, width in COLUMNS if first <= letter <= last)
    return lines(text, RUN_OVER * (wide - 1) + 1, size) == 1


def lines(text: str, width: float, size: float = 10) -> int:
    """Estimate how many lines text takes in a column `width` characters wide."""
    room = sum(2 if unicodedata.east_asian_width(sign) in "WFA" else 0.8 for sign in text)
    return max(1, math.ceil(room * size / 10.4 / (width - 1)))


def lay_out(worksheet: Worksheet, *, footer: tuple[str, str], hidden: str = "") -> None:
    """Set columns, paper and footer: one upright A4 page, everything on it."""
    sheet: Any = worksheet
    for letter, width in COLUMNS:
        sheet.column_dimensions[letter].width = width
    for letter in hidden:
        sheet.column_dimensions[letter].hidden = True
    sheet.sheet_view.showGridLines = False
    sheet.page_setup.paperSize = "9"  # A4
    sheet.page_setup.orientation = "portrait"
    sheet.page_setup.fitToWidth = 1
    sheet.page_setup.fitToHeight = 1
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    sheet.print_options.horizontalCentered = True
    sheet.print_area = f"A1:F{sheet.max_row}"
    margins = sheet.page_margins
    margins.left = margins.right = 0.5
    margins.top, margins.bottom, margins.footer = 0.5, 0.7, 0.35
    sheet.oddFooter.left.text, sheet.oddFooter.right.text = footer


def lock(sheet: Worksheet, *, only_answers: bool) -> None:
    """Lock all but the answer cells; no password, for it is a help and no fence."""
    sheet.protection.sheet = True
    sheet.protection.formatRows = False  # rows and columns may be made larger
    sheet.protection.formatColumns = False
    sheet.protection.selectLockedCells = only_answers
