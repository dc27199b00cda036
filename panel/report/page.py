"""The report as one self-contained HTML page."""

from __future__ import annotations

from functools import partial
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from ... import __version__
from ...analysis.core.words import shown
from ..base.words import say
from .page_room import goes_on, shares
from .parts import Block, Grid, Line, Lines, Picture, Points, Report, Section
from .screen_columns import columns, holds_marks, in_line, is_marks, is_name
from .spelling import Spelling

if TYPE_CHECKING:
    from jinja2 import Environment

TALL = 0.3
"""Share of a printed page: no care and no method passes a figure that is lower, for no more can
stay empty before it."""
KEPT_ROWS, PAGE_ROWS = 12, 45
"""Rows up to which a table below a figure is printed whole, with its title, so that the figure
comes into neither (a longer one may begin before the figure and go on after it: kept whole, it left
44 to 52 % of a page empty); how many rows a printed page holds: no figure waits for more."""
SCRAP = 30.0
"""Room in mm that stays empty below a figure in print: a table that goes on there would show its
head and a row or two."""
PRINTED = (184.0, 275.0)
"""Width and height of what is printed on A4, in mm."""
LETTER, FULL, BESIDE = 189.9, 240.0, 14.0
"""In mm: width of what is printed on Letter, where figures are higher; how high one is printed at
most (`templates/report.css`); its caption of two lines and its margins."""


def html(report: Report, mark: str) -> str:
    """Render the report; nothing in the page is fetched from anywhere.

    `mark` is the fingerprint of the plan.
    """
    environment = _environment(report)
    page = environment.get_template("report.html").render(
        report=report,
        made=say("report.made", report.language, version=__version__, mark=mark),
        goes_on=goes_on(report),
        scrap=SCRAP,
        style=files(__package__).joinpath("templates", "report.css").read_text("utf-8"),
    )
    return shown(page)


def is_tall(picture: Picture) -> bool:
    """Tell whether much of a printed page stays empty before a figure that has no room on it."""
    wide, high = picture.figure.get_size_inches()
    width, height = PRINTED
    return bool(high / wide * width > TALL * height)


def printed_high(picture: Picture) -> int:
    """Return how high a figure is printed with its caption and margins, in mm, on Letter or A4."""
    wide, high = picture.figure.get_size_inches()
    return round(float(min(FULL, high / wide * LETTER) + BESIDE))


def is_kept(block: Grid, before: int) -> bool:
    """Tell whether a table is not parted in print, with so many rows `before` it below a figure."""
    rows = len(block.frame)
    return rows <= KEPT_ROWS and before + rows <= PAGE_ROWS


def boxes(report: Report) -> list[tuple[str, list[tuple[str, Line]]]]:
    """Return the lines of the box, on paper and on screens where these are not the same."""
    if report.box == report.in_short:
        return [("", report.box)]
    return [("on-paper", report.box), ("on-screen", report.in_short)]


def on_screens(report: Report, section: Section, place: int) -> Block | None:
    """Return what screens show of a block; None for nothing."""
    whole = report.whole.get(section.key, section.blocks)
    return whole[place]


def templates(package: str) -> Environment:
    """Return what fills a package's templates: it escapes, and refuses what nobody gave."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    return Environment(
        loader=PackageLoader(package, "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def _environment(report: Report) -> Environment:
    environment = templates(__package__)
    written = Spelling(report)
    kinds = {Lines: "lines", Points: "points", Grid: "grid", Picture: "picture"}

    def kind(block: Any) -> str:
        return kinds[type(block)]

    def named(text: Any) -> bool:
        return is_name(text, written)

    environment.filters.update(line=written.line, cell=written.cell, head=written.head, kind=kind)
    environment.filters.update(shares=partial(shares, written=written))
    environment.filters.update(columns=partial(columns, written=written))
    environment.filters.update(holds=partial(holds_marks, written=written), is_marks=is_marks)
    environment.filters.update(is_tall=is_tall, printed_high=printed_high)
    environment.filters.update(in_line=partial(in_line, written=written))
    environment.tests.update(kept=is_kept, named=named)
    environment.globals.update(word=written.word, boxes=boxes, on_screens=on_screens)
    return environment
