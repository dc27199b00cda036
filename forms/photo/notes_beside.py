"""Writing on a page that belongs to no question: a remark, another code or name, an arrow."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import cv2
import numpy as np

from ..paper.page_parts import CORNER, Page
from .around_boxes import long_sides
from .find_sheets import PX
from .picture_files import Plane

NOTED = 12.0  # millimetres of ink at no question, all pieces together, from which it is writing
_PIECE = 2.0  # millimetres: anything shorter is a speck
_WIDE = 0.25  # millimetres of its own width at least: the edge of print is thinner
_DARK = 0.3  # darkness from which it is ink: stains are paler
_MARGIN = 4.0  # millimetres at the edge of the paper that are not looked at
_CUT = 7  # pixels of print across which a stroke goes on
_OWN, _LINE, _BESIDE, _FRAME = 1.0, 3.5, 4.0, 1.0  # millimetres within which ink is a question's

_Window = tuple[float, float, float, float]


def noted(smooth: Plane, hidden: Any, page: Page) -> float:
    """Return how much ink lies at no question, in millimetres from corner to corner of each piece.

    What begins at a box, a line or a frame for words is that question's.

    Parameters
    ----------
    smooth : Plane
        Darkness of the straightened page.
    hidden : array of bool
        Where print hides ink.
    page : Page
    """
    inked = ((smooth > _DARK) & ~hidden).astype(np.uint8)
    edge = round(_MARGIN * PX)
    inked[:edge] = inked[-edge:] = 0
    inked[:, :edge] = inked[:, -edge:] = 0
    x, y, side = page.code_place
    for left, top, wide in ((x, y, side), *((x, y, CORNER) for x, y in page.corners)):
        inked[_part((left - 2, top - 2, left + wide + 2, top + wide + 2))] = 0
    joined = np.where(hidden, cv2.dilate(inked, np.ones((_CUT, _CUT), np.uint8)), inked)
    count, names = cv2.connectedComponents(joined, connectivity=8)
    long = long_sides(names, inked, count)
    area = np.bincount(names[inked > 0], minlength=count) / PX**2
    free = (long >= _PIECE) & (area > _WIDE * long)
    free[0] = False
    for window in _places(page):
        free[np.unique(names[_part(window)])] = False
    return float(long[free].sum())


def _places(page: Page) -> Iterator[_Window]:
    """Say where questions are marked: left, top, right, bottom."""
    for box in page.boxes:
        half = box.size / 2 + _OWN
        yield box.x - half, box.y - half, box.x + half, box.y + half
    for scale in page.scales:
        yield (scale.x - _BESIDE, scale.y - _LINE,
               scale.x + scale.length + _BESIDE, scale.y + _LINE)  # fmt: skip
    for frame in page.fields:
        yield (frame.x - _FRAME, frame.y - _FRAME,
               frame.x + frame.width + _FRAME, frame.y + frame.height + _FRAME)  # fmt: skip


def _part(window: _Window) -> tuple[slice, slice]:
    left, top, right, bottom = (max(0, round(length * PX)) for length in window)
    return slice(top, bottom), slice(left, right)
