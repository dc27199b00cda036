"""The report as one self-contained HTML page."""

from __future__ import annotations

from functools import partial
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from ... import __version__
from ...analysis.core.words import shown
from ..base.words import say
from .parts import Grid, Lines, Picture, Points, Report
from .screen_columns import columns
from .spelling import Spelling

if TYPE_CHECKING:
    import pandas as pd
    from jinja2 import Environment


LEAST, EACH = 14, 12
"""Letters for which the narrowest column of the table of bottles has room, shares of the others
being by their longest cell; and what each gets besides, for words break badly in narrow ones."""


def html(report: Report, mark: str) -> str:
    """Render the report; nothing in the page is fetched from anywhere.

    `mark` is the fingerprint of the plan.
    """
    environment = _environment(report)
    page = environment.get_template("report.html").render(
        report=report,
        made=say("report.made", report.language, version=__version__, mark=mark),
        style=files(__package__).joinpath("templates", "report.css").read_text("utf-8"),
    )
    return shown(page)


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


def shares(frame: pd.DataFrame, written: Spelling) -> list[int]:
    """Share the width of a table out by its columns' longest cells, in percent: rows become low."""
    longest = [
        EACH + max(LEAST, *(len(written.cell(one)) for one in frame.iloc[:, place]))
        for place in range(frame.shape[1])
    ]
    return [round(100 * one / sum(longest)) for one in longest]


def _environment(report: Report) -> Environment:
    environment = templates(__package__)
    written = Spelling(report)
    kinds = {Lines: "lines", Points: "points", Grid: "grid", Picture: "picture"}

    def kind(block: Any) -> str:
        return kinds[type(block)]

    environment.filters.update(line=written.line, cell=written.cell, head=written.head, kind=kind)
    environment.filters.update(shares=partial(shares, written=written))
    environment.filters.update(columns=partial(columns, written=written))
    environment.globals.update(word=written.word)
    return environment
