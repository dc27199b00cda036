"""``kikichoko measured DIR``."""

from __future__ import annotations

from pathlib import Path

import click

from ..base.words import reader, say
from ._session import folder_argument, load_session

SECTION, RANK = "cli.section_session", 11


@click.command(help=say("measured.help"))
@folder_argument
def command(folder: Path) -> None:
    """Record measurements that came after planning."""
    from ..base.errors import NEEDS_A_PERSON
    from ..base.one_at_a_time import alone
    from ..base.session_log import read_log
    from ..plan.measured_later import COLUMNS, complete, record
    from ..plan.plan_file import load_open
    from ..plan.since_planning import differences

    session = load_session(folder)
    language = reader()
    with alone(folder):
        complete(folder)
        found = [
            one for one in differences(session, load_open(session)) if one.kind.startswith("bottle")
        ]
        measured = [one for one in found if one.kind == "bottle_changed" and one.field in COLUMNS]
        if measured:
            values = {bottle.name: bottle for bottle in session.bottles}
            record(
                folder,
                [
                    {
                        "bottle": one.what,
                        "field": one.field,
                        "planned": one.planned,
                        "now": getattr(values[one.what], one.field),
                    }
                    for one in measured
                ],
            )
    if not measured:
        click.echo(say("measured.none", language), err=True)
    for one in measured:
        told = {"field": one.field, "bottle": one.what, "planned": one.planned, "now": one.now}
        click.echo(say("measured.recorded", language, **told), err=True)
    if measured and read_log(folder).of("open"):
        click.echo(say("measured.key_open", language), err=True)
    others = [f"{one.what} {one.field}".strip() for one in found if one not in measured]
    if others:
        listed = list(others)
        click.echo(say("measured.refused", language, listed=listed, folder=folder), err=True)
        raise SystemExit(NEEDS_A_PERSON)
