"""``tables.xlsx``: every table of a report in a worksheet of its own, with a list of them first."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from ...analysis.core.result import spoken
from ...analysis.core.words import Sentence, shown
from ..base.plain_cells import make_inert
from ..base.words import CATALOGUE, say
from .context import Context
from .parts import Report
from .sheet_rows import rows_of, save_with_rows
from .spelling import Spelling

if TYPE_CHECKING:
    import pandas as pd
    from openpyxl.worksheet.worksheet import Worksheet

_LONGEST_NAME = 31
_FORBIDDEN = "[]:*?/\\"
WIDEST = 42
"""Letters of the widest column; longer texts are broken."""
CONTENTS = "contents"
"""Name of the first worksheet, in every language."""
P_VALUES = ("p", "p_", "adjusted", "holm")
"""How the names of columns of p values begin: they have three decimals, all other numbers two."""
MEASURED = frozenset(
    {
        *(f"report.col_{name}" for name in (
            "abv", "meter_value", "acidity", "amino_acidity", "glucose", "polishing", "amakarado",
            "glucose_acidity")),
        "few_report.col_cups",
    }
)  # fmt: skip
"""Headings of numbers that the page prints as text; here they are numbers."""


@dataclass(frozen=True, slots=True, eq=False)
class _Sheet:
    """One worksheet to be: its name, the question that it belongs to, its table."""

    name: str
    title: str
    question: str
    table: pd.DataFrame


def write_tables(report: Report, context: Context, path: Path) -> None:
    """Write every table of the report into one workbook: the list, the tidy scores, the others."""
    from openpyxl import Workbook

    language, written = context.language, Spelling(report)
    used = {CONTENTS}
    scores = say("workbook.scores", language)
    sheets = [_Sheet("scores", _title("scores", "", used), scores, context.answers.scores)]
    for section in report.sections:
        for name, table in section.tables.items():
            if table.empty:  # Nothing was found: the page says so, a sheet of heads says nothing.
                continue
            title = _title(name, section.key, used)
            question = written.line(section.title)
            plain = spoken(_named(_numbers(name, table), context), language)
            sheets.append(_Sheet(name, title, question, plain))
    book = Workbook()
    _list(book.worksheets[0], sheets, language)
    rows = [_fill(book.create_sheet(one.title), _shown(one.table)) for one in sheets]
    save_with_rows(book, ["", *rows], path)


def _named(table: pd.DataFrame, context: Context) -> pd.DataFrame:
    """Write the names of what was asked where a table has their keys."""
    table = context.shown(table)
    if "about" not in table:
        return table
    return table.assign(about=[context.name(str(one)) for one in table["about"]])


def _numbers(name: str, table: pd.DataFrame) -> pd.DataFrame:
    """Turn numbers that are written for the page into numbers; a dash is an empty cell.

    A tank or a lot may be called 007, and so stays what was written.
    """
    made = table.copy()
    heads: list[object] = list(table.columns)
    for place, head in enumerate(heads):
        if (name == "index" and place) or (isinstance(head, Sentence) and head.key in MEASURED):
            cells = [_number(cell) for cell in table.iloc[:, place]]
            made.isetitem(place, np.array(cells, dtype=object))
    return made


def _number(cell: Any) -> Any:
    if not isinstance(cell, str):
        return cell
    try:
        return float(cell.replace("\u2212", "-"))
    except ValueError:
        return None if cell == "–" else cell


def _title(name: str, section: str, used: set[str]) -> str:
    """Return a free name for a worksheet; one that is taken is told apart by its section."""
    plain = "".join("-" if letter in _FORBIDDEN else letter for letter in shown(name))
    title, number = plain[:_LONGEST_NAME], 2
    if title.lower() in used and section:
        plain = f"{section} {plain}"
        title = plain[:_LONGEST_NAME]
    while title.lower() in used:
        title = f"{plain[: _LONGEST_NAME - 3]} {number}"
        number += 1
    used.add(title.lower())
    return title


def _list(sheet: Worksheet, sheets: list[_Sheet], language: str) -> None:
    """Write which worksheet holds what, with a way there and a note on its rows."""
    import pandas as pd
    from openpyxl.styles import Alignment
    from openpyxl.worksheet.hyperlink import Hyperlink

    sheet.title = CONTENTS
    heads = ("sheet", "question", "rows", "note")
    rows = [(one.title, one.question, len(one.table), _note(one.name, language)) for one in sheets]
    table = pd.DataFrame(rows, columns=[say(f"workbook.{head}", language) for head in heads])
    _fill(sheet, table)
    for row in rows:
        sheet.append(row)
    for place, one in enumerate(sheets, start=2):
        link = sheet.cell(row=place, column=1)
        link.hyperlink = Hyperlink(ref=link.coordinate, location=f"'{one.title}'!A1")
        link.style = "Hyperlink"
        for text in sheet[place][1:]:
            if len(str(text.value)) > WIDEST:
                text.alignment = Alignment(wrap_text=True, vertical="top")
    make_inert(sheet)


def _note(name: str, language: str) -> str:
    key = f"workbook.note_{name}"
    return say(key if CATALOGUE.has(key) else "workbook.note_other", language)


def _fill(sheet: Worksheet, table: pd.DataFrame) -> str:
    """Write a frozen heading, the widths and formats of the columns; return the rows below."""
    from openpyxl.styles import Alignment, Border, Font, Side
    from openpyxl.utils import get_column_letter

    plain = [table.iloc[:, n].to_numpy(object) for n in range(table.shape[1])]
    columns = [[_cell(value) for value in column] for column in plain]
    sheet.freeze_panes = "A2"
    rule = Border(bottom=Side(style="thin"))
    top = Alignment(wrap_text=True, vertical="top")
    broken = sheet.cell(row=2, column=1)  # patterns, taken out again below
    broken.alignment = top
    formats = []
    for place, (name, cells) in enumerate(zip(table.columns, columns, strict=True), start=1):
        head = sheet.cell(row=1, column=place, value=str(name))
        head.font, head.border, head.alignment = Font(bold=True), rule, top
        number = sheet.cell(row=3, column=place)
        number.number_format = _decimals(str(name), cells) or "General"
        of_number, of_text = number.style_id, broken.style_id
        formats.append(
            [
                of_number if isinstance(cell, float)
                else of_text if isinstance(cell, str) and len(cell) > WIDEST
                else 0
                for cell in cells
            ]
        )  # fmt: skip
        longest = max([len(str(name)), *(len(f"{cell}") for cell in cells[:200])])
        sheet.column_dimensions[get_column_letter(place)].width = min(longest, WIDEST) + 2
    sheet.delete_rows(2, 2)
    make_inert(sheet)
    return rows_of(columns, formats)


def _cell(value: Any) -> Any:
    """Return a value as a workbook holds it; nothing for a missing one."""
    plain = value.item() if isinstance(value, np.generic) else value
    if isinstance(plain, (str, bool, int)):
        return plain
    if isinstance(plain, float):
        return None if math.isnan(plain) else str(plain) if math.isinf(plain) else plain

    import pandas as pd

    nothing = plain is None or plain is pd.NA or plain is pd.NaT
    return None if nothing else str(plain)


def _decimals(name: str, cells: list[Any]) -> str:
    """Return the format of a column of numbers; nothing where all are whole."""
    numbers = [cell for cell in cells if isinstance(cell, float)]
    if all(number.is_integer() for number in numbers):
        return ""
    return "0.000" if name == P_VALUES[0] or name.startswith(P_VALUES[1:]) else "0.00"


def _shown(table: pd.DataFrame) -> pd.DataFrame:
    """Return a copy without control signs, which a workbook cannot hold."""
    import pandas as pd

    def one(cell: Any) -> Any:
        return shown(cell) if isinstance(cell, str) else cell

    made = table.copy()
    for place, column in enumerate(made.columns):
        if made[column].dtype == object or isinstance(made[column].dtype, pd.StringDtype):
            made.isetitem(place, made[column].map(one).to_numpy())
    return made.rename(columns=one)
