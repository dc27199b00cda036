"""``kikichoko ordinal TABLE``: short category scales and fault severities."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from ..base.words import say
from ._figure import figure_option, save_figure
from ._table import (
    level_option,
    load,
    patience,
    result_options,
    show,
    shuffles_option,
    table_options,
)

SECTION = "cli.section_tables"
RANK = 12


@click.command(name="ordinal", help=say("ordinal.help"), short_help=say("ordinal.short"))
@table_options
@click.option("--of", "wanted", metavar="ATTRIBUTE", help=say("ordinal.option_of"))
@click.option(
    "--random",
    type=click.Choice(["auto", "none", "assessor", "assessor and interaction"]),
    default="auto",
    show_default=True,
    help=say("ordinal.option_random"),
)
@click.option(
    "--link",
    type=click.Choice(["logit", "probit"]),
    default="logit",
    show_default=True,
    help=say("ordinal.option_link"),
)
@click.option("--nodes", type=int, default=1, show_default=True, help=say("ordinal.option_nodes"))
@click.option("--reference", metavar="SAMPLE", help=say("ordinal.option_reference"))
@level_option
@shuffles_option
@figure_option
@result_options
def command(
    path: Path,
    *,
    wanted: str | None,
    random: str,
    link: str,
    nodes: int,
    reference: str | None,
    level: float,
    seed: int,
    figure: Path | None,
    as_json: bool,
    **columns: Any,
) -> None:
    """Run the command; its help stands in the catalogue."""
    from ...analysis.ordinal.ordinal_model import ordinal

    table = load(path, **columns)
    with patience(table, 30):
        found = ordinal(
            table,
            wanted,
            random=random,
            link=link,
            nodes=nodes,
            reference=reference,
            level=level,
            seed=seed,
        )
    show(found, as_json=as_json)
    save_figure(found.figure, figure)
