"""A session's bottles in the batch book: found by lot or tank, their numbers filled in from it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from ..base.headings import column_of
from ..base.words import Sentence, sentence
from ..session.bottles import POSSIBLE, Bottle
from ..session.session import Session
from .book import FACTS, FOLDER, BatchBook, Fact, load_book
from .columns import column_name
from .written_cells import plain, tank_key, year_of


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Referral:
    """What the batch book knows of the bottles of a session.

    Attributes
    ----------
    book : BatchBook
    places : mapping of str to (year, tank, lot)
        Of each bottle that was found; the lot "" where the tank alone is known.
    facts : mapping of str to mapping of str to Fact
        By bottle and column; how it was brewed is its tank's.
    filled : mapping of str to tuple of str
        By bottle the numbers that ``bottles.csv`` left open and the book has.
    told : tuple of Sentence
        Bottles that were not found or could be two, and numbers that differ.
    """

    book: BatchBook
    places: Mapping[str, tuple[str, str, str]]
    facts: Mapping[str, Mapping[str, Fact]]
    filled: Mapping[str, tuple[str, ...]]
    told: tuple[Sentence, ...]

    def value(self, bottle: str, column: str) -> str:
        """Return what the book says of a bottle, "" where it says nothing."""
        own = self.facts.get(bottle, {}).get(column)
        return own.value if own else ""


def book_of(folder: Path) -> BatchBook | None:
    """Return the batch book in a session folder or beside it, if there is one."""
    for place in (folder, folder.parent):
        if (place / FOLDER / FACTS).is_file():
            return load_book(place / FOLDER)
    return None


def with_book(session: Session) -> tuple[Session, Referral | None]:
    """Find a session's bottles in its batch book, and fill in the numbers that they lack.

    A number that stands in ``bottles.csv`` is never replaced.
    """
    book = book_of(session.folder)
    if book is None:
        return session, None
    bottles, found = referred(book, session.bottles)
    return replace(session, bottles=tuple(bottles)), found


def referred(book: BatchBook, given: Iterable[Bottle]) -> tuple[list[Bottle], Referral]:
    """Find bottles in a book; return them with the numbers that they lacked, and what was found."""
    places: dict[str, tuple[str, str, str]] = {}
    facts: dict[str, Mapping[str, Fact]] = {}
    filled: dict[str, tuple[str, ...]] = {}
    told: list[Sentence] = []
    bottles: list[Bottle] = []
    for bottle in given:
        found = _place(book, bottle)
        if isinstance(found, Sentence):
            told.append(found)
        if not isinstance(found, tuple):
            bottles.append(bottle)
            continue
        places[bottle.name] = found
        own = book.of_lot(*found) if found[2] else book.of_tank(*found[:2])
        facts[bottle.name] = own
        new = {
            name: float(own[name].value)
            for name in POSSIBLE
            if name in own and getattr(bottle, name) is None
        }
        filled |= {bottle.name: tuple(new)} if new else {}
        told += [_otherwise(bottle, name, own[name]) for name in _differing(bottle, own)]
        bottles.append(replace(bottle, **new))  # type: ignore[arg-type]
    told_all = tuple(told)
    found_all = Referral(book=book, places=places, facts=facts, filled=filled, told=told_all)
    return bottles, found_all


def _differing(bottle: Bottle, own: Mapping[str, Fact]) -> list[str]:
    return [
        name
        for name in POSSIBLE
        if name in own and getattr(bottle, name) not in (None, float(own[name].value))
    ]


def _otherwise(bottle: Bottle, column: str, fact: Fact) -> Sentence:
    return sentence(
        "batches.otherwise",
        bottle=bottle.name,
        column=column_name(column),
        here=f"{getattr(bottle, column):g}",
        there=fact.value,
        file=fact.file,
        row=fact.row,
    )


def _place(book: BatchBook, bottle: Bottle) -> tuple[str, str, str] | Sentence | None:
    """Return year, tank and lot of a bottle; a sentence where that cannot be told, None unasked."""
    if not bottle.tank and not bottle.lot:
        return None
    year = _year(bottle)
    tanks = [
        (when, tank)
        for when, tank in book.tanks
        if (not bottle.tank or tank_key(tank) == tank_key(bottle.tank)) and year in ("", when)
    ]
    lots = [lot for place in tanks for lot in book.lots(*place)]
    named = [lot for lot in lots if bottle.lot and _is_lot(lot[2], bottle.lot)]
    fitting = _fitting(book, named or ([] if len(tanks) > 1 else lots), bottle)
    if len(fitting) == 1:
        return fitting[0]
    if len(tanks) == 1 and bottle.tank:
        return (*tanks[0], "")
    if len({lot[:2] for lot in named}) == 1:
        return (*named[0][:2], "")
    if not bottle.tank and not named and len(tanks) > 1:
        return sentence("batches.unknown_lot", bottle=bottle.name, lot=bottle.lot)
    if not tanks:
        have = [sentence("batches.tank_of", tank=tank, year=when) for when, tank in book.tanks]
        place = " / ".join(part for part in (bottle.tank, year, bottle.lot) if part)
        return sentence("batches.unknown_bottle", bottle=bottle.name, place=place, have=have)
    years = [when for when, _ in tanks]
    return sentence("batches.which_year", bottle=bottle.name, tank=bottle.tank, years=years)


def _year(bottle: Bottle) -> str:
    """Return the brewing year that stands in a further column of ``bottles.csv``."""
    for heading, text in bottle.further.items():
        if column_of(heading, ("year",)) and (year := year_of(text)):
            return str(year)
    return ""


def _is_lot(lot: str, given: str) -> bool:
    known, asked = plain(lot).casefold(), plain(given).casefold()
    return known == asked or known.startswith(f"{asked}, ")


def _fitting(
    book: BatchBook, lots: Sequence[tuple[str, str, str]], bottle: Bottle
) -> list[tuple[str, str, str]]:
    """Return the bottlings whose fraction is the bottle's, where both say one."""
    found = []
    for lot in lots:
        own = book.of_lot(*lot).get("fraction")
        same = own is None or not bottle.fraction or _same(own.value, bottle.fraction)
        if same and ((bottle.lot and _is_lot(lot[2], bottle.lot)) or (own and bottle.fraction)):
            found.append(lot)
    return found


def _same(one: str, other: str) -> bool:
    return plain(one).casefold() == plain(other).casefold()
