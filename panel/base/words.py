"""The words of this room, see `kikichoko.analysis.core.words`."""

from __future__ import annotations

from ...analysis.core.words import Catalogue

_catalogue = Catalogue("kikichoko.panel")
sentence = _catalogue.sentence
say = _catalogue.say
