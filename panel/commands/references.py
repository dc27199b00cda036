"""``kikichoko references``."""

from __future__ import annotations

import click

from ..base.words import reader, say
from ._table import json_option, show_json

SECTION, RANK = "cli.section_before", 40


@click.command(help=say("references.help"), short_help=say("references.short"))
@click.option("--for", "serves", metavar="ATTRIBUTE", help=say("references.option_for"))
@click.option(
    "--litres",
    type=click.FloatRange(0.01, 100),
    default=1.0,
    show_default=True,
    help=say("references.option_litres"),
)
@json_option
def command(serves: str | None, litres: float, *, as_json: bool) -> None:
    """List reference solutions; its help stands in the catalogue."""
    from ..session.reference_solutions import shelf

    found = shelf(serves, litres)
    if as_json:
        show_json(found.to_dict())
        return
    for said in found.sentences():
        click.echo(f"- {said.to(reader())}")
    for one in found.chosen:
        click.echo("")
        click.echo(
            say(
                "references.line",
                key=one.key,
                name=one.said("name", reader()),
                compound=one.said("compound", reader()),
                amount=f"{one.amount:g} {one.unit}",
                base=say(f"references.base_{one.base}"),
            )
        )
        click.echo(say("references.shows", text=one.said("shows", reader())))
        key = "references.source_alone" if one.mark in one.source else "references.source"
        click.echo(say(key, text=one.said("source", reader()), mark=one.mark_in(reader())))
