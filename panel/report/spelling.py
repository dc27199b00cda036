"""A report's lines and cells as they are written out: the same in every kind of page."""

from __future__ import annotations

import re
from dataclasses import dataclass

from ...analysis.core.words import Sentence
from ..base.words import begun, say
from .parts import Line, Report

SYMBOL = 2
"""Letters of a heading's first word up to which it is a symbol, such as p and df, and stays."""


@dataclass(frozen=True, slots=True)
class Spelling:
    """Writes out what a report holds, in the report's language."""

    report: Report

    def line(self, text: Line) -> str:
        """Write a line with a capital at its beginning."""
        return self._set(begun(text, self.report.language, self.report.names))

    def head(self, value: object) -> str:
        """Write a heading of a column: words begin with a capital, symbols and names stay."""
        if not isinstance(value, Sentence):
            return self.cell(value)
        first, *_ = value.to(self.report.language).split() or [""]
        return self.cell(value) if len(first) <= SYMBOL else self.line(value)

    def cell(self, value: object) -> str:
        """Write a cell of a table."""
        text = value.to(self.report.language) if isinstance(value, Sentence) else str(value)
        return self._set(text)

    def _set(self, text: str) -> str:
        text = typeset(text)
        return kept_together(text) if self.report.language == "ja" else text

    def word(self, key: str) -> str:
        """Write an entry of the catalogue."""
        return say(key, self.report.language)


def typeset(text: str) -> str:
    """Write a minus before a number as a minus, not as a hyphen."""
    return re.sub(r"(?<![\w.-])-(?=\d)", "\u2212", text)


def kept_together(text: str) -> str:
    """Let no line end between a number and its percent sign, nor within "p = 0.02".

    >>> kept_together("推定で35 %、95 %区間") == "推定で35\u00a0%、95\u00a0%区間"
    True
    >>> kept_together("E2（p = 0.02）") == "E2（p\u00a0=\u00a00.02）"
    True
    """
    text = re.sub(r"(?<=\d) (?=%)", "\u00a0", text)
    return re.sub(r"\bp ([<=]) (?=\d)", "p\u00a0\\1\u00a0", text)
