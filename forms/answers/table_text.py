"""Text tables as people have them: which letters the bytes are, what parts the columns."""

from __future__ import annotations

import csv
import io
import re
import unicodedata
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice

DELIMITERS = (",", ";", "\t", "|")
_ENCODINGS = ("cp932", "euc_jp", "cp1252")  # what spreadsheets save besides UTF-8
_STATED = re.compile(r"\ufeff?\"?sep=(.)\"?[,;\t]*\r?\n", re.IGNORECASE)
_LOOKED_AT = 60  # rows by which it is told how a table is laid out
_LEAST_OF_A_ROW = 0.6
"""Share of the usual number of filled cells that a heading has at least; a title has fewer."""
_CLEARLY = 0.3
"""By how much of its letters one reading of the bytes must be better than another."""
_CP1252_ALONE = frozenset("ŒœŠšŽžŸ–—‘’“”…€")
_ALONE = re.compile(r"(?<=[a-z])[^\x00-\x7f](?=[a-z])")  # a kanji within a Western word
_NARROW = re.compile("[\uff66-\uff9f]{3,}")  # half-width kana, as old programs write them
_WESTERN = re.compile(
    r"[a-zA-Z][À-ÖØ-öø-ÿŒœŠšŽžŸ]|[À-ÖØ-öø-ÿŒœŠšŽžŸ][a-z]"
    r"|±(?=\s*\d)|[°µ](?=[\sCFgm\d),;]|$)|[²³–—‘’“”…€£§×]"
)


@dataclass(frozen=True, slots=True)
class TextTable:
    """A text table and how it is laid out.

    Attributes
    ----------
    text : str
        Without a line that states the separator.
    separator : str
    skipped : int
        Lines of the file before `text`.
    """

    text: str
    separator: str
    skipped: int = 0

    def rows(self) -> Iterator[list[str]]:
        """Yield the rows, blank ones too."""
        return csv.reader(io.StringIO(self.text, newline=""), delimiter=self.separator)


def decoded(content: bytes) -> list[str]:
    """Return the text that bytes are: one where that is sure, several or none where not.

    Examples
    --------
    >>> decoded("酸度".encode("euc_jp")), decoded("tête,1".encode("cp1252"))
    (['酸度'], ['tête,1'])
    """
    texts = readings(content)
    if len(texts) > 1 and _sense(texts[0]) >= _sense(texts[1]) + _CLEARLY:
        return texts[:1]
    return texts


def readings(content: bytes) -> list[str]:
    """Return the texts that bytes can be, the likeliest first.

    UTF-8; UTF-16, also without a mark; ISO-2022-JP; else those of the Japanese
    encodings CP932 and EUC-JP and the Western CP1252 in which all bytes are letters.
    """
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return [content.decode("utf-16", errors="replace")]
    if b"\0" in content:
        return _without_mark(content)
    if b"\x1b$" in content or b"\x1b(" in content:
        return _if_it_can_be(content, "iso2022_jp_ext")
    if sure := _if_it_can_be(content, "utf-8-sig"):
        return sure
    texts = [text for code in _ENCODINGS for text in _if_it_can_be(content, code)]
    return sorted(texts, key=_sense, reverse=True)


def _if_it_can_be(content: bytes, encoding: str) -> list[str]:
    try:
        return [content.decode(encoding)]
    except UnicodeDecodeError:
        return []


def _without_mark(content: bytes) -> list[str]:
    """Read UTF-16 that says nothing of its order: in one of the two, lines and columns appear."""
    texts = _if_it_can_be(content, "utf-16-le") + _if_it_can_be(content, "utf-16-be")
    return [
        text
        for text in texts
        if any(sign in text for sign in DELIMITERS)
        and not any(unicodedata.category(letter) in ("Cc", "Co", "Cn") for letter in text
                    if letter not in "\r\n\t")
    ]  # fmt: skip


def _sense(text: str) -> float:
    """Say how much of what is not ASCII are letters as people write them, from -1 to 1."""
    foreign = [letter for letter in text if letter > "\x7f"]
    if not foreign:
        return 1.0
    if all(letter <= "\xff" or letter in _CP1252_ALONE for letter in foreign):
        placed: int = sum(letter > "\x7f" for found in _WESTERN.findall(text) for letter in found)
        return 2.0 * min(placed / len(foreign), 1.0) - 1.0
    alone = len(_ALONE.findall(text))
    narrow = sum(map(len, _NARROW.findall(text)))
    weighed: float = sum(map(_japanese, foreign)) - 2.0 * alone + 1.1 * narrow
    return weighed / len(foreign)


def _japanese(letter: str) -> float:
    """Weigh a letter: common ones of Japanese 1, those of a wrong reading below 0."""
    if "\u3040" <= letter <= "\u30ff" or "\u3000" <= letter <= "\u3002" or letter in "％℃（）":
        return 1.0
    if "\uff66" <= letter <= "\uff9f":
        return -0.5  # half-width kana: what EUC-JP looks like when it is misread
    try:
        level = letter.encode("euc_jp")[0]
    except UnicodeEncodeError:
        return -1.0
    return 1.0 if 0xB0 <= level <= 0xCF else 0.2  # the common kanji, level 1 of JIS X 0208


def laid_out(text: str) -> TextTable:
    r"""Tell by which sign a text parts its columns.

    Examples
    --------
    >>> laid_out("sep=;\na;b\n1,5;2\n").separator, laid_out("a,b\n1;5,2\n").separator
    (';', ',')
    """
    stated = _STATED.match(text)
    if stated and stated.group(1) in DELIMITERS:
        return TextTable(text[stated.end() :], stated.group(1), skipped=1)
    text = text.removeprefix("\ufeff")
    best = max(DELIMITERS, key=lambda sign: _evenness(TextTable(text, sign)))
    made = TextTable(text, best)
    first = [row for row in islice(made.rows(), _LOOKED_AT) if any(row)]
    if first and all(len(row) == 1 for row in first) and any(_quoted(row[0]) for row in first):
        # Each line stands in quotation marks, as if it were one cell.
        return laid_out("\n".join(row[0] if row else "" for row in made.rows()) + "\n")
    return made


def _quoted(cell: str) -> bool:
    return any(sign in cell for sign in (",", ";", "\t"))


def _evenness(table: TextTable) -> tuple[float, int]:
    """Say in how many rows the usual number of columns stands, and how many they are."""
    try:
        widths = [len(row) for row in islice(table.rows(), _LOOKED_AT) if any(map(str.strip, row))]
    except csv.Error:
        return 0.0, 0
    usual, times = Counter(widths).most_common(1)[0] if widths else (1, 0)
    return (times / len(widths) if usual > 1 else 0.0), usual


def heading_at(rows: Sequence[Sequence[str]]) -> int:
    """Return which row is the heading: the first that is about as full as the fullest.

    Examples
    --------
    >>> heading_at([["Tank 7", "", ""], ["", "", ""], ["bottle", "abv", "acidity"], ["a", "1", ""]])
    2
    """
    filled = [sum(bool(cell.strip()) for cell in row) for row in rows[:_LOOKED_AT]]
    fullest = max(filled, default=0)
    return next((at for at, n in enumerate(filled) if n and n >= _LEAST_OF_A_ROW * fullest), 0)
