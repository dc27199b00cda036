"""The parts of a printed page, and where they stand.

All lengths are millimetres from the page's upper left corner, y downwards;
letters are in points.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import lru_cache

from ..questions.sheet import Presentation

SIZES = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
LINE_LENGTH = 80.0
CORNER = 7.0  # side of a corner mark
EDGE = 8.0  # from the paper's edge to a corner mark
MARGIN = 12.0
QR_SIZE = 21.0
HEADER = 34.5  # from the paper's upper edge to the first question
FOOTER = 16.5  # from the last question to the paper's lower edge
MARK = "kk1"  # first part of what a page's QR code says


def corner_places(paper: str) -> tuple[tuple[float, float], ...]:
    """Return the upper left points of the corner marks: upper left, upper right, lower ones."""
    width, height = SIZES[paper]
    far_x, far_y = width - EDGE - CORNER, height - EDGE - CORNER
    return ((EDGE, EDGE), (far_x, EDGE), (far_x, far_y), (EDGE, far_y))


def code_place(paper: str) -> tuple[float, float, float]:
    """Return the upper left point and the side of the QR code, its white border left out."""
    return SIZES[paper][0] - EDGE - CORNER - 4 - QR_SIZE, EDGE, QR_SIZE


@lru_cache(maxsize=1024)
def modules(text: str) -> tuple[bytearray, ...]:
    """Return the dark modules of a QR code; a page is drawn alone and among all others."""
    import segno

    rows: tuple[bytearray, ...] = segno.make_qr(text, error="m", boost_error=False).matrix
    return rows


@lru_cache(maxsize=1024)
def dark_blocks(text: str) -> tuple[tuple[int, int, int, int], ...]:
    """Return the dark blocks of a QR code, each as modules across and down, wide and high.

    Runs of a row that stand below each other alike are one block: fewer to draw, and no seam.
    """
    rows = modules(text)
    blocks: list[tuple[int, int, int, int]] = []
    begun: dict[tuple[int, int], int] = {}
    for down, row in enumerate((*rows, bytearray())):
        runs = {run.span() for run in re.finditer(rb"\x01+", row)}
        for span in [span for span in begun if span not in runs]:
            top = begun.pop(span)
            blocks.append((span[0], top, span[1] - span[0], down - top))
        for span in sorted(runs):
            begun.setdefault(span, down)
    return tuple(blocks)


@dataclass(frozen=True, slots=True)
class Words:
    """Printed text; `y` is the base line, `align` is ``l``, ``c`` or ``r`` of `x`."""

    x: float
    y: float
    text: str
    size: float
    bold: bool = False
    align: str = "l"
    grey: float = 0.0


@dataclass(frozen=True, slots=True)
class Stroke:
    """A printed line through two or more points."""

    points: tuple[tuple[float, float], ...]
    width: float = 0.25
    grey: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A place to tick: round for one of many, square where several may be ticked.

    Attributes
    ----------
    code : str
        What the answer is about: the presentation's name.
    attribute : str
        As in the tidy table; ``<key>:<cup>`` for a ranked cup.
    value : float or str
        What a mark here answers.
    x, y, size : float
        Centre and side (or diameter).
    role : str
        ``one`` of several boxes, or ``tick`` by itself.
    """

    code: str
    attribute: str
    value: float | str
    x: float
    y: float
    size: float
    role: str = "one"

    @property
    def round(self) -> bool:
        """Whether it is drawn as a circle."""
        return self.role == "one"


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """A line to be marked by a stroke; from (x, y) to (x + length, y)."""

    code: str
    attribute: str
    x: float
    y: float
    length: float
    low: float
    high: float

    def value(self, x: float) -> float:
        """Return the answer that a mark at `x` gives."""
        return self.low + (self.high - self.low) * (x - self.x) / self.length


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """A frame for free words; its upper left corner, width and height."""

    code: str
    attribute: str
    x: float
    y: float
    width: float
    height: float


@dataclass(slots=True)
class Canvas:
    """A page while it is being laid out."""

    words: list[Words] = field(default_factory=list)
    strokes: list[Stroke] = field(default_factory=list)
    boxes: list[Box] = field(default_factory=list)
    scales: list[Scale] = field(default_factory=list)
    fields: list[Field] = field(default_factory=list)

    def say(
        self,
        x: float,
        y: float,
        text: str,
        size: float,
        *,
        bold: bool = False,
        align: str = "l",
        grey: float = 0.0,
    ) -> None:
        """Put text on the page."""
        if text:
            self.words.append(Words(x, y, text, size, bold, align, grey))

    def rule(
        self, x1: float, y1: float, x2: float, y2: float, *, width: float = 0.25, grey: float = 0
    ) -> None:
        """Put a straight line on the page."""
        self.strokes.append(Stroke(((x1, y1), (x2, y2)), width, grey))


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """One printed side.

    Attributes
    ----------
    number, total : int
        Its place among the sheet's pages from 1; the cover is page 1.
    paper : str
        A key of `SIZES`.
    presentations : tuple of Presentation
        What is judged on it: one, or several that are short; none on the cover.
    part : int
        From 1; above 1 where one presentation needs more than one side.
    earlier : bool
        Whether it is laid out as sheets were before there were such sides.
    """

    number: int
    total: int
    paper: str
    presentations: tuple[Presentation, ...]
    part: int
    earlier: int
    words: tuple[Words, ...]
    strokes: tuple[Stroke, ...]
    boxes: tuple[Box, ...]
    scales: tuple[Scale, ...]
    fields: tuple[Field, ...]

    @property
    def presentation(self) -> Presentation | None:
        """The first that is judged on it; None on the cover."""
        return self.presentations[0] if self.presentations else None

    @property
    def size(self) -> tuple[float, float]:
        """Width and height of the paper."""
        return SIZES[self.paper]

    @property
    def corners(self) -> tuple[tuple[float, float], ...]:
        """Upper left points of the four corner marks: upper left, upper right, lower ones."""
        return corner_places(self.paper)

    @property
    def code_place(self) -> tuple[float, float, float]:
        """Upper left point and side of the QR code, its white border left out."""
        return code_place(self.paper)

    @property
    def check(self) -> str:
        """Four hexadecimal digits that change when a mark's place or meaning does."""
        digest = hashlib.sha256(self.paper.encode())
        for box in self.boxes:
            place = f"{box.attribute} {box.value} {box.x:.1f} {box.y:.1f} {box.size:.1f}"
            digest.update(f"{box.code} {place}|".encode())
        for scale in self.scales:
            place = f"{scale.attribute} {scale.x:.1f} {scale.y:.1f} {scale.length:.1f}"
            digest.update(f"{scale.code} {place}|".encode())
        return digest.hexdigest()[:4]

    @property
    def groups(self) -> Iterator[tuple[Box, ...]]:
        """Boxes of which one is to be marked, group by group."""
        found: dict[tuple[str, str], list[Box]] = {}
        for box in self.boxes:
            if box.role == "one":
                found.setdefault((box.code, box.attribute), []).append(box)
        return (tuple(group) for group in found.values())
