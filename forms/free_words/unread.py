"""What stands among words that nobody understood is left for a person.

Of what is read in a clause that is read whole 93 to 95 of 100 are right on lists of others, of what
stands beside two unread words 70 to 79 (tests/outside/words/training-result.md). The three signs
below took 27 statements that were wrong and 4 that were right from four lists as found: a misspelt
word beside something unread, a thing only noted behind something unread and beside a person, and
the name of a fault among unread words (Japanese).

What is only noted in Japanese beside three or more unread pieces was right 9 times of 17 on
seven lists as found (27 November 2026); it is left too. So is what the words behind it make
doubtful: "as they say, I do not find it", thought of and then gone, rough and lively.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from .clauses import Clause, clauses
from .match import Found, Match, Piece, other_subjects

SPELT = 9
"""Letters from which on a misspelt word is known beside something unread too."""
BESIDE = 3
"""Unread pieces in a Japanese clause from which on a thing noted is left, and a fault, if …"""
BEHIND = 2
"""… so many stand behind it."""
# The denial, or the other speaker, of such a clause was understood.
_TOLD = frozenset({"thought", "before", "other", "past", "gone_here"})
_PERSON = re.compile(
    r"\b(?:i|i'm|i've|i'd|me|my|we|we've|our|us|you|your|he|she|his|her|they|their|who|someone)\b",
    re.IGNORECASE,
)
# What is read in a sentence with one of these is doubtful, before it …
_AS_SAID = re.compile(
    "(?<![とて])(?:言う|言われる|言われた|騒ぐ|聞いた)ほど(?:に|は|の)?"
    "(?!で)[^。]{0,8}(?:な[いく]|ません|ず)"
)
# … or in it: it was thought, and then went away; it was rough, and that is liked.
_THOUGHT_AWAY = re.compile(
    "と思った(?:が|けど|ら|のに)[、 ]?[^。]{0,14}(?:消え|飛ん|抜け|なくなっ|無くなっ)(?:た|て)"
)
_LIVELY = re.compile(
    "(?:(?<=[いだたるし])が|けど|けれど|のに)[、]?[^、。]{0,4}"
    "(?:勢い|元気|活気|若さ|力強さ|迫力|野趣)"
)
# "新酒ばなが落ち着いて": gone, or only less?
_CALMED = re.compile(
    "(?:が|は|も)[^、。]{0,4}(?:落ち着(?:い[たてき]|く)|(?<!を)(?<!に)引い[たてき])(?![^。]*(?:まだ|残|ある))"
)
# "酢イソと酢エチ、今回は前者だけ": which of them, a person sees.
_FORMER = re.compile("前者|後者")
# A number or the number of a cup hides nothing.
_COUNTED = re.compile("[^ぁ-んー0-9０-９番]")
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
    if not matches or (not found.unmatched and matches[0].language == "en"):
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


def _goes(match: Match) -> bool:
    """Tell whether a thing is one that goes away as a sake comes to rest."""
    return match.polarity == "fault" or match.key in (
        "young",
        "prickle",
        "alcohol_burn",
        "bitter",
        "astringent",
    )


def _turned(match: Match, text: str) -> bool:
    """Tell whether what follows a Japanese match makes it doubtful."""
    if _AS_SAID.search(text, match.end) and "。" not in text[match.end :]:
        return True
    if match.polarity != "absent" and _CALMED.match(text, match.end) and _goes(match):
        return True
    if _FORMER.search(text) and match.polarity in ("fault", "absent"):
        return True
    if match.key == "bright" and text.startswith(("が失わ", "は失わ"), match.end):
        return True
    if match.polarity == "too_much" and match.key == "clean_cut":
        return True
    if match.polarity == "absent":
        return _THOUGHT_AWAY.search(text, match.end) is not None
    rough = match.polarity == "fault" and match.key == "rough"
    return rough and _LIVELY.search(text, match.end) is not None


def _unsure(match: Match, text: str, listed: Sequence[Clause], unread: Sequence[Piece]) -> bool:
    """Tell whether what is unread in the clause of a match may turn what it says."""
    if match.language == "ja" and _turned(match, text):
        return True
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
        if match.polarity == "noted":
            return sum(_COUNTED.search(one.text) is not None for one in beside) >= BESIDE
        return match.polarity == "fault" and len(beside) >= BESIDE and behind >= BEHIND
    person = _PERSON.search(text[own.start : own.end]) is not None
    return bool(before) and match.polarity == "noted" and person
