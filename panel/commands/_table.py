"""Options and output that all commands on tables share."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from functools import wraps
from pathlib import Path
from threading import Event, Thread
from typing import TYPE_CHECKING, Any

import click

from ...forms.questions.words import languages
from ..base.console import width_of
from ..base.headings import near_column, with_words
from ..base.words import reader, say

if TYPE_CHECKING:
    from ...analysis.core.result import Result
    from ...analysis.core.tidy_table import Tidy

Decorated = Callable[..., Any]
_FULL = "kikichoko.full"
_LONG = 5
"""Seconds from which on it is said how long something takes."""
_BEAT = 10
"""Seconds between two signs of life on a terminal."""


def table_options(command: Decorated) -> Decorated:
    """Add TABLE and the options that name its columns; pass them on as `table`, a Tidy loader."""
    options = [
        click.argument("path", metavar="TABLE", type=click.Path(path_type=Path)),
        click.option("--assessor", default="assessor", help=say("cli.option_assessor")),
        click.option("--sample", default="sample", help=say("cli.option_sample")),
        click.option("--replicate", default=None, help=say("cli.option_replicate")),
        click.option("--position", default=None, help=say("cli.option_position")),
        click.option("--session", default=None, help=say("cli.option_session")),
        click.option("--attribute", default="attribute", help=say("cli.option_attribute")),
        click.option("--score", default="score", help=say("cli.option_score")),
        click.option("--scores", default=None, metavar="A,B,C", help=say("cli.option_scores")),
        click.option("--sheet", default=None, help=say("cli.option_sheet")),
        click.option("--number-repeats", is_flag=True, help=say("cli.option_number_repeats")),
    ]
    for option in reversed(options):
        command = option(command)
    return command


def json_option(command: Decorated) -> Decorated:
    """Add ``--json``, passed on as `as_json`."""
    return click.option("--json", "as_json", is_flag=True, help=say("cli.option_json"))(command)


def result_options(command: Decorated) -> Decorated:
    """Add ``--json``, passed on as `as_json`, and ``--full``, which `show` heeds."""

    @wraps(command)
    def told(*given: Any, full: bool, **named: Any) -> Any:
        click.get_current_context().meta[_FULL] = full
        return command(*given, **named)

    return click.option("--full", is_flag=True, help=say("cli.option_full"))(json_option(told))


def all_is_asked_for() -> bool:
    """Tell whether the command that runs was given ``--full``."""
    context = click.get_current_context(silent=True)
    return bool(context and context.meta.get(_FULL))


def show_json(content: object) -> None:
    """Print data on stdout, in whole lines whatever the width of the terminal."""
    text = json.dumps(content, ensure_ascii=False, indent=2, allow_nan=False)
    write = getattr(sys.stdout, "write_whole", sys.stdout.write)
    write(f"{text}\n")
    sys.stdout.flush()


def paper_option(command: Decorated) -> Decorated:
    """Add ``--paper``, of pages to hand out."""
    made = click.option(
        "--paper",
        type=click.Choice(["A4", "Letter"], case_sensitive=False),
        default="A4",
        show_default=True,
        help=say("cli.option_paper"),
    )
    return made(command)


def language_option(text: str) -> Callable[[Decorated], Decorated]:
    """Add ``--language``, of what `text` says, passed on as `language`; else the reader's."""
    return click.option("--language", type=click.Choice(languages()), default=reader, help=text)


def more_folders(text: str) -> Callable[[Decorated], Decorated]:
    """Add ``--and``, for further session folders as `text` says, passed on as `more`."""
    return click.option(
        "--and", "more", multiple=True, metavar="DIR", help=text, type=click.Path(path_type=Path)
    )


def level_option(command: Decorated) -> Decorated:
    """Add ``--level``, the confidence level of all intervals that are printed."""
    made = click.option(
        "--level", type=float, default=0.95, show_default=True, help=say("cli.option_level")
    )
    return made(command)


def shuffles_option(command: Decorated) -> Decorated:
    """Add ``--seed``, of the shuffles behind a p value."""
    made = click.option(
        "--seed", type=int, default=1, show_default=True, help=say("cli.option_shuffles")
    )
    return made(command)


def tell_near(path: Path, headings: Iterable[str], known: Iterable[str]) -> None:
    """Tell of headings that may be misspelled: what stands below them is not reckoned with."""
    there = list(headings)
    for name in there:
        left = [one for one in known if one not in there]
        if name not in known and (near := near_column(name, left)):
            near = with_words([near], name)[0]
            what = say("folder.near_column", column=name, near=near)
            click.echo(say("cli.table_careful", path=path, what=what), err=True)


def load(
    path: Path,
    *,
    sheet: str | None = None,
    scores: str | None = None,
    number_repeats: bool = False,
    **names: Any,
) -> Tidy:
    """Read and check the table that the options of `table_options` describe."""
    from ...analysis.core.tidy_table import tidy
    from ..base.headings import SCORE_COLUMNS
    from ..base.table_files import read_table

    columns = [name.strip() for name in scores.split(",")] if scores else None
    named = [*(columns or ()), *(str(name) for name in names.values() if name)]
    known = [name for name in SCORE_COLUMNS if names.get(name) in (None, name)]
    table = read_table(path, sheet, known=known, named=named)
    return tidy(table, scores=columns, number_repeats=number_repeats, **names)


@contextmanager
def patience(table: Tidy, seconds: float) -> Iterator[None]:
    """Say how long a large table takes, and on a terminal show that the work goes on.

    Parameters
    ----------
    table : Tidy
    seconds : float
        The most that 100,000 rows were measured to take.
    """
    rows = len(table.data)
    expected = seconds * rows / 100_000
    if expected < _LONG:
        yield
        return
    click.echo(say("cli.long", n=rows, seconds=f"{expected:.0f}"), err=True)
    done = Event()

    def beat() -> None:
        spent = 0
        while not done.wait(_BEAT):
            spent += _BEAT
            click.echo(say("cli.working", seconds=spent), err=True)

    if sys.stderr.isatty():
        Thread(target=beat, daemon=True).start()
    try:
        yield
    finally:
        done.set()


def show(
    result: Result, *, as_json: bool, language: str = "", said: Iterable[str] | None = None
) -> None:
    """Print a result on stdout, for people or as JSON, in `language` or the reader's.

    For people, `said` stands in place of its sentences; without ``--full`` the first of its
    tables follows, and the names of the others.
    """
    language = language or reader()
    if as_json:
        show_json(result.to_dict(language))
    else:
        width = width_of(sys.stdout) or None
        click.echo(result.text(language, said, full=all_is_asked_for(), width=width, people=True))
