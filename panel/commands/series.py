"""``kikichoko series DIR``."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import click

from ..base.words import reader, say

SECTION, RANK = "cli.section_session", 15


@click.command(help=say("series.help"))
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@click.option(
    "--like", "pattern", type=click.Path(path_type=Path), metavar="FOLDER",
    help=say("series.option_like"),
)  # fmt: skip
@click.option("--over", type=click.Choice(["days", "months"]), help=say("series.option_over"))
@click.option("--at", metavar="1,4,10", help=say("series.option_at"))
@click.option(
    "--from", "start", type=click.DateTime(["%Y-%m-%d"]), metavar="DATE",
    help=say("series.option_from"),
)  # fmt: skip
@click.option("--reference", metavar="NAME", help=say("series.option_reference"))
@click.option(
    "--reference-is", "kind", type=click.Choice(["fresh", "kept"]), help=say("series.option_kind")
)
@click.option(
    "--today", type=click.DateTime(["%Y-%m-%d"]), metavar="DATE", help=say("series.option_today")
)
def command(
    folder: Path,
    *,
    pattern: Path | None,
    over: str | None,
    at: str | None,
    start: dt.datetime | None,
    reference: str | None,
    kind: str | None,
    today: dt.datetime | None,
) -> None:
    """Plan a series of evenings, or say which one is next."""
    from ..across.planned_series import (
        PlannedSeries,
        evenings_of,
        standing_lines,
        times_written,
        write_series,
    )

    language = reader()
    if pattern is None:
        if over or at or start or reference or kind:
            raise click.UsageError(say("series.needs"))
        now = today.date() if today else dt.datetime.now().astimezone().date()
        for line in standing_lines(evenings_of(folder), now):
            click.echo(line.to(language))
        return
    if over is None or at is None or start is None or reference is None:
        raise click.UsageError(say("series.needs"))
    if over == "months" and kind is None:
        raise click.UsageError(say("series.which_reference"))
    if over == "days" and kind == "kept":
        raise click.UsageError(say("series.fresh_only"))
    wished = PlannedSeries(
        over=over,
        at=times_written(at),
        start=start.date(),
        reference=reference,
        kept=kind == "kept",
    )
    written = write_series(folder, pattern, wished)
    for path in written:
        click.echo(path)
    click.echo(written[-1].read_text("utf-8"), err=True)
    click.echo(say("series.written", language, n=len(wished.at), folder=folder), err=True)
