"""``kikichoko offer DIR``."""

from __future__ import annotations

from pathlib import Path

import click

from ..base.words import reader, say
from ._session import folder_argument, load_session, one_report
from ._table import paper_option

SECTION, RANK = "cli.section_session", 8


@click.command(help=say("offer.help"), short_help=say("offer.short"))
@folder_argument
@click.option("--bottle", "wanted", multiple=True, metavar="NAME", help=say("offer.option_bottle"))
@click.option("--maker", default="", metavar="TEXT", help=say("offer.option_maker"))
@click.option("--pdf", "as_pdf", is_flag=True, help=say("offer.option_pdf"))
@paper_option
@one_report()
def command(folder: Path, *, wanted: tuple[str, ...], maker: str, as_pdf: bool, paper: str) -> None:
    """Open the key and write the sheets; its help stands in the catalogue."""
    from ..base.errors import NEEDS_A_PERSON, NotReady
    from ..base.one_at_a_time import alone
    from ..offer.files import write_offer
    from ..offer.one_page import is_held, warnings
    from ..plan.plan_file import load_open
    from ..report.build import open_context
    from ..report.pdf import refuse_without_typesetter
    from ..report.place import is_bought
    from ..returns.store import Store

    if as_pdf:
        refuse_without_typesetter()
    with alone(folder):
        session = load_session(folder, quiet=True)
        if session.method.compares:
            raise NotReady("offer.set", folder=folder)
        with Store(folder) as store:
            context = open_context(session, load_open(session), store, "offer", figures=False)
        bottles = [context.session.bottle(name) for name in context.products]
        first = {one.liquid: one.name for one in reversed(bottles)}
        known = first | {one.name: first[one.liquid] for one in bottles}
        unknown = [name for name in wanted if name not in known]
        if unknown:
            raise NotReady("offer.unknown", found=unknown, have=list(reversed(first)))
        own = [known[one.name] for one in bottles if not is_bought(one)]
        chosen = list(dict.fromkeys([known[name] for name in wanted] or own))
        made = [name for name in chosen if not is_held(context, name)]
        paths = write_offer(context, made, paper=paper if as_pdf else "", maker=maker)
    for name in chosen:
        if name not in made:
            click.echo(say("offer.held", reader(), bottle=name), err=True)
            continue
        for one in warnings(context, name):
            click.echo(say("cli.caution", text=one.to(reader())), err=True)
    for path in paths:
        click.echo(path)
    if len(made) < len(chosen):
        raise SystemExit(NEEDS_A_PERSON)
