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

from .match import Found, Match, Piece

_GAPS = {
    "touching": re.compile(r"[\s-]*"),
    "after": re.compile(r"[\s-]*(?:な|の)?"),
    "clause": re.compile(r"[^,;.!?、。]*"),
    "text": re.compile(r".*", re.DOTALL),
}


@cache
def _rows(language: str) -> tuple[tuple[str, re.Pattern[str], frozenset[str], str, str], ...]:
    content = tomllib.loads(files(__package__).joinpath("companions.toml").read_text("utf-8"))
    return tuple(
        (key, re.compile(said, re.IGNORECASE), frozenset(beside), near, says)
        for key, said, beside, near, says in content[language]
    )


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
