"""How near are somebody's own words to another's: the same term, group, or family?

Both texts are read blind, by the same vocabulary; no person marks them, and no name is
needed. Each word is paired with one word of the other text at most, the nearest pairs
first. There are no points: same, near and far are counted apart.
"""

from __future__ import annotations

from dataclasses import dataclass

from ..questions.term_vocabulary import Vocabulary, vocabulary
from .free_text import WordsRead, read_words

NEARNESS = ("same", "group", "family")
"""How near two words are, nearest first; words of two families are no pair."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WordPair:
    """One word of each text that belong together; `near` is one of `NEARNESS`."""

    own: str
    other: str
    near: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkedWords:
    """One text beside another.

    Attributes
    ----------
    pairs : tuple of WordPair
        The nearest first.
    missed : tuple of str
        Words of the other text that no word of the own one is near.
    alone : tuple of str
        Words of the own text that the other has nothing near to.
    unread : tuple of str
        Pieces of the own text that were not understood, as written: for a person.
    """

    pairs: tuple[WordPair, ...]
    missed: tuple[str, ...]
    alone: tuple[str, ...]
    unread: tuple[str, ...]

    def count(self, near: str) -> int:
        """Count the pairs of one nearness."""
        return sum(pair.near == near for pair in self.pairs)


def mark_words(own: str, other: str, words: Vocabulary | None = None) -> MarkedWords:
    """Mark one free text against another.

    Parameters
    ----------
    own, other : str
        For instance a student's and the expert's, about one bottle.
    words : Vocabulary, optional
        As for `read_words`.

    Examples
    --------
    >>> found = mark_words("pear and rice, no acid", "りんご、苦い")
    >>> [(pair.own, pair.other, pair.near) for pair in found.pairs]
    [('pear', 'apple', 'group')]
    >>> found.missed, found.alone
    (('bitter',), ('grain',))
    """
    known = words if words is not None else vocabulary()
    read = read_words(own, known)
    mine, theirs = _said(read), _said(read_words(other, known))
    pairs = []
    for near in NEARNESS:
        for word in list(mine):
            partner = next((one for one in theirs if _near(word, one, known) == near), None)
            if partner is not None:
                pairs.append(WordPair(own=word[0], other=partner[0], near=near))
                mine.remove(word)
                theirs.remove(partner)
    return MarkedWords(
        pairs=tuple(pairs),
        missed=tuple(key for key, _ in theirs),
        alone=tuple(key for key, _ in mine),
        unread=tuple(piece.text for piece in read.unmatched),
    )


def _said(read: WordsRead) -> list[tuple[str, str]]:
    """Return what is said to be there, each key once with its level."""
    there = [(one.key, one.level) for one in read.matches if not (one.negated or one.likened)]
    return list(dict.fromkeys(there))


def _near(first: tuple[str, str], second: tuple[str, str], known: Vocabulary) -> str:
    if first == second:
        return "same"
    (group, family), (other_group, other_family) = _place(*first, known), _place(*second, known)
    if group and group == other_group:
        return "group"
    return "family" if family == other_family else ""


def _place(key: str, level: str, known: Vocabulary) -> tuple[str, str]:
    """Return group and family of a word; a family has no group."""
    if level == "family":
        return "", key
    group = known[key].group if level == "term" else key
    return group, known.group(group).family
