"""``kikichoko merge DIR PACK``."""

from __future__ import annotations

from pathlib import Path

import click

from ..base.words import reader, say
from ._session import folder_argument, load_session

SECTION, RANK = "cli.section_session", 14


@click.command(help=say("merge.help"))
@folder_argument
@click.argument("pack", type=click.Path(path_type=Path, exists=True))
def command(folder: Path, pack: Path) -> None:
    """Take in what a co-leader's pack has gathered."""
    from ..base.errors import NEEDS_A_PERSON
    from ..base.one_at_a_time import alone
    from ..packs.merging import merge
    from ..plan.plan_file import load_open
    from ..returns.closed_flights import refuse_closed
    from ..returns.store import Store

    with alone(folder):
        session = load_session(folder, quiet=True)
        refuse_closed(folder)
        plan = load_open(session)
        with Store(folder) as store:
            merged = merge(plan, store, pack)
    language = reader()
    click.echo(say("merge.done", language, n=merged.added, files=merged.files), err=True)
    if merged.strangers:
        click.echo(say("merge.strangers", language, codes=merged.strangers), err=True)
    if merged.disputed:
        click.echo(say("merge.disputed", language, n=merged.disputed, folder=folder), err=True)
    if merged.marks:
        click.echo(say("read.marks", language, n=merged.marks, folder=folder), err=True)
    if merged.disputed or merged.marks:
        raise SystemExit(NEEDS_A_PERSON)
    click.echo(say("merge.next", language, folder=folder), err=True)
