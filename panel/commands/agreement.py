"""Does the panel agree? Measures per attribute and overall, with the choice explained."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from ..base.words import say
from ._figure import figure_option, save_figure
from ._table import load, result_options, show, table_options

SECTION = "cli.section_tables"
RANK = 20


@click.command(help=say("agreement.help"), short_help=say("agreement.short"))
@table_options
@click.option(
    "--scale",
    "scales",
    multiple=True,
    metavar="ATTRIBUTE=SCALE",
    help=say("agreement.option_scale"),
)
@figure_option
@result_options
def command(
    path: Path, *, figure: Path | None, as_json: bool, scales: tuple[str, ...], **names: Any
) -> None:
    """Measure agreement; its help stands in the catalogue."""
    from ...analysis.agreement.panel_agreement import agreement

    chosen = {}
    for pair in scales:
        attribute, equals, scale = pair.rpartition("=")
        if not equals:
            raise click.UsageError(say("agreement.bad_scale", found=pair))
        chosen[attribute] = scale
    found = agreement(load(path, **names), scales=chosen)
    show(found, as_json=as_json)
    save_figure(found.figure, figure)
