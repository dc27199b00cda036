"""``kikichoko screen DIR…``."""

from __future__ import annotations

from pathlib import Path

import click

from ..base.words import say
from ._table import language_option, paper_option, result_options, show

SECTION, RANK = "cli.section_tables", 23


@click.command(help=say("screen.help"), short_help=say("screen.short"))
@click.argument(
    "folders", metavar="DIR...", nargs=-1, required=True, type=click.Path(path_type=Path)
)
@click.option("--plan", "candidates", metavar="CODE,CODE", help=say("screen.option_plan"))
@click.option("--date", "day", metavar="YYYY-MM-DD", help=say("screen.option_date"))
@paper_option
@language_option(say("screen.option_language"))
@result_options
def command(
    folders: tuple[Path, ...],
    *,
    candidates: str | None,
    day: str | None,
    paper: str,
    language: str,
    as_json: bool,
) -> None:
    """Plan a screening evening, or judge those that were held; its help is in the catalogue."""
    from ..school.screening_plan import answers_of, codes_repeat, cups_poured, plan_screening

    if candidates is not None:
        from datetime import UTC, date, datetime

        from ..plan.secret_draw import Draw

        if len(folders) != 1:
            raise click.UsageError(say("screen.one_folder"))
        try:
            when = date.fromisoformat(day) if day else datetime.now(tz=UTC).date()
        except ValueError as fault:
            raise click.UsageError(say("screen.bad_date", found=day)) from fault
        made = plan_screening(
            folders[0], candidates.split(","), draw=Draw.fresh(), day=when.isoformat(),
            paper=paper, language=language,
        )  # fmt: skip
        for path in made:
            click.echo(path)
        cups = cups_poured(folders[0])
        if codes_repeat(cups):
            click.echo(say("screen.codes_repeat", cups=cups, folder=folders[0]), err=True)
        click.echo(say("screen.next", folder=folders[0]), err=True)
        return
    import pandas as pd

    from ...analysis.teaching.pass_marks import screening

    once = dict.fromkeys(folder.resolve() for folder in folders)
    answers = pd.concat([answers_of(folder) for folder in once], ignore_index=True)
    show(screening(answers), as_json=as_json)
