"""Which column a heading means, in any language and spelling that people use."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from functools import cache

from .words import CATALOGUE

SCORE_COLUMNS = (
    "session", "assessor", "sample", "replicate", "position", "attribute", "score",
)  # fmt: skip
"""Columns of tables of scores whose headings are understood in other words too."""
_UNIT = re.compile(r"[(\[][^)\]]*[)\]]")


def folded(heading: str) -> str:
    """Return what is left of a heading without capitals, signs, blanks, units in brackets.

    >>> folded("Meter value (15 °C)"), folded("ｱﾙｺｰﾙ分 ％")
    ('metervalue', 'アルコール分')
    """
    plain = unicodedata.normalize("NFKC", heading).casefold()
    return "".join(letter for letter in _UNIT.sub("", plain) if letter.isalnum())


@cache
def _others() -> Mapping[str, tuple[str, ...]]:
    """Return the columns that each other word is used for."""
    found: dict[str, tuple[str, ...]] = {}
    for language in CATALOGUE.languages("heading"):
        for column, words in CATALOGUE.topic(language, "heading").items():
            for word in str(words).split("|"):
                found[folded(word)] = (*found.get(folded(word), ()), column)
    return found


def column_of(heading: str, known: Iterable[str]) -> str:
    """Return the column that a heading means among those that are known, or nothing.

    >>> column_of("日本酒度", ("abv", "meter_value")), column_of("rice", ("abv",))
    ('meter_value', '')
    """
    mine, columns = folded(heading), tuple(known)
    for column in columns:
        if mine and mine == folded(column):
            return column
    return next((one for one in _others().get(mine, ()) if one in columns), "")


def renamed(
    headings: Sequence[str], known: Sequence[str], kept: Iterable[str] = ()
) -> dict[str, str]:
    """Return the names of columns that headings mean, for those that are spelled otherwise.

    A heading in `kept`, and one that means a column which is there already, stays.
    """
    meant: dict[str, list[str]] = {}
    for heading in headings:
        column = column_of(heading, known)
        if column and heading not in set(kept):
            meant.setdefault(column, []).append(heading)
    return {
        found[0]: column
        for column, found in meant.items()
        if len(found) == 1 and column not in headings
    }


def with_words(columns: Iterable[str], heading: str) -> list[str]:
    """Return columns with the word that the language of a heading has for each.

    >>> with_words(["acidity"], "酸っぱさ"), with_words(["acidity"], "sourness")
    (['acidity (酸度)'], ['acidity'])
    """
    if heading.isascii():
        return list(columns)
    words = CATALOGUE.topic("ja", "heading")
    return [
        f"{one} ({str(words[one]).split('|')[0].strip()})" if one in words else one
        for one in columns
    ]


def near_column(name: str, known: Sequence[str]) -> str:
    """Return the known column that a heading may be a misspelling of, or nothing.

    Two slips are allowed from six letters on, one below; blanks and signs do not count. A heading
    in Japanese is held against the Japanese words of the columns, with one slip from four letters.

    >>> near_column("Acidty", ("acidity", "abv")), near_column("rice", ("acidity", "abv"))
    ('acidity', '')
    >>> near_column("日本酒渡", ("meter_value", "abv")), near_column("酒米", ("meter_value", "abv"))
    ('meter_value', '')
    """
    from rapidfuzz.distance import OSA

    mine = folded(name)
    slips, best = min((OSA.distance(mine, folded(one)), one) for one in known)
    if slips <= (2 if len(mine) >= 6 else 1 if len(mine) >= 4 else 0):
        return best
    if mine.isascii() or len(mine) < 4:
        return ""
    words = ((word, one) for word, columns in _others().items() for one in columns if one in known)
    near = [one for word, one in words if len(word) >= 4 and OSA.distance(mine, word) <= 1]
    return near[0] if near else ""
