"""``kikichoko new DIR``."""

from __future__ import annotations

from pathlib import Path

import click

from ..base.words import say

SECTION, RANK = "cli.section_session", 2


@click.command(help=say("new.help"))
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
def command(folder: Path) -> None:
    """Write a session folder to fill in."""
    from ..session.template_files import write_template

    for path in write_template(folder):
        click.echo(path)
    click.echo(say("new.next", folder=folder), err=True)
