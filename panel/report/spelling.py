"""A report's lines and cells as they are written out: the same in every kind of page."""

from __future__ import annotations

import re
from dataclasses import dataclass

from ...analysis.core.words import Sentence
from ..base.words import begun, say
from .parts import Line, Report


@dataclass(frozen=True, slots=True)
class Spelling:
    """Writes out what a report holds, in the report's language."""

    report: Report

    def line(self, text: Line) -> str:
        """Write a line with a capital at its beginning."""
        return typeset(begun(text, self.report.language, self.report.names))

    def cell(self, value: object) -> str:
        """Write a cell of a table."""
        text = value.to(self.report.language) if isinstance(value, Sentence) else str(value)
        return typeset(text)

    def word(self, key: str) -> str:
        """Write an entry of the catalogue."""
        return say(key, self.report.language)


def typeset(text: str) -> str:
    """Write a minus before a number as a minus, not as a hyphen."""
    return re.sub(r"(?<![\w.-])-(?=\d)", "\u2212", text)
