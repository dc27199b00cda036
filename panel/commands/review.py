"""``kikichoko review DIR``."""

from __future__ import annotations

import getpass
import sys
from contextlib import suppress
from pathlib import Path
from threading import Thread
from typing import TYPE_CHECKING

import click

from ..base.words import reader, say
from ._session import folder_argument, load_session, until_closed_option, with_folder

if TYPE_CHECKING:
    from ..returns.review_page import Review

SECTION, RANK = "cli.section_session", 6


@click.command(help=say("review.help"))
@folder_argument
@click.option("--by", default="", metavar="WHO", help=say("review.by"))
@click.option("--terminal", is_flag=True, help=say("review.terminal"))
@click.option("--port", default=0, show_default=False, help=say("review.port"))
@click.option("--browser/--no-browser", default=True, help=say("review.browser"))
@click.option("--again", is_flag=True, help=say("review.again"))
@until_closed_option
def command(
    folder: Path,
    *,
    by: str,
    terminal: bool,
    port: int,
    browser: bool,
    again: bool,
    until_closed: bool,
) -> None:
    """Look at pages as they were read, and at uncertain marks one by one."""
    from ..base.errors import NEEDS_A_PERSON
    from ..open_flight.named_returns import receiving
    from ..plan.plan_file import load_open
    from ..returns.open_marks import left_open, waiting
    from ..returns.page_names import KIND, PageNames
    from ..returns.page_round import PageRound
    from ..returns.review_page import Review

    session = load_session(folder, quiet=True)
    plan = load_open(session)
    language = reader()
    with receiving(session, plan) as (asked, store):
        who = by.strip() or getpass.getuser()
        pages = None if terminal else PageRound(store, asked, looked_by=who, again=again)
        names = PageNames(store, asked, who, language)
        once_more = left_open(store) if again else []
        review = Review(store, asked, who, language, pages=pages, names=names, again=once_more)
        if review.ended():
            click.echo(say("review.nothing", language), err=True)
            return
        if terminal:
            if _which(review, folder):
                _ask(review, folder)
        else:
            _serve(review, port, browser=browser, until_closed=until_closed)
        left, unanswered = len(waiting(store)), len(left_open(store))
        unnamed = sum(fault.kind == KIND for fault in store.faults().values())
    click.echo(say("review.left", language, n=left), err=True)
    if unanswered:
        click.echo(say("review.open_still", language, n=unanswered), err=True)
        click.echo(with_folder(say("review.open_again", language), folder), err=True)
    if unnamed:
        click.echo(say("review.which_left", language, n=unnamed), err=True)
    if left or unnamed:
        raise SystemExit(NEEDS_A_PERSON)


def _serve(review: Review, port: int, *, browser: bool, until_closed: bool) -> None:
    """Serve the page until all is decided or the person stops it."""
    import webbrowser

    from ..base.errors import NotReady

    try:
        from ..returns.review_server import ReviewServer
    except ImportError as absent:
        raise NotReady("review.no_desk") from absent
    server = ReviewServer(review, port)
    click.echo(say("review.address", review.language, address=server.address), err=True)
    if browser:
        webbrowser.open(server.address)
    if until_closed:

        def wait() -> None:
            sys.stdin.buffer.read()
            server.stop()

        Thread(target=wait, daemon=True).start()
    with suppress(KeyboardInterrupt):
        server.run()


def _which(review: Review, folder: Path) -> bool:
    """Ask in the terminal which pages those without a code are; False if the person stops."""
    language, names = review.language, review.names
    picture = folder / "review.jpg"
    try:
        while names is not None and (one := names.next()) is not None:
            picture.write_bytes(one.page.picture())
            click.echo(f"\n{say('review.which_heading', language)}")
            where = ", ".join(part for part in (one.name, one.page.place) if part)
            click.echo(say("review.look", language, file=picture, where=where))
            given = click.prompt(
                say("review.which_prompt", language), default="", show_default=False
            ).strip()
            if given == "q":
                return False
            trouble = names.answer(one.fault, given) if given else ""
            if trouble:
                click.echo(trouble, err=True)
            elif not given:
                names.skip(one.fault)
    finally:
        picture.unlink(missing_ok=True)
    return True


def _ask(review: Review, folder: Path) -> None:
    """Ask in the terminal; the picture lies in a file that is named."""
    from ..returns.open_marks import mark

    language = review.language
    picture = folder / "review.png"
    try:
        while (number := review.next()) is not None:
            found = mark(review.store, number)
            if found is None or number in review.skipped:
                break
            picture.write_bytes(found.picture)
            click.echo(f"\n{review.title(found)}\n{review.reason(found)}")
            click.echo(
                say("review.look", language, file=picture, where=f"{found.file}, {found.place}")
            )
            for place, choice in enumerate(found.choices, start=1):
                click.echo(f"  {place}  {choice.label}")
            if found.reason == "words":
                prompt = say("review.prompt_words", language)
            elif found.low < found.high:
                prompt = say("review.prompt_line", language, low=found.low, high=found.high)
            else:
                prompt = say("review.prompt", language)
            given = click.prompt(prompt, default="", show_default=False).strip()
            if given == "q":
                break
            trouble = _given(review, number, given, words=found.reason == "words")
            if trouble:
                click.echo(trouble, err=True)
    finally:
        picture.unlink(missing_ok=True)


def _given(review: Review, number: int, given: str, *, words: bool) -> str:
    if given in ("", "s"):
        return review.answer(number, "skip", "")
    if given == "-":
        return review.answer(number, "open", "")
    if words:
        return review.answer(number, "type", given)
    if given.startswith("="):
        return review.answer(number, "type", given[1:])
    return review.answer(number, given, "")
