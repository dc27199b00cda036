"""``kikichoko demo``."""

from __future__ import annotations

from importlib import import_module
from pathlib import Path
from pkgutil import iter_modules

import click

from .. import demos
from ..base.words import say
from ._session import load_what_draws, one_report, progress

SECTION, RANK = "cli.section_session", 1
SCENARIOS = [one.name for one in iter_modules(demos.__path__) if not one.name.startswith("_")]


@click.command(help=say("demo.help", names=SCENARIOS))
@click.argument("scenario", metavar="[SCENARIO]", type=click.Choice(SCENARIOS), default="fractions")
@click.option("--folder", metavar="DIR", type=click.Path(path_type=Path), help=say("demo.folder"))
@one_report()
def command(scenario: str, folder: Path | None) -> None:
    """Run the whole job in an invented scenario."""
    load_what_draws()
    module = import_module(f"{demos.__name__}.{scenario}")
    target = folder or _free(Path(f"kikichoko-demo-{scenario}"))
    with progress(module.STEPS, say("demo.working")) as bar:
        outcome = module.run(target, lambda: bar.update(1))
    if outcome.faults:
        click.echo(say("demo.trouble", n=len(outcome.faults)), err=True)
        for fault in outcome.faults:
            click.echo(f"- {fault}", err=True)
    click.echo(say("demo.done", folder=target, n=outcome.taken), err=True)
    click.echo(say(f"demo.look_{scenario}", folder=target), err=True)
    click.echo(outcome.report)


def _free(folder: Path) -> Path:
    """Return the first name that is not taken, so that an older demo is never overwritten."""
    number = 1
    free = folder
    while free.exists():
        number += 1
        free = folder.with_name(f"{folder.name}-{number}")
    return free
