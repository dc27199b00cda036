"""Workbooks of free office programs (ODS), handed on as any other workbook."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree as ET

from .workbook_bounds import MOST_CELLS, Unopened

if TYPE_CHECKING:
    from openpyxl import Workbook

_KIND = b"application/vnd.oasis.opendocument.spreadsheet"
_OFFICE, _TABLE = (f"{{urn:oasis:names:tc:opendocument:xmlns:{name}:1.0}}" for name in
                   ("office", "table"))  # fmt: skip
_NO_TITLE = re.compile(r"[\[\]:*?/\\]")


def is_ods(content: bytes) -> bool:
    """Tell whether bytes are an ODS workbook."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as parts:
            return parts.read("mimetype").startswith(_KIND)
    except (KeyError, zipfile.BadZipFile):
        return False


def ods_as_workbook(content: bytes) -> Workbook:
    """Read an ODS workbook whose parts `check_workbook` has looked at.

    Raises
    ------
    Unopened
        If its repeated rows and columns are more than any table has.
    """
    from openpyxl import Workbook
    from python_calamine import CalamineWorkbook

    with zipfile.ZipFile(io.BytesIO(content)) as parts:
        shares = set(_shares(parts.read("content.xml")))
    source = CalamineWorkbook.from_filelike(io.BytesIO(content))
    book = Workbook()
    book.remove(book.worksheets[0])
    for number, name in enumerate(source.sheet_names):
        page: Any = book.create_sheet(_NO_TITLE.sub(" ", name)[:31])
        rows = source.get_sheet_by_index(number).to_python(skip_empty_area=False)
        for down, row in enumerate(rows, start=1):
            for right, value in enumerate(row, start=1):
                if value == "":
                    continue
                cell = page.cell(down, right)
                cell.value = value
                if isinstance(value, str):
                    cell.data_type = "s"  # a text that looks like a formula is a text
                if (number, down, right) in shares:
                    cell.number_format = "0.0%"
    return book


def _shares(content: bytes) -> Iterator[tuple[int, int, int]]:
    """Yield the places of cells that show a percentage; refuse what would fill the memory."""
    cells = 0
    for number, table in enumerate(ET.fromstring(content).iter(f"{_TABLE}table")):  # noqa: S314 - entities were refused
        down = 1
        for row in table.iter(f"{_TABLE}table-row"):
            high = int(row.get(f"{_TABLE}number-rows-repeated", "1"))
            right, filled = 1, 0
            for cell in row:
                wide = int(cell.get(f"{_TABLE}number-columns-repeated", "1"))
                kind = cell.get(f"{_OFFICE}value-type")
                if kind is not None:
                    filled = right + wide
                if kind == "percentage" and high * wide < MOST_CELLS:
                    yield from ((number, down + y, right + x)
                                for y in range(high) for x in range(wide))  # fmt: skip
                right += wide
            cells += filled * high
            if cells > MOST_CELLS:
                raise Unopened("too_large", f"{cells:,} cells")
            down += high
