"""The tables of these cases that people keep as workbooks: `make(folder)` writes them there.

A workbook is a zip, whose changes nobody could read in the history: so it is described here.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path

from openpyxl import Workbook


def make(folder: Path) -> None:
    """02: a sheet a year under a title; 11: a sheet a tank; 12: headings in two rows; 13: errors."""
    book = Workbook()
    book.remove(book.active)
    for year, rice, polish, rows in (
        ("2024BY", "Gohyakumangoku", 0.60, [(1, 701, 24, 11.5, 3.5), (2, 901, 27, 10.8, 1)]),
        ("2025BY", "Miyama Nishiki", 0.55, [(1, 701, 25, 11.0, -2), (2, 901, 30, 10.5, 0)]),
    ):
        sheet = book.create_sheet(year)
        sheet.append([f"Tanks of {year}"])
        sheet.merge_cells("A1:H1")
        sheet.append([])
        sheet.append(
            ["Tank", "Rice", "Polishing ratio", "Yeast", "Mash days", "Max. temp. (°C)"]
            + ["Sake meter value", "Pressed on"]
        )
        for tank, yeast, days, warm, meter in rows:
            pressed = date(int(year[:4]) + 1, 2, 4 + tank)
            sheet.append([tank, rice, polish, yeast, days, warm, meter, pressed])
            sheet.cell(sheet.max_row, 3).number_format = "0%"
    notes = book.create_sheet("notes")
    notes.append(["The press was cleaned on 3 March."])
    book.save(folder / "02-tanks-two-years.xlsx")

    book = Workbook()
    book.remove(book.active)
    for tank, warm, meter in (("1号", (7.5, 11.0, 7.0), (-40, -11, -2.5)),
                              ("2号", (7.0, 10.5, 6.5), (-42, -9, 0))):  # fmt: skip
        sheet = book.create_sheet(tank)
        sheet.append(["日順", "品温", "日本酒度"])
        for day, one, other in zip((1, 10, 23), warm, meter, strict=True):
            sheet.append([day, one, other])
    book.save(folder / "11-sheet-a-tank.xlsx")

    book = Workbook()
    sheet = book.active
    sheet.title = "list"
    sheet.append(["Tank", "Season", "Rice", "", "Analysis at pressing", ""])
    sheet.append(["", "", "variety", "polishing %", "meter value", "acidity"])
    sheet.append([1, 2025, "Miyama Nishiki", 55, -2.0, 1.8])
    sheet.append([2, 2025, "Miyama Nishiki", 55, 0, 1.7])
    book.save(folder / "12-two-rows-of-headings.xlsx")

    book = Workbook()
    sheet = book.active
    sheet.title = "2025"
    sheet.append(["tank", "season", "polishing", "meter value"])
    sheet.append([1, 2025, 55, "=C2-57"])
    sheet.append([2, 2025, "#DIV/0!", 0])
    book.save(folder / "13-formulas-and-errors.xlsx")
