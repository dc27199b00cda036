"""``kikichoko plan DIR``."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import click

from ..base.words import reader, say
from ._session import folder_argument, load_session

SECTION, RANK = "cli.section_session", 3


@click.command(help=say("plan_command.help"))
@folder_argument
@click.option("--again", is_flag=True, help=say("plan_command.again"))
def command(folder: Path, *, again: bool) -> None:
    """Make codes, orders and the pour list."""
    from ..base.errors import NotReady
    from ..base.one_at_a_time import alone
    from ..base.private_files import close
    from ..base.session_log import append
    from ..base.whole_files import MADE, list_made, renewed
    from ..handouts.lacking_letters import refuse_lacking
    from ..handouts.server_files import SERVER, cautions, dose_lines, with_named, write
    from ..plan.codes_before import GROWING, codes_used
    from ..plan.plan_file import note_broken_off, numbers, write_halves
    from ..plan.planning import make
    from ..plan.sealing import fingerprint
    from ..returns.closed_flights import refuse_closed
    from ..returns.store import FILE, Store
    from ..session.conditions import how_many

    session = load_session(folder)
    language = reader()
    refuse_lacking(session)
    with alone(folder):
        refuse_closed(folder)
        before = numbers(folder)
        note_broken_off(folder)
        if before and not again:
            answers = 0
            if (folder / FILE).is_file():
                with Store(folder, reading=True) as store:
                    answers = len(store.answers())
            raise NotReady("plan.planned_already", folder=folder, n=answers, number=before[-1])
        plan = make(session, number=max(before, default=0) + 1, used=codes_used(folder))
        with renewed(folder, "plan", "sheets") as stage:
            sealed = write_halves(plan, stage)
            written = write(plan, replace(session, folder=stage))
            for place in (stage / "plan", stage / SERVER):
                list_made(place, GROWING)
            close(stage / SERVER / MADE)
        append(folder, "plan", plan=plan.number, sealed=sealed)
    for path in written:
        click.echo(folder / path)
    spare = sum(one.spare for one in plan.assessors)
    people = {"n": len(plan.assessors) - spare, "spare": spare}
    count = {
        "who": say("plan.and_spare" if spare else "plan.people", language, **people),
        "bottles": how_many(session.bottles),
        "replicates": session.settings.serving.replicates,
        "cups": len(plan.pours),
    }
    lines = [
        *(say("plan.earlier_plan", language, number=number) for number in before[-1:]),
        say("plan.written", language, **count),
        *(note.to(language) for note in plan.notes),
        *dose_lines(with_named(plan.pours, session), plan.assessors, session, language),
        "",
        say("plan.caution_title", language),
        *(f"- {line}" for line in cautions(session, language)),
        "",
        say("alone.open_list" if session.settings.serving.alone else "plan.server_only", language),
        say("plan.fingerprint", language, number=plan.number, mark=fingerprint(sealed)),
        say("plan.fingerprint_how", language),
        say("plan.next", language, folder=folder),
    ]
    click.echo("\n".join(lines), err=True)
