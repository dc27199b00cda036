"""What stands in one cell of a table, before anybody asks what it means."""

from __future__ import annotations

import datetime as dt
import io
import re
import warnings
import zipfile
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from .numbers import written_number
from .open_document import is_ods, ods_as_workbook
from .workbook_bounds import LARGEST_FILE, Unopened, check_workbook

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

_QUOTED = re.compile(r'"[^"]*"|\\.|\[[^\]]*\]')
_DATES = (dt.datetime, dt.date, dt.time, dt.timedelta)
MOST_CELLS = 2_000_000  # of the rectangle that holds all that is written on a worksheet


@dataclass(frozen=True, slots=True)
class Written:
    """The content of one cell.

    Attributes
    ----------
    value : str, float, bool or None
        What it holds; None where it is blank.
    text : str
        The same letter for letter, as a person would see or type it.
    trouble : str
        Kind of the `Fault`, for cells that cannot be an answer whatever is asked.
    """

    value: str | float | bool | None = None
    text: str = ""
    trouble: str = ""

    @property
    def blank(self) -> bool:
        """Whether nothing stands there (blanks alone are nothing)."""
        return not self.trouble and (
            self.value is None or (isinstance(self.value, str) and not self.value.strip())
        )

    @classmethod
    def typed(cls, text: str | None) -> Written:
        """Make one from text, as in a CSV file; ``#N/A`` and its like are error marks."""
        if text is None:
            return cls()
        if re.fullmatch(r"#(N/A|REF!|VALUE!|DIV/0!|NAME\?|NULL!|NUM!|SPILL!|CALC!)", text.strip()):
            return cls(text, text, "error_cell")
        return cls(text, text)


class Book:
    """An opened workbook: each cell with its formula and the result stored for it."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._content = _load(path, results=False)
        self._results: Workbook | None = None

    @property
    def worksheets(self) -> list[Worksheet]:
        """All worksheets, hidden ones too, in their order."""
        return list(self._content.worksheets)

    def cell(self, sheet: Worksheet, row: int, column: int) -> Written:
        """Return what stands in one cell."""
        cell = existing(sheet).get((row, column))
        if cell is None:
            return Written()
        if cell.data_type == "f":
            return self._computed(sheet, row, column)
        return _written(cell.value, cell.data_type, cell.number_format)

    def rows(self, sheet: Worksheet) -> list[list[Written]]:
        """Return all cells row by row, as far as something is written."""
        return [
            [Written() if value is None else self.cell(sheet, row, column)
             for column, value in enumerate(values, start=1)]
            for row, values in enumerate(rectangle(sheet), start=1)
        ]  # fmt: skip

    def _computed(self, sheet: Worksheet, row: int, column: int) -> Written:
        """Take a formula's stored result; the formula stays what was written."""
        if self._results is None:
            self._results = _load(self._path, results=True)
        formula: Any = existing(sheet)[row, column].value
        text = str(getattr(formula, "text", formula))
        cell = existing(self._results[sheet.title]).get((row, column))
        if cell is None or cell.value is None:
            return Written(text, text, "formula")
        found = _written(cell.value, cell.data_type, cell.number_format)
        return Written(found.value, text, found.trouble)


def existing(sheet: Any) -> dict[tuple[int, int], Any]:
    """Return the cells that a worksheet has, by row and column.

    Not the rectangle around them, which one formatted cell at its far end makes huge.
    """
    cells: dict[tuple[int, int], Any] = sheet._cells  # noqa: SLF001 - no public way gives them alone
    return cells


def rectangle(sheet: Any) -> list[list[Any]]:
    """Return the values of a worksheet, row by row, as far as something is written.

    Raises
    ------
    Unopened
        If what is written lies so far apart that no table can be meant.
    """
    filled = {
        place: cell.value for place, cell in existing(sheet).items() if cell.value is not None
    }
    rows = max((row for row, _ in filled), default=0)
    columns = max((column for _, column in filled), default=0)
    if rows * columns > MOST_CELLS:
        raise Unopened("too_large", f"{sheet.title}: {rows:,} x {columns:,} cells")
    made: list[list[Any]] = [[None] * columns for _ in range(rows)]
    for (row, column), value in filled.items():
        made[row - 1][column - 1] = value
    return made


def _load(path: Path, *, results: bool) -> Workbook:
    from openpyxl import load_workbook

    # A file left by a spreadsheet that is still open begins with these signs.
    if path.name.startswith(("~$", ".~lock.")):
        raise Unopened("lock_file")
    if path.stat().st_size > LARGEST_FILE:
        raise Unopened("too_large", f"{path.stat().st_size:,} bytes")
    content = path.read_bytes()
    try:
        check_workbook(content)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of parts that openpyxl does not keep
            if is_ods(content):
                return ods_as_workbook(content)
            return load_workbook(io.BytesIO(content), data_only=results)
    except Unopened as refusal:
        if refusal.kind == "unreadable_file" and _of_another_program(content):
            raise Unopened("other_format", refusal.why) from refusal
        raise
    except Exception as why:  # a torn file fails anywhere in zip, XML or styles
        kind = "other_format" if _of_another_program(content) else "unreadable_file"
        raise Unopened(kind, f"{type(why).__name__}: {why}"[:200]) from why


def _of_another_program(content: bytes) -> bool:
    """Tell a document of another program from a broken workbook."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as parts:
            return not any(name.startswith("xl/") for name in parts.namelist())
    except Exception:  # noqa: BLE001 - torn bytes fail in many ways; it was refused already
        return False


def _written(value: object, kind: str, number_format: str) -> Written:
    if value is None:
        return Written()
    if isinstance(value, bool):
        return Written(value, str(value).upper())
    if kind == "e":
        return Written(str(value), str(value), "error_cell")
    if isinstance(value, _DATES):
        text = value.isoformat() if not isinstance(value, dt.timedelta) else str(value)
        return Written(text.removesuffix("T00:00:00"), text.removesuffix("T00:00:00"), "date")
    if isinstance(value, (int, float)):
        if "%" in _QUOTED.sub("", number_format):
            text = f"{written_number(round(value * 100, 10))}%"
            return Written(text, text, "unit")
        return Written(float(value), written_number(value))
    return Written(str(value), str(value))
