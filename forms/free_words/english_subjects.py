"""Is an English clause about the drink at all, or about a bottle, a person, the weather, work?

Words of taste stand in other talk too: "rubber stopper stuck in the neck", "a bright future".
What is said there is left for a person. With a word of smelling or tasting in the clause ("tastes
of the iron kettle") it is read as ever, and a bare thing is what the drink is likened to ("cedar
box").
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import cache

from .english_words import EnglishLexicon, Token, stem
from .match import SIGNS, Item, other_subjects

_OF_TIME = ("young", "aged", "acid_fresh")
_DETERMINERS = frozenset(
    {"a", "an", "the", "my", "our", "this", "that", "these", "those", "some", "such", "every"}
)
_BESIDE = frozenset({"old", "new", "little", "big", "more", "very", "so", "rather", "and", "too"})
_PLACED = frozenset(
    {"on", "in", "at", "by", "under", "behind", "around", "near", "outside", "inside", "above"}
    | {"across", "beside", "through", "to", "into", "towards", "over", "along", "past", "off"}
)
_OF_VERB = frozenset({"need", "needs", "needed", "used", "want", "have", "had", "time", "going"})
_WEATHER = re.compile(
    r"\b(?:it|sky|day|weather|skies)\b.*\b(?:outside|outdoors|forecast|(?:in the|this|all) "
    r"(?:morning|afternoon|evening|night|day|week))\b"
)
_TO_COME = re.compile(
    r"\b(?:like|love|want|hope|hoping|wish|going|happy|keen|curious|plan|let's|let us) "
    r"(?:\w+ ){0,3}(?:try|see|visit|buy|order|compare|open|meet|bring|take)\b"
)
TITLES = frozenset({"mr", "mrs", "ms", "miss", "dr", "sir", "madam"})
_ASKED = frozenset({"please", "pls", "plz"})
_OF_NOUNS = ("ness", "ity", "ency")
_ENDINGS = ("ly", "ness", "ity", "ish", "y", "ing", "er")


@cache
def _lists() -> Mapping[str, frozenset[str]]:
    return {name: frozenset(words) for name, words in other_subjects("en").items()}


def off_subject(
    items: Sequence[Item], tokens: Sequence[Token], known: EnglishLexicon
) -> list[Item]:
    """Leave what is said of something that is no drink.

    Parameters
    ----------
    items : sequence of Item
        What a clause was cut into.
    tokens : sequence of Token
        Its words.
    known : EnglishLexicon
    """
    words = [token.text.lower().replace("’", "'") for token in tokens]
    named = _names(tokens)
    items = [_left(item) if item.first in named else item for item in items]
    if set(words) & _lists()["anchors"]:
        return list(items)
    if not any(item.kind == "match" for item in items):
        return list(items)
    others = list(words)
    for item in items:
        if item.kind in ("match", "much") and item.past - item.first > 1:
            others[item.first : item.past] = [""] * (item.past - item.first)
    begins = _elsewhere_from(others, items)
    made = [_left(item) if item.first >= begins else item for item in items]
    return [
        _left(item) if _of_a_thing(place, made, words, known) else item
        for place, item in enumerate(made)
    ]


def _left(item: Item) -> Item:
    """Leave what is said; the words of grammar stay."""
    said = item.kind in ("match", "liking", *SIGNS)
    return replace(item, kind="left", key="", level="") if said else item


def _is(word: str, *lists: str) -> bool:
    return any(word in _lists()[name] or stem(word) in _lists()[name] for name in lists)


def _elsewhere_from(words: list[str], items: Sequence[Item]) -> int:
    """Return the word from which on a clause speaks of something else; past its end, if none."""
    said = " ".join(words)
    whole = (
        (_ASKED & set(words) and not {"more", "less", "another", "yes"} & set(words))
        or _placed(words)
        or _subject(words, items)
        or _acting(words)
        or _WEATHER.search(said) is not None
    )
    if whole:
        return 0
    coming = _TO_COME.search(said)
    if coming:
        return len(said[: coming.start()].split())
    for at, word in enumerate(words):
        past = next(
            (n for n in range(at + 1, len(words)) if words[n] not in ("it", "them", "up", "this")),
            len(words),
        )
        if past < len(words) and words[past] in _lists()["into"]:
            goods = any(_is(one, "objects", "gear") for one in words[past:])
            if word in _lists()["handled"] or (word in _lists()["arrives"] and goods):
                return at
    return len(words)


def _placed(words: list[str]) -> bool:
    """Tell whether a thing is named as a place: "on the label", "in the old box"."""
    if {"anyone", "anybody", "everyone", "everybody", "nobody"} & set(words):
        return False  # "Not found by anyone at the table."
    for at, word in enumerate(words):
        if not _is(word, "objects"):
            continue
        for back in range(at - 1, max(at - 4, -1), -1):
            if words[back] in _DETERMINERS and back and words[back - 1] in _PLACED:
                return True
    return False


def _subject(words: list[str], items: Sequence[Item]) -> bool:
    """Tell whether a clause is about a thing or person: "the label is peeling"."""
    if set(words) & _lists()["tells"]:
        return False
    if set(words) & _lists()["his"]:
        return True
    kinds = {item.first: item.kind for item in items}
    strange = len(words) > 2 and kinds.get(1) == kinds.get(2) == "left"
    if strange and words[0] in _DETERMINERS and words[2].endswith("ed"):
        return True  # "The cat knocked over the milk."
    pointed = len(words) > 2 and words[0] in ("those", "these", "our", "your")
    if pointed and words[2] in ("is", "are", "was", "were"):
        return True  # "Those pickles are far too sour."
    for at, word in enumerate(words[:-1]):
        person = _is(word, "people")
        if {"of", "from"} & set(words[max(at - 3, 0) : at]) and not person:
            continue
        if not person and not _is(word, "objects", "gear"):
            continue
        if words[at + 1] in _lists()["has"]:
            return True
        verb = kinds.get(at + 1) == "left" and words[at + 1] not in _lists()["functions"]
        if person and verb and words[at + 1] not in _lists()["nouns"]:
            return True
    return False


def _acting(words: list[str]) -> bool:
    """Tell whether somebody does something else than taste: "we dry the glasses"."""
    for at, word in enumerate(words):
        if word not in _lists()["acts"] or words[at : at + 2] in (["told", "me"], ["told", "us"]):
            continue
        back = at - 1
        while back >= 0 and words[back] in _lists()["modals"]:
            back -= 1
        purpose = back > 0 and words[back] == "to" and words[back - 1] in _OF_VERB
        if purpose or (back >= 0 and words[back] in _lists()["who"]):
            return True
    return False


def _of_a_thing(place: int, items: Sequence[Item], words: list[str], known: EnglishLexicon) -> bool:
    """Tell whether a word only describes a thing that stands behind it: "heavy rain"."""
    item = items[place]
    if item.kind not in ("match", "praise", "liking") or item.past >= len(words):
        return False
    if not _quality(item, known):
        return _of_goods(item, items, words)
    at = {one.first: one for one in items}
    noun = item.past
    while noun < len(words) - 1 and (words[noun] in _BESIDE or _quality(at.get(noun), known)):
        noun = at[noun].past if _quality(at.get(noun), known) else noun + 1
    if noun >= len(words):
        return False  # "Umami for days."
    behind = at.get(noun + 1)
    if behind is not None and behind.kind == "match" and words[noun + 1] not in _lists()["has"]:
        return False
    if _is(words[noun], "objects", "people", "abstracts", "gear"):
        return True
    ends = {one.past: one for one in items}
    first = item.first
    while first > 0 and (words[first - 1] in _BESIDE or _quality(ends.get(first), known)):
        first -= 1
    if words[item.past - 1].endswith(_OF_NOUNS) or _is(words[noun], "verbs", "goes"):
        return False  # "The bitterness stays", "the wood came through".
    determined = first > 0 and words[first - 1] in _DETERMINERS
    return determined and item.kind == "match" and _strange(at.get(noun), words[noun])


def _strange(item: Item | None, word: str) -> bool:
    """Tell whether a word is a noun that no taste is said of, as far as its form tells."""
    unknown = item is not None and item.kind == "left" and word.isalpha()
    return unknown and not _is(word, "nouns", "functions") and not word.endswith(_ENDINGS)


def _of_goods(item: Item, items: Sequence[Item], words: list[str]) -> bool:
    """Tell whether a smell is part of the name of a thing: "paper label", "oak floorboards"."""
    following = item.past
    works = words[following] == "works" and following + 1 < len(words)
    if words[following] in _lists()["made"] and not works:
        return words[following + 1 : following + 3] != ["to", "death"]  # "Filtered to death."
    unknown = [
        word
        for one in items
        if one.first >= following and one.kind == "left"
        for word in words[one.first : one.past]
    ]
    strange = [word for word in unknown if not _is(word, "functions", "nouns", "verbs", "goes")]
    first = strange[:1] == [words[following]] == unknown[:1]
    return first and len(strange) > 1 and words[item.first] in _lists()["everyday"]


def _quality(item: Item | None, known: EnglishLexicon) -> bool:
    """Tell whether a word says how a drink is, not what it smells of."""
    if item is None or item.kind not in ("match", "praise", "liking"):
        return False
    return item.kind != "match" or item.key not in known.named or item.key in _OF_TIME


def _names(tokens: Sequence[Token]) -> set[int]:
    """Return which words are somebody's name: "Ms Rose"."""
    return {
        at
        for at in range(1, len(tokens))
        if tokens[at].text[:1].isupper() and tokens[at - 1].text.lower() in TITLES
    }
