"""``kikichoko course TABLE``: what happens in the mouth over time."""

from __future__ import annotations

from pathlib import Path

import click

from ..base.words import say
from ._table import result_options, show

SECTION = "cli.section_tables"
RANK = 60


@click.command(help=say("course.help"))
@click.argument("path", metavar="TABLE", type=click.Path(path_type=Path))
@click.option(
    "--what",
    type=click.Choice(["dominance", "intensity"]),
    default="dominance",
    show_default=True,
    help=say("course.option_what"),
)
@click.option("--assessor", default="assessor", help=say("cli.option_assessor"))
@click.option("--sample", default="sample", help=say("cli.option_sample"))
@click.option("--replicate", default="replicate", help=say("cli.option_replicate"))
@click.option("--attribute", default="attribute", help=say("cli.option_attribute"))
@click.option("--score", default="score", help=say("cli.option_score"))
@click.option("--time", default="time", help=say("course.option_time"))
@click.option("--words", default=None, metavar="A,B,C", help=say("course.option_words"))
@click.option("--sheet", default=None, help=say("cli.option_sheet"))
@result_options
def command(
    path: Path,
    *,
    what: str,
    words: str | None,
    sheet: str | None,
    as_json: bool,
    **names: str,
) -> None:
    """Print dominance over time or time-intensity parameters."""
    from ..base.table_files import read_table

    given = {column: standard for standard, column in names.items()}
    table = read_table(path, sheet).rename(columns=given)
    chosen = [word.strip() for word in words.split(",")] if words else None
    if {"part", "event", "state"} <= set(table.columns):  # times.csv of a session
        from ...analysis.profile.sips_of_table import timed_sips

        found = timed_sips(table)
        table = found.intensity if what == "intensity" else found.dominance
        chosen = chosen or list(found.words) or None
    if what == "intensity":
        from ...analysis.profile.intensity_over_time import time_intensity

        show(time_intensity(table), as_json=as_json)
        return
    from ...analysis.profile.dominance_over_time import dominance

    show(dominance(table, attributes=chosen), as_json=as_json)
