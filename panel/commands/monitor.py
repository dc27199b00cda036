"""``kikichoko monitor PATH…``."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Any

import click

from ..base.words import say
from ._figure import figure_option, save_figure
from ._table import load, more_folders, result_options, show, table_options

SECTION, RANK = "cli.section_tables", 24


@click.command(help=say("monitor.help"), short_help=say("monitor.short"))
@table_options
@more_folders(say("monitor.option_and"))
@click.option("--only", metavar="CODE,CODE", help=say("monitor.option_only"))
@figure_option
@result_options
def command(
    path: Path,
    *,
    as_json: bool,
    more: tuple[Path, ...],
    only: str | None,
    figure: Path | None,
    **names: Any,
) -> None:
    """Follow each assessor over sessions; its help stands in the catalogue."""
    from ...analysis.performance.charts_of_assessors import assessor_charts

    order = None
    if path.is_dir():
        from ...analysis.core.tidy_table import tidy
        from ..across.session_history import collect, folders_of

        collected = collect(folders_of([path, *more]))
        for caution in collected.cautions:
            click.echo(say("cli.caution", text=caution), err=True)
        dated = collected.sessions.sort_values(["date", "session"])
        order = [str(name) for name in dated["session"]]
        text = dict.fromkeys(("session", "assessor", "sample", "attribute"), str)
        table = tidy(collected.scores.astype(text))
    else:
        table = load(path, **names)
    found = assessor_charts(table, sessions=order)
    chosen = [name.strip() for name in only.split(",")] if only else None
    save_figure(partial(found.figure, chosen), figure)
    show(found, as_json=as_json)
