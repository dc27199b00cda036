"""No cell of a table acts: what looks like a formula is text in CSV and in workbooks.

Signs that begin a formula: OWASP, "CSV Injection" (=, +, -, @, tab, carriage return; also the
full-width signs): owasp.org/www-community/attacks/CSV_Injection.
"""

from __future__ import annotations

import pandas as pd
import pytest
from kikichoko.panel.base.plain_cells import (
    as_written,
    frame_csv,
    inert,
    inert_frame,
    make_inert,
    write_csv,
)
from kikichoko.panel.base.table_files import read_table
from openpyxl import Workbook

LIVE = ["=1+1", "+cmd|' /C calc'!A0", "-2+3", "@SUM(A1)", "\t=1", "＝1", " =1", "'=1"]
QUIET = ["late", "-3", "+3.5", "1e5", "", "梨", "a=b", "'quoted'"]


@pytest.mark.parametrize("text", LIVE)
def test_what_acts_gets_a_mark_before_it(text):
    assert inert(text).startswith("'")


def test_a_carriage_return_is_shown_and_so_acts_no_more():
    assert inert("\r=1") == "␍=1"


@pytest.mark.parametrize("text", QUIET)
def test_what_does_not_act_stays(text):
    assert inert(text) == text


def test_the_mark_goes_when_our_own_table_is_read_again(tmp_path):
    names = ["=1+1", "-2+3", "@SUM(A1)", "late", "'quoted'"]
    table = pd.DataFrame({"sample": names, "score": [1.0, -2.0, 3.0, 4.0, 5.0]})
    again = read_table(frame_csv(tmp_path / "t.csv", table))
    assert list(again["sample"]) == names
    assert list(again["score"]) == [1.0, -2.0, 3.0, 4.0, 5.0]
    assert [as_written(inert(name)) for name in names] == names


def test_headings_and_rows_are_inert(tmp_path):
    table = inert_frame(pd.DataFrame({"=a": ["=b", 3]}))
    assert list(table.columns) == ["'=a"]
    assert list(table["'=a"]) == ["'=b", 3]
    path = write_csv(tmp_path / "a.csv", [["=a", 2], ["b\x1bc", -3]])
    assert path.read_text("utf-8-sig") == "'=a,2\nb␛c,-3\n"


def test_a_workbook_holds_text_where_a_formula_was_written():
    sheet = Workbook().active
    sheet.append(["=1+1", 2])
    assert sheet["A1"].data_type == "f"
    make_inert(sheet)
    assert (sheet["A1"].data_type, sheet["A1"].value) == ("s", "=1+1")
