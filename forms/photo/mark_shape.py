"""What shape the ink of one mark has: how far it sticks out of its box, and what it encloses.

A tick and a cross stay within their box on the left or on the right, and are open upwards; what
strikes a mark through sticks out on both sides, and digits and signs are open elsewhere.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from ..paper.page_parts import Box
from .find_sheets import PX
from .picture_files import Plane

_AROUND = 3.2  # millimetres around a box in which the ink of its mark is looked for
_ABOVE = 0.8  # and above and below it, for what sticks out to the sides
_INSIDE = 0.5  # millimetres inside an outline from which ink is a box's own
_SHARE = 0.4  # share of a mark's darkness from which ink is part of it
_BRIDGED = 11  # pixels of print across which ink is the same
_THIN = 0.3  # spread, in millimetres, across a mark that is one straight stroke
_LEAST = 5  # pixels that a mark has at least


@dataclass(frozen=True, slots=True)
class Shape:
    """The shape of a mark, in millimetres.

    Attributes
    ----------
    beyond : float
        How far it sticks out of its box on the left and on the right, the lesser of both;
        below 0 if it stays within on either side.
    open_above : float
        How much of the box, in square millimetres, lies between ink on the left, on the right
        and below, and has none above.
    straight : bool
        Whether it is one straight stroke.
    wide : float
        How wide it is.
    """

    beyond: float = -np.inf
    open_above: float = np.inf
    straight: bool = False
    wide: float = np.inf


NO_SHAPE = Shape()


def shape(smooth: Plane, hidden: Any, box: Box, depth: float, limit: float) -> Shape:
    """Measure the shape of the mark in a box.

    Parameters
    ----------
    smooth : Plane
        Darkness of the straightened page.
    hidden : array of bool
        Where print hides ink.
    box : Box
    depth : float
        How dark the mark is.
    limit : float
        Darkness from which something is ink.
    """
    half = box.size / 2
    mine, (left, top) = _own(smooth, hidden, box, max(limit, _SHARE * depth))
    ys, xs = np.nonzero(mine)
    if xs.size < _LEAST:
        return NO_SHAPE
    across, down = (xs + left + 0.5) / PX - box.x, (ys + top + 0.5) / PX - box.y
    level = across[np.abs(down) < half + _ABOVE]
    beyond = min(-level.min(), level.max()) - half if level.size else -np.inf
    spread = np.linalg.eigvalsh(np.cov(across, down))[0] ** 0.5
    return Shape(
        float(beyond),
        _open_above(_middle(mine, box, left, top)),
        bool(spread < _THIN),
        float(np.ptp(across)) + 1 / PX,
    )


def _own(smooth: Plane, hidden: Any, box: Box, dark: float) -> tuple[Any, tuple[int, int]]:
    """Return what is inked in a window about a box and begins in it; and the window's corner."""
    reach = box.size / 2 + _AROUND
    left, top = (max(0, round((at - reach) * PX)) for at in (box.x, box.y))
    right, bottom = (round((at + reach) * PX) for at in (box.x, box.y))
    blind = hidden[top:bottom, left:right]
    inked = (smooth[top:bottom, left:right] > dark) & ~blind
    bridged = cv2.dilate(inked.astype(np.uint8), np.ones((_BRIDGED, _BRIDGED), np.uint8))
    joined = np.where(blind, bridged, inked).astype(np.uint8)
    names: Any = cv2.connectedComponents(joined, connectivity=8)[1]
    inside = np.unique(_middle(np.where(inked, names, 0), box, left, top))
    return inked & np.isin(names, inside[inside > 0]), (left, top)


def _middle(plane: Any, box: Box, left: int, top: int) -> Any:
    """Cut the inside of a box out of a window."""
    half = box.size / 2 - _INSIDE
    x1, x2 = (max(0, round((box.x + d) * PX) - left) for d in (-half, half))
    y1, y2 = (max(0, round((box.y + d) * PX) - top) for d in (-half, half))
    return plane[y1:y2, x1:x2]


def _open_above(inked: NDArray[np.bool_]) -> float:
    """Return the square millimetres that have ink left, right and below, and none above."""
    above = np.logical_or.accumulate(inked, axis=0)
    below = np.logical_or.accumulate(inked[::-1], axis=0)[::-1]
    left = np.logical_or.accumulate(inked, axis=1)
    right = np.logical_or.accumulate(inked[:, ::-1], axis=1)[:, ::-1]
    return float((left & right & below & ~above).sum()) / PX**2
