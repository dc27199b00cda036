"""What the readers of all languages share: matches, pieces, and the words around the words."""

from __future__ import annotations

import tomllib
import unicodedata
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cache, wraps
from importlib.resources import files
from typing import Any, TypeVar

from ..questions.term_vocabulary import Entry, Vocabulary

Made = TypeVar("Made")
LEVELS = ("term", "group", "family")
POLARITIES = ("noted", "praised", "fault", "absent", "too_much", "too_little")
KEPT = 8
"""Lexicons that are kept: one a vocabulary, a few vocabularies at a time."""
# Where a thing is smelt or tasted.
PLACES = ("nose", "aroma", "fukumi", "after")
SIGNS = ("praise", "bad", "much", "little", "lack", "weak", "enough", "few")


@dataclass(frozen=True, slots=True, kw_only=True)
class Match:
    """One statement that was understood.

    Attributes
    ----------
    key : str
        Key of the term; or of a group or family, where the text says no more.
    level : str
        One of `LEVELS`.
    negated : bool
        The text says that it is *not* there.
    degree : str
        "slight", "strong", or empty where nothing is said.
    unsure : bool
        The assessor doubts it ("maybe", a question mark), or the scope of a
        negation is not certain.
    how : str
        "exact"; "form": another form of a known word (plural, ending);
        "compound": the last word of a compound; "spelling": a misspelt word.
    polarity : str
        One of `POLARITIES`: "noted", only said to be there; "praised"; "fault", the
        name of a fault, or a thing that is called bad; "absent"; "too_much";
        "too_little".
    likened : bool
        The next thing is only likened to it ("XのようなY").
    language : str
        "en" or "ja".
    text : str
        What was read, letter for letter.
    start, end : int
        Where it stands in the whole text.
    """

    key: str
    level: str
    negated: bool = False
    degree: str = ""
    unsure: bool = False
    how: str = "exact"
    polarity: str = "noted"
    likened: bool = False
    language: str = "en"
    text: str
    start: int
    end: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Sign:
    """A word that judges what stands near it.

    Attributes
    ----------
    kind : str
        "praise", "bad", "much", "little", "lack" (of a fault: absent), "weak" (a complaint
        of a virtue only), "enough" (with "not": too little) or "few" (of a fault: absent).
    language : str
    text : str
    start, end : int
        Where it stands in the whole text.
    leads : bool
        Its form says that its thing follows ("心地よい苦味").
    trails : bool
        It speaks of what stands before it ("suits it").
    lone : bool
        Alone in its clause it may speak of the clause before.
    liking : bool
        It is a word of liking too, and listed there.
    """

    kind: str
    language: str
    text: str
    start: int
    end: int
    leads: bool = False
    trails: bool = False
    lone: bool = True
    liking: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Liking:
    """A word of liking: `direction` is "good" or "bad"."""

    direction: str
    text: str
    start: int
    end: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """Text that was not understood."""

    text: str
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Item:
    """A stretch of a text and what it is: match, liking, one of `SIGNS`, negator, … or left.

    `first` and `past` count what a language is cut into: words, or letters.
    """

    kind: str
    first: int
    past: int
    key: str = ""
    level: str = ""
    how: str = "exact"
    negated: bool = False
    degree: str = ""
    unsure: bool = False
    much: bool = False
    little: bool = False
    likened: bool = False


@dataclass(slots=True)
class Found:
    """What the readers of one language collect; `breaks` part the segments of a text."""

    matches: list[Match]
    liking: list[Liking]
    unmatched: list[Piece]
    signs: list[Sign]
    breaks: list[int]

    def take(self, item: Item, language: str, text: str, start: int, *, leads: bool) -> None:
        """Take an item in: `text` as it is written, from `start` of the whole on.

        `leads` says of a sign that its form speaks of what follows.
        """
        place: dict[str, Any] = {"text": text, "start": start, "end": start + len(text)}
        if item.kind in SIGNS or item.kind == "liking":
            self.signs.append(_sign(item, language, leads=leads, **place))
        said = "too_much" if item.much else "too_little" if item.little else "noted"
        if item.kind == "match":
            self.matches.append(
                Match(
                    key=item.key,
                    level=item.level,
                    negated=item.negated,
                    degree=item.degree,
                    unsure=item.unsure,
                    how=item.how,
                    polarity=said,
                    likened=item.likened,
                    language=language,
                    **place,
                )
            )
        elif item.kind == "liking":
            self.liking.append(Liking(direction=item.key, **place))
        elif item.kind == "left":
            self.unmatched.append(Piece(**place))


def _sign(item: Item, language: str, *, leads: bool, **place: Any) -> Sign:
    """Return the sign that a word of liking or of judgement is."""
    liking = item.kind == "liking"
    kind = {"good": "praise", "bad": "bad"}[item.key] if liking else item.kind
    close, said = around(language), place["text"].lower()
    return Sign(
        kind=kind,
        language=language,
        leads=leads,
        trails=said in (*close["trails"], *close["working"])
        or said.endswith((" way", *(f" {word}" for word in close["charms"]))),
        lone=kind in close["lone_signs"] or said in close["lone"],
        liking=liking,
        **place,
    )


@cache
def around(language: str) -> Mapping[str, Any]:
    """Return the words around the words in one language."""
    content = tomllib.loads(files(__package__).joinpath("free_words.toml").read_text("utf-8"))
    words: Mapping[str, Any] = content[language]
    return words


@cache
def other_subjects(language: str) -> Mapping[str, Any]:
    """Return what a clause may be about that is no drink, in one language."""
    content = tomllib.loads(files(__package__).joinpath("other_subjects.toml").read_text("utf-8"))
    words: Mapping[str, Any] = content[language]
    return words


def each_vocabulary(make: Callable[[Vocabulary], Made]) -> Callable[[Vocabulary], Made]:
    """Let a function make its lexicon once a vocabulary; the last few are kept."""
    kept: dict[int, tuple[Vocabulary, Made]] = {}

    @wraps(make)
    def made(words: Vocabulary) -> Made:
        if id(words) not in kept or kept[id(words)][0] is not words:
            if len(kept) > KEPT:
                kept.clear()
            kept[id(words)] = (words, make(words))
        return kept[id(words)][1]

    return made


def entries(words: Vocabulary) -> Iterable[tuple[str, Entry]]:
    """Yield every entry with its level, the most particular first."""
    for level, listed in zip(LEVELS, (words.terms, words.groups, words.families), strict=True):
        for entry in listed:
            yield level, entry


def plain(text: str) -> str:
    """Write letters one way: full width as half width, no accents, small.

    Keeps the length of the text only for plain letters; use it on single words.

    >>> plain("Ｃrème")
    'creme'
    """
    flat = unicodedata.normalize("NFKD", unicodedata.normalize("NFKC", text))
    return "".join(letter for letter in flat if not unicodedata.combining(letter)).lower()
