"""Score sheets on paper: draws the pages that `layout` describes as a PDF.

The file is the same for the same sheets, byte for byte: its date is the
session's, and it carries no title, author or random number.
"""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from datetime import UTC, datetime
from itertools import groupby, pairwise
from pathlib import Path
from typing import Any

from ..questions.sheet import Sheet
from ..questions.words import say
from .page_parts import CORNER, SIZES, Box, Page, Scale, Stroke, Words, dark_blocks, modules
from .pages import identity, lay_out
from .typeset import refuse_lacking, small_face, width

FACE = "sheet"
# Corner marks: the first four patterns of OpenCV's dictionary of 4 × 4 markers,
# row by row, 1 for white; around them a black border of one cell.
CORNER_PATTERNS = (
    ("1011", "0101", "0011", "0010"),
    ("0000", "1111", "1001", "1010"),
    ("0011", "0011", "0010", "1101"),
    ("1001", "1001", "0100", "0110"),
)
OUTLINE, LINE, FRAME = 0.3, 0.35, 0.25  # of boxes, scales and fields to write in


def write_sheets(
    sheets: Sequence[Sheet], path: Path | str, paper: str = "A4", *, both_sides: bool = False
) -> Path:
    """Write score sheets into one PDF, each assessor's after the other.

    Parameters
    ----------
    sheets : sequence of Sheet
        Several for one file to print at one go; one for a file of its own.
    path : path
    paper : str
        ``A4`` or ``Letter``.
    both_sides : bool
        Begin each assessor's sheet on a leaf of its own when both sides are printed: an empty
        side, which says so, follows a sheet of an odd number of sides.

    Returns
    -------
    Path
        Where it was written.

    Raises
    ------
    ValueError
        If `paper` is unknown or there is no sheet.
    LackingLetters
        If the faces lack a character of a sheet.
    """
    target = Path(path)
    target.write_bytes(sheets_pdf(sheets, paper, both_sides=both_sides))
    return target


def sheets_pdf(
    sheets: Sequence[Sheet], paper: str = "A4", *, earlier: int = 0, both_sides: bool = False
) -> bytes:
    """Return what `write_sheets` writes, or as it was written before (see `lay_out`)."""
    pages = [(sheet, page) for sheet in sheets for page in lay_out(sheet, paper, earlier=earlier)]
    return pages_pdf(pages, both_sides=both_sides)


def pages_pdf(pages: Sequence[tuple[Sheet, Page]], *, both_sides: bool = False) -> bytes:
    """Draw pages of one paper, one or more, each with the sheet it belongs to."""
    if not pages:
        message = "there is no sheet to write"
        raise ValueError(message)
    (first, some), text = pages[0], [words.text for _, page in pages for words in page.words]
    empty = {sheet.language: say("paper.empty_side", sheet.language) for sheet, _ in pages}
    text += empty.values() if both_sides else ()
    pdf = new_pdf(some.paper, first.date, first.language, text="\n".join(text))
    last = first.language
    for sheet, page in pages:
        if both_sides and page.number == 1 and pdf.page % 2:
            _leave_empty(pdf, empty[last])
        _draw(pdf, page, identity(sheet, page))
        last = sheet.language
    return finish(pdf)


def _leave_empty(pdf: Any, text: str) -> None:
    """Add a side that says it is empty: printers may pass over one that is."""
    pdf.add_page()
    put(pdf, Words(pdf.w / 2, pdf.h / 2, text, 9, align="c", grey=0.5))


def new_pdf(paper: str, date: str, language: str, *, text: str, landscape: bool = False) -> Any:
    """Return an empty document that tells nothing about itself.

    `text` holds every character that will be written; its order does not matter.

    Raises
    ------
    LackingLetters
        If the faces have no form for one of them.
    """
    from fpdf import FPDF

    refuse_lacking(text.splitlines())

    if paper not in SIZES:
        message = f"paper must be one of {', '.join(SIZES)}, not {paper!r}"
        raise ValueError(message)
    orientation: Any = "landscape" if landscape else "portrait"
    pdf = FPDF(orientation=orientation, unit="mm", format=SIZES[paper])
    pdf.set_auto_page_break(False)
    pdf.set_margin(0)
    pdf.set_creation_date(datetime.fromisoformat(date[:10]).replace(tzinfo=UTC))
    pdf.set_producer("kikichoko")
    pdf.set_lang(language)
    for style, bold in (("", False), ("B", True)):
        pdf.add_font(FACE, style, small_face(text, bold=bold))
    return pdf


def finish(pdf: Any) -> bytes:
    """Return the document's bytes."""
    import logging

    # fontTools reports each table it leaves out when fpdf2 embeds a face.
    logging.getLogger("fontTools").setLevel(logging.ERROR)
    for font in pdf.fonts.values():
        font.ttfont.recalcBBoxes = False  # letters are embedded as the face has them
    out = io.BytesIO()
    pdf.output(out)
    for font in pdf.fonts.values():
        font.ttfont.close()
    return out.getvalue()


def _draw(pdf: Any, page: Page, code: str) -> None:
    pdf.add_page()
    for grey, strokes in groupby(page.strokes, key=lambda stroke: stroke.grey):
        pdf.set_draw_color(round(255 * grey))
        for stroke in strokes:
            _stroke(pdf, stroke)
    for words in page.words:
        put(pdf, words)
    pdf.set_draw_color(0)
    pdf.set_line_width(OUTLINE)
    for box in page.boxes:
        _box(pdf, box)
    pdf.set_line_width(LINE)
    for scale in page.scales:
        _scale(pdf, scale)
    pdf.set_line_width(FRAME)
    for frame in page.fields:
        pdf.rect(frame.x, frame.y, frame.width, frame.height)
    for (x, y), pattern in zip(page.corners, CORNER_PATTERNS, strict=True):
        _corner(pdf, x, y, pattern)
    _code(pdf, page, code)


def put(pdf: Any, words: Words) -> None:
    """Write one piece of text."""
    style = "B" if words.bold else ""
    if (pdf.font_style, pdf.font_size_pt) != (style, words.size) or pdf.font_family != FACE:
        pdf.set_font(FACE, style, words.size)
    pdf.set_text_color(round(255 * words.grey))
    x = words.x
    if words.align != "l":
        long = width(words.text, words.size, bold=words.bold)
        x -= long if words.align == "r" else long / 2
    pdf.text(x, words.y, words.text)


def _stroke(pdf: Any, stroke: Stroke) -> None:
    pdf.set_line_width(stroke.width)
    for (x1, y1), (x2, y2) in pairwise(stroke.points):
        pdf.line(x1, y1, x2, y2)


def _box(pdf: Any, box: Box) -> None:
    corner = box.x - box.size / 2, box.y - box.size / 2
    if box.round:
        pdf.ellipse(*corner, box.size, box.size)
    else:
        pdf.rect(*corner, box.size, box.size)


def _scale(pdf: Any, scale: Scale) -> None:
    pdf.line(scale.x, scale.y, scale.x + scale.length, scale.y)
    for end in (scale.x, scale.x + scale.length):
        pdf.line(end, scale.y - 1.5, end, scale.y + 1.5)


def _corner(pdf: Any, x: float, y: float, pattern: Sequence[str]) -> None:
    """Draw a corner mark: black, with the white cells of its pattern."""
    cell = CORNER / 6
    pdf.set_fill_color(0)
    pdf.rect(x, y, CORNER, CORNER, style="F")
    pdf.set_fill_color(255)
    for row, bits in enumerate(pattern, start=1):
        for run in re.finditer("1+", bits):
            column, wide = 1 + run.start(), len(run[0])
            pdf.rect(x + column * cell, y + row * cell, wide * cell, cell, style="F")


def _code(pdf: Any, page: Page, text: str) -> None:
    """Draw the page's QR code, block by block of dark modules."""
    x, y, size = page.code_place
    module = size / len(modules(text))
    pdf.set_fill_color(0)
    for across, down, wide, high in dark_blocks(text):
        place = x + across * module, y + down * module
        pdf.rect(*place, wide * module, high * module, style="F")
