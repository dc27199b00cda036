"""``kikichoko scaling TABLE``: wide and narrow scale use told apart from disagreement."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import click

from ..base.console import width_of
from ..base.words import reader, say
from ._table import level_option, load, result_options, show, table_options

SECTION = "cli.section_tables"
RANK = 11


@click.command(name="scaling", help=say("scaling.help"), short_help=say("scaling.short"))
@table_options
@click.option("--of", "wanted", metavar="ATTRIBUTE", help=say("scaling.option_of"))
@level_option
@click.option("--pairs", is_flag=True, help=say("scaling.option_pairs"))
@result_options
def command(
    path: Path, *, wanted: str | None, level: float, pairs: bool, as_json: bool, **columns: Any
) -> None:
    """Run the command; its help stands in the catalogue."""
    from ...analysis.core.result import spoken
    from ...analysis.core.table_lines import table_lines
    from ...analysis.performance.scaling_model import assessor_model

    found = assessor_model(load(path, **columns), wanted, level=level)
    show(found, as_json=as_json)
    if pairs and not as_json:
        table = table_lines(spoken(found.differences(), reader()), width_of(sys.stdout) or None)
        click.echo(f"\n{say('scaling.pairs')}\n{table}")
