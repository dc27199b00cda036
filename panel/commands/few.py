"""``kikichoko few TABLE``: two or three assessors, joined to what is usual or stated."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import click

from ..base.words import say
from ._table import load, result_options, show, table_options

SECTION = "cli.section_tables"
RANK = 13
KINDS = ("taste", "appearance", "liking")
"""Of attributes; `analysis` has their usual spreads."""


@click.command(name="few", help=say("few.help"), short_help=say("few.short"))
@table_options
@click.option("--of", "wanted", metavar="ATTRIBUTE", help=say("few.option_of"))
@click.option(
    "--kind",
    type=click.Choice(KINDS),
    default="taste",
    show_default=True,
    help=say("few.option_kind"),
)
@click.option("--length", type=float, default=10, show_default=True, help=say("few.option_length"))
@click.option("--samples-sd", type=float, help=say("few.option_samples_sd"))
@click.option("--assessors-sd", type=float, help=say("few.option_assessors_sd"))
@click.option("--repeats-sd", type=float, help=say("few.option_repeats_sd"))
@click.option("--worth", type=float, default=8, show_default=True, help=say("few.option_worth"))
@click.option("--memory", "house", type=click.Path(path_type=Path), help=say("few.option_memory"))
@click.option("--before", type=click.DateTime(["%Y-%m-%d"]), help=say("few.option_before"))
@click.option("--level", type=float, default=0.95, show_default=True, help=say("few.option_level"))
@result_options
def command(
    path: Path,
    *,
    wanted: str | None,
    kind: str,
    length: float,
    samples_sd: float | None,
    assessors_sd: float | None,
    repeats_sd: float | None,
    worth: float,
    house: Path | None,
    before: dt.datetime | None,
    level: float,
    as_json: bool,
    **columns: Any,
) -> None:
    """Run the command; its help stands in the catalogue."""
    from ...analysis.performance.few_tasters import Prior, small_panel
    from ...analysis.performance.spreads import Spreads

    prior: Prior | Spreads | None = None
    widths = None
    if samples_sd is not None and assessors_sd is not None and repeats_sd is not None:
        prior = Prior(samples_sd, assessors_sd, repeats_sd, worth)
    elif (samples_sd, assessors_sd, repeats_sd) != (None, None, None):
        raise click.UsageError(say("few.three"))
    table = load(path, **columns)
    if house is not None:
        from ..base.errors import NotReady
        from ..key.earlier_sessions import earlier_sessions

        if prior is not None:
            raise click.UsageError(say("few.one_prior"))
        earlier = earlier_sessions(house, before=None if before is None else before.date())
        asked = wanted or next(iter(table.attributes), "")
        known = earlier.memory.known(asked, length) if earlier.memory is not None else None
        if earlier.memory is None or known is None:
            raise NotReady("few.not_remembered", folder=house, attribute=asked)
        click.echo(say("memory.learned", source=earlier.source), err=True)
        prior, widths = known.spreads, earlier.memory.width_of()
    found = small_panel(
        table, wanted, prior=prior, kind=kind, length=length, widths=widths, level=level
    )
    show(found, as_json=as_json)
