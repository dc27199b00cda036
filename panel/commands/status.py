"""``kikichoko status DIR``."""

from __future__ import annotations

import json
from pathlib import Path

import click

from ..base.words import say
from ._session import folder_argument, load_session
from ._table import json_option

SECTION, RANK = "cli.section_session", 6


@click.command(help=say("status.help"))
@folder_argument
@click.option("--settle", type=int, multiple=True, metavar="N", help=say("status.settle"))
@click.option("--why", default="", help=say("status.why"))
@json_option
def command(folder: Path, *, settle: tuple[int, ...], why: str, as_json: bool) -> None:
    """Say what is in, what is missing, what needs a person."""
    from ..base.errors import NEEDS_A_PERSON, REFUSED
    from ..key.session_checks import check
    from ..plan.plan_file import load_open
    from ..returns.session_status import status
    from ..returns.store import Store
    from ..session.care import care

    session = load_session(folder, quiet=True)
    plan = load_open(session)
    language = session.settings.language
    with Store(folder, reading=not settle) as store:
        absent = [number for number in settle if number not in store.faults()]
        if absent:
            click.echo(say("status.no_fault", language, numbers=absent), err=True)
            raise SystemExit(REFUSED)
        with store.transaction():
            for number in settle:
                store.settle(number, why)
        state = status(session, plan, store)
        changed = [one for one in check(session, plan, store) if one.person]
    if as_json:
        click.echo(json.dumps(state.to_dict(), ensure_ascii=False, indent=2))
    else:
        click.echo(state.text(language))
        told = care(session.bottles, language, named=False)
        if told:
            heading = say("care.heading", language)
            click.echo("\n".join(["", f"{heading}:", *(f"- {one}" for one in told)]))
    if changed:
        click.echo(say("status.check", language, n=len(changed), folder=folder), err=True)
    if state.faults or state.marks or changed:
        raise SystemExit(NEEDS_A_PERSON)
