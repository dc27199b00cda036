"""``kikichoko serve DIR``."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..base.words import reader, say
from ._session import folder_argument, load_session, until_closed_option
from ._table import paper_option

if TYPE_CHECKING:
    from ..plan.open_plan import OpenPlan
    from ..returns.store import Store
    from ..session.session import Session
    from ..table.table_links import Links

SECTION, RANK = "cli.section_session", 5
NOTED = 60.0
"""Seconds after which the log is told how many answers came in."""


@click.command(help=say("serve.help"))
@folder_argument
@click.option("--host", default="", help=say("serve.host"))
@click.option("--port", default=0, show_default=False, help=say("serve.port"))
@click.option("--new-links", is_flag=True, help=say("serve.new_links"))
@paper_option
@until_closed_option
def command(
    folder: Path, *, host: str, port: int, new_links: bool, paper: str, until_closed: bool
) -> None:
    """Serve the session to telephones on the local network."""
    from importlib.util import find_spec

    from ..base.errors import NotReady
    from ..plan.plan_file import load_open, load_table, note_broken_off
    from ..returns.closed_flights import refuse_closed
    from ..returns.logged_answers import note_answers
    from ..returns.store import Store
    from ..table.table_links import HERE, make_links, own_address

    if find_spec("starlette") is None or find_spec("uvicorn") is None:
        raise NotReady("serve.no_desk")
    session = load_session(folder)
    refuse_closed(folder)
    plan = load_open(session)
    load_table(folder)
    note_broken_off(folder)
    links = make_links(folder, plan.own_sheets, host or HERE, port, anew=new_links)
    cards = _cards(session, plan, links, paper)
    with Store(folder) as store:
        note_answers(store, "found")
        rows = _rows(store)
        with _served(folder, until_closed=until_closed) as server:
            click.echo(say("serve.at", place=links.place), err=True)
            if not host:
                guess = own_address()
                click.echo(say("serve.only_here", folder=folder, guess=guess), err=True)
            click.echo(say("serve.network"), err=True)
            click.echo(say("serve.cards_at", path=cards), err=True)
            click.echo(say("serve.leader_link", link=links.leaders))
            code = _wait(server, store)
        note_answers(store)
        rows = _rows(store) - rows
    if code:
        raise NotReady("serve.died", code=code)
    click.echo(say("serve.ended", n=rows), err=True)


def _cards(session: Session, plan: OpenPlan, links: Links, paper: str) -> Path:
    """Write the cards, closed to others: whoever has a link answers with it."""
    from ...forms.paper.link_cards import LinkCard, write_cards
    from ..base.private_files import close
    from ..base.whole_files import whole_file
    from ..returns.forgotten_rows import TABLE

    settings = session.settings
    date = settings.date.isoformat()
    path = session.folder / TABLE / "cards.pdf"
    note = say("serve.card_note", settings.language, session=settings.name, date=date)
    cards = [
        LinkCard(
            who=code,
            link=links.of(code),
            how=say("serve.card_how", sheet.language),
            language=sheet.language,
        )
        for code, sheet in plan.own_sheets.items()
    ]
    with whole_file(path) as aside:
        write_cards(cards, aside, date=date, paper=paper, note=note)
    close(path)
    return path


def _served(folder: Path, *, until_closed: bool) -> subprocess.Popen[str]:
    """Start the serving process and wait until it listens.

    It is a process of its own, for this one has read what the bottles are called. It ends when
    its input is closed: a pipe from here, or this command's own.
    """
    from ..base.errors import NotReady

    named = __package__.rpartition(".")[0] + ".table"
    server = subprocess.Popen(
        [sys.executable, "-m", named, str(folder), reader()],
        stdin=None if until_closed else subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    if not (server.stdout and server.stdout.readline()):
        raise NotReady("serve.died", code=server.wait())
    return server


def _wait(server: subprocess.Popen[str], store: Store) -> int:
    """Wait until the server ends or the person stops it; tell the log now and then."""
    from ..returns.logged_answers import note_answers

    told: Any = None
    try:
        while True:
            try:
                return server.wait(NOTED)
            except subprocess.TimeoutExpired:
                if told != _rows(store):
                    note_answers(store)
                    told = _rows(store)
    except KeyboardInterrupt:
        if server.stdin:
            server.stdin.close()
        server.wait()
        return 0


def _rows(store: Store) -> int:
    (rows,) = store.database.execute("SELECT count(*) FROM answers").fetchone()
    return int(rows)
