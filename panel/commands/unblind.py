"""``kikichoko unblind DIR``."""

from __future__ import annotations

from pathlib import Path

import click

from ..base.words import reader, say
from ._session import folder_argument, load_session, progress
from ._table import paper_option

SECTION, RANK = "cli.section_session", 7


@click.command(help=say("unblind.help"))
@folder_argument
@paper_option
@click.option("--incomplete", is_flag=True, help=say("unblind.option_incomplete"))
@click.option("--yes", is_flag=True, help=say("unblind.option_yes"))
def command(folder: Path, *, paper: str, incomplete: bool, yes: bool) -> None:
    """Close the blind flights for good and write sheets with names."""
    from ..base.errors import REFUSED
    from ..base.one_at_a_time import alone
    from ..base.session_log import to_the_minute
    from ..handouts.lacking_letters import refuse_lacking
    from ..open_flight.flight import load_flight
    from ..open_flight.named_sheets import write_named
    from ..open_flight.unblinding import refuse_unready, unblind
    from ..plan.plan_file import load_open
    from ..returns.closed_flights import closed
    from ..returns.store import Store

    with alone(folder), Store(folder) as store:
        session = load_session(folder, quiet=True)
        language = reader()
        plan = load_open(session)
        before = closed(folder)
        if before is None:
            refuse_unready(session, plan, store, incomplete=incomplete)
            refuse_lacking(session, plan)
            click.echo(say("unblind.closes", language), err=True)
            if not yes and not click.confirm(say("unblind.ask", language), err=True):
                click.echo(say("unblind.kept", language), err=True)
                raise SystemExit(REFUSED)
        entry = unblind(session, plan, store, incomplete=incomplete)
        flight = load_flight(session, plan)
        total = 2 * len(flight.own_sheets) + 2
        with progress(total, say("sheets.writing", language)) as bar:
            written = []
            for path in write_named(session, flight, paper):
                written.append(path)
                bar.update(1)
    for path in written:
        click.echo(path)
    key = "unblind.open_already" if before else "unblind.opened"
    click.echo(say(key, language, at=to_the_minute(entry.at)), err=True)
    click.echo(say("unblind.next", language, folder=folder, n=len(flight.own_sheets)), err=True)
