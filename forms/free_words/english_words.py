"""English words as they are known: plurals, endings, misspellings."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from ..questions.term_vocabulary import Vocabulary
from .match import SIGNS, around, each_vocabulary, entries, plain

TWO_SLIPS = 8
"""Letters from which on a word may have two slips."""
COMPARED = 3
"""Letters that a word before "-er" and "-est" has more than."""
_ENDINGS = ("like", "ish", "esque", "ness", "y")
_DOUBLE = re.compile(r"([a-z])\1")
# Parts of chemical names of more than one word.
_CHEMICAL = frozenset(
    {"ethyl", "isoamyl", "acetate", "caproate", "hexanoate", "caproic", "hexanoic", "butyric"}
    | {"isovaleric", "isobutyric", "acid", "alcohol", "acetic", "fatty", "lactic", "hydrogen"}
)
# "Sweets" are no more of "sweet", "lights" of "light"; "leans", "dries" are verbs.
_PLURAL = frozenset({"sweets", "lights", "leans", "dries"})
# "Not entirely free of glue": there is some.
_DOUBLED = tuple(
    f"{no} {how}{free}"
    for no in ("not", "never", "isn't", "hardly", "far from", "nowhere near", "not yet")
    for how in ("", "entirely ", "quite ", "completely ", "wholly ", "fully ", "totally ")
    for free in ("free of", "free from", "devoid of", "clear of", "without", "rid of")
)
_GRAMMAR = (
    *(*SIGNS, "denied", "pairing", "elsewhere", "stop"),
    *("slight", "strong", "unsure", "grammar", "nose"),
)


@dataclass(frozen=True, slots=True)
class Token:
    """A word: as written, as compared, how it was understood, where it stands."""

    text: str
    stem: str
    how: str
    start: int
    end: int
    glued: bool


@dataclass(frozen=True, slots=True)
class EnglishLexicon:
    """Every way to say something, by its stems; `named` are smells and faults."""

    ways: Mapping[tuple[str, ...], tuple[str, str]]
    liking: Mapping[tuple[str, ...], str]
    around: Mapping[tuple[str, ...], str]
    senses: Mapping[str, str]
    named: frozenset[str]
    spelt: frozenset[str]
    known: frozenset[str]
    means: Mapping[str, str]
    undoubled: Mapping[str, tuple[str, ...]]


def stem(word: str) -> str:
    """Take the plural off a word.

    >>> [stem(word) for word in ("berries", "leaves", "radishes", "apples", "citrus", "grass")]
    ['berry', 'leaf', 'radish', 'apple', 'citrus', 'grass']
    """
    word = plain(word).replace("’", "'").removesuffix("'s")
    if word in _PLURAL:
        return word
    if len(word) <= 3 or word.endswith(("ss", "us", "is")):
        return word
    for ending, instead in (("ies", "y"), ("ves", "f"), ("shes", "sh"), ("ches", "ch")):
        if word.endswith(ending):
            return word.removesuffix(ending) + instead
    return word.removesuffix("es" if word.endswith(("xes", "sses")) else "s")


def stems(text: str) -> tuple[str, ...]:
    """Return the stems of a phrase; hyphens part words."""
    return tuple(stem(word) for word in re.findall(r"[^\s\-()]+", text))


@each_vocabulary
def lexicon(words: Vocabulary) -> EnglishLexicon:
    """Return the lexicon of a vocabulary."""
    ways: dict[tuple[str, ...], tuple[str, str]] = {}
    for level, entry in entries(words):
        for way in entry.ways("en"):
            # "Rice and koji" are two things, also where they are one family.
            if "," not in way and (level == "term" or " and " not in way):
                ways.setdefault(stems(way), (level, entry.key))
    for level, entry in entries(words):
        label = entry.label.to("en")
        romaji = [part.strip() for part in entry.romaji.split(",")]
        outside, _, inside = label.partition("(")
        parts = [*outside.split(","), inside.rstrip(")"), *(p for p in romaji if len(p) > 4)]
        for part in parts:
            if part.strip() and " and " not in part:
                ways.setdefault(stems(part), (level, entry.key))
    liking = {
        stems(word): direction
        for direction, by_language in words.hedonic.items()
        for word in by_language["en"]
    }
    close = around("en")
    others = {stems(word): "grammar" for word in _DOUBLED}
    others |= {stems(word): "negator" for word in close["negators"]}
    for kind in _GRAMMAR:
        for word in close[kind]:
            others.setdefault(stems(word), "grammar" if kind == "nose" else kind)
    known = {part for way in (*ways, *liking, *others) for part in way}
    spelt = frozenset(way[0] for way in [*ways, *liking] if len(way) == 1 and len(way[0]) >= 5)
    spelt |= _CHEMICAL - {"acid"}
    undoubled: dict[str, tuple[str, ...]] = {}
    for word in sorted(spelt):
        once = _DOUBLE.sub(r"\1", word)
        undoubled[once] = (*undoubled.get(once, ()), word)
    return EnglishLexicon(
        ways=ways,
        liking=liking,
        around=others,
        senses={term.key: words.family_of(term).sense for term in words.terms},
        named=_named(words),
        spelt=spelt,
        known=frozenset(known | {stem(word) for word in close["real_words"].split()}),
        means={way[0]: key for way, (_, key) in ways.items() if len(way) == 1},
        undoubled=undoubled,
    )


def _named(words: Vocabulary) -> frozenset[str]:
    """Return the keys of smells and faults: of terms, groups and families."""
    smells = {entry.key for entry in words.families if entry.sense in ("aroma", "fault")}
    groups = {entry.key for entry in words.groups if entry.family in smells}
    terms = {term.key for term in words.terms if term.fault or words.family_of(term).key in smells}
    return frozenset(smells | groups | terms)


def understood(word: str, known: EnglishLexicon) -> tuple[str, str]:
    """Return the known word that a stem stands for, and how it was read.

    A word that is known, or is another English word, stays as it is. "Flawless" is its
    word with "without".
    """
    if word in known.known:
        return word, "exact"
    if word.endswith("less") and (word.removesuffix("less"),) in known.ways:
        return word.removesuffix("less"), "without"
    for ending in ("ier", "iest"):
        base = word.removesuffix(ending)
        for form in (base + "y", base):
            if base != word and len(base) > 2 and (form,) in known.ways:
                return form, "form"
    for ending in ("er", "est"):
        base = word.removesuffix(ending)
        for form in (base, base + "e", base.removesuffix(base[-1:])):
            if base != word and len(base) > COMPARED and (form,) in known.ways:
                return form, "form"
    for ending in _ENDINGS:
        base = word.removesuffix(ending)
        for form in (base, base + "e", base.removesuffix(base[-1:])):
            if base != word and len(form) > 2 and (form,) in known.ways:
                return form, "form"
    once = known.undoubled.get(_DOUBLE.sub(r"\1", word), ())
    near = once[0] if len(once) == 1 else nearest(word, known.spelt, known.means)
    return (near, "spelling") if near else (word, "exact")


def nearest(word: str, spelt: Iterable[str], means: Mapping[str, str] | None = None) -> str:
    """Return the one known word that `word` is a misspelling of, or nothing.

    One slip (a letter too many, too few, wrong, or two exchanged) is allowed
    from five letters on, two from eight; the first letter must be right; and
    no other known word may be as near, but one that `means` the same. Slips are
    counted by the optimal string alignment distance.

    >>> nearest("bananna", {"banana", "bandana"}), nearest("pear", {"bear"})
    ('banana', '')
    """
    allowed = 0 if len(word) < 5 else 1 if len(word) < TWO_SLIPS else 2
    from rapidfuzz.distance import OSA

    best, score, tied = "", allowed + 1, False
    for candidate in spelt:
        if candidate[0] != word[0] or abs(len(candidate) - len(word)) > allowed:
            continue
        slips = OSA.distance(word, candidate)
        if slips < score:
            best, score, tied = candidate, slips, False
        elif slips == score:
            same = means is not None and means.get(candidate, candidate) == means.get(best)
            tied = tied or not same
    return "" if tied or score > allowed else best
