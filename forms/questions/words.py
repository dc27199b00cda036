"""The words of this room: one folder a language, one TOML file a topic."""

from __future__ import annotations

from functools import cache

from ...catalogue import FALLBACK, Catalogue, shown

CATALOGUE = Catalogue("kikichoko.forms")
say = CATALOGUE.say
topic = CATALOGUE.topic
has = CATALOGUE.has


@cache
def languages() -> tuple[str, ...]:
    """Return the languages that sheets can be written in, English first."""
    return CATALOGUE.languages("scorecard")


__all__ = ["CATALOGUE", "FALLBACK", "has", "languages", "say", "shown", "topic"]
