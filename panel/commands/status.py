"""``kikichoko status DIR``."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import click

from ..base.words import reader, say
from ._session import folder_argument, load_session, with_folder
from ._table import json_option, show_json

SECTION, RANK = "cli.section_session", 6
MOST = 10_000
"""No sheet has so many places."""


def _numbers(_: click.Context, option: click.Parameter, given: tuple[str, ...]) -> tuple[int, ...]:
    """Read numbers of faults, each alone or the first and last of several."""
    from ...forms.answers.told_together import numbers_of

    found: list[int] = []
    for one in given:
        try:
            several = numbers_of(one)
        except ValueError as error:
            raise click.BadParameter(say("status.no_number", given=one), param=option) from error
        if len(several) > MOST:
            raise click.BadParameter(say("status.no_number", given=one), param=option)
        found += several
    return tuple(found)


@click.command(help=say("status.help"))
@folder_argument
@click.option("--settle", multiple=True, metavar="N", callback=_numbers, help=say("status.settle"))
@click.option("--why", default="", help=say("status.why"))
@json_option
def command(folder: Path, *, settle: tuple[int, ...], why: str, as_json: bool) -> None:
    """Say what is in, what is missing, what needs a person."""
    from ..base.errors import NEEDS_A_PERSON, REFUSED
    from ..key.session_checks import check
    from ..open_flight.flight_state import flight_state
    from ..open_flight.named_returns import receiving
    from ..plan.plan_file import load_open
    from ..returns.session_status import status
    from ..returns.store import Store
    from ..session.care import care

    session = load_session(folder, quiet=True)
    plan = load_open(session)
    language = reader()
    with receiving(session, plan, reading=not settle) as (_, store):
        absent = [number for number in settle if number not in store.faults()]
        if absent:
            click.echo(say("status.no_fault", language, numbers=absent), err=True)
            raise SystemExit(REFUSED)
        with store.transaction():
            for number in settle:
                store.settle(number, why)
    with Store(folder, reading=True) as store:
        state = status(session, plan, store)
        changed = [one for one in check(session, plan, store) if one.person]
    flight = flight_state(session, plan)
    if flight.sheets is not None:  # the blind part can no longer be mended
        named = flight.sheets
        state = replace(state, faults=named.faults, marks=named.marks, left_open=named.left_open)
    if as_json:
        content = state.to_dict() | {"open_flight": flight.to_dict()}
        show_json(content)
    else:
        blind = (
            state
            if flight.sheets is None
            else replace(state, faults={}, marks=0, left_open=0, unseen=0)
        )
        lines = [blind.text(language), *flight.lines(session, language)]
        click.echo(with_folder("\n".join(lines), folder))
        told = care(session.bottles, language, named=False)
        if told:
            heading = say("care.heading", language)
            click.echo(
                "\n".join(
                    [
                        "",
                        say("care.headed", language, heading=heading),
                        *(f"- {one}" for one in told),
                    ]
                )
            )
    if changed:
        click.echo(say("status.check", language, n=len(changed), folder=folder), err=True)
    if state.faults or state.marks or changed:
        raise SystemExit(NEEDS_A_PERSON)
    awaited = flight.planned and flight.entry is None
    out = bool(state.out) or (flight.sheets is not None and bool(flight.sheets.out))
    if state.whole and not out and not awaited:
        click.echo(say("status.next", language, folder=folder), err=True)
