"""What is known of how bottles were made: all columns of the book and of ``bottles.csv``."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from ..base.headings import column_of
from ..base.words import Sentence, sentence
from ..session.bottles import KNOWN, Bottle
from .columns import COLUMNS, MEASURED, PLACE, column_name
from .of_session import Referral
from .written_cells import plain

NO_CAUSE = ("lot", "day", "date", "available", "volume_ml", "price", "designation")
"""Columns that are no part of the making: what is for sale, and under which number."""
Made = tuple[tuple[Sentence | str, Mapping[str, str]], ...]


def making(bottles: Sequence[Bottle], book: Referral | None) -> Made:
    """Return by column what stands written of each bottle's making, beside its own fields.

    Fraction, heat, tank, polishing and strength are fields of a bottle; of these only what
    nobody wrote there and the book knows is returned.

    Returns
    -------
    tuple of (name, mapping of str to str)
        The column as people call it, and the value by bottle; "" is in no mapping.

    Examples
    --------
    >>> one = Bottle(name="a", further={"mash days": "24", "price": "900"}, storage="cold")
    >>> [(str(name), dict(own)) for name, own in making([one], None)]
    [('days of mash', {'a': '24'}), ('storage', {'a': 'cold'})]
    """
    made: dict[str, dict[str, str]] = {}
    for bottle in bottles:
        for column, text in _written(bottle, book):
            value = plain(text)
            if value:
                made.setdefault(column, {}).setdefault(bottle.name, value)
    rank = {column: place for place, column in enumerate(COLUMNS)}
    return tuple(
        (sentence("batches.made_storage") if column == "storage" else column_name(column), own)
        for column, own in sorted(made.items(), key=lambda one: rank.get(one[0], len(rank)))
    )


def _written(bottle: Bottle, book: Referral | None) -> Iterable[tuple[str, str]]:
    """Return columns and cells, those of ``bottles.csv`` first."""
    for heading, text in bottle.further.items():
        column = column_of(heading, COLUMNS) or heading
        if column not in (*NO_CAUSE, *MEASURED):
            yield column, text
    yield "storage", bottle.storage
    if book is None or bottle.name not in book.places:
        return
    yield "year", book.places[bottle.name][0]
    for column, fact in book.facts.get(bottle.name, {}).items():
        own = column in KNOWN and getattr(bottle, column, None) not in ("", None)
        if not own and column not in (*PLACE, *NO_CAUSE, *MEASURED):
            yield column, fact.value
