"""Words that only describe what is named beside them: "lively fizz", "dusty attic".

A reader takes such a pair for one thing. What only describes is left for a person.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cache
from importlib.resources import files
from typing import Any

from .match import Found, Liking, Match, Piece

_GAPS = {
    "touching": re.compile(r"[\s-]*"),
    "after": re.compile(r"[\s-]*(?:な|の)?"),
    "clause": re.compile(r"[^,;.!?、。]*"),
    "text": re.compile(r".*", re.DOTALL),
}


@cache
def _content() -> dict[str, Any]:
    return tomllib.loads(files(__package__).joinpath("companions.toml").read_text("utf-8"))


@cache
def _rows(language: str) -> tuple[tuple[str, re.Pattern[str], frozenset[str], str, str], ...]:
    return tuple(
        (key, re.compile(said, re.IGNORECASE), frozenset(beside), near, says)
        for key, said, beside, near, says in _content()[language]
    )


@cache
def one_thing(language: str) -> tuple[re.Pattern[str], ...]:
    """Return what no comma parts: "a clean, dry finish"."""
    return tuple(re.compile(one, re.IGNORECASE) for one in _content()["one_thing"][language])


@cache
def _parts(language: str) -> tuple[tuple[str, re.Pattern[str], re.Pattern[str]], ...]:
    return tuple(
        (
            key,
            re.compile(f"(?:{said}){before}", re.IGNORECASE),
            re.compile(f"{behind}(?:{said})", re.IGNORECASE),
        )
        for key, said, before, behind in _content()["part_of"][language]
    )


def with_parts(
    matches: Sequence[Match], liking: Sequence[Liking], text: str
) -> tuple[list[Match], list[Liking]]:
    """Take the words of liking that are part of a name into it: "nice balance" is one thing.

    Parameters
    ----------
    matches, liking : sequence
        In the order of the text.
    text : str
        The whole text.

    Returns
    -------
    matches : list of Match
        A name that took a word in shows it in its text.
    liking : list of Liking
        The others: what is liked besides.
    """
    made, left = list(matches), []
    for word in liking:
        for place, match in enumerate(made):
            first, past = min(word.start, match.start), max(word.end, match.end)
            ahead = word.start < match.start
            around = text[first : match.start] if ahead else text[match.end : past]
            rows = (row for row in _parts(match.language) if row[0] == match.key)
            if any((row[1] if ahead else row[2]).fullmatch(around) for row in rows):
                made[place] = replace(match, start=first, end=past, text=text[first:past])
                break
        else:
            left.append(word)
    return made, left


def without_companions(
    matches: Sequence[Match], text: str, senses: Callable[[str], str], found: Found
) -> list[Match]:
    """Return the matches without those that only describe another.

    Parameters
    ----------
    matches : sequence of Match
        In the order of the text.
    text : str
        The whole text.
    senses : callable
        Gives the sense of a key ("taste", "aroma", "fault", …).
    found : Found
        Gets what is left for a person.
    """
    made = list(matches)
    for place, match in enumerate(matches):
        for key, said, beside, near, says in _rows(match.language):
            if match.key != key or not said.fullmatch(match.text):
                continue
            if match.negated and says != "denied":
                continue
            other = _described(place, matches, text, (beside, near), senses)
            if other is None:
                continue
            made[place] = replace(match, key="")
            found.unmatched.append(Piece(text=match.text, start=match.start, end=match.end))
            if says == "much" and made[other].polarity in ("noted", "praised"):
                made[other] = replace(made[other], polarity="too_much")
            if says == "bad":
                made[other] = replace(made[other], polarity="fault")
            if says == "little" and made[other].polarity in ("noted", "praised"):
                made[other] = replace(made[other], polarity="too_little")
            break
    return [match for match in made if match.key]


def _described(
    place: int,
    matches: Sequence[Match],
    text: str,
    where: tuple[frozenset[str], str],
    senses: Callable[[str], str],
) -> int | None:
    """Return the place of what the match describes, if there is such a thing."""
    match, (beside, near) = matches[place], where
    for other, one in enumerate(matches):
        if other == place or one.negated != match.negated or one.key == match.key:
            continue
        if not beside & {one.key, senses(one.key), "*"}:
            continue
        if near == "after" and one.start < match.start:
            continue
        first, second = sorted((match, one), key=lambda each: each.start)
        if _GAPS[near].fullmatch(text[first.end : second.start]):
            return other
    return None
