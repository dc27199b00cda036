"""The words of this room: one folder a language, one TOML file a topic."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from ...catalogue import FALLBACK, Catalogue, Sentence, begun

CATALOGUE = Catalogue("kikichoko.panel")
sentence = CATALOGUE.sentence

__all__ = [
    "CATALOGUE",
    "FALLBACK",
    "Sentence",
    "begun",
    "reader",
    "say",
    "sentence",
    "speak",
    "speaking",
]


class _Reader:
    """Who sits at the terminal: the language, and whether it was asked for by name."""

    language = FALLBACK
    asked = False


def reader() -> str:
    """Return the language of whoever sits at the terminal; English where nobody does."""
    return _Reader.language


def speak(language: str, *, asked: bool = False) -> None:
    """Speak `language` from now on; one that was asked for by name gives way to no other."""
    if asked or not _Reader.asked:
        _Reader.language, _Reader.asked = language, asked


@contextmanager
def speaking(language: str) -> Iterator[None]:
    """Speak `language` in a ``with`` block, and what was spoken before after it."""
    before = _Reader.language, _Reader.asked
    _Reader.language, _Reader.asked = language, False
    try:
        yield
    finally:
        _Reader.language, _Reader.asked = before


def say(key: str, language: str | None = None, /, **values: object) -> str:
    """Write the entry of `key` out, for whoever sits at the terminal if for nobody else."""
    return CATALOGUE.say(key, language or reader(), **values)
