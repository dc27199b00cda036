"""``kikichoko plan DIR``."""

from __future__ import annotations

from pathlib import Path

import click

from ..base.words import say
from ._session import folder_argument, load_session

SECTION, RANK = "cli.section_session", 3


@click.command(help=say("plan_command.help"))
@folder_argument
@click.option("--again", is_flag=True, help=say("plan_command.again"))
def command(folder: Path, *, again: bool) -> None:
    """Make codes, orders and the pour list."""
    from ..base.errors import NotReady
    from ..handouts.server_files import cautions, dose_lines, write
    from ..plan.plan_file import OPEN_HALF, save
    from ..plan.planning import make
    from ..returns.store import FILE, Store

    session = load_session(folder)
    language = session.settings.language
    if (folder / OPEN_HALF).is_file() and (folder / FILE).is_file() and not again:
        with Store(folder) as store:
            answers = len(store.answers())
        if answers:
            raise NotReady("plan.planned_already", folder=folder, n=answers)
    plan = make(session)
    if (folder / "sheets").is_dir():
        click.echo(say("plan.old_sheets", language, folder=folder), err=True)
    save(plan, folder)
    for path in write(plan, session):
        click.echo(folder / path)
    numbers = {
        "assessors": len(plan.assessors),
        "bottles": len(session.samples),
        "replicates": session.settings.serving.replicates,
        "cups": len(plan.pours),
    }
    lines = [
        say("plan.written", language, **numbers),
        *(note.to(language) for note in plan.notes),
        *dose_lines(plan.pours, plan.assessors, session, language),
        "",
        say("plan.caution_title", language),
        *(f"- {line}" for line in cautions(session, language)),
        "",
        say("plan.server_only", language),
        say("plan.next", language, folder=folder),
    ]
    click.echo("\n".join(lines), err=True)
