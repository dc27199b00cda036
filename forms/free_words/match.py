"""What the readers of all languages share: matches, pieces, and the words around the words."""

from __future__ import annotations

import tomllib
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from ..questions.term_vocabulary import Entry, Vocabulary

LEVELS = ("term", "group", "family")
POLARITIES = ("noted", "praised", "fault", "absent", "too_much", "too_little")
SIGNS = ("praise", "bad", "much", "little", "weak", "enough", "few")


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
        "praise", "bad", "much", "little", "weak" (a complaint of a virtue only),
        "enough" (with "not": too little) or "few" (of a fault: absent).
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


@dataclass(slots=True)
class Found:
    """What the readers of one language collect; `breaks` part the segments of a text."""

    matches: list[Match]
    liking: list[Liking]
    unmatched: list[Piece]
    signs: list[Sign]
    breaks: list[int]


@cache
def around(language: str) -> Mapping[str, Any]:
    """Return the words around the words in one language."""
    content = tomllib.loads(files(__package__).joinpath("free_words.toml").read_text("utf-8"))
    words: Mapping[str, Any] = content[language]
    return words


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
