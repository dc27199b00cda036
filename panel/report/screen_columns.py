"""How wide the columns of a table must be to be read on a screen: what stands in them decides.

A table that is too wide for a telephone becomes cards there, one a row; one that nearly fits is
set smaller. On a desk, and on paper where there is room, no column is so narrow that it parts a
name. Widths are in em of the table's type.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
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
PADDED, CLOSE, AIRED, PRINTED = 0.52, 0.33, 0.91, 1.2
"""What each column gets beside its words in these four places."""
LINES, WIDE = 3, 12.0
"""A cell has so many lines at most on a telephone, if its column is not as wide as a short line."""
WHOLE = (10.0, 6.0, 0.0)
"""Cells up to this length are not broken on a desk: the first of these for which there is room."""
HALF = 12.2
"""Room for a short cell of a card with its heading: two of them stand beside each other."""
HEAD, BOLD = 0.91, 1.08
"""Size of the headings' type as a share of the cells', and width of bold letters of plain ones."""
_PIECES = re.compile(r"[ァ-ヺー・]+|[一-鿿々〆ヶ]+|[^ ぁ-ゖ、。，．：；（）「」／ァ-ヿ一-鿿々]+")


class Width(NamedTuple):
    """One column: least widths on a telephone and on a desk, and whether half a card holds it."""

    least: float
    whole: float
    half: bool


@dataclass(frozen=True, slots=True)
class OnScreen:
    """The columns of a table, and what it becomes where it is too wide for them.

    `phone` is ``stacked`` (cards), ``tight`` (smaller type) or empty; `paper` says whether the
    widths for a desk fit paper as well.
    """

    each: tuple[Width, ...]
    phone: str
    paper: bool


def columns(frame: pd.DataFrame, written: Spelling, *, stacked: bool = False) -> OnScreen:
    """Measure a table by its words; `stacked` makes it cards on a telephone in any case."""
    heads = [written.head(one) for one in frame.columns]
    cells = [[written.cell(one) for one in frame.iloc[:, n]] for n in range(len(heads))]
    language = written.report.language
    longs = [[ems(one, language) for one in column] for column in cells]
    least = [
        max(_head(head, language), *_read(column, long, language), 0.0) * (BOLD if n == 0 else 1)
        for n, (head, column, long) in enumerate(zip(heads, cells, longs, strict=True))
    ]
    for up_to in WHOLE:
        whole = [
            max(one, *(BOLD * each for each in long if each <= up_to), 0.0)
            for one, long in zip(least, longs, strict=True)
        ]
        if sum(whole) + AIRED * len(whole) <= DESK:
            break
    half = [
        ems(f"{head}: ", language) + max(long, default=0.0) <= HALF
        for head, long in zip(heads, longs, strict=True)
    ]
    return OnScreen(
        each=tuple(map(Width, least, whole, half)),
        phone="stacked"
        if stacked
        else phone(least, short=all(each <= WHOLE[0] for one in longs[1:] for each in one)),
        paper=sum(whole) + PRINTED * len(whole) <= PAPER,
    )


def phone(least: list[float], *, short: bool = True) -> str:
    """Say what a table becomes on a telephone, its columns being so wide at least.

    Smaller type is for figures and single words: tables whose cells are `short`.

    >>> phone([8.0, 8.0, 8.0]), phone([9.0, 10.0, 10.0]), phone([9.0, 10.0, 10.5])
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


def _read(column: list[str], longs: list[float], language: str) -> Iterable[float]:
    for text, all_of_it in zip(column, longs, strict=True):
        yield max(_piece(text, language), min(all_of_it / LINES, WIDE))


def _head(text: str, language: str) -> float:
    whole = ems(text, language)
    return HEAD * BOLD * max(_piece(text, language), min(whole / (LINES + 1), WIDE))


def _piece(text: str, language: str) -> float:
    """Return the length of the longest piece that is not to be parted."""
    return max((ems(one, language) for one in _PIECES.findall(text)), default=0.0)
