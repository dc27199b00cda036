"""A sheet laid out on pages: one description for writer and reader.

The PDF draws what is described here, and the photo reader looks for marks at
the same places.
"""

from __future__ import annotations

from functools import lru_cache

from ..questions.sheet import Presentation, Sheet
from .cover_page import cover
from .page_header import header
from .page_parts import MARK, SIZES, Canvas, Page
from .question_blocks import presentation_pages


def identity(sheet: Sheet, page: Page) -> str:
    """Return what the page's QR code says; it never names a bottle."""
    parts = (sheet.session, sheet.assessor, str(page.number), page.paper, sheet.fingerprint)
    return "|".join((MARK, *parts, page.check))


@lru_cache(maxsize=64)
def lay_out(sheet: Sheet, paper: str = "A4") -> tuple[Page, ...]:
    """Lay a sheet out: a cover, then one side a presentation.

    A presentation whose questions do not fit takes further sides.

    Raises
    ------
    ValueError
        If `paper` is not one of `SIZES`.
    """
    if paper not in SIZES:
        message = f"paper must be one of {', '.join(SIZES)}, not {paper!r}"
        raise ValueError(message)
    made: list[tuple[Presentation | None, int, Canvas]] = [(None, 1, cover(sheet, paper))]
    for cup in sheet.presentations:
        sides = presentation_pages(sheet, cup, paper)
        made += [(cup, part, side) for part, side in enumerate(sides, start=1)]
    pages = []
    for number, (presentation, part, canvas) in enumerate(made, start=1):
        parts = sum(1 for other, _, _ in made if other is presentation)
        header(canvas, sheet, presentation, paper, page=(number, len(made)), part=(part, parts))
        pages.append(
            Page(
                number=number,
                total=len(made),
                paper=paper,
                presentation=presentation,
                part=part,
                words=tuple(canvas.words),
                strokes=tuple(canvas.strokes),
                boxes=tuple(canvas.boxes),
                scales=tuple(canvas.scales),
                fields=tuple(canvas.fields),
            )
        )
    return tuple(pages)
