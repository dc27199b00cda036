"""``kikichoko report DIR``."""

from __future__ import annotations

from pathlib import Path

import click

from ..base.words import reader, say
from ._session import (
    folder_argument,
    load_session,
    load_what_draws,
    one_report,
    progress,
)
from ._table import paper_option

SECTION, RANK = "cli.section_session", 7


@click.command(help=say("report.help"))
@folder_argument
@click.option("--open", "show", is_flag=True, help=say("report.option_open"))
@click.option("--pdf", "as_pdf", is_flag=True, help=say("report.option_pdf"))
@paper_option
@click.option("--without-memory", is_flag=True, help=say("report.option_without_memory"))
@one_report()
def command(folder: Path, *, show: bool, as_pdf: bool, paper: str, without_memory: bool) -> None:
    """Open the key and write the report."""
    load_what_draws()
    from ..base.one_at_a_time import alone
    from ..base.session_log import to_the_minute
    from ..handouts.lacking_letters import lacking_letters
    from ..plan.plan_file import load_open
    from ..report.build import SECTIONS, build, open_context
    from ..report.files import write
    from ..report.pdf import refuse_without_typesetter
    from ..returns.store import Store

    if as_pdf:
        refuse_without_typesetter()
    with alone(folder):
        session = load_session(folder, quiet=True)
        language = reader()
        for caution in lacking_letters(session, "no_letter_figure"):
            click.echo(say("cli.caution", text=caution.to(language)), err=True)
        with (
            Store(folder) as store,
            progress(len(SECTIONS) + 1, say("report.working", language)) as bar,
        ):
            context = open_context(
                session, load_open(session), store, "report", remembers=not without_memory
            )
            report = build(context, lambda: bar.update(1))
            written = write(report, context, paper if as_pdf else "")
            bar.update(1)
    opening = context.key.opening
    values = {"at": to_the_minute(opening.opened_at), "out": opening.sheets_out}
    click.echo(say("report.opened", language, **values), err=True)
    for path in written:
        click.echo(path)
    click.echo(say("report.done", language, path=written[0]), err=True)
    if show:
        click.launch(str(written[0]))
