"""The words of the statistics: one folder a language, one TOML file a topic."""

from __future__ import annotations

from ...catalogue import FALLBACK, Catalogue, Sentence, shown

CATALOGUE = Catalogue("kikichoko.analysis")
say = CATALOGUE.say

__all__ = ["CATALOGUE", "FALLBACK", "Catalogue", "Sentence", "say", "shown"]
