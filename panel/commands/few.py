"""``kikichoko few TABLE``: two or three assessors, joined to a stated prior."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from ..base.words import say
from ._table import json_option, load, show, table_options

SECTION = "cli.section_tables"
RANK = 13


@click.command(name="few", help=say("few.help"), short_help=say("few.short"))
@table_options
@click.option("--of", "wanted", metavar="ATTRIBUTE", help=say("few.option_of"))
@click.option("--samples-sd", type=float, required=True, help=say("few.option_samples_sd"))
@click.option("--assessors-sd", type=float, required=True, help=say("few.option_assessors_sd"))
@click.option("--repeats-sd", type=float, required=True, help=say("few.option_repeats_sd"))
@click.option("--worth", type=float, default=8, show_default=True, help=say("few.option_worth"))
@click.option("--level", type=float, default=0.95, show_default=True, help=say("few.option_level"))
@json_option
def command(
    path: Path,
    *,
    wanted: str | None,
    samples_sd: float,
    assessors_sd: float,
    repeats_sd: float,
    worth: float,
    level: float,
    as_json: bool,
    **columns: Any,
) -> None:
    """Run the command; its help stands in the catalogue."""
    from ...analysis.performance.few_tasters import Prior, small_panel

    prior = Prior(samples_sd, assessors_sd, repeats_sd, worth)
    found = small_panel(load(path, **columns), wanted, prior=prior, level=level)
    show(found, as_json=as_json)
