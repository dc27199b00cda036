"""``kikichoko sheets DIR``."""

from __future__ import annotations

from itertools import chain
from pathlib import Path

import click

from ..base.words import reader, say
from ._session import folder_argument, load_session, progress
from ._table import paper_option

SECTION, RANK = "cli.section_session", 4


@click.command(help=say("sheets.help"))
@folder_argument
@paper_option
@click.option("--one-sided", is_flag=True, help=say("sheets.option_one_sided"))
def command(folder: Path, paper: str, *, one_sided: bool) -> None:
    """Write score sheets, labels and the pour list."""
    from ...forms.paper.pages import lay_out
    from ..base.one_at_a_time import alone
    from ..base.session_log import append
    from ..handouts.lacking_letters import refuse_lacking
    from ..handouts.server_files import write
    from ..handouts.sheet_files import as_served, write_for_assessors, write_for_server
    from ..plan.plan_file import load_open, note_broken_off
    from ..plan.since_planning import with_planned_bottles
    from ..returns.closed_flights import refuse_closed

    with alone(folder):
        session = load_session(folder, quiet=True)
        refuse_closed(folder)
        plan = load_open(session)
        session = with_planned_bottles(session, plan)
        refuse_lacking(session, plan)
        served = as_served(session, plan)
        note_broken_off(folder)
        append(folder, "sheets", plan=plan.number, sheets=len(plan.sheets))
        write(served, session)
        language = reader()
        total = 2 * len(plan.sheets) + 4
        written = []
        with progress(total, say("sheets.writing", language)) as bar:
            for path in chain(
                write_for_assessors(session, plan, paper, both_sides=not one_sided),
                write_for_server(session, plan, paper),
            ):
                written.append(path)
                bar.update(1)
    for path in written:
        click.echo(path)
    sides = [len(lay_out(sheet, paper)) for sheet in plan.sheets.values()]
    leaves = sum(-(-own // 2) for own in sides)
    printed = "one_sided" if one_sided else "sides"
    click.echo(say(f"sheets.{printed}", language, sides=sum(sides), leaves=leaves), err=True)
    click.echo(say("sheets.next", language, folder=folder, n=len(plan.sheets)), err=True)
