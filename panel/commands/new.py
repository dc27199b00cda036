"""``kikichoko new DIR``."""

from __future__ import annotations

from pathlib import Path

import click

from ..base.words import say

SECTION, RANK = "cli.section_session", 2


@click.command(help=say("new.help"))
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@click.option(
    "--practise",
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help=say("new.option_practise"),
)
@click.option(
    "--card",
    type=click.Choice(["full", "brewery", "beginners", "cloudy", "aged", "official", "guests"]),
    default="full",
    show_default=True,
    help=say("new.option_card"),
)
def command(folder: Path, practise: Path | None, card: str) -> None:
    """Write a session folder to fill in."""
    from ..session.template_files import write_template

    if practise is None:
        written = write_template(folder, card)
    else:
        from ..school.training_path import read_practice, write_practice_session

        written = write_practice_session(folder, read_practice(practise))
    for path in written:
        click.echo(path)
    click.echo(say("new.next", folder=folder), err=True)
