"""What students wrote in their own words beside what the expert wrote, bottle by bottle.

Marked blind: the vocabulary reads both texts, near misses count as near, and what it does not
understand is given back as it was written.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ...forms.free_words import mark_words
from ...forms.free_words.near_misses import MarkedWords
from ..base.words import say

if TYPE_CHECKING:
    from .class_sessions import School

SHOWN = 8
"""Words of a kind that stand on a page."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnWords:
    """A student's own words over all bottles that the expert wrote about.

    Attributes
    ----------
    bottles : int
    marked : tuple of MarkedWords
    """

    bottles: int
    marked: tuple[MarkedWords, ...]

    def count(self, near: str) -> int:
        """Count the words that are the expert's, or near them."""
        return sum(one.count(near) for one in self.marked)


def own_words_of(school: School, student: str) -> OwnWords | None:
    """Mark one student's free words; None where student or expert wrote nothing."""
    if school.free_words is None or not len(school.free_words):
        return None
    texts: dict[tuple[str, str], dict[bool, list[str]]] = {}
    for row in school.free_words.itertuples():
        who = str(row.assessor)
        if who == student or who in school.experts:
            cell = texts.setdefault((str(row.session), str(row.sample)), {True: [], False: []})
            cell[who == student].append(str(row.text))
    both = [cell for cell in texts.values() if cell[True] and cell[False]]
    if not both:
        return None
    marked = tuple(
        mark_words(", ".join(cell[True]), ", ".join(cell[False]), school.vocabulary)
        for cell in both
    )
    return OwnWords(bottles=len(both), marked=marked)


def own_words_said(school: School, own: OwnWords, language: str) -> list[str]:
    """Write it for the student: counts first, then which words."""
    between = say("feedback.between", language)

    def named(key: str) -> str:
        return school.vocabulary.name(key, language).lower()

    def listed(key: str, words: list[str]) -> list[str]:
        first = list(dict.fromkeys(words))[:SHOWN]
        return [say(f"feedback.{key}", language, names=between.join(first))] if first else []

    said = [
        say(
            "feedback.own_count", language, same=own.count("same"), group=own.count("group"),
            family=own.count("family"), n=own.bottles,
        )
    ]  # fmt: skip
    near = [
        say("feedback.own_for", language, own=named(pair.own), other=named(pair.other))
        for one in own.marked
        for pair in one.pairs
        if pair.near == "group"
    ]
    said += listed("own_near", near)
    missed = Counter(key for one in own.marked for key in one.missed)
    said += listed("own_missed", [named(key) for key, _ in missed.most_common()])
    alone = Counter(key for one in own.marked for key in one.alone)
    said += listed("own_alone", [named(key) for key, _ in alone.most_common()])
    said += listed("own_unread", [text for one in own.marked for text in one.unread])
    return said


__all__ = ["OwnWords", "own_words_of", "own_words_said"]
