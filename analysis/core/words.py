"""Words that people see, kept in one catalogue per language.

A language is a folder ``words/<language>/`` with one TOML file per topic. A
key is ``topic.name``; only the topic that is needed is read. An entry is a
template for `str.format`, or a table ``{one = ..., other = ...}`` whose form
is chosen by the value named ``n``.

Results do not hold text but `Sentence` objects: a key with its values. The
sentence is written out when somebody reads it, in that reader's language.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

FALLBACK = "en"
HERE = "kikichoko.analysis"


@cache
def _topic(room: str, language: str, topic: str) -> Mapping[str, Any]:
    """Read one topic of one language; an absent file is an empty topic."""
    source = files(room).joinpath("words", language, f"{topic}.toml")
    return tomllib.loads(source.read_text("utf-8")) if source.is_file() else {}


def _entry(room: str, language: str, key: str) -> str | Mapping[str, str]:
    """Return the entry of `key`, in English where `language` has none."""
    topic, _, name = key.partition(".")
    for candidate in (language, FALLBACK):
        entry: str | Mapping[str, str] | None = _topic(room, candidate, topic).get(name)
        if entry is not None:
            return entry
    message = f"no entry {key!r} in the catalogue of {room}"
    raise KeyError(message)


@dataclass(frozen=True, slots=True)
class Sentence:
    """A statement that waits for its reader's language.

    Values may be sentences themselves, or lists, which are joined by commas.

    Examples
    --------
    >>> str(Sentence.of("common.assessors", n=1)), str(Sentence.of("common.assessors", n=8))
    ('1 assessor', '8 assessors')
    """

    key: str
    values: tuple[tuple[str, object], ...] = ()
    room: str = HERE

    @classmethod
    def of(cls, key: str, /, **values: object) -> Sentence:
        """Make the sentence of `key` with `values`."""
        return cls(key, tuple(values.items()))

    def to(self, language: str) -> str:
        """Write the sentence in `language`.

        Raises
        ------
        KeyError
            If the key stands in no catalogue: a fault of the program.
        """
        values = dict(self.values)
        entry = _entry(self.room, language, self.key)
        if not isinstance(entry, str):
            entry = entry["one" if values.get("n") == 1 else "other"]
        return entry.format(**{name: _spoken(value, language) for name, value in values.items()})

    def kept(self) -> dict[str, Any]:
        """Return the sentence as plain values, to be kept in a file.

        >>> kept = Sentence.of("common.assessors", n=8).kept()
        >>> str(Sentence.brought_back(kept))
        '8 assessors'
        """
        values = {name: _kept(value) for name, value in self.values}
        return {"key": self.key, "room": self.room, "values": values}

    @classmethod
    def brought_back(cls, kept: Mapping[str, Any]) -> Sentence:
        """Make the sentence from what `kept` returned."""
        values = {name: _brought_back(value) for name, value in kept["values"].items()}
        return cls(str(kept["key"]), tuple(values.items()), str(kept["room"]))

    def __str__(self) -> str:
        return self.to(FALLBACK)


def _kept(value: object) -> object:
    if isinstance(value, Sentence):
        return {"sentence": value.kept()}
    if isinstance(value, (list, tuple)):
        return [_kept(item) for item in value]
    return value


def _brought_back(value: object) -> object:
    if isinstance(value, dict) and set(value) == {"sentence"}:
        return Sentence.brought_back(value["sentence"])
    if isinstance(value, list):
        return [_brought_back(item) for item in value]
    return value


def _spoken(value: object, language: str) -> object:
    if isinstance(value, Sentence):
        return value.to(language)
    if isinstance(value, (list, tuple)):
        return ", ".join(str(_spoken(item, language)) for item in value)
    return value


def say(key: str, language: str = FALLBACK, /, **values: object) -> str:
    """Write the entry of `key` out with its values."""
    return Sentence.of(key, **values).to(language)


@dataclass(frozen=True, slots=True)
class Catalogue:
    """The words of another room, kept the same way below its own folder."""

    room: str

    def sentence(self, key: str, /, **values: object) -> Sentence:
        """Make a sentence from this room's words."""
        return Sentence(key, tuple(values.items()), self.room)

    def say(self, key: str, language: str = FALLBACK, /, **values: object) -> str:
        """Write the entry of `key` out with its values."""
        return self.sentence(key, **values).to(language)
