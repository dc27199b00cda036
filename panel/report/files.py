"""The files of a report: page, tables, scores, numbers, figures."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

from ...analysis.core.result import plain
from ..plan.sealing import fingerprint
from .context import Context
from .page import html
from .parts import Picture, Report

if TYPE_CHECKING:
    import pandas as pd

FOLDER = Path("report")
_LONGEST_NAME = 31
_FORBIDDEN = "[]:*?/\\"


def write(report: Report, context: Context) -> list[Path]:
    """Write a report below the session folder; return the paths, the page first."""
    folder = context.session.folder / FOLDER
    (folder / "figures").mkdir(parents=True, exist_ok=True)
    page = folder / "report.html"
    page.write_text(html(report, fingerprint(context.plan.sealed)), "utf-8")
    scores = context.session.folder / "scores.csv"
    context.answers.scores.to_csv(scores, index=False, encoding="utf-8")
    numbers = folder / "results.json"
    numbers.write_text(_numbers(report, context), "utf-8")
    written = [page, _tables(report, context, folder / "tables.xlsx"), scores, numbers]
    for section in report.sections:
        for block in section.blocks:
            if isinstance(block, Picture):
                for ending, content in ((".png", block.png()), (".svg", block.svg.encode())):
                    target = folder / "figures" / f"{block.name}{ending}"
                    target.write_bytes(content)
                    written.append(target)
    return written


def _numbers(report: Report, context: Context) -> str:
    content = {
        "session": context.session.settings.name,
        "short": [line for section in report.sections for line in section.short],
        **{section.key: section.data for section in report.sections},
    }
    return json.dumps(plain(content), ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def _tables(report: Report, context: Context, path: Path) -> Path:
    """Write every table of the report into one workbook, the tidy scores first."""
    import pandas as pd

    with pd.ExcelWriter(path, engine="openpyxl") as book:
        used: set[str] = set()
        _sheet(book, "scores", context.answers.scores, used)
        for section in report.sections:
            for name, table in section.tables.items():
                _sheet(book, name, table, used)
    return path


def _sheet(book: pd.ExcelWriter, name: str, table: pd.DataFrame, used: set[str]) -> None:
    """Write one worksheet with a frozen heading and columns that can be read."""
    plain_name = "".join("-" if letter in _FORBIDDEN else letter for letter in name)
    title = plain_name[:_LONGEST_NAME]
    number = 2
    while title.lower() in used:
        title = f"{plain_name[: _LONGEST_NAME - 3]} {number}"
        number += 1
    used.add(title.lower())
    table.to_excel(book, sheet_name=title, index=False, freeze_panes=(1, 0))
    for place, column in enumerate(table.columns, start=1):
        longest = max(
            [len(str(column)), *(len(f"{cell}"[:40]) for cell in table[column].head(200))]
        )
        letter = book.sheets[title].cell(row=1, column=place).column_letter
        book.sheets[title].column_dimensions[letter].width = longest + 2
