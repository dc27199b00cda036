"""A report's lines and cells as they are written out: the same in every kind of page."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from ...analysis.core.words import Sentence
from ..base.words import begun, say
from .parts import Line, Report

SYMBOL = 2
"""Letters of a heading's first word up to which it is a symbol, such as p and df, and stays."""
NUMBERED = 8
"""Letters of a word of a bottle's name up to which no line ends between it and its number."""
HYPHENED = 12
"""Letters of a name with a hyphen, or of such a word in it, up to which no line ends there; no
source: a column for "press-end" is no wider than its neighbours."""


@dataclass(frozen=True, slots=True)
class Spelling:
    """Writes out what a report holds, in the report's language."""

    report: Report

    def line(self, text: Line) -> str:
        """Write a line with a capital at its beginning."""
        return _line(begun(text, self.report.language, self.report.names), self.report.names)

    def head(self, value: object) -> str:
        """Write a heading of a column: words begin with a capital, symbols and names stay."""
        if not isinstance(value, Sentence):
            return self.cell(value)
        first, *_ = value.to(self.report.language).split() or [""]
        return self.cell(value) if len(first) <= SYMBOL else self.line(value)

    def cell(self, value: object) -> str:
        """Write a cell of a table, which keeps an interval, a ratio or two counts whole."""
        text = value.to(self.report.language) if isinstance(value, Sentence) else str(value)
        return _cell(text, self.report.names)

    def word(self, key: str) -> str:
        """Write an entry of the catalogue."""
        return say(key, self.report.language)


@lru_cache(maxsize=8192)
def _cell(text: str, names: frozenset[str]) -> str:
    """Write a cell out; the same cells come on page, screen and in what reckons their room."""
    return whole_names(whole_in_cell(kept_together(typeset(text))), names)


@lru_cache(maxsize=8192)
def _line(text: str, names: frozenset[str]) -> str:
    return whole_names(whole_in_text(typeset(text)), names)


def typeset(text: str) -> str:
    """Write a minus before a number as a minus, not as a hyphen."""
    return re.sub(r"(?<![\w.-])-(?=\d)", "\u2212", text)


def kept_together(text: str) -> str:
    r"""Let no line end between a number and its unit, within "p = 0.02", nor after a dot.

    Of two marks ("7.5 · 7.5") the second begins a line with its dot, where there is no room for
    both.

    >>> kept_together("推定で35 %、95 %区間") == "推定で35\u00a0%、95\u00a0%区間"
    True
    >>> kept_together("E2（p = 0.02）") == "E2（p\u00a0=\u00a00.02）"
    True
    >>> kept_together("E1 24, 1 × expert") == "E1\u00a024, 1\u00a0×\u00a0expert"
    True
    >>> kept_together("1.2 points, 評価者 7 名") == "1.2\u00a0points, 評価者 7\u00a0名"
    True
    >>> kept_together("7.5 · 8")
    '7.5 ·\xa08'
    """
    text = re.sub(rf"(?<=\d) (?={_UNITS}|[ぁ-んァ-ヶ一-鿿])", "\u00a0", text)
    text = re.sub(r"(?<=\S) · (?=\S)", " ·\u00a0", text)
    text = re.sub(r"(?<=\d) × (?=\w)", "\u00a0×\u00a0", text)
    text = re.sub(r"\b([A-Z]{1,2}\d+) (?=[+\u2212]?\d)", "\\1\u00a0", text)
    return re.sub(r"(?<=[\w)'’]) ([=<>≤≥]) (?=[+\u2212]?\d)", "\u00a0\\1\u00a0", text)


_UNITS = r"%|°C|℃|(?:mL|L|g|kg|g/L|g/100 mL|points?|degrees?|days?|minutes?|seconds?)\b"
_NUMBER = r"[+\u2212]?\d[\d.]*(?:\u00a0?%)?"
_LETTER = r"A-Za-z0-9_."
"""What makes a number part of a name; kana and kanji stand beside numbers without a blank."""
_BETWEEN = re.compile(
    rf"(?<![{_LETTER}])({_NUMBER}|–) ?(to|[-–/／:→～]) ?(?=(?:{_NUMBER}|–)(?![{_LETTER}]))"
)
_COUNTS = re.compile(r"\d[\d.]*, \d[\d.]*|\d+(?: \d+)+")
_OF = re.compile(r"(?<![\w.])(\d+) of (?=\d+(?![\w.]))")
_OUT_OF = re.compile(r"(?<=\d)([名回本点件杯瓶項])(目?)中(?=\d)")


def whole_in_cell(text: str) -> str:
    r"""Let no line of a table's narrow column end within an interval, a ratio, two counts or codes.

    "7 of 7" stays whole too.

    >>> whole_in_cell("6.3 (5.7 – 6.8)") == "6.3 (5.7\u00a0–\u2060\u00a06.8)"
    True
    >>> whole_in_cell("8 : 0 / 8") == "8\u00a0:\u00a00\u00a0/\u00a08", whole_in_cell("raw 40 – raw")
    (True, 'raw 40 – raw')
    >>> whole_in_cell("349 478") == "349\u00a0478"
    True
    >>> whole_in_cell("1, 7") == "1,\u00a07", whole_in_cell("0.0 (no limits; n 2)")
    (True, '0.0 (no limits; n\xa02)')
    >>> whole_in_cell("M1 2 of 3")
    'M1 2\xa0of\xa03'
    >>> whole_in_cell("7名中7名") == "7\u2060名\u2060中\u20607名"
    True
    >>> whole_in_cell("press-end") == "press\u2060-\u2060end", whole_in_cell("a well-known word")
    (True, 'a well-known word')
    """
    if _HYPHENED.fullmatch(text):
        return _unhyphened(text)
    if _COUNTS.fullmatch(text):
        return text.replace(" ", "\u00a0")
    text = _BETWEEN.sub(lambda found: _joined(found[0]), text)
    text = _OF.sub("\\1\u00a0of\u00a0", text)
    text = _OUT_OF.sub("\u2060\\1\\2\u2060中\u2060", text)
    return re.sub(r"\b(n|below) (?=\d)", "\\1\u00a0", text)


def whole_in_text(text: str) -> str:
    r"""Let no line of running text end within an interval, nor between a number and its unit.

    >>> whole_in_text("Higher by 1.2 points (0.4 to 2.0)")
    'Higher by 1.2\xa0points (0.4\xa0to\xa02.0)'
    >>> whole_in_text("区間は2 %～65 %") == "区間は2\xa0%\u2060～\u206065\xa0%"
    True
    >>> whole_in_text("in 28 of 100")
    'in 28\xa0of\xa0100'
    """
    text = _BETWEEN.sub(lambda found: _joined(found[0]), kept_together(text))
    return _OF.sub("\\1\u00a0of\u00a0", text)


def whole_names(text: str, names: Iterable[str]) -> str:
    r"""Let no line end between a short word of one of the names and its number: "tank 1".

    >>> whole_names("Tank 1 and tank 2 raw: 3 marks", ["tank 2 raw", "middle"])
    'Tank\xa01 and tank\xa02 raw: 3 marks'
    >>> whole_names("middle 3", ["middle"]), whole_names("タンク 1は", ["タンク 1"])
    ('middle 3', 'タンク\xa01は')
    >>> whole_names("Free-run above cut-off", ["free-run"]) == "Free\u2060-\u2060run above cut-off"
    True
    """
    numbered, hyphened = _numbered(frozenset(names)), _with_hyphen(frozenset(names))
    text = numbered.sub("\\1\u00a0", text) if numbered else text
    return hyphened.sub(lambda found: _unhyphened(found[0]), text) if hyphened else text


@lru_cache(maxsize=64)
def _numbered(names: frozenset[str]) -> re.Pattern[str] | None:
    """Find the words of names that have a number, wherever one with any number stands."""
    words = {word.lower() for name in names for word in _NUMBERED.findall(name)}
    short = "|".join(sorted(re.escape(one) for one in words if len(one) <= NUMBERED))
    return re.compile(rf"(?<![A-Za-z])({short}) (?=\d)", re.IGNORECASE) if short else None


@lru_cache(maxsize=64)
def _with_hyphen(names: frozenset[str]) -> re.Pattern[str] | None:
    """Find the short words of names that have a hyphen."""
    words = {word.lower() for name in names for word in _HYPHENED.findall(name)}
    short = "|".join(sorted(re.escape(one) for one in words if len(one) <= HYPHENED))
    return re.compile(rf"(?<![\w-])(?:{short})(?![\w-])", re.IGNORECASE) if short else None


def _unhyphened(text: str) -> str:
    """Join what stands beside a hyphen: no line ends there."""
    return text.replace("-", "\u2060-\u2060") if len(text) <= HYPHENED else text


_HYPHENED = re.compile(r"[^\W\d_]+-[^\W\d_]+(?!\w)")
_NUMBERED = re.compile(r"([^\W\d_]+\.?) (?=\d)")


def _joined(text: str) -> str:
    """Join what stands between two numbers: a line could end at a blank, a dash and a tilde.

    After a dash a blank that does not break is not enough (Unicode Standard Annex 14, LB12a).
    """
    text = text.replace(" ", "\u00a0").replace("–", "–\u2060")
    return text.replace("～", "\u2060～\u2060")
