"""Words that mean one thing or another: what the rest of the text says of which decides.

"Bright" is lively, but of a colour or after a filter it is clear; "lees" in the cup are a cloud,
their smell is one of yeast; "date" is a fruit unless somebody checks it.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from importlib.resources import files
from typing import NamedTuple

from .match import Found, Match, Piece


class _Row(NamedTuple):
    key: str
    said: re.Pattern[str]
    where: re.Pattern[str]
    becomes: str
    unless: bool


@cache
def _rows() -> tuple[_Row, ...]:
    content = tomllib.loads(files(__package__).joinpath("meanings.toml").read_text("utf-8"))
    return tuple(
        _Row(
            key,
            re.compile(said, re.IGNORECASE),
            re.compile(where, re.IGNORECASE),
            becomes,
            unless=how == "unless",
        )
        for key, said, how, where, becomes in content["en"]
    )


def meant(matches: Sequence[Match], text: str, found: Found) -> list[Match]:
    """Return the English matches as what they mean in this text.

    Parameters
    ----------
    matches : sequence of Match
        In the order of the text.
    text : str
    found : Found
        Gets what is left for a person.
    """
    plain, kept = text.replace("’", "'"), []
    for match in matches:
        row = _row(match, plain)
        if row is None:
            kept.append(match)
        elif row.becomes:
            key, _, polarity = row.becomes.partition(":")
            one = replace(match, key=key, level="term")
            kept.append(_told(one, polarity) if polarity else one)
        else:
            found.unmatched.append(Piece(text=match.text, start=match.start, end=match.end))
    return kept


def _told(match: Match, polarity: str) -> Match:
    return replace(match, polarity=polarity, negated=polarity == "absent")


def _row(match: Match, text: str) -> _Row | None:
    """Return the first row that holds for a match."""
    if match.language != "en":
        return None
    for row in _rows():
        if row.key != match.key or row.said.fullmatch(match.text) is None:
            continue
        if (row.where.search(text) is None) == row.unless:
            return row
    return None
