"""``kikichoko memory FOLDER``: what the sessions of a house teach for the next one."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import click

from ..base.words import say
from ._figure import figure_option, save_figure
from ._session import progress
from ._table import language_option, result_options, show

SECTION, RANK = "cli.section_before", 41


@click.command(help=say("memory.help"), short_help=say("memory.short"))
@click.argument("folder", metavar="FOLDER", type=click.Path(path_type=Path))
@click.option("--before", type=click.DateTime(["%Y-%m-%d"]), help=say("memory.option_before"))
@figure_option
@language_option(say("cli.option_printed"))
@result_options
def command(
    folder: Path,
    *,
    before: dt.datetime | None,
    figure: Path | None,
    language: str,
    as_json: bool,
) -> None:
    """Show what is remembered; its help stands in the catalogue."""
    from ..across.session_history import labels_of
    from ..base.errors import NotReady
    from ..key.earlier_sessions import earlier_sessions, session_folders
    from ..session.session_folder import SETTINGS

    day = None if before is None else before.date()
    with progress(len(list(session_folders(folder))), say("memory.reading")) as bar:
        found = earlier_sessions(folder, before=day, tick=lambda: bar.update(1))
    for why in found.left_out:
        click.echo(say("cli.caution", text=why), err=True)
    if found.memory is None and (folder / SETTINGS).is_file():
        around = folder.parent if folder.name else ".."
        raise NotReady("memory.a_session", folder=folder, around=around)
    if found.memory is None:
        raise NotReady("memory.nothing", folder=folder)
    source = found.source.to(language)
    click.echo(say("memory.learned", language, source=source), err=True)
    kept = found.memory
    if not as_json:  # people read the words of the sheets, programs the names of the table
        kept = kept.called(labels_of(list(session_folders(folder)), list(kept.spreads), language))
    save_figure(kept.figure, figure, language)
    show(kept, as_json=as_json, language=language)
