"""Whether what is printed at a question lies where it was printed: else nothing is read there."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np

from ..paper.page_parts import Page, Scale
from .find_sheets import PX
from .picture_files import Plane

SEEN = 0.75  # share of the print at a question that must be seen
REACH = 4.2  # how far beside a line's ends marks are looked for
ABOVE, BELOW = 3.0, 2.2  # and above and below it
END = 3  # pixels by which an end of a line may lie aside on bent paper
_OUT, _IN = 2.0, 14.0  # millimetres of a line's end, out and in, by which it is found again
_NEAR, _NEARER = 5, 3  # pixels by which it may lie beside, on bent paper and on flat
_DARK = 0.33  # share of the usual darkness of print from which print is seen
_FAR = 0.01  # what each pixel aside costs, so that ink beside print does not draw it away
_STEP = 12  # pixels of a line that lie level with one another

Window = tuple[float, float, float, float]


def lost(smooth: Plane, printed: Plane, page: Page, *, bent: bool) -> frozenset[tuple[str, str]]:
    """Return the questions, by code and attribute, whose own print is not found in its place.

    It is covered, burnt out, torn off, or bent farther than it was followed. Ink adds
    darkness, so a mark never hides what is printed below it.

    Parameters
    ----------
    smooth : Plane
        Darkness of the straightened page.
    printed : Plane
        Darkness of the blank page.
    page : Page
    bent : bool
        Whether the paper had to be followed piece by piece.
    """
    print_there = printed > 0.5
    if not print_there.any():
        return frozenset()
    dark = (smooth > _DARK * float(np.median(smooth[print_there]))).astype(np.float32)
    wanted = print_there.astype(np.float32)
    reach = _NEAR if bent else _NEARER
    return frozenset(
        (code, attribute)
        for code, attribute, window in _windows(page)
        if _share(dark, wanted, window, reach) < SEEN
    )


def _windows(page: Page) -> Iterator[tuple[str, str, Window]]:
    """Say where the print of each question stands: left, top, right, bottom."""
    for box in page.boxes:
        half = box.size / 2
        right = 12.0 if box.role == "tick" else half + 1.2
        yield box.code, box.attribute, (box.x - half - 1, box.y - half - 0.6,
                                        box.x + right, box.y + half + 0.6)  # fmt: skip
    for scale in page.scales:
        end = scale.x + scale.length
        yield scale.code, scale.attribute, (scale.x - 1, scale.y - 1.8, end + 1, scale.y + 1.8)
        yield scale.code, scale.attribute, (scale.x - 2, scale.y - 8, end + 2, scale.y + 6)
        for x in (scale.x, end):
            yield scale.code, scale.attribute, (x - 1.5, scale.y - 1.8, x + 1.5, scale.y + 1.8)


def _share(dark: Any, wanted: Any, window: Window, reach: int) -> float:
    """Return the share of a window's print that is seen, where it lies best."""
    high, wide = wanted.shape
    x1, y1, x2, y2 = (round(length * PX) for length in window)
    x1, y1 = max(reach, x1), max(reach, y1)
    x2, y2 = min(wide - reach, x2), min(high - reach, y2)
    part = wanted[y1:y2, x1:x2]
    if part.sum() < 10:
        return 1.0
    around = dark[y1 - reach : y2 + reach, x1 - reach : x2 + reach]
    match: Any = cv2.matchTemplate(around, part, cv2.TM_CCORR) / float(part.sum())
    aside = np.abs(np.arange(2 * reach + 1) - reach)
    return float((match - _FAR * np.maximum(aside[:, None], aside[None, :])).max())


@dataclass(frozen=True, slots=True)
class AroundLine:
    """The page about a printed line.

    Attributes
    ----------
    dark : Plane
        Darkness, the line lying level.
    hidden : array of bool
        Where print hides ink.
    aside : tuple of int
        By how many pixels its left and its right end lie to the right of their places.
    """

    dark: Plane
    hidden: Any
    aside: tuple[int, int] = (0, 0)


def around_line(dark: Plane, printed: Plane, hidden: Any, scale: Scale, bent: bool) -> AroundLine:
    """Lay the rows about a line level where the paper is bent, and find its ends again.

    The ends and the words at them are looked for up to `END` pixels aside; what they hide moves
    along with them, so that they are not taken for ink.
    """
    if not bent:
        return AroundLine(dark, hidden)
    top, bottom = (round((scale.y + d) * PX) for d in (-ABOVE - 1, BELOW + 1))
    down = course(dark, scale)
    ys, xs = np.mgrid[top:bottom, 0 : dark.shape[1]].astype(np.float32)
    laid = dark.copy()
    laid[top:bottom] = cv2.remap(dark, xs, ys + down, cv2.INTER_LINEAR)
    moved = hidden.copy()
    middle = round((scale.x + scale.length / 2) * PX)
    left, right = (round((scale.x + d) * PX) for d in (-REACH - 1, scale.length + REACH + 1))
    aside = []
    for end, way, half in (
        (scale.x, 1, slice(max(0, left), middle)),
        (scale.x + scale.length, -1, slice(middle, right)),
    ):
        x, y = _moved_end(laid, printed, (end, scale.y), way)
        moved[top:bottom, half] = np.roll(hidden, (y, x), (0, 1))[top:bottom, half]
        aside.append(x)
    return AroundLine(laid, moved, (aside[0], aside[1]))


def _moved_end(laid: Plane, printed: Plane, end: tuple[float, float], way: int) -> tuple[int, int]:
    """Return by how many pixels an end of a line lies right of and below its place."""
    outer, inner = sorted((end[0] - way * _OUT, end[0] + way * _IN))
    x1, x2 = round(outer * PX), round(inner * PX)
    y1, y2 = (round((end[1] + d) * PX) for d in (-BELOW, BELOW + 0.4))
    wanted = printed[y1:y2, x1:x2]
    around = laid[y1 - END : y2 + END, x1 - END : x2 + END]
    if around.shape != (wanted.shape[0] + 2 * END, wanted.shape[1] + 2 * END):
        return 0, 0
    match: Any = cv2.matchTemplate(around, wanted, cv2.TM_CCORR_NORMED)
    _, _, _, (x, y) = cv2.minMaxLoc(match)
    return x - END, y - END


def course(smooth: Plane, scale: Scale) -> Plane:
    """Return by how many pixels a printed line lies lower than it was printed, column by column.

    The cheapest way from end to end along what is dark above and below which it is light; a
    stroke across the line is dark on both sides and draws nothing.
    """
    reach, beside = _NEAR, round(0.8 * PX)
    x1, level = round(scale.x * PX), round(scale.y * PX - 0.5)
    count = round(scale.length * PX) // _STEP
    rows = smooth[level - reach - beside : level + reach + beside + 1, x1 : x1 + count * _STEP]
    middle = rows[beside:-beside]
    around = np.maximum(rows[: -2 * beside], rows[2 * beside :])
    ridge = np.clip(middle - around, 0, 1).reshape(2 * reach + 1, count, _STEP).mean(axis=2)
    best = ridge[:, 0] - 0.02 * np.abs(np.arange(2 * reach + 1) - reach)
    came = np.zeros((count, 2 * reach + 1), int)
    for step in range(1, count):
        ways = np.stack([np.roll(best, by) - 0.03 * abs(by) for by in (-1, 0, 1)])
        ways[0, -1] = ways[2, 0] = -1e9
        chosen = ways.argmax(axis=0)
        came[step] = np.arange(2 * reach + 1) - (chosen - 1)
        best = ways.max(axis=0) + ridge[:, step]
    way = [int(best.argmax())]
    for step in range(count - 1, 0, -1):
        way.append(int(came[step, way[-1]]))
    offsets = np.array(way[::-1], float) - reach
    at = x1 + (np.arange(count) + 0.5) * _STEP
    smoothed = np.convolve(np.pad(offsets, 1, mode="edge"), [0.25, 0.5, 0.25], mode="valid")
    return np.interp(np.arange(smooth.shape[1]), at, smoothed).astype(np.float32)
