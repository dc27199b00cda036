"""One candidate's sheet of a screening evening: codes and lines to write on, one page."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from ..base.whole_files import write_bytes
from ..base.words import say
from .days_said import said_day
from .feedback_parts import LEFT, RIGHT, Paper

Item = tuple[str, str, list[str]]
"""Task, the taste that a row is put in order of, and the codes of its cups as they are tasted."""
WIDE = 4
"""Codes from which on a line takes the whole width."""
HIGH = 8.6
"""Height of a line to write on, in mm."""
TASTE = 18.0
"""Room for the name of a row's taste, in mm."""
BELOW = 3.0
"""Room below the last line of a task, in mm."""


def write_sheet(
    path: Path, who: str, items: Sequence[Item], names: Sequence[str], *, paper: str, language: str,
    date: str,
) -> None:  # fmt: skip
    """Write the sheet of one candidate.

    Parameters
    ----------
    path : Path
    who : str
        The candidate's code.
    items : sequence of Item
    names : sequence of str
        Solutions that may be named.
    paper : {"A4", "Letter"}
    language, date : str
    """
    page = Paper()
    page.text(say("screen.sheet_title", language, assessor=who), 16, bold=True)
    page.text(said_day(date, language), 8.5, grey=0.35)
    page.y += 1
    page.text(say("screen.sheet_about", language), 9)
    for task in dict.fromkeys(task for task, _, _ in items):
        page.heading(say(f"screen.sheet_{task}", language))
        listed = say("feedback.between", language).join(
            say(f"screen.name_{name}", language) for name in names
        )
        page.text(say(f"screen.ask_{task}", language, names=listed), 9)
        _lines(page, [(taste, codes) for kind, taste, codes in items if kind == task], language)
    page.y += 3
    page.text(say("screen.sheet_foot", language), 8, grey=0.35)
    write_bytes(path, page.bytes(paper, date, language))


def _lines(page: Paper, rows: Sequence[tuple[str, Sequence[str]]], language: str) -> None:
    """Write codes with a line after them, in two columns where they are few."""
    columns = 1 if len(rows[0][1]) >= WIDE else 2
    width = (RIGHT - LEFT) / columns
    top = page.y
    per = -(-len(rows) // columns)
    for place, (taste, codes) in enumerate(rows):
        column, row = divmod(place, per)
        x = LEFT + column * width
        page.y = top + HIGH * (row + 1)
        text = "   ".join(codes)
        left = x
        if taste:
            name = say(f"screen.name_{taste}", language)
            page.put(say("screen.row_of", language, taste=name), x, 11)
            left += TASTE
        page.put(text, left, 11, bold=True)
        page.draw(_rule(left + 4 + 3.2 * len(text) * 0.62 + 6, x + width - 6, page.y + 0.6))
    page.y = top + HIGH * per + BELOW


def _rule(left: float, right: float, y: float) -> Any:
    def shape(pdf: Any) -> None:
        pdf.set_draw_color(90)
        pdf.set_line_width(0.25)
        pdf.line(left, y, right, y)

    return shape
