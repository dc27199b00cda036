"""``kikichoko examples [DIR]``."""

from __future__ import annotations

from pathlib import Path

import click

from ..base.words import say

SECTION, RANK = "cli.section_before", 1


@click.command(help=say("examples.help"))
@click.argument("folder", metavar="[DIR]", type=click.Path(path_type=Path), default=".")
def command(folder: Path) -> None:
    """Write the tables and the session that the documents use."""
    from ..demos._examples import write_examples

    for path in write_examples(folder):
        click.echo(path)
    click.echo(say("examples.next", folder=folder), err=True)
