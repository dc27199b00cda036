"""How sure is what was read in an English phrase: would its writer say that it was meant?

A word may be read that was not meant ("cooked on the truck", "made with yeast nine"). Whether it
was is estimated from what stands beside it, by a logistic model (Hosmer, Lemeshow and Sturdivant
2013, *Applied logistic regression*, chapter 1, with a ridge penalty: le Cessie and van Houwelingen
1992, Applied Statistics 41, 191) of some 6,000 readings that outsiders have marked right or wrong
before anybody had worked with their lists. What is less sure than `LEAST` is told as something
that a person should read, not as a finding. Japanese, and longer remarks, are told as they are
read.

The weights stand in ``certainty.csv``; ``tests/tools/fit_certainty.py`` makes them from
``tests/outside/words/as_found.csv``.
"""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Sequence
from functools import cache
from importlib.resources import files
from typing import Final

from ..questions.term_vocabulary import vocabulary
from .match import Match, other_subjects

LEAST: Final = 0.9
"""A reading that its writer would own to in fewer than nine of ten is left for a person."""

LONGEST: Final = 6
"""Words of a text that is judged so: the marked lists are of phrases, few of them longer."""

_SPELT_OUT: Final = 3
"""Words of the vocabulary's own ways to say a term ("tastes like water") that leave no doubt."""

_WORD = re.compile(r"[a-z0-9][a-z0-9']*")


@cache
def _weights() -> dict[str, float]:
    content = files(__package__).joinpath("certainty.csv").read_text("utf-8")
    return {row["sign"]: float(row["weight"]) for row in csv.DictReader(content.splitlines())}


@cache
def _functions() -> frozenset[str]:
    return frozenset(other_subjects("en")["functions"])


def signs(match: Match, text: str, matches: Sequence[Match]) -> set[str]:
    """Return what a reading's certainty is estimated from.

    Parameters
    ----------
    match : Match
        One of `matches`.
    text : str
        The whole text.
    matches : sequence of Match
        All that was read in it.

    Returns
    -------
    set of str
        The term, how it was said and judged, the words and terms beside it, and how much of the
        text was not read at all.
    """
    words = [
        (word.group(), word.start()) for word in _WORD.finditer(text.lower().replace("’", "'"))
    ]
    before = [word for word, start in words if start < match.start]
    after = [word for word, start in words if start >= match.end]
    unread = sum(
        word not in _functions() and not any(one.start <= start < one.end for one in matches)
        for word, start in words
    )
    return {
        f"key {match.key}",
        f"key {match.key} {match.polarity}",
        f"polarity {match.polarity}",
        f"how {match.how}",
        f"said {match.text.lower()}",
        f"words {min(len(match.text.split()), 3)}",
        f"before {before[-1] if before else '-'}",
        f"after {after[0] if after else '-'}",
        f"unread {min(unread, 4)}",
        f"matches {min(len(matches), 4)}",
        f"length {min(len(words), 12)}",
        *(["unsure"] if match.unsure else []),
        *(f"with {word}" for word in (*before, *after)),
        *(f"beside {one.key}" for one in matches if one.key != match.key),
    }


def certainty(match: Match, text: str, matches: Sequence[Match]) -> float:
    """Return how likely it is that a reading was meant, between 0 and 1.

    Parameters
    ----------
    match, text, matches
        As for `signs`.

    Returns
    -------
    float
        1 where nothing is estimated: Japanese, a session's own terms, a way to say a term in
        three words or more, and texts of more than `LONGEST` words.
    """
    spelt_out = match.how == "exact" and len(match.text.split()) >= _SPELT_OUT
    if match.language != "en" or match.key not in _known() or spelt_out:
        return 1.0
    if len(_WORD.findall(text.lower())) > LONGEST:
        return 1.0
    weights = _weights()
    return logistic(
        weights["always"] + sum(weights.get(sign, 0.0) for sign in signs(match, text, matches))
    )


def logistic(value: float) -> float:
    """Return the inverse of the logit."""
    return 1 / (1 + math.exp(-value))


def certain(text: str, matches: Sequence[Match]) -> list[Match]:
    """Return those of the matches of a text that are at least as sure as `LEAST`."""
    return [match for match in matches if certainty(match, text, matches) >= LEAST]


@cache
def _known() -> frozenset[str]:
    words = vocabulary()
    return frozenset(one.key for one in (*words.terms, *words.groups, *words.families))
