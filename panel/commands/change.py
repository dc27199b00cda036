"""``kikichoko change DIR late|left|cut|label|unknown|replace|add|order|undo …``."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..base.errors import NEEDS_A_PERSON
from ..base.words import reader, say
from ._session import folder_argument, load_session

if TYPE_CHECKING:
    from ..base.words import Sentence
    from ..plan.changing import Changed, Changing
    from ..plan.late_changes import Change

SECTION, RANK = "cli.section_session", 10


@click.group(help=say("change.help"), invoke_without_command=True)
@folder_argument
@click.pass_context
def command(ctx: click.Context, folder: Path) -> None:
    """Note a late change; without one, list those that were noted."""
    ctx.obj = folder
    if ctx.invoked_subcommand is None:
        from ..plan.changes_in_words import said
        from ..plan.plan_file import load_open

        session = load_session(folder, quiet=True)
        language = reader()
        changes = load_open(session).course.changes
        for change in changes:
            click.echo(f"{change.number}  {change.at}  {said(change).to(language)}")
        if not changes:
            click.echo(say("change.none", language), err=True)


def _do(folder: Path, act: Callable[[Changing], Changed]) -> None:
    """Make a change and say what it leaves."""
    from ..base.one_at_a_time import alone
    from ..plan.changes_in_words import said
    from ..plan.changing import Changing
    from ..returns.closed_flights import refuse_closed

    session = load_session(folder, quiet=True)
    language = reader()
    with alone(folder):
        refuse_closed(folder)
        changing = Changing(session)
        changed = act(changing)
    change = changed.change
    if not changed.new:
        click.echo(say("change.known", language, number=change.number), err=True)
        return
    values = {"number": change.number, "plan": changing.plan.number, "what": said(change)}
    click.echo(say("change.noted", language, **values), err=True)
    if change.kind == "label":
        click.echo(change.codes[0])
    for note in changed.notes:
        click.echo(note.to(language), err=True)
    doubted = _answered(folder, changing, change)
    if doubted is not None:
        click.echo(doubted.to(language), err=True)
        raise SystemExit(NEEDS_A_PERSON)


def _answered(folder: Path, changing: Changing, change: Change) -> Sentence | None:
    """Say of a change after which cups were not served that some of them were answered."""
    from ..base.words import sentence
    from ..plan.plan_file import load_open
    from ..returns.session_status import answered_unserved
    from ..returns.store import FILE, Store

    if change.kind not in ("late", "left", "cut") or not (folder / FILE).is_file():
        return None
    plan = load_open(changing.session)
    with Store(folder, reading=True) as store:
        found = answered_unserved(plan, store)
    who = {name for name in found if change.assessor in ("", name)}
    if not who:
        return None
    n = sum(found[name] for name in who)
    return sentence("change.answered", n=n, who=sorted(who), number=change.number, folder=folder)


def _from_flight(**more: Any) -> Callable[..., Any]:
    return click.option(
        "--from-flight", "flight", type=int, metavar="N", help=say("change.option_from_flight"),
        **more,
    )  # fmt: skip


_OF = click.option("--assessor", default="", metavar="CODE", help=say("change.option_assessor"))


@command.command("late", help=say("change.late_help"))
@click.argument("assessor", metavar="ASSESSOR")
@_from_flight(required=True)
@click.pass_obj
def late(folder: Path, assessor: str, flight: int) -> None:
    """Note that somebody came late."""
    _do(folder, lambda changing: changing.late(assessor, flight))


@command.command("left", help=say("change.left_help"))
@click.argument("assessor", metavar="ASSESSOR")
@click.option(
    "--after", "place", type=int, required=True, metavar="N", help=say("change.option_after")
)
@click.pass_obj
def left(folder: Path, assessor: str, place: int) -> None:
    """Note that somebody left."""
    _do(folder, lambda changing: changing.left(assessor, place))


@command.command("cut", help=say("change.cut_help"))
@click.argument("flight", metavar="FLIGHT", type=int)
@_OF
@click.pass_obj
def cut(folder: Path, flight: int, assessor: str) -> None:
    """Note that a flight was not served."""
    _do(folder, lambda changing: changing.cut(flight, assessor))


@command.command("label", help=say("change.label_help"))
@click.argument("code", metavar="CODE")
@_OF
@click.pass_obj
def label(folder: Path, code: str, assessor: str) -> None:
    """Deal a new code for a cup."""
    _do(folder, lambda changing: changing.label(code, assessor))


@command.command("unknown", help=say("change.unknown_help"))
@click.argument("code", metavar="CODE")
@_OF
@click.pass_obj
def unknown(folder: Path, code: str, assessor: str) -> None:
    """Note that nobody knows which cup it was."""
    _do(folder, lambda changing: changing.unknown(code, assessor))


@command.command("replace", help=say("change.replace_help"))
@click.argument("what", metavar="WHAT")
@click.option("--by", required=True, metavar="BOTTLE", help=say("change.option_by"))
@_from_flight(required=True)
@click.option("--tasted", multiple=True, metavar="ASSESSOR", help=say("change.option_tasted"))
@click.pass_obj
def replace(folder: Path, what: str, by: str, flight: int, tasted: tuple[str, ...]) -> None:
    """Serve another bottle instead of one."""
    _do(folder, lambda changing: changing.replace(what, by, flight, tasted))


@command.command("add", help=say("change.add_help"))
@click.argument("bottle", metavar="BOTTLE")
@_from_flight(default=0)
@click.pass_obj
def add(folder: Path, bottle: str, flight: int) -> None:
    """Serve one more bottle."""
    _do(folder, lambda changing: changing.add(bottle, flight))


@command.command("order", help=say("change.order_help"))
@click.argument("assessor", metavar="ASSESSOR")
@click.argument("codes", metavar="CODE...", nargs=-1, required=True)
@click.pass_obj
def order(folder: Path, assessor: str, codes: tuple[str, ...]) -> None:
    """Note in which order somebody was served."""
    _do(folder, lambda changing: changing.order(assessor, codes))


@command.command("undo", help=say("change.undo_help"))
@click.argument("number", metavar="N", type=int)
@click.pass_obj
def undo(folder: Path, number: int) -> None:
    """Take a change back."""
    _do(folder, lambda changing: changing.undo(number))
