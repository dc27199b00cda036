"""What stands among words that nobody understood is left for a person.

Of what is read in a clause that is read whole 93 to 95 of 100 are right on lists of others, of what
stands beside two unread words 70 to 79 (tests/outside/words/training-result.md). The three signs
below took 27 statements that were wrong and 4 that were right from four lists as found: a misspelt
word beside something unread, a thing only noted behind something unread and beside a person, and
the name of a fault among unread words (Japanese).
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from .clauses import Clause, clauses
from .match import Found, Match, Piece, other_subjects

SPELT = 9
"""Letters from which on a misspelt word is known beside something unread too."""
BESIDE = 3
"""Unread pieces in a Japanese clause from which on the name of a fault in it is left, if …"""
BEHIND = 2
"""… so many stand behind it."""
# The denial, or the other speaker, of such a clause was understood.
_TOLD = frozenset({"thought", "before", "other", "past", "gone_here"})
_PERSON = re.compile(
    r"\b(?:i|i'm|i've|i'd|me|my|we|we've|our|us|you|your|he|she|his|her|they|their|who|someone)\b",
    re.IGNORECASE,
)
_CONTENT = re.compile("[^ぁ-んー]")


def _says_something(piece: Piece, language: str) -> bool:
    """Tell whether an unread piece holds more than grammar."""
    if language == "ja":
        return _CONTENT.search(piece.text) is not None
    grammar = other_subjects("en")["functions"]
    return any(word not in grammar for word in re.findall(r"[a-z']{2,}", piece.text.lower()))


def without_unsure(matches: Sequence[Match], text: str, found: Found) -> list[Match]:
    """Return the matches without those that what is unread beside them may turn.

    Parameters
    ----------
    matches : sequence of Match
        In the order of the text.
    text : str
    found : Found
        Gets what is left for a person.
    """
    if not found.unmatched or not matches:
        return list(matches)
    languages = {match.language for match in matches}
    listed = {language: clauses(text, matches, language) for language in languages}
    kept, left = [], []
    for match in matches:
        unread = [one for one in found.unmatched if _says_something(one, match.language)]
        if _unsure(match, text, listed[match.language], unread):
            left.append(Piece(text=match.text, start=match.start, end=match.end))
        else:
            kept.append(match)
    found.unmatched += left
    return kept


def _unsure(match: Match, text: str, listed: Sequence[Clause], unread: Sequence[Piece]) -> bool:
    """Tell whether what is unread in the clause of a match may turn what it says."""
    own = next((one for one in listed if one.start <= match.start < one.end), None)
    if own is None:
        return False
    beside = [one for one in unread if own.start <= one.start < own.end]
    before = [one for one in beside if one.end <= match.start]
    if own.is_ & _TOLD:
        return False
    if beside and match.how == "spelling" and len(match.text) < SPELT:
        return True
    if match.language == "ja":
        behind = len(beside) - len(before)
        return match.polarity == "fault" and len(beside) >= BESIDE and behind >= BEHIND
    person = _PERSON.search(text[own.start : own.end]) is not None
    return bool(before) and match.polarity == "noted" and person
