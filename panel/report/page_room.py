"""How high the first page will be on paper: an estimate that needs no browser and no typesetter.

The page that a browser prints is the larger one (our own PDF can make its type smaller, down to
7 pt), so its style sheet (`templates/report.css`) is what is reckoned here. The face of the
sheets stands in for the browser's (`screen_columns.long`).
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..base.table_grid import JOINER
from .parts import Block, Grid, Lines, Picture, Points, Report
from .screen_columns import BOLD, long
from .spelling import Spelling

if TYPE_CHECKING:
    import pandas as pd

WIDE, HIGH = 184.0, 257.4
"""Room in mm: the width of A4 and the height of Letter, inside the margins, hold on both."""
FULL, IN_CELLS = 0.95, 0.9
"""Share of a line that is taken where it is broken between words, across the page and in a cell."""
PRINTED = {"ja": 0.97, "sheets": 1.0}
OTHERS = 0.905
"""Height as printed, as a share of what lines and rows reckon, by language, and of a page that
ends with the table of the sheets. The largest in a browser: 0.966 of 24 Japanese sessions of 2 to
6 bottles (smallest 0.917); of 16 sessions 0.995 with the sheets, and 0.905 in English (0.857)."""
OWN, CLOSER = 22.0, 8.0
"""Less room in mm: with many bottles in a Latin script, where our own PDF on Letter is the higher
one (six bottles reckoned 248 to 250 ran over); for a page that gives way (one ran over by 4)."""
PT = 25.4 / 72


@dataclass(frozen=True, slots=True)
class Type:
    """Sizes of one kind of first page in pt: type, line, table's type and line, between rows."""

    size: float
    line: float
    table: float
    row: float
    between: float
    gap: float
    figure: float


KINDS = {
    "paged": Type(8.6, 11.6, 7.2, 9.0, 2.4, 4.4, 62.0),
    "many": Type(8.2, 10.4, 7.0, 8.0, 1.0, 3.1, 52.0),
    "few": Type(8.4, 11.0, 7.4, 9.1, 1.4, 6.0, 62.0),
}
"""As the style sheet prints them; the figure's height in mm."""
HEAD, SECTION, CAPTION, LEAST_ROW = 13.0, 9.5, 4.5, 3.0
"""In mm: title and date, a section's heading with its margins, a figure's caption and margin."""


LEAST, EACH = 14, 12
"""Letters for which the narrowest column of the table of bottles has room, shares of the others
being by their longest cell; and what each gets besides, for words break badly in narrow ones."""


def shares(frame: pd.DataFrame, written: Spelling) -> list[int]:
    """Share the width of a table out by its columns' longest cells, in percent: rows become low.

    The first column is as wide as the longest word of its names, or it would take from the last.
    """
    longest = [
        EACH + max(LEAST, *(len(_shown(written.cell(one))) for one in frame.iloc[:, place]))
        for place in range(frame.shape[1])
    ]
    made = [round(100 * one / sum(longest)) for one in longest]
    of = KINDS[kind(written.report)]
    words = [word for one in frame.iloc[:, 0] for word in re.split("[ -]", _joined(written, one))]
    word = max((long(one, of.table, written.report.language) for one in words), default=0.0)
    least = min(MOST_NAME, math.ceil(100 * (BOLD * word + PT * of.gap) / WIDE))
    if written.report.language in PRINTED or least <= made[0] or len(made) == 1:
        return made
    rest = sum(longest[1:])
    return [least, *(round((100 - least) * one / rest) for one in longest[1:])]


def _shown(text: str) -> str:
    return text.replace(JOINER, "")


def _joined(written: Spelling, name: object) -> str:
    """Write a name with a sign that is no hyphen where no line may end at one."""
    return written.cell(name).replace(f"{JOINER}-{JOINER}", "–")


MOST_NAME = 20
"""Percent of the width that a name's word gets at most; no source: nine columns stand beside it."""


def kind(report: Report) -> str:
    """Return which of `KINDS` prints a report's first page."""
    if report.few:
        return "few"
    return "many" if report.bottles > MANY else "paged"


MANY = 4
"""Bottles beyond which the style sheet sets the page closer (`templates/report.html`)."""


def height(report: Report) -> float:
    """Return how high the first page will be, in mm; more than `HIGH` does not fit."""
    written, of, language = Spelling(report), KINDS[kind(report)], report.language
    high = HEAD + SECTION
    if report.question:
        high += _lines(written.line(report.question), of, WIDE, language) + 2.0
    high += sum(_lines(written.line(line), of, WIDE - 12.0, language) for _, line in report.box)
    keys = [section.key for section in report.sections]
    for section in report.sections[: keys.index(report.page_end) + 1]:
        high += SECTION
        high += sum(_block(block, written, of) for block in section.blocks)
    kept = PRINTED.get(report.page_end) or PRINTED.get(language, OTHERS)
    return high * kept


def room(report: Report) -> float:
    """Return how high the first page may be as `height` reckons it, in mm."""
    latin = report.language not in PRINTED
    return HIGH - (OWN if latin and kind(report) == "many" else 0.0)


def goes_on(report: Report) -> bool:
    """Tell whether the appendix of few assessors begins on the first page: much of it is empty."""
    return report.few and height(report) <= TAKEN * HIGH


TAKEN = 0.7
"""Share of the first page from which on it stays alone."""


def _lines(text: str, of: Type, room: float, language: str) -> float:
    return PT * (of.line * _count(long(text, of.size, language), room, FULL) + 1.8)


def _count(needed: float, room: float, full: float) -> int:
    return 1 if needed <= room else math.ceil(needed / (full * room))


def _block(block: Block, written: Spelling, of: Type) -> float:
    if isinstance(block, (Lines, Points)):
        lines = [written.line(one) for one in block.lines if one]
        return sum(_lines(one, of, WIDE - 6.0, written.report.language) for one in lines)
    if isinstance(block, Picture):
        wide, high = block.figure.get_size_inches()
        return float(min(of.figure, WIDE * high / wide)) + CAPTION
    return _table(block, written, of)


def _table(block: Grid, written: Spelling, of: Type) -> float:
    cells = [[written.cell(one) for one in block.frame.columns]]
    cells += [[written.cell(one) for one in row] for row in block.frame.itertuples(index=False)]
    parts = [one / 100 for one in shares(block.frame, written)]
    if block.over or len(parts) > MOST_SHARED:
        return PT * (of.row + of.between) * (len(cells) + 1) + LEAST_ROW
    high, language = 0.0, written.report.language
    for row in cells:
        most = max(
            _count(long(cell, of.table, language), WIDE * part - PT * of.gap, IN_CELLS)
            for cell, part in zip(row, parts, strict=True)
        )
        high += PT * (of.row * most + of.between)
    return high + (_lines(written.line(block.note), of, WIDE, language) if block.note else 0.0)


MOST_SHARED = 12
"""Columns of a table of bottles at most; one with more is the sheets'."""
