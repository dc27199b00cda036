"""``kikichoko key DIR``."""

from __future__ import annotations

from pathlib import Path

import click

from ..base.words import reader, say
from ._session import folder_argument, load_session

SECTION, RANK = "cli.section_session", 8


@click.command(help=say("key.help"))
@folder_argument
@click.option("--reason", required=True, help=say("key.reason"))
def command(folder: Path, reason: str) -> None:
    """Open the key, on the record."""
    from ..base.session_log import to_the_minute
    from ..key.opening import open_key
    from ..plan.plan_file import load_open
    from ..returns.store import Store

    session = load_session(folder, quiet=True)
    plan = load_open(session)
    with Store(folder) as store:
        key = open_key(session, plan, store, reason)
    click.echo("code,bottle,replicate")
    shown = {(code, cup.bottle, cup.replicate) for (_, code), cup in key.cups.items()}
    for code, bottle, replicate in sorted(shown):
        click.echo(f"{code},{bottle},{replicate}")
    opened = key.opening
    values = {"at": to_the_minute(opened.opened_at), "out": opened.sheets_out, "n": opened.answers}
    click.echo(say("key.logged", reader(), **values), err=True)
