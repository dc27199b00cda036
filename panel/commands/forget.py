"""``kikichoko forget DIR CODE``."""

from __future__ import annotations

from pathlib import Path

import click

from ..base.words import reader, say
from ._session import folder_argument, load_session

SECTION, RANK = "cli.section_session", 12


@click.command(help=say("forget.help"))
@folder_argument
@click.argument("assessor", metavar="CODE")
@click.option("--yes", is_flag=True, help=say("forget.yes"))
def command(folder: Path, assessor: str, *, yes: bool) -> None:
    """Forget a person."""
    from ..base.errors import NEEDS_A_PERSON, REFUSED
    from ..base.one_at_a_time import alone
    from ..key.forgetting import forget, look, name_of, still_named
    from ..plan.plan_file import load_open
    from ..returns.closed_flights import closed
    from ..returns.store import Store

    session = load_session(folder, quiet=True, half_forgotten=True)
    language = reader()
    plan = load_open(session)
    with Store(folder) as store:
        found = look(session, plan, store, assessor)
        shared = [name for name, others in found.originals.items() if others]
        lines = [say("forget.title", language, assessor=assessor)]
        if found.named:
            lines.append(say("forget.goes_name", language))
        if found.originals:
            lines.append(say("forget.goes_originals", language, n=len(found.originals)))
        if shared:
            lines.append(say("forget.goes_shared", language, files=shared))
        if found.words:
            lines.append(say("forget.goes_words", language, n=found.words))
        lines += [
            say("forget.goes_made", language),
            say("forget.stays", language, n=found.scores),
            say("forget.sealed", language),
            say("forget.not_reached", language),
        ]
        click.echo("\n".join(lines), err=True)
        if not yes and not click.confirm(say("forget.ask", language, assessor=assessor), err=True):
            click.echo(say("forget.kept", language), err=True)
            raise SystemExit(REFUSED)
        name = name_of(folder, assessor)
        with alone(folder):
            session = load_session(folder, quiet=True, half_forgotten=True)
            new = forget(session, load_open(session), store, found)
    key = "forget.done_open" if closed(folder) else "forget.done"
    click.echo(say(key, language, new=new, folder=folder), err=True)
    left = still_named(folder, [name])
    if left:
        click.echo(say("forget.still", language), err=True)
        for path in left:
            click.echo(path)
        raise SystemExit(NEEDS_A_PERSON)
