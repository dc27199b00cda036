"""Reading free Japanese: endings of adjectives, suffixes, negation after the word.

Japanese does not part words, so a run is cut by the longest known way to say
something. A single kanji that stands beside one that is not known is part of
another word; then the whole is left for a person.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from unicodedata import normalize

from ..questions.term_vocabulary import Vocabulary
from .match import Found, Liking, Match, Piece, around, entries

_KANJI = re.compile(r"[\u4e00-\u9fff々]")
_ENDINGS = (
    "くありません",
    "くなかった",
    "くなくて",
    "くない",
    "くなく",
    "くて",
    "かった",
    "さ",
    "め",
    "く",
    "そう",
)


@dataclass(frozen=True, slots=True)
class JapaneseItem:
    """A stretch of text and what it is."""

    kind: str
    start: int
    end: int
    key: str = ""
    level: str = ""
    how: str = "exact"
    negated: bool = False
    degree: str = ""
    unsure: bool = False


@dataclass(frozen=True, slots=True)
class JapaneseLexicon:
    """Every way to say something, as it is written; with the kana of three letters on folded."""

    ways: Mapping[str, tuple[str, str, str, str]]
    folded: Mapping[str, tuple[str, str, str, str]]
    longest: int


def hiragana(text: str) -> str:
    """Write katakana as hiragana, letter by letter.

    >>> hiragana("リンゴ")
    'りんご'
    """
    return "".join(chr(ord(c) - 0x60) if "ァ" <= c <= "ヶ" else c for c in text)


def lexicon(words: Vocabulary) -> JapaneseLexicon:
    """Return the lexicon of a vocabulary; the last few are kept."""
    if id(words) not in _MADE or _MADE[id(words)][0] is not words:
        if len(_MADE) > 8:
            _MADE.clear()
        _MADE[id(words)] = (words, _lexicon(words))
    return _MADE[id(words)][1]


_MADE: dict[int, tuple[Vocabulary, JapaneseLexicon]] = {}


def _lexicon(words: Vocabulary) -> JapaneseLexicon:
    """List all ways: (kind, key, level, what the ending says)."""
    ways: dict[str, tuple[str, str, str, str]] = {}
    for level, entry in entries(words):
        said = list(entry.ways("ja"))
        said += [part for way in said[:1] for part in way.split("・")]
        for way in said:
            ways.setdefault(normalize("NFKC", way), ("match", entry.key, level, ""))
    for direction, by_language in words.hedonic.items():
        for way in by_language["ja"]:
            ways.setdefault(way, ("liking", direction, "", ""))
    for way, (kind, key, level, _) in list(ways.items()):
        if way.endswith("い") and len(way) > 1 and kind in ("match", "liking"):
            for ending in _ENDINGS:
                says = "negated" if "くな" in ending or "くあり" in ending else "form"
                ways.setdefault(way[:-1] + ending, (kind, key, level, says))
    close = around("ja")
    for kind in ("negators", "slight", "strong", "unsure", "stop", "suffixes", "grammar"):
        for way in close[kind]:
            ways.setdefault(way, (kind, "", "", ""))
    folded = {hiragana(way): what for way, what in ways.items() if len(way) >= 3 and what[1]}
    return JapaneseLexicon(ways, folded, max(map(len, ways)))


def read(text: str, offset: int, words: Vocabulary, found: Found) -> None:
    """Read a run of Japanese that begins at `offset` of the whole into `found`."""
    known = lexicon(words)
    items = _items(text, known)
    items = _whole_words(items, text)
    for item in _judged(items):
        place = {
            "text": text[item.start : item.end],
            "start": offset + item.start,
            "end": offset + item.end,
        }
        if item.kind == "match":
            found.matches.append(
                Match(
                    key=item.key,
                    level=item.level,
                    negated=item.negated,
                    degree=item.degree,
                    unsure=item.unsure,
                    how=item.how,
                    **place,  # type: ignore[arg-type]
                )
            )
        elif item.kind == "liking":
            found.liking.append(Liking(direction=item.key, **place))  # type: ignore[arg-type]
        elif item.kind == "left":
            found.unmatched.append(Piece(**place))  # type: ignore[arg-type]


def _items(text: str, known: JapaneseLexicon) -> list[JapaneseItem]:
    """Cut a run into the longest things that are known, from left to right."""
    items: list[JapaneseItem] = []
    at = 0
    while at < len(text):
        for length in range(min(known.longest, len(text) - at), 0, -1):
            part = text[at : at + length]
            what = known.ways.get(part)
            if what is None and length >= 3:
                what = known.folded.get(hiragana(part))
            if what is None:
                continue
            kind, key, level, says = what
            how = "form" if says or part not in known.ways else "exact"
            items.append(
                JapaneseItem(kind, at, at + length, key, level, how, negated=says == "negated")
            )
            at += length
            break
        else:
            if items and items[-1].kind == "left":
                items[-1] = replace(items[-1], end=at + 1)
            else:
                items.append(JapaneseItem("left", at, at + 1))
            at += 1
    return items


def _whole_words(items: list[JapaneseItem], text: str) -> list[JapaneseItem]:
    """Leave a single kanji, or a katakana stretch, that is only a part of an unknown word."""
    made: list[JapaneseItem] = []
    for place, item in enumerate(items):
        if item.kind in ("match", "liking") and _cut(items, place, text):
            made.append(replace(item, kind="left"))
        else:
            made.append(item)
    joined: list[JapaneseItem] = []
    for item in made:
        if joined and item.kind == "left" and joined[-1].kind == "left":
            joined[-1] = replace(joined[-1], end=item.end)
        else:
            joined.append(item)
    return joined


def _cut(items: list[JapaneseItem], place: int, text: str) -> bool:
    """Tell whether a known way stands inside a longer word that is not known."""
    item = items[place]
    word = text[item.start : item.end]
    beside = around("ja")["beside"]
    for step, edge, inner in ((-1, -1, 0), (1, 0, -1)):
        other = place + step
        if not 0 <= other < len(items):
            continue
        neighbour = text[items[other].start : items[other].end]
        letter, mine = neighbour[edge], word[inner]
        unknown = items[other].kind == "left"
        if len(word) == 1 and _KANJI.match(mine) and _KANJI.match(letter) and unknown:
            return letter not in beside
        if unknown and _katakana(mine) and _katakana(letter):
            return True
    return False


def _katakana(letter: str) -> bool:
    return "ァ" <= letter <= "ヺ" or letter == "ー"


def _judged(items: list[JapaneseItem]) -> list[JapaneseItem]:
    """Give matches the negation and degree that follow, or the degree before."""
    made: list[JapaneseItem] = []
    open_at = 0
    degree = ""
    unsure = any(item.kind == "unsure" for item in items)
    for place, item in enumerate(items):
        if item.kind == "match":
            made.append(replace(item, degree=degree, unsure=unsure))
            degree = ""
            if item.negated:
                open_at = len(made)
        elif item.kind == "negators" and made:
            for at in range(open_at, len(made)):
                made[at] = _turned(made[at])
            open_at = len(made)
        elif item.kind in ("slight", "strong"):
            after = made and made[-1].kind == "match" and open_at < len(made)
            if after and not made[-1].degree and not _speaks_of_next(items, place):
                made[-1] = replace(made[-1], degree=item.kind)
            else:
                degree = item.kind
        elif item.kind == "stop":
            open_at = len(made)
        elif item.kind in ("left", "liking"):
            made.append(item)
    return made


def _speaks_of_next(items: list[JapaneseItem], place: int) -> bool:
    """Tell whether a word of degree stands before the thing it speaks of."""
    return place + 1 < len(items) and items[place + 1].kind == "match"


def _turned(item: JapaneseItem) -> JapaneseItem:
    if item.kind == "liking":
        return replace(item, key={"good": "bad", "bad": "good"}[item.key])
    return replace(item, negated=True) if item.kind == "match" else item
