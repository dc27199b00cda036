"""Cards to cut out, one a person: a square code that a telephone opens, and whose it is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from ..questions.words import FALLBACK
from .page_parts import SIZES, Words, modules
from .typeset import fit, spoken

CARD = (92.0, 62.0)
"""Width and height in millimetres."""
_QR = 40.0
_QUIET = 4
"""Modules that are left white around a code (ISO/IEC 18004)."""
_BORDER = 9.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkCard:
    """One card.

    Attributes
    ----------
    who : str
        The assessor's code.
    link : str
        What the square code says.
    how : str
        One line on what to do with it.
    language : str
    """

    who: str
    link: str
    how: str
    language: str = FALLBACK


def write_cards(
    cards: Sequence[LinkCard], path: Path | str, *, date: str, paper: str = "A4", note: str = ""
) -> Path:
    """Write cards to cut out, in rows from left to right.

    Parameters
    ----------
    cards : sequence of LinkCard
    path : path
    date : str
        ISO date that the file is given.
    paper : str
        ``A4`` or ``Letter``.
    note : str
        What stands at the foot of each page.

    Raises
    ------
    ValueError
        If there is no card, or `paper` is unknown.
    LackingLetters
        If the faces lack a character.
    """
    from .sheet_pdf import finish, new_pdf, put

    if not cards:
        message = "there is no card to write"
        raise ValueError(message)
    told = "\n".join([note, *(part for one in cards for part in (one.who, one.link, one.how))])
    pdf = new_pdf(paper, date, cards[0].language, text=told)
    (wide, high), (across, down) = SIZES[paper], CARD
    columns, rows = (int((room - 2 * _BORDER) // side) for room, side in
                     ((wide, across), (high, down)))  # fmt: skip
    left, top = (wide - columns * across) / 2, (high - rows * down) / 2
    for place, card in enumerate(cards):
        on_page = place % (columns * rows)
        if on_page == 0:
            pdf.add_page()
            put(pdf, Words(wide / 2, high - _BORDER / 2, note, 8.0, align="c"))
        x, y = left + on_page % columns * across, top + on_page // columns * down
        pdf.set_draw_color(170)
        pdf.set_line_width(0.15)
        pdf.rect(x, y, across, down)
        squares = modules(card.link)
        side = _QR / (len(squares) + 2 * _QUIET)
        pdf.set_fill_color(0)
        for row, line in enumerate(squares):
            for column, dark in enumerate(line):
                if dark:
                    pdf.rect(
                        x + 2 + (column + _QUIET) * side, y + 3 + (row + _QUIET) * side,
                        side, side, style="F",
                    )  # fmt: skip
        middle, room = x + 2 + _QR + (across - _QR - 4) / 2, across - _QR - 6
        put(pdf, Words(middle, y + 22, card.who, 24.0, bold=True, align="c"))
        lines, letters = fit(spoken(card.how, card.language), room, 9.0, lines=4, smallest=7.0)
        for row, text in enumerate(lines):
            put(pdf, Words(middle, y + 31 + 4.2 * row, text, letters, align="c"))
        lines, letters = fit(card.link, across - 8, 9.0, lines=2, smallest=6.0)
        for row, text in enumerate(lines):
            put(pdf, Words(x + across / 2, y + 50 + 4.2 * row, text, letters, align="c"))
    target = Path(path)
    target.write_bytes(finish(pdf))
    return target
