"""Pages whose code cannot be read: shown to a person, who says which page each of them is.

Nobody is believed blindly: what stands printed at the head and the foot of the page that was
named, above all what no other page of the session has there, must be seen on the picture.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import product, takewhile
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pypdfium2

from ..paper.looks import PRINTINGS
from ..paper.page_parts import FOOTER, HEADER, SIZES, Page, Words, code_place
from ..paper.pages import identity, lay_out
from ..paper.sheet_pdf import pages_pdf
from ..paper.typeset import POINT, width
from ..questions.sheet import Sheet, versions
from .find_sheets import PX, UnnamedSheet, find
from .page_code import Identity, corner_points
from .photo_reader import blank_page, place_of
from .picture_files import Plane, Unreadable, pictures
from .straighten import Flat, flatten

LIKE = 0.8  # how well each piece of a page's head and foot must agree with what is seen
APART = 0.15  # and how much nearer to it than to another page what is seen where the two differ
_PIECE = 8.0  # millimetres of a line of words that are compared at one go
_SURELY = 0.8  # likeness of the whole page from which no other layout of it is tried
_SOFT = 0.7  # pixels by which print and picture are smoothed before they are compared
_REACH = 5  # pixels by which it may lie beside
_LARGE = 1400  # pixels of the long side of a picture that is shown

Window = tuple[int, int, int, int]


@dataclass(frozen=True, slots=True)
class UnnamedPage:
    """A page that waits to be named: the number of its picture in the file, from 1, and itself."""

    number: int
    sheet: UnnamedSheet

    @property
    def place(self) -> str:
        """What the picture is called in its file."""
        return place_of(self.number)

    def picture(self) -> bytes:
        """Return the page upright and flat by its corner marks, as a JPEG."""
        wide, high = SIZES["A4"]
        scale = _LARGE / high
        here = np.concatenate([points for _, points in sorted(self.sheet.corners.items())])
        there = np.concatenate([corner_points("A4", one) for one in sorted(self.sheet.corners)])
        matrix, _ = cv2.findHomography(here.astype(np.float64), there.astype(np.float64) * scale)
        size = (round(wide * scale), round(high * scale))
        flat: Any = cv2.warpPerspective(self.sheet.picture, matrix, size, flags=cv2.INTER_AREA)
        _, data = cv2.imencode(".jpg", flat)
        return bytes(data.tobytes())


def unnamed_pages(path: Path, sheets: Mapping[str, Sheet]) -> Iterator[UnnamedPage]:
    """Find the pages of a file that a person may name: alone in their picture, without a code."""
    codes = tuple(
        identity(sheet, page)
        for assessor in sheets
        for sheet in versions(sheets, assessor)
        for paper, earlier in product(SIZES, PRINTINGS)
        for page in lay_out(sheet, paper, earlier=earlier)
    )
    try:
        for number, (picture, _) in enumerate(pictures(path), start=1):
            for found in find(picture, lambda: codes):
                if isinstance(found, UnnamedSheet):
                    yield UnnamedPage(number, found)
    except Unreadable:
        return


def identify(one: UnnamedPage, assessor: str, number: int, sheets: Mapping[str, Sheet]) -> Identity:
    """Return what the code of a page says that a person names by assessor and number.

    Raises
    ------
    Unreadable
        ``which_no_page`` if there is no such page, ``which_differs`` if what is printed on it
        is not what the picture shows.
    """
    laid = [
        (sheet, pages[number - 1])
        for sheet in versions(sheets, assessor)
        for paper, earlier in product(SIZES, PRINTINGS)
        if 1 <= number <= len(pages := lay_out(sheet, paper, earlier=earlier))
    ]
    said = f"{assessor} {number}"
    if not laid:
        raise Unreadable("which_no_page", said)
    best: tuple[Flat, Sheet, Page] | None = None
    for sheet, page in laid:
        flat = _laid_on(one, sheet, page)
        if flat and (best is None or flat.likeness > best[0].likeness):
            best = flat, sheet, page
        if flat and flat.likeness >= _SURELY:
            break
    if best is None or not _agrees(*best, sheets):
        raise Unreadable("which_differs", said)
    return _identity(*best[1:])


def _identity(sheet: Sheet, page: Page) -> Identity:
    _, session, assessor, number, paper, fingerprint, check = identity(sheet, page).split("|")
    return Identity(session, assessor, int(number), paper, fingerprint, check)


def _laid_on(one: UnnamedPage, sheet: Sheet, page: Page) -> Flat | None:
    """Lay a picture flat as a page; None if its print is not that page's."""
    try:
        printed = blank_page(sheet, page.paper, page.number, earlier=page.earlier)
        return flatten(one.sheet.named(_identity(sheet, page)), page, printed)
    except Unreadable:
        return None


def _agrees(flat: Flat, sheet: Sheet, page: Page, sheets: Mapping[str, Sheet]) -> bool:
    """Tell whether a picture shows the head and foot of this page, and of no other."""
    seen: Any = cv2.GaussianBlur(flat.dark, (0, 0), _SOFT)
    own = _heads(((sheet, page),))[0]
    if min(_like(seen, own, window) for window in _pieces(page)) < LIKE:
        return False
    rivals = _rivals(sheet, page, sheets)
    return all(
        _nearer(seen, own, drawn, _differing(page, other)) >= APART
        for (_, other), drawn in zip(rivals, _heads(rivals), strict=True)
    )


def _rivals(
    sheet: Sheet, page: Page, sheets: Mapping[str, Sheet]
) -> tuple[tuple[Sheet, Page], ...]:
    """Return the pages that differ from one in its number alone, or in its assessor alone."""
    own = lay_out(sheet, page.paper, earlier=page.earlier)
    found = [(sheet, other) for other in own if other.number != page.number]
    for assessor in sheets:
        if assessor != sheet.assessor:
            for other in versions(sheets, assessor):
                pages = lay_out(other, page.paper, earlier=page.earlier)
                found += [(other, one) for one in pages if one.number == page.number]
    return tuple(found)


def _is_head(words: Words, page: Page) -> bool:
    return words.align == "l" and not HEADER < words.y < page.size[1] - FOOTER + 4


def _heads(pages: tuple[tuple[Sheet, Page], ...]) -> list[Plane]:
    """Draw the words at the head and foot of pages, 1 for black, and no code."""
    if not pages:
        return []
    bare = [
        (sheet, replace(page, words=tuple(one for one in page.words if _is_head(one, page)),
                        strokes=(), boxes=(), scales=(), fields=()))
        for sheet, page in pages
    ]  # fmt: skip
    made = []
    with pypdfium2.PdfDocument(pages_pdf(bare)) as document:
        for drawn in document:
            bitmap = drawn.render(scale=PX * 25.4 / 72, grayscale=True)
            dark: Plane = 1 - bitmap.to_numpy().astype(np.float32) / np.float32(255)
            dark[:, round((code_place(pages[0][1].paper)[0] - 2) * PX) :] = 0
            made.append(np.asarray(cv2.GaussianBlur(dark, (0, 0), _SOFT), dtype=np.float32))
    return made


def _pieces(page: Page) -> Iterator[Window]:
    """Yield the windows of the words at a page's head and foot, each a few letters long."""
    for words in page.words:
        if _is_head(words, page):
            long, letter = width(words.text, words.size, bold=words.bold), words.size * POINT
            count = max(1, round(long / max(_PIECE, 2.5 * letter)))
            for part in range(count):
                left, right = (words.x + long * (part + more) / count for more in (0, 1))
                yield _pixels(left, words.y - letter, right, words.y + 0.2 * letter)


def _pixels(left: float, top: float, right: float, bottom: float) -> Window:
    x1, y1, x2, y2 = (round(length * PX) for length in (left, top, right, bottom))
    return x1, y1, x2, y2


def _differing(page: Page, other: Page) -> Iterator[Window]:
    """Yield the windows of the letters at a page's head and foot that another page has not."""
    there = {(one.x, one.y, one.size): one.text for one in other.words if _is_head(one, other)}
    for words in page.words:
        text = there.get((words.x, words.y, words.size), "")
        if not _is_head(words, page) or text == words.text:
            continue
        first = _alike(words.text, text)
        same = _alike(words.text[first:][::-1], text[first:][::-1])
        letter = words.size * POINT
        left, right = (
            words.x + width(words.text[:at], words.size, bold=words.bold)
            for at in (first, len(words.text) - same)
        )
        if right > left:
            yield _pixels(left, words.y - letter, right, words.y + 0.2 * letter)


def _alike(one: str, other: str) -> int:
    """Return how many letters two texts have in common at their beginning."""
    pairs = zip(one, other, strict=False)
    return sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1], pairs))


def _like(seen: Plane, drawn: Plane, window: Window) -> float:
    """Return how well a piece of print lies on what is seen, at its best place near its own."""
    return _best(seen, drawn, window)[0]


def _best(seen: Plane, drawn: Plane, window: Window) -> tuple[float, Plane, Plane]:
    """Lay a piece of print on what is seen: how well it fits, what is seen there, the print."""
    x1, y1, x2, y2 = window
    x1, y1 = max(x1, _REACH), max(y1, _REACH)
    part = drawn[y1:y2, x1:x2]
    around = seen[y1 - _REACH : y2 + _REACH, x1 - _REACH : x2 + _REACH]
    match: Any = cv2.matchTemplate(around, part, cv2.TM_CCOEFF_NORMED)
    _, best, _, (x, y) = cv2.minMaxLoc(match)
    return float(best), around[y : y + part.shape[0], x : x + part.shape[1]], part


def _nearer(seen: Plane, own: Plane, drawn: Plane, windows: Iterable[Window]) -> float:
    """Tell which of two prints is seen where they differ: 1 if it is all `own`, -1 if `drawn`."""
    gained = apart = 0.0
    for window in windows:
        (dark, miss, mine), (_, other_miss, other) = (
            _missed(*_best(seen, one, window)[1:]) for one in (own, drawn)
        )
        gained += other_miss - miss
        apart += dark**2 * float(((mine - other) ** 2).sum())
    return gained / max(apart, 1e-6)


def _missed(here: Plane, part: Plane) -> tuple[float, float, Plane]:
    """Return how dark print is in what is seen, what is left when it is taken off, and itself."""
    dark = float((here * part).sum()) / max(float((part * part).sum()), 1e-6)
    return dark, float(((here - dark * part) ** 2).sum()), part
