"""``kikichoko read DIR FILES…``."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from ..base.words import reader, say
from ._session import folder_argument, load_session, progress

SECTION, RANK = "cli.section_session", 5


@click.command(help=say("read.help"))
@folder_argument
@click.argument(
    "files", metavar="FILES...", nargs=-1, required=True, type=click.Path(path_type=Path)
)
@click.option("--correct", is_flag=True, help=say("read.correct"))
@click.option("--by", default="", metavar="WHO", help=say("read.by"))
def command(folder: Path, files: tuple[Path, ...], *, correct: bool, by: str) -> None:
    """Read returned sheets, tables or pictures."""
    from ...forms.answers.told_together import told_together
    from ..base.errors import NEEDS_A_PERSON
    from ..open_flight.flight import VERSION
    from ..open_flight.named_returns import receiving, take_in_named, too_late
    from ..plan.plan_file import load_open
    from ..returns.page_names import KIND
    from ..returns.taking_in import expand, take_in

    session = load_session(folder, quiet=True)
    plan = load_open(session)
    language = reader()
    late = []
    with (
        receiving(session, plan) as (asked, store),
        progress(len(expand(files)), say("read.reading", language)) as bar,
    ):
        how: Any = {"correct": correct, "decided_by": by, "tick": lambda: bar.update(1)}
        if asked.version == VERSION:
            taken = take_in_named(session, asked, store, files, **how)
            late = too_late(session, store)
        else:
            taken = take_in(asked, store, files, **how)
    values = {"n": taken.added, "files": taken.files}
    click.echo(say("read.done", language, **values), err=True)
    for fault in taken.again:
        click.echo(fault.message(language), err=True)
    if late:
        click.echo(say("open_flight.late", language, n=len(late)), err=True)
    if taken.marks:
        click.echo(say("read.marks", language, n=taken.marks, folder=folder), err=True)
    if taken.faults:
        click.echo(say("read.needs", language, n=len(taken.faults)), err=True)
        for _, what in told_together(enumerate(taken.faults), language):
            click.echo(f"- {what}")
        if any(fault.kind == KIND for fault in taken.faults):
            click.echo(say("read.which", language, folder=folder), err=True)
        click.echo(say("read.how", language, folder=folder), err=True)
        raise SystemExit(NEEDS_A_PERSON)
    if taken.marks:
        raise SystemExit(NEEDS_A_PERSON)
    click.echo(say("read.next", language, folder=folder), err=True)
