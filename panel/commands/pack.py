"""``kikichoko pack DIR``."""

from __future__ import annotations

from pathlib import Path

import click

from ..base.words import reader, say
from ._session import folder_argument, load_session

SECTION, RANK = "cli.section_session", 13


@click.command(help=say("pack.help"))
@folder_argument
@click.option("--for", "assessor", default="", metavar="CODE", help=say("pack.option_for"))
@click.option("--co-leader", is_flag=True, help=say("pack.option_co_leader"))
@click.option("--to", "target", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE",
              help=say("pack.option_to"))  # fmt: skip
def command(folder: Path, assessor: str, target: Path | None, *, co_leader: bool) -> None:
    """Write one file for a taster or a co-leader."""
    from ..base.one_at_a_time import alone
    from ..packs.packing import pack_for_co_leader, pack_for_taster
    from ..plan.plan_file import load_open, note_broken_off
    from ..returns.store import Store

    if bool(assessor) == co_leader:
        raise click.UsageError(say("pack.which"))
    with alone(folder):
        session = load_session(folder, quiet=True)
        plan = load_open(session)
        note_broken_off(folder)
        name = f"{folder.resolve().name}-{assessor or 'co-leader'}.zip"
        target = target or Path(name)
        if co_leader:
            with Store(folder) as store:
                packed = pack_for_co_leader(session, store, target)
        else:
            packed = pack_for_taster(session, plan, assessor, target)
    language = reader()
    click.echo(target)
    key = "pack.co_leader_done" if co_leader else "pack.taster_done"
    click.echo(say(key, language, n=len(packed), folder=folder, file=target), err=True)
