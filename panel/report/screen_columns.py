"""How wide the columns of a table must be to be read on a screen: what stands in them decides.

A table that is too wide for a telephone becomes cards there, one a row; one that nearly fits is
set smaller. On a desk, and on paper where there is room, no column is so narrow that it parts a
name. Widths are in em of the table's type.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from ...forms.paper.typeset import POINT, width

if TYPE_CHECKING:
    import pandas as pd

    from .spelling import Spelling

LATIN_ENDS = "\u2e80"
"""The first letter that is as wide in every face."""
NARROWER = 0.84
"""Width of Latin letters in a browser's serif as a share of the sheets' face: about Georgia's (from
memory); Liberation Serif, in which pages were printed, is narrower, DejaVu Serif has 0.914. A
Japanese page is set in a sans serif whose Latin letters are as wide as those of the sheets."""

PHONE, SMALLER, DESK, PAPER = 25.6, 30.1, 86.0, 65.0
"""Room for a table on a telephone of 390 px, there in smaller type, on a desk of 1,280 px and on
A4 or Letter, in em of the type that the style sheet gives it there (`templates/report.css`)."""
PADDED, CLOSE, AIRED, PRINTED = 0.52, 0.51, 0.91, 1.2
"""What each column gets beside its words in these four places."""
LINES, WIDE = 3, 12.0
"""A cell has so many lines at most, if its column is not as wide as a short line."""
AMPLE = (
    (14.0, 2, 14.0),
    (14.0, LINES, WIDE),
    (10.0, LINES, WIDE),
    (6.0, LINES, WIDE),
    (0.0, LINES, WIDE),
)
"""On a desk and on paper the first of these for which there is room: cells up to this length stay
whole, longer ones have so many lines, or columns as wide as this. A telephone has the last two."""
BESIDE = 0.65
"""What a column of the sheets gets beside its words on paper."""
ACROSS, GUTTER = 28.2, 0.32
"""Room for a row of marks on a telephone of 390 px, and what each has beside it, in em of the type
that marks of several tastings have there."""
NAME = 6.0
"""A name up to here stays on one line at the head of its row, and of its column of marks."""
HALF = 11.2
"""Room for a short cell of a card with its heading: two of them stand beside each other."""
SHORT = 14.0
"""Smaller type is for figures and single words: tables with no cell longer than this."""
COLON = 0.8
"""What stands between a heading and its cell in a card."""
UP = 0.1
"""Widths are rounded up to this, in em."""
HEAD, BOLD = 0.91, 1.08
"""Size of the headings' type as a share of the cells', and width of bold letters of plain ones."""
_MARKS = re.compile("\u2212?[\\d.]+(?: ·[ \u00a0]\u2212?[\\d.]+)+")
_PIECES = re.compile(r"[^ ぁ-ゖ、。，．：；（）「」／]+[ぁ-ゖ]*|[ぁ-ゖ]+")
"""Between blanks; in Japanese a word with what is added to it, as browsers keep it together."""


class Width(NamedTuple):
    """Least widths of a column on three kinds of pages, and whether half a card holds its cells.

    A width of 0 leaves the column to the browser: there is no room for what it wants.
    """

    phone: float
    desk: float
    paper: float
    half: bool


@dataclass(frozen=True, slots=True)
class OnScreen:
    """The columns of a table, and what it becomes where it is too wide for them.

    `phone` is ``stacked`` (cards), ``tight`` (smaller type) or empty.
    """

    each: tuple[Width, ...]
    phone: str

    @property
    def paper(self) -> bool:
        """Whether the columns have what they want on paper."""
        return any(one.paper for one in self.each)


def columns(frame: pd.DataFrame, written: Spelling, *, stacked: bool = False) -> OnScreen:
    """Measure a table by its words; `stacked` makes it cards on a telephone in any case."""
    language = written.report.language
    heads = [_Cells([written.head(one)], language) for one in frame.columns]
    cells = [
        _Cells([written.cell(one) for one in frame.iloc[:, n]], language)
        for n in range(frame.shape[1])
    ]
    *_, some, least = wanted = [_widths(heads, cells, *each) for each in AMPLE]
    short = all(each <= SHORT for column in cells[1:] for each in column.longs)
    becomes = phone(least, short=short)
    on_phone = some if phone(some, short=short) == becomes else least
    half = [
        head.longs[0] + COLON + max(column.longs, default=0.0) <= HALF
        for head, column in zip(heads, cells, strict=True)
    ]
    words = _widths(heads, cells, 0.0, 1, 0.0)
    on_desk, on_paper = _first(wanted, words, DESK, AIRED), _first(wanted, words, PAPER, PRINTED)
    return OnScreen(
        each=tuple(map(Width, *map(_up, (on_phone, on_desk, on_paper)), half)),
        phone="stacked" if stacked else becomes,
    )


def _up(widths: list[float]) -> list[float]:
    """Round to what is written into the page, never below what a word needs."""
    return [math.ceil(one / UP) * UP for one in widths]


def _first(wanted: list[list[float]], words: list[float], room: float, pad: float) -> list[float]:
    """Return the first widths for which there is room, else the last ones made as narrow as fits.

    No column is made narrower than its longest word; where the words have no room, all are 0.
    """
    room -= pad * len(words)
    for widths in wanted:
        if sum(widths) <= room:
            return widths
    room -= UP * len(words)
    spare = sum(wanted[-1]) - sum(words)
    if sum(words) > room or spare <= 0:
        return [0.0] * len(words)
    share = (room - sum(words)) / spare
    return [word + share * (wide - word) for word, wide in zip(words, wanted[-1], strict=True)]


class _Cells:
    """The words of a column, each measured once: whole, and the longest piece not to be parted."""

    def __init__(self, texts: list[str], language: str) -> None:
        self.longs = [ems(one, language) for one in texts]
        self.pieces = [
            max((ems(piece, language) for piece in _PIECES.findall(one)), default=0.0)
            for one in texts
        ]

    def wants(self, whole: float, lines: int, wide: float) -> float:
        """Return the least width: short cells whole, long ones in so many lines or so wide."""
        each = (
            long if long <= whole else max(piece, min(long / lines, wide))
            for long, piece in zip(self.longs, self.pieces, strict=True)
        )
        return max(each, default=0.0)


def _widths(
    heads: list[_Cells], cells: list[_Cells], whole: float, lines: int, wide: float
) -> list[float]:
    """Return what columns want: their cells (row heads are bold), and headings a line more."""
    return [
        max(
            HEAD * BOLD * head.wants(0.0, lines + 1, wide),
            column.wants(whole, lines, wide) * (BOLD if n == 0 else 1.0),
        )
        for n, (head, column) in enumerate(zip(heads, cells, strict=True))
    ]


def is_marks(text: str) -> bool:
    """Tell whether a cell holds marks of several tastings and nothing else.

    >>> is_marks("8.5 · 8"), is_marks("0 · \u22121"), is_marks("8.5"), is_marks("warm · cold")
    (True, True, False, False)
    """
    return bool(_MARKS.fullmatch(text))


def is_name(text: str, written: Spelling) -> bool:
    """Tell whether a text is the name of a bottle or a person, and short enough for one line."""
    report = written.report
    return text in report.names and ems(written.cell(text), report.language) <= NAME


def in_line(frame: pd.DataFrame, written: Spelling, marks: int) -> bool:
    """Tell whether all marks of a row have room on a telephone, none parted over lines."""
    told = (written.cell(one) for one in frame.to_numpy().ravel())
    widest = max((ems(one, written.report.language) for one in told if is_marks(one)), default=0.0)
    return widest + GUTTER <= ACROSS / marks


def holds_marks(frame: pd.DataFrame, written: Spelling, *, names: bool = False) -> bool:
    """Tell whether a table has room on paper with no cell of several marks parted over lines.

    With `names`, whether short names of its columns have room for one line too while all of its
    cells are whole: a heading that is parted costs one line, a cell in many rows as many.
    """
    language = written.report.language
    wanted = 0.0
    for name, column in zip(frame.columns, frame.T.to_numpy(), strict=True):
        told = [written.cell(one) for one in column]
        cells, head = _Cells(told, language), _Cells([written.head(name)], language)
        each = [
            long if names or is_marks(text) else piece
            for text, long, piece in zip(told, cells.longs, cells.pieces, strict=True)
        ]
        named = names and is_name(str(name), written)
        wanted += max(HEAD * BOLD * (head.longs if named else head.pieces)[0], *each) + BESIDE
    return wanted <= PAPER


def phone(least: list[float], *, short: bool = True) -> str:
    """Say what a table becomes on a telephone, its columns being so wide at least.

    Smaller type is for tables whose cells are `short`.

    >>> phone([8.0, 8.0, 8.0]), phone([9.0, 9.5, 9.5]), phone([9.0, 10.0, 10.0])
    ('', 'tight', 'stacked')
    """
    if sum(least) + PADDED * len(least) <= PHONE:
        return ""
    return "tight" if short and sum(least) + CLOSE * len(least) <= SMALLER else "stacked"


def ems(text: str, language: str) -> float:
    """Return how long a text is on a page of that language, as a multiple of its type's size."""
    return long(text, 1.0, language) / POINT


def long(text: str, size: float, language: str) -> float:
    """Return how long a text of a type is in a browser, in mm."""
    if language == "ja":
        return width(text, size)
    latin = "".join(one for one in text if one < LATIN_ENDS)
    rest = "".join(one for one in text if one >= LATIN_ENDS)
    return NARROWER * width(latin, size) + width(rest, size)
