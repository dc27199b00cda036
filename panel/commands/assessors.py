"""Who needs training in what? Each assessor against the rest, with advice."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from ..base.words import say
from ._table import json_option, load, show, table_options

SECTION = "cli.section_tables"
RANK = 21


@click.command(help=say("assessors.help"), short_help=say("assessors.short"))
@table_options
@click.option(
    "--rate",
    type=click.FloatRange(0, 1, min_open=True, max_open=True),
    default=0.05,
    show_default=True,
    help=say("assessors.option_rate"),
)
@click.option(
    "--figures",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="DIR",
    help=say("assessors.option_figures"),
)
@json_option
def command(path: Path, *, as_json: bool, rate: float, figures: Path | None, **names: Any) -> None:
    """Judge assessors; its help stands in the catalogue."""
    from ...analysis.performance.assessor_findings import assessors

    table = load(path, **names)
    result = assessors(table, rate=rate)
    show(result, as_json=as_json)
    if figures is not None:
        from ...analysis.performance.assessors_figure import assessor_lines, overview

        figures.mkdir(parents=True, exist_ok=True)
        overview(table, result).savefig(figures / "assessors.png", dpi=160)
        assessor_lines(table, result).savefig(figures / "assessor_lines.png", dpi=160)
        click.echo(say("assessors.figures_written", folder=figures), err=True)
