"""Who needs training in what? Each assessor against the rest, with advice."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Any

import click

from ..base.words import say
from ._figure import figure_option, save_figure
from ._table import load, patience, result_options, show, table_options

SECTION = "cli.section_tables"
RANK = 21


@click.command(help=say("assessors.help"), short_help=say("assessors.short"))
@table_options
@click.option(
    "--alpha",
    type=click.FloatRange(0, 1, min_open=True, max_open=True),
    default=0.05,
    show_default=True,
    help=say("assessors.option_rate"),
)
@figure_option
@click.option(
    "--lines",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help=say("assessors.option_lines"),
)
@result_options
def command(
    path: Path,
    *,
    as_json: bool,
    alpha: float,
    figure: Path | None,
    lines: Path | None,
    **names: Any,
) -> None:
    """Judge assessors; its help stands in the catalogue."""
    from ...analysis.performance.assessor_findings import assessors

    table = load(path, **names)
    with patience(table, 10.5):
        result = assessors(table, alpha=alpha)
    show(result, as_json=as_json)
    save_figure(partial(result.overview, table), figure)
    save_figure(partial(result.lines, table), lines)
