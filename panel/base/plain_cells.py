"""Tables for spreadsheets in which no cell acts: formulas are text, control signs are shown."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ...analysis.core.words import shown
from .whole_files import write_text

if TYPE_CHECKING:
    import pandas as pd
    from openpyxl.worksheet.worksheet import Worksheet

_ACTS = re.compile(r"^'*[\s]*[=+\-@＝＋－＠]")
_NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?%?")


def inert(text: str) -> str:
    """Write a text so that no spreadsheet takes it for a formula: with ``'`` before it.

    >>> inert("=1+2"), inert("-3.5"), inert("late"), inert("@cmd")
    ("'=1+2", '-3.5', 'late', "'@cmd")
    """
    plain = shown(text)
    return f"'{plain}" if _ACTS.match(plain) and not _NUMBER.fullmatch(plain) else plain


def as_written(text: str) -> str:
    """Undo `inert`.

    >>> as_written("'=1+2"), as_written("'quoted'")
    ('=1+2', "'quoted'")
    """
    return text[1:] if text.startswith("'") and _ACTS.match(text) else text


def write_csv(path: Path, rows: Iterable[Sequence[object]], encoding: str = "utf-8-sig") -> Path:
    """Write rows as CSV, whole and inert."""
    out = io.StringIO(newline="")
    csv.writer(out).writerows(
        [inert(cell) if isinstance(cell, str) else cell for cell in row] for row in rows
    )
    return write_text(path, out.getvalue(), encoding)


def frame_csv(path: Path, table: pd.DataFrame) -> Path:
    """Write a DataFrame as CSV, whole and inert."""
    text = inert_frame(table).to_csv(index=False, lineterminator="\n")
    return write_text(path, str(text))


def inert_frame(table: pd.DataFrame) -> pd.DataFrame:
    """Return a copy in which all texts, headings too, are inert."""

    def one(cell: Any) -> Any:
        return inert(cell) if isinstance(cell, str) else cell

    made = table.copy()
    for place, column in enumerate(made.columns):
        if made[column].dtype.kind not in "biufcmM":
            made.isetitem(place, made[column].astype(object).map(one).to_numpy())
    return made.rename(columns=one)


def make_inert(sheet: Worksheet) -> None:
    """Turn every formula of a worksheet into the text that was meant."""
    for row in sheet.iter_rows():
        for cell in row:
            if cell.data_type == "f":
                cell.data_type = "s"
