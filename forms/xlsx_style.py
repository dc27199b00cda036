"""How a score sheet looks as a spreadsheet: few inks, one frame, room to breathe."""

from __future__ import annotations

import math
import unicodedata
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from openpyxl.cell.cell import Cell
    from openpyxl.styles import Border, Fill, Font
    from openpyxl.worksheet.worksheet import Worksheet

INK, SOFT, RULE, BAND, TINT = "1F2A33", "5B6770", "8C979F", "E6EAED", "FFF6DD"
FACES = {"ja": "Yu Gothic"}  # on Windows and macOS; others take their own Japanese face
FACE = "Calibri"
LINE = 14.5  # points a line of text needs
COLUMNS = (("A", 24.0), ("B", 7.0), ("C", 26.0), ("D", 7.0), ("E", 22.0), ("F", 7.0))
WIDTH = dict(COLUMNS)


@dataclass(frozen=True)
class Look:
    """The fonts, frames and fills of one workbook."""

    language: str

    def font(self, size: float = 10, *, bold: bool = False, soft: bool = False) -> Font:
        """Return the face of the language in one size."""
        from openpyxl.styles import Font

        face = FACES.get(self.language, FACE)
        return Font(name=face, size=size, bold=bold, color=SOFT if soft else INK)

    @cached_property
    def frame(self) -> Border:
        """The frame of an answer cell."""
        from openpyxl.styles import Border, Side

        side = Side(style="thin", color=INK)
        return Border(left=side, right=side, top=side, bottom=side)

    @cached_property
    def underline(self) -> Border:
        """A hairline below a row."""
        from openpyxl.styles import Border, Side

        return Border(bottom=Side(style="hair", color=RULE))

    def fill(self, colour: str) -> Fill:
        """Return an even fill."""
        from openpyxl.styles import PatternFill

        return PatternFill("solid", start_color=colour, end_color=colour)


def put(
    sheet: Worksheet,
    place: str,
    text: str,
    font: Font,
    *,
    to: str = "",
    across: str = "left",
    indent: int = 0,
) -> Cell:
    """Write text into a cell, merged up to `to`; it is never taken for a formula."""
    from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
    from openpyxl.styles import Alignment

    cell: Any = sheet[place]
    cell.value = " ".join(ILLEGAL_CHARACTERS_RE.sub("", text).split())
    if cell.data_type == "f":
        cell.data_type = "s"
    cell.font = font
    cell.alignment = Alignment(horizontal=across, vertical="center", wrap_text=True, indent=indent)
    if to:
        sheet.merge_cells(f"{place}:{to}")
    made: Cell = cell
    return made


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
