"""A sheet laid out on pages: one description for writer and reader.

The PDF draws what is described here, and the photo reader looks for marks at
the same places.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import takewhile

from ..questions.set_questions import is_test
from ..questions.sheet import Presentation, Sheet
from .cover_page import cover
from .looks import SheetLook, look_of
from .page_header import header
from .page_parts import MARK, SIZES, Canvas, Page
from .question_blocks import presentation_pages, shared_page


def identity(sheet: Sheet, page: Page) -> str:
    """Return what the page's QR code says; it never names a bottle."""
    parts = (sheet.session, sheet.assessor, str(page.number), page.paper, sheet.fingerprint)
    return "|".join((MARK, *parts, page.check))


@lru_cache(maxsize=64)
def lay_out(sheet: Sheet, paper: str = "A4", *, earlier: int = 0) -> tuple[Page, ...]:
    """Lay a sheet out: a cover, then the presentations, short ones of a flight on one side.

    A presentation whose questions do not fit takes further sides. `earlier` lays out as was
    done before: one of `looks.PRINTINGS`, 1 for a side a presentation at least, in smaller letters.

    Raises
    ------
    ValueError
        If `paper` is not one of `SIZES`.
    """
    if paper not in SIZES:
        message = f"paper must be one of {', '.join(SIZES)}, not {paper!r}"
        raise ValueError(message)
    look = look_of(earlier, standing=is_test(sheet.scorecard))
    sides: list[tuple[tuple[Presentation, ...], tuple[int, int], Canvas]] = [
        ((), (1, 1), cover(sheet, paper))
    ]
    left = sheet.presentations
    while left:
        together, canvas = _together(sheet, left, paper, look)
        if together > 1:
            sides.append((left[:together], (1, 1), canvas))
        else:
            together = 1
            own = presentation_pages(sheet, left[0], paper, look)
            sides += [(left[:1], (part, len(own)), one) for part, one in enumerate(own, start=1)]
        left = left[together:]
    pages = []
    for number, (presentations, part, canvas) in enumerate(sides, start=1):
        header(canvas, sheet, presentations, paper, page=(number, len(sides)), part=part)
        pages.append(
            Page(
                number=number,
                total=len(sides),
                paper=paper,
                presentations=presentations,
                part=part[0],
                earlier=earlier,
                words=tuple(canvas.words),
                strokes=tuple(canvas.strokes),
                boxes=tuple(canvas.boxes),
                scales=tuple(canvas.scales),
                fields=tuple(canvas.fields),
            )
        )
    return tuple(pages)


def _together(
    sheet: Sheet, left: Sequence[Presentation], paper: str, look: SheetLook
) -> tuple[int, Canvas]:
    """Lay the next presentations of one flight out on one side, a warm-up with the first."""
    flight = left[0].flight or (left[1].flight if len(left) > 1 else 0)
    mine = list(takewhile(lambda one: one.flight in (0, flight), left))
    if not look.several or len(mine) < 2:
        return 1, Canvas()
    return shared_page(sheet, mine, paper, look)
