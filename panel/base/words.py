"""The words of this room: one folder a language, one TOML file a topic."""

from __future__ import annotations

from ...catalogue import FALLBACK, Catalogue, Sentence, begun

CATALOGUE = Catalogue("kikichoko.panel")
sentence = CATALOGUE.sentence
say = CATALOGUE.say

__all__ = ["CATALOGUE", "FALLBACK", "Sentence", "begun", "say", "sentence"]
