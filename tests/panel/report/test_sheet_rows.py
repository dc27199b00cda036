"""Rows that are written straight into a workbook's file read back as openpyxl's own do."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pandas as pd
import pytest
from kikichoko.panel.report.sheet_rows import LONGEST, rows_of, save_with_rows
from kikichoko.panel.report.workbook import _fill, _shown
from openpyxl.styles import Alignment

COLUMNS = [
    ["clear & <raw>", "荒走り「生」", " two  blanks ", 'quote "x" \' y', "line\nbreak", "=1+2"],
    [1.5, -0.1, 1e-300, 0.1 + 0.2, 12345678901234.5, 1 / 3],
    [1, -7, 0, 2**53, None, 5],
    [True, False, None, True, None, False],
]


def book_with(columns: list[list], path: Path) -> openpyxl.Workbook:
    """Write headings by openpyxl and rows by ours, the numbers of the second with decimals."""
    book = openpyxl.Workbook()
    book.active.title = "first"
    book.active["A1"] = "left as it is"
    sheet = book.create_sheet("second")
    for place in range(1, len(columns) + 1):
        sheet.cell(row=1, column=place, value=f"head {place}")
    sheet["F1"].number_format = "0.000"
    decimals = sheet["F1"].style_id
    sheet["B1"].alignment = Alignment(wrap_text=True)
    formats = [
        [decimals if place == 1 else 0 for _ in cells] for place, cells in enumerate(columns)
    ]
    save_with_rows(book, ["", rows_of(columns, formats)], path)
    return openpyxl.load_workbook(path)


def test_every_kind_of_cell_comes_back(tmp_path: Path):
    read = book_with(COLUMNS, tmp_path / "rows.xlsx")
    assert read["first"]["A1"].value == "left as it is"
    rows = list(read["second"].iter_rows(values_only=True))
    assert rows[0] == ("head 1", "head 2", "head 3", "head 4", None, None)
    assert [row[:4] for row in rows[1:]] == list(zip(*COLUMNS, strict=True))
    assert [type(cell) for cell in rows[1][:4]] == [str, float, int, bool]
    assert read["second"]["A7"].data_type == "s"  # a text that begins like a formula stays one


def test_formats_and_size_are_those_of_the_book(tmp_path: Path):
    second = book_with(COLUMNS, tmp_path / "rows.xlsx")["second"]
    assert second["B2"].number_format == "0.000"
    assert second["C2"].number_format == second["B1"].number_format == "General"
    assert second.dimensions == "A1:F7"
    only = openpyxl.load_workbook(tmp_path / "rows.xlsx", read_only=True)
    assert len(list(only["second"].iter_rows())) == 7


@pytest.mark.parametrize(("letters", "kept"), [(LONGEST, LONGEST), (LONGEST + 1, LONGEST)])
def test_a_cell_holds_no_more_than_spreadsheets_take(tmp_path: Path, letters: int, kept: int):
    read = book_with([["x" * letters], [1.0]], tmp_path / "rows.xlsx")
    assert len(read["second"]["A2"].value) == kept


def test_rows_without_a_worksheet_are_refused(tmp_path: Path):
    with pytest.raises(ValueError, match="shorter"):
        save_with_rows(openpyxl.Workbook(), [], tmp_path / "rows.xlsx")


@pytest.mark.parametrize("kind", ["object", "str"])
def test_a_control_sign_in_a_text_leaves_a_workbook_that_opens(kind: str, tmp_path: Path):
    table = pd.DataFrame({"text": pd.Series(["pear\x01s", "clear"], dtype=kind)})
    book = openpyxl.Workbook()
    rows = _fill(book.worksheets[0], _shown(table))
    save_with_rows(book, [rows], tmp_path / "tables.xlsx")
    read = [cell.value for cell in openpyxl.load_workbook(tmp_path / "tables.xlsx").active["A"]]
    assert read[0] == "text"
    assert read[1].startswith("pear")
    assert "\x01" not in read[1]
    assert read[2] == "clear"
