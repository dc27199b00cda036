"""Where the first page of a report of one to three assessors ends."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from ...line_breaks import columns
from ..few.side_by_side import BOTTLES, SHEETS
from .page_room import HIGH, height
from .parts import Block, Grid, Lines, Points, Report
from .spelling import Spelling

MOST_LETTERS = 4000
"""Letters of box, table of bottles and sheets for which one printed page has room; Japanese ones
count double. Seen on A4 and Letter, by the browser and as PDF: up to 3,960 stood on one page, at
4,170 one ran over (`tests/tools/first_pages.py`)."""
SPARE = 22.0
"""Room in mm that a first page with a figure keeps: three that were reckoned 9 to 19 mm short of
the page ran over on Letter."""


def page_of_few(report: Report) -> str:
    """Return the section that ends the first page: the sheets, where there is room for them.

    Else they open the appendix, and the page ends with the table of bottles.
    """
    return SHEETS if letters_of_page(report) <= MOST_LETTERS else BOTTLES


def with_figure(report: Report, figure: Sequence[Block]) -> Report:
    """Put the figure on the first page where there is room for it, else before the sheets.

    With it the page ends with the sheets where these have room as well, else with the table of
    bottles, and the sheets open the appendix.
    """
    if not figure:
        return report
    there = _with(report, BOTTLES, lambda blocks: (*blocks, *figure))
    ends = [SHEETS] if report.page_end == SHEETS else []
    for end in (*ends, BOTTLES):
        tried = replace(there, page=end)
        if height(tried) <= HIGH - SPARE:
            return tried
    return _with(report, SHEETS, lambda blocks: (*figure, *blocks))


def _with(
    report: Report, key: str, change: Callable[[tuple[Block, ...]], tuple[Block, ...]]
) -> Report:
    sections = [
        replace(one, blocks=change(one.blocks)) if one.key == key else one
        for one in report.sections
    ]
    return replace(report, sections=tuple(sections))


def letters_of_page(report: Report) -> int:
    """Count the letters of box, table of bottles and sheets; Japanese ones count double."""
    written = Spelling(report)
    box = sum(columns(written.line(line)) for _, line in report.in_short)
    sections = [one for one in report.sections if one.key in (BOTTLES, SHEETS)]
    return box + sum(_letters(block, written) for one in sections for block in one.blocks)


def _letters(block: Block, written: Spelling) -> int:
    if isinstance(block, (Lines, Points)):
        return sum(columns(written.line(line)) for line in block.lines)
    if isinstance(block, Grid):
        return sum(columns(written.cell(cell)) for cell in block.frame.to_numpy().ravel())
    return 0
