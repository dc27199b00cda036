"""The batch book on a terminal: tanks beside each other, one tank whole, and what it can tell."""

from __future__ import annotations

from collections.abc import Sequence

from ...analysis.core.errors import AnalysisError
from ...analysis.core.words import Sentence
from ...analysis.link.brewing_factors import BatchDesign, batch_design
from ...line_breaks import columns as wide
from ..base.words import say, sentence
from .book import BatchBook, Fact
from .columns import BREWED, COLUMNS, PLACE, column_name
from .written_cells import plain, tank_key, year_of

ROOM = 80
"""Columns of a terminal that a table may take."""
LONGEST = 18
"""Columns of a terminal that a cell may take where tanks stand beside each other."""


def pages(book: BatchBook, language: str, *, tank: str = "", year: str = "") -> list[str]:
    """Write the book out, or the tanks that are asked for.

    Parameters
    ----------
    book : BatchBook
    language : str
    tank, year : str
        Of one tank all that is known, its bottlings and its days too.
    """
    if not book.tanks:
        return [say("batches.nothing", language, folder=book.folder)]
    wanted = str(year_of(year) or year)
    found = [
        (when, name)
        for when, name in book.tanks
        if (not tank or tank_key(name) == tank_key(tank)) and (not year or when == wanted)
    ]
    if not found:
        have = [sentence("batches.tank_of", tank=name, year=when) for when, name in book.tanks]
        return [say("batches.no_such_tank", language, have=have)]
    made = _beside(book, found, language)
    made += _bottled(book, found, language)
    if tank:
        for when, name in found:
            made += _days(book, when, name, language)
    made += _one_tank(book, found, language)
    if len(found) > 1 and (design := design_of(book, found)) is not None:
        made.append("\n".join(one.to(language) for one in design.sentences()))
    return made


def design_of(book: BatchBook, tanks: Sequence[tuple[str, str]]) -> BatchDesign | None:
    """Tell what tanks can tell apart of how they were brewed; None where there is none.

    The tank's own number stands among the factors: what goes with it goes with its place.
    """
    import pandas as pd

    rows = []
    for year, tank in tanks:
        own = book.of_tank(year, tank)
        told = {name: own[name].value for name in BREWED if name in own and name != "pressed_on"}
        rows.append(
            {"batch": f"{tank_key(tank)} / {year}", "year": year, "tank": tank_key(tank), **told}
        )
    table = pd.DataFrame(rows).fillna("")
    factors = [name for name in ("year", "tank", *BREWED) if name in table]
    try:
        return batch_design(table, factors)
    except AnalysisError:
        return None


def _beside(book: BatchBook, tanks: Sequence[tuple[str, str]], language: str) -> list[str]:
    """Write tanks as columns, as many as there is room for."""
    known = {place: book.of_tank(*place) for place in tanks}
    names = [name for name in COLUMNS if any(name in own for own in known.values())]
    names += list(
        dict.fromkeys(name for own in known.values() for name in own if name not in COLUMNS)
    )
    if not names:
        return []
    heads = [say("batches.tank_of", language, tank=tank, year=year) for year, tank in tanks]
    rows = [
        [_spoken(column_name(name), language), *(_value(own.get(name)) for own in known.values())]
        for name in names
    ]
    return _in_parts(["", *heads], rows)


def _in_parts(head: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    """Write a table in as many parts as it takes, each with the first column."""
    widths = [max(wide(cell) for cell in column) for column in zip(head, *rows, strict=True)]
    made, at = [], 1
    while at < len(head):
        end, taken = at + 1, widths[0] + 2 + widths[at]
        while end < len(head) and taken + 2 + widths[end] <= ROOM:
            taken += 2 + widths[end]
            end += 1
        shown = [0, *range(at, end)]
        lines = [
            "  ".join(_filled(line[n], widths[n]) for n in shown).rstrip() for line in (head, *rows)
        ]
        made.append("\n".join(lines))
        at = end
    return made


def _filled(cell: str, width: int) -> str:
    return cell + " " * (width - wide(cell))


def _value(fact: Fact | None) -> str:
    return "–" if fact is None else _short(plain(fact.value))


def _spoken(name: Sentence | str, language: str) -> str:
    return name if isinstance(name, str) else name.to(language)


def _bottled(book: BatchBook, tanks: Sequence[tuple[str, str]], language: str) -> list[str]:
    """Write the bottlings of tanks, one a line."""
    lots = [lot for place in tanks for lot in book.lots(*place)]
    if not lots:
        return []
    known = [book.of_lot(*lot) for lot in lots]
    names = [
        name
        for name in COLUMNS
        if name not in (*PLACE, *BREWED) and any(name in own for own in known)
    ]
    head = [
        say("batches.bottling", language),
        *(_spoken(column_name(one), language) for one in names),
    ]
    rows = [
        [f"{lot} ({tank} / {year})", *(_value(own.get(name)) for name in names)]
        for (year, tank, lot), own in zip(lots, known, strict=True)
    ]
    return _in_parts(head, rows)


def _days(book: BatchBook, year: str, tank: str, language: str) -> list[str]:
    days = book.days(year, tank)
    if days.empty:
        return []
    head = [_spoken(column_name(str(name)), language) for name in days.columns]
    rows = [[_short(cell) or "–" for cell in row] for row in days.fillna("").to_numpy()]
    title = say("batches.days_of", language, tank=tank, year=year)
    first, *more = _in_parts(head, rows)
    return [f"{title}\n{first}", *more]


def _short(text: str) -> str:
    while wide(text) > LONGEST:
        text = text[:-2].rstrip() + "…"
    return text


def _one_tank(book: BatchBook, tanks: Sequence[tuple[str, str]], language: str) -> list[str]:
    """Say which ways to write a tank were taken for one."""
    said = [
        say("batches.one_tank", language, listed=ways, year=year)
        for year, tank in tanks
        if len(ways := book.spellings(year, tank)) > 1
    ]
    return ["\n".join(said)] if said else []
