"""Sentences about a class in the reader's language, attributes and sessions as people call them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from ...analysis.core.words import Sentence
from ..base.words import begun

if TYPE_CHECKING:
    from .class_sessions import School

ATTRIBUTES = ("attribute", "names", "truth", "named")
"""Values of a sentence that name attributes."""
SESSIONS = ("session", "sessions", "first", "before", "since", "start", "end", "there")
"""Values of a sentence that may name sessions."""


def spoken(school: School, sentence: Sentence, language: str) -> str:
    """Write one sentence, with the names of the scorecard instead of keys."""
    return begun(_renamed(school, sentence, language), language, school.bottles)


def all_spoken(school: School, sentences: Iterable[Sentence], language: str) -> list[str]:
    """Write several sentences."""
    return [spoken(school, sentence, language) for sentence in sentences]


def _renamed(school: School, sentence: Sentence, language: str) -> Sentence:
    values = tuple((name, _value(school, name, value, language)) for name, value in sentence.values)
    return Sentence(sentence.key, values, sentence.room)


def _value(school: School, name: str, value: object, language: str) -> object:
    if isinstance(value, Sentence):
        return _renamed(school, value, language)
    if isinstance(value, (list, tuple)):
        return [_value(school, name, one, language) for one in value]
    if name in ATTRIBUTES and isinstance(value, str) and value not in school.bottles:
        return school.name(value, language).lower() if value else value
    if name in SESSIONS and isinstance(value, str):
        return school.session_name(value, language)
    return value
