"""``kikichoko batches [TABLE…]``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from ..base.words import say
from ._table import language_option

if TYPE_CHECKING:
    from ..batches.book import BatchBook
    from ..batches.reading import TableRead

SECTION, RANK = "cli.section_before", 38


@click.command(help=say("batches.help"), short_help=say("batches.short"))
@click.argument("tables", metavar="[TABLE]...", nargs=-1, type=click.Path(path_type=Path))
@click.option(
    "--book",
    "folder",
    default="batches",
    show_default=True,
    help=say("batches.option_book"),
    type=click.Path(path_type=Path, file_okay=False),
)
@click.option(
    "--map", "names", multiple=True, metavar="HEADING=COLUMN", help=say("batches.option_map")
)
@click.option("--tank", default="", help=say("batches.option_tank"))
@click.option("--year", default="", help=say("batches.option_year"))
@click.option("--sheet", default="", help=say("cli.option_sheet"))
@click.option("--fill-down", "fill", is_flag=True, help=say("batches.option_fill"))
@click.option(
    "--save", type=click.Path(path_type=Path, dir_okay=False), help=say("batches.option_save")
)
@language_option(say("cli.option_printed"))
def command(
    tables: tuple[Path, ...],
    *,
    folder: Path,
    names: tuple[str, ...],
    tank: str,
    year: str,
    sheet: str,
    fill: bool,
    save: Path | None,
    language: str,
) -> None:
    """Read tables into the book, or show it; its help stands in the catalogue."""
    from ..base.errors import NEEDS_A_PERSON
    from ..base.one_at_a_time import alone
    from ..base.plain_cells import frame_csv
    from ..batches.book import add, load_book, news, remember
    from ..batches.reading import read_file
    from ..batches.shown import pages

    told = _told(names)
    unread = 0
    with alone(folder):
        book = remember(load_book(folder), told)
        for path in tables:
            found = read_file(path, book, sheet=sheet, tank=tank, year=year, fill=fill)
            new, changed = news(book, found.facts)
            book = add(book, [*new, *(now for _, now in changed)], path)
            _say(path, found, len(new), language)
            for before, now in changed:
                click.echo(say("batches.changed", language, **_change(before, now)), err=True)
            unread += len(found.problems)
    shown = pages(book, language, tank="" if tables else tank, year="" if tables else year)
    if tables:
        _whole(book, language)
    else:
        click.echo("\n\n".join(shown))
    if save is not None:
        click.echo(frame_csv(save, book.table()))
    if unread:
        raise SystemExit(NEEDS_A_PERSON)


def _told(names: tuple[str, ...]) -> dict[str, str]:
    """Read ``--map``; the column may stand there as people call it."""
    from ..base.headings import column_of
    from ..batches.columns import COLUMNS

    told = {}
    for pair in names:
        heading, equals, wanted = (part.strip() for part in pair.rpartition("="))
        column = wanted if wanted in COLUMNS else column_of(wanted, COLUMNS)
        if not (heading and equals and column):
            raise click.UsageError(say("batches.bad_map", found=pair, known=list(COLUMNS)))
        told[heading] = column
    return told


def _change(before: object, now: object) -> dict[str, object]:
    from ..batches.book import Fact
    from ..batches.columns import column_name

    assert isinstance(before, Fact)  # noqa: S101
    assert isinstance(now, Fact)  # noqa: S101
    named = " / ".join(part for part in (now.tank, now.year, now.lot, now.day) if part)
    return {
        "what": named,
        "column": column_name(now.column),
        "old": before.value,
        "new": now.value,
        "file": now.file,
        "row": now.row,
    }


def _say(path: Path, found: TableRead, new: int, language: str) -> None:
    """Say what came of one table."""
    from ..batches.reading import listed

    counts = {"file": path.name, "rows": found.rows, "n": new, "facts": len(found.facts)}
    click.echo(say("batches.read", language, **counts), err=True)
    for line in found.told:
        click.echo(f"- {line.to(language)}", err=True)
    if found.kept:
        click.echo(say("batches.kept", language, listed=found.kept), err=True)
    if found.questions:
        text = listed(found.questions, language)
        click.echo(say("batches.asked", language, n=len(found.questions), listed=text), err=True)
    if found.problems:
        text = listed(found.problems, language)
        click.echo(say("batches.unread", language, n=len(found.problems), listed=text), err=True)


def _whole(book: BatchBook, language: str) -> None:
    """Say how much stands in the book, and what to do next."""
    years = sorted({year for year, _ in book.tanks})
    counts = {
        "tanks": len(book.tanks),
        "years": years,
        "lots": len(book.lots()),
        "days": sum(len(book.days(year, tank)) for year, tank in book.tanks),
    }
    click.echo(say("batches.whole", language, **counts))
    click.echo(say("batches.next", language, folder=book.folder), err=True)
