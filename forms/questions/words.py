"""The words of this room: one folder a language, one TOML file a topic.

The same way of keeping words as in the other rooms, which this room does not
know: a key is ``topic.name``, an entry is a template for `str.format`.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files

HOUSE = "kikichoko.forms"
FALLBACK = "en"


@cache
def topic(language: str, name: str) -> Mapping[str, str]:
    """Return all entries of one topic in one language (empty where there is none)."""
    source = files(HOUSE).joinpath("words", language, f"{name}.toml")
    return tomllib.loads(source.read_text("utf-8")) if source.is_file() else {}


@cache
def languages() -> tuple[str, ...]:
    """Return the languages that sheets can be written in, English first."""
    found = {
        folder.name
        for folder in files(HOUSE).joinpath("words").iterdir()
        if folder.joinpath("scorecard.toml").is_file()
    }
    return (FALLBACK, *sorted(found - {FALLBACK}))


def has(key: str) -> bool:
    """Tell whether English has an entry for `key`."""
    name, _, entry = key.partition(".")
    return entry in topic(FALLBACK, name)


def say(key: str, language: str = FALLBACK, /, **values: object) -> str:
    """Write the entry of `key` out, in English where `language` has none.

    Raises
    ------
    KeyError
        If the key stands in no catalogue: a fault of the program.
    """
    name, _, entry = key.partition(".")
    words = topic(language, name)
    return (words if entry in words else topic(FALLBACK, name))[entry].format(**values)
