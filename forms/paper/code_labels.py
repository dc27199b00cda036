"""Labels to cut out for cups and bottles, and printed tables such as the pour list.

This room does not know what the text means: `panel` passes what the reader of
each paper may see, codes for the assessors' side, names for the server's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..questions.words import FALLBACK, say
from .page_parts import SIZES, Words
from .typeset import fit, spoken, width, wrap

CUP = (48.0, 28.0)
BOTTLE = (92.0, 52.0)
_BORDER = 9.0
_TOGETHER = 3  # rows that are not parted from the head of their table
_PAD = 2.5
_STEP = 0.45  # millimetres between base lines, per point of size


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """One label: large text in the middle, small lines above and below.

    Attributes
    ----------
    big : str
        The code of a cup, or what the server reads from across the table.
    above, below : str
        Small text, for instance ``A07, cup 3``; may be empty.
    """

    big: str
    above: str = ""
    below: str = ""


def write_labels(
    labels: Sequence[Label],
    path: Path | str,
    *,
    date: str,
    paper: str = "A4",
    size: tuple[float, float] = CUP,
    language: str = FALLBACK,
    note: str = "",
) -> Path:
    """Write labels to cut out, in rows from left to right.

    Parameters
    ----------
    labels : sequence of Label
    path : path
    date : str
        ISO date that the file is given.
    paper : str
        ``A4`` or ``Letter``.
    size : tuple of float
        Width and height of one label in millimetres: `CUP` or `BOTTLE`.
    language : str
    note : str
        What stands at the foot of each page: which session the labels are of.

    Raises
    ------
    ValueError
        If there is no label, `paper` is unknown, or a label is larger than the page.
    LackingLetters
        If the faces lack a character of a label or of the note.
    """
    from .sheet_pdf import finish, new_pdf, put

    if not labels:
        message = "there is no label to write"
        raise ValueError(message)
    if paper not in SIZES:
        message = f"paper must be one of {', '.join(SIZES)}, not {paper!r}"
        raise ValueError(message)
    wide, high = SIZES[paper]
    across, down = (
        int((room - 2 * _BORDER) // side) for room, side in zip((wide, high), size, strict=True)
    )
    if across < 1 or down < 1:
        message = f"a label of {size[0]:g} × {size[1]:g} mm does not fit on {paper}"
        raise ValueError(message)
    told = (part for label in labels for part in (label.big, label.above, label.below))
    text = "\n".join((note, *told))
    pdf = new_pdf(paper, date, language, text=text)
    left = (wide - across * size[0]) / 2
    top = (high - down * size[1]) / 2
    for place, label in enumerate(labels):
        on_page = place % (across * down)
        if on_page == 0:
            pdf.add_page()
            put(pdf, Words(wide / 2, high - _BORDER / 2, spoken(note, language), 8.0, align="c"))
        x = left + on_page % across * size[0]
        y = top + on_page // across * size[1]
        _label(pdf, label, (x, y), size, language)
    target = Path(path)
    target.write_bytes(finish(pdf))
    return target


def _label(
    pdf: Any, label: Label, at: tuple[float, float], size: tuple[float, float], language: str
) -> None:
    from .sheet_pdf import put

    (x, y), (wide, high) = at, size
    pdf.set_draw_color(170)
    pdf.set_line_width(0.15)
    pdf.rect(x, y, wide, high)
    room = wide - 2 * _PAD
    middle = x + wide / 2
    big = spoken(label.big, language)
    lines, letters = _largest(big, room, high - 17)
    step = letters * _STEP
    first = y + high / 2 + letters * 0.135 - step * (len(lines) - 1) / 2
    for row, line in enumerate(lines):
        put(pdf, Words(middle, first + row * step, line, letters, bold=True, align="c"))
    for text, near, way in ((label.above, y + 4.6, 1), (label.below, y + high - 2.6, -1)):
        broken, small = fit(spoken(text, language), room, 9.0, lines=1, smallest=6.5)
        for row, line in enumerate(broken if way > 0 else reversed(broken)):
            put(pdf, Words(middle, near + way * 3.0 * row, line, small, align="c"))


def _largest(text: str, room: float, high: float) -> tuple[list[str], float]:
    """Break `text` in the largest letters that fit, cutting no word while they are readable."""
    letters = (high + 15) * 1.05
    lines, alone = fit(text, room, letters, lines=1, smallest=18.0, bold=True)
    if len(lines) == 1:
        return lines, alone
    while True:
        lines = wrap(text, room, letters, bold=True)
        whole = letters <= 9 or all(width(w, letters, bold=True) <= room for w in text.split())
        if (whole and len(lines) * letters * _STEP <= high) or letters <= 6.5:
            return lines, letters
        letters -= 0.5


def write_table(
    title: str,
    columns: Sequence[str],
    rows: Sequence[Sequence[str]],
    path: Path | str,
    *,
    date: str,
    paper: str = "A4",
    notes: Sequence[str] = (),
    language: str = FALLBACK,
    breaks: Sequence[int] = (),
) -> Path:
    """Write a table to print and to tick off by hand, such as the pour list.

    Columns are as wide as their text needs; the page is turned when it is wide.
    The head of the table is repeated on every page; nothing is cut off.

    Parameters
    ----------
    title : str
    columns : sequence of str
    rows : sequence of sequence of str
        One text per column.
    path : path
    date : str
        ISO date that the file is given.
    paper : str
        ``A4`` or ``Letter``.
    notes : sequence of str
        Paragraphs between title and table.
    language : str
    breaks : sequence of int
        Rows before which a heavier line is drawn, for instance where a flight begins.

    Raises
    ------
    ValueError
        If a row has another number of texts than there are columns, or `paper` is unknown.
    LackingLetters
        If the faces lack a character.
    """
    from .sheet_pdf import finish, new_pdf

    for place, row in enumerate(rows):
        if len(row) != len(columns):
            message = f"row {place} has {len(row)} texts for {len(columns)} columns"
            raise ValueError(message)
    if paper not in SIZES:
        message = f"paper must be one of {', '.join(SIZES)}, not {paper!r}"
        raise ValueError(message)
    table = [[spoken(str(text), language) for text in row] for row in (columns, *rows)]
    wanted = [
        max(width(row[column], 9.5, bold=place == 0) + 4.5 for place, row in enumerate(table))
        for column in range(len(columns))
    ]
    portrait = SIZES[paper][0] - 30
    landscape = sum(wanted) > portrait * 1.15
    text = "\n".join([title, *notes, *(cell for row in table for cell in row)])
    pdf = new_pdf(paper, date, language, text=text, landscape=landscape)
    room = (SIZES[paper][1] if landscape else SIZES[paper][0]) - 30
    shares = _share(wanted, room)
    _Table(pdf, table, shares, language, set(breaks)).write(title, notes)
    target = Path(path)
    target.write_bytes(finish(pdf))
    return target


def _share(wanted: Sequence[float], room: float) -> list[float]:
    """Give each column what it wants, and less only to the widest."""
    if sum(wanted) <= room:
        spare = (room - sum(wanted)) / len(wanted)
        return [want + min(spare, 12.0) for want in wanted]
    limit = max(wanted)
    while sum(min(want, limit) for want in wanted) > room and limit > 6:
        limit -= 0.5
    return [min(want, limit) for want in wanted]


class _Table:
    """A table that flows over pages."""

    def __init__(
        self,
        pdf: Any,
        table: Sequence[Sequence[str]],
        widths: Sequence[float],
        language: str,
        breaks: set[int],
    ) -> None:
        self.pdf = pdf
        self.head, self.rows = table[0], table[1:]
        self.widths = widths
        self.language = language
        self.breaks = breaks
        self.y = 0.0

    def write(self, title: str, notes: Sequence[str]) -> None:
        """Write title, notes and rows, then number the pages."""
        self.pdf.add_page()
        self.y = 21.0
        for line in wrap(spoken(title, self.language), self.pdf.w - 30, 16.0, bold=True):
            self._put(15, line, 16.0, bold=True)
            self.y += 7.5
        self.y += 0.5
        for note in notes:
            for line in wrap(spoken(note, self.language), self.pdf.w - 30, 9.5):
                self._put(15, line, 9.5)
                self.y += 4.6
            self.y += 1.6
        self.y -= 1.0
        first = [self._height(self._cells(row, bold=False)) for row in self.rows[:_TOGETHER]]
        if self.y + self._height(self._cells(self.head, bold=True)) + sum(first) > self.pdf.h - 20:
            self.pdf.add_page()
            self.y = 17.0
        self._row(self.head, bold=True)
        for place, row in enumerate(self.rows):
            cells = self._cells(row, bold=False)
            if self.y + self._height(cells) > self.pdf.h - 20 or self._parted(place):
                self.pdf.add_page()
                self.y = 17.0
                self._row(self.head, bold=True)
            elif place in self.breaks:
                self._rule(0.5)
            self._row(row, bold=False)
        total = self.pdf.page
        for page in range(1, total + 1):
            self.pdf.page = page
            self.pdf.set_font_size(9.5)  # a size that is set already is not written once more
            text = say("paper.page", self.language, page=page, total=total)
            self.y = self.pdf.h - 9
            self._put(self.pdf.w - 15, text, 8.0, align="r")
        self.pdf.page = total

    def _parted(self, place: int) -> bool:
        """Tell whether a part of the table begins here that a page of its own would hold whole."""
        if place not in self.breaks:
            return False
        end = min([one for one in self.breaks if one > place], default=len(self.rows))
        rows = self.rows[place:end]
        high = sum(self._height(self._cells(row, bold=False)) for row in rows)
        head = self._height(self._cells(self.head, bold=True))
        foot = float(self.pdf.h) - 20
        return self.y + high > foot and 17.0 + head + high <= foot

    def _cells(self, row: Sequence[str], *, bold: bool) -> list[list[str]]:
        return [
            wrap(text, wide - 3.5, 9.5, bold=bold)
            for text, wide in zip(row, self.widths, strict=True)
        ]

    @staticmethod
    def _height(cells: Sequence[Sequence[str]]) -> float:
        return 4.4 * max(len(lines) for lines in cells) + 3.0

    def _row(self, row: Sequence[str], *, bold: bool) -> None:
        cells = self._cells(row, bold=bold)
        top = self.y
        x = 15.0
        for lines, wide in zip(cells, self.widths, strict=True):
            for place, line in enumerate(lines):
                self.y = top + 4.6 + 4.4 * place
                self._put(x + 1, line, 9.5, bold=bold)
            x += wide
        self.y = top + self._height(cells)
        self._rule(0.4 if bold else 0.12)

    def _rule(self, thick: float) -> None:
        self.pdf.set_draw_color(0 if thick > 0.2 else 130)
        self.pdf.set_line_width(thick)
        self.pdf.line(15, self.y, 15 + sum(self.widths), self.y)

    def _put(
        self, x: float, text: str, size: float, *, bold: bool = False, align: str = "l"
    ) -> None:
        from .sheet_pdf import put

        put(self.pdf, Words(x, self.y, text, size, bold, align))
