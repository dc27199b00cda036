"""``kikichoko new DIR``."""

from __future__ import annotations

from pathlib import Path

import click

from ..base.words import say

SECTION, RANK = "cli.section_session", 2


@click.command(help=say("new.help"))
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@click.option(
    "--practise",
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help=say("new.option_practise"),
)
@click.option(
    "--card",
    type=click.Choice(["full", "brewery", "beginners", "cloudy", "aged", "official", "guests"]),
    help=say("new.option_card"),
)
@click.option(
    "--bench", type=click.Path(path_type=Path), metavar="FOLDER", help=say("new.option_bench")
)
@click.option("--trial", "trials", multiple=True, metavar="A=90,B=10", help=say("new.option_trial"))
@click.option("--alone", is_flag=True, help=say("new.option_alone"))
def command(
    folder: Path,
    *,
    alone: bool,
    practise: Path | None,
    card: str | None,
    bench: Path | None,
    trials: tuple[str, ...],
) -> None:
    """Write a session folder to fill in."""
    from ..session.template_files import write_template

    if (bench is None) != (not trials) or (bench is not None and practise is not None):
        raise click.UsageError(say("new.bench_needs"))
    if alone and (bench is not None or practise is not None):
        raise click.UsageError(say("new.alone_plain"))
    if bench is not None:
        written = _bench(folder, bench, trials, card or "brewery")
    elif practise is None:
        written = write_template(folder, card or "full", alone=alone)
    else:
        from ..school.training_path import read_practice, write_practice_session

        written = write_practice_session(folder, read_practice(practise))
    for path in written:
        click.echo(path)
    click.echo(say("new.next", folder=folder), err=True)


def _bench(folder: Path, source: Path, trials: tuple[str, ...], card: str) -> list[Path]:
    from ..base.errors import InputRefused
    from ..base.problems import listed
    from ..session.bench_blends import trial_of, write_bench
    from ..session.bottles import read_bottles

    bottles, faults, _ = read_bottles(source)
    if faults:
        raise InputRefused("history.bad_bottles", folder=source, listed=listed(faults))
    return write_bench(folder, bottles, [trial_of(one) for one in trials], card=card)
