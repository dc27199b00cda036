"""The code of a page: what it says, and which one it is where it is too bent to be read."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import cv2
import numpy as np

from ..paper.page_parts import CORNER, MARK, QR_SIZE, SIZES, code_place, corner_places, modules
from .picture_files import Picture, Plane

_PX = 6.0  # pixels a millimetre at which a code is looked at
_ROOM = 2.0  # millimetres around it that may have moved in
_PARTS = 4  # a bent code is laid out in so many parts each way
ALIKE = 0.9  # share of modules that agree with the code: pages of other sessions reach 0.88
APART = 0.75  # and of those modules that tell it from another code of the session


@dataclass(frozen=True, slots=True)
class Identity:
    """What a page's QR code says."""

    session: str
    assessor: str
    page: int
    paper: str
    fingerprint: str
    check: str


def named_by(text: str) -> Identity | None:
    """Return what a code of one of our pages says; None for other codes."""
    parts = text.split("|")
    if len(parts) != 7 or parts[0] != MARK or parts[4] not in SIZES or not parts[3].isdigit():
        return None
    return Identity(parts[1], parts[2], int(parts[3]), parts[4], parts[5], parts[6])


def bent_code(picture: Picture, corners: dict[int, Plane], known: Iterable[str]) -> Identity | None:
    """Tell which of the codes of a session a page bears, though it cannot be read.

    Each part of each code is looked for about its place; the code with the best parts says how
    the paper is bent, and then each of its modules is compared. None where fewer than `ALIKE`
    of them agree, or where another code would do nearly as well.
    """
    texts = [text for text in known if named_by(text) is not None]
    best: tuple[float, Plane, str] | None = None
    for paper in sorted({text.split("|")[4] for text in texts}):
        seen = _seen(picture, corners, paper)
        for text in texts:
            if text.split("|")[4] != paper:
                continue
            score, values = _laid_out(seen, _signs(text))
            if best is None or score > best[0]:
                best = score, values, text
    if best is None:
        return None
    _, values, text = best
    signs = _signs(text)
    agree = values * signs > 0
    if agree.mean() < ALIKE:
        return None
    for other in texts:
        apart = _signs(other)
        if other == text or apart.shape != signs.shape:
            continue
        if agree[apart != signs].mean() < APART:
            return None
    return named_by(text)


def _seen(picture: Picture, corners: dict[int, Plane], paper: str) -> Plane:
    """Return the place of the code laid flat by the corner marks, with room around it."""
    there = np.concatenate([corner_points(paper, number) for number in sorted(corners)])
    here = np.concatenate([points for _, points in sorted(corners.items())])
    matrix, _ = cv2.findHomography(here.astype(np.float64), there.astype(np.float64))
    x, y, size = code_place(paper)
    shift = np.array([[_PX, 0, (_ROOM - x) * _PX], [0, _PX, (_ROOM - y) * _PX], [0, 0, 1]])
    side = round((size + 2 * _ROOM) * _PX)
    seen: Any = cv2.warpPerspective(
        picture, shift @ matrix, (side, side), flags=cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )  # fmt: skip
    level: Any = cv2.GaussianBlur(seen.astype(np.float32), (0, 0), 2.5 * _PX)
    return np.asarray(level - seen, dtype=np.float32)


def corner_points(paper: str, number: int) -> Plane:
    """Return where the corner points of a printed corner mark lie, in millimetres."""
    x, y = corner_places(paper)[number]
    points = ((x, y), (x + CORNER, y), (x + CORNER, y + CORNER), (x, y + CORNER))
    return np.array(points, np.float32)


def _signs(text: str) -> Plane:
    """Return the modules of a code: 1 for dark, -1 for light."""
    return np.array(modules(text), np.float32) * 2 - 1


def _laid_out(seen: Plane, signs: Plane) -> tuple[float, Plane]:
    """Lay a code's parts upon what is seen: how well they fit, and what its modules show."""
    count = len(signs)
    side = round(QR_SIZE * _PX)
    drawn: Any = cv2.resize(signs, (side, side), interpolation=cv2.INTER_NEAREST)
    room = round(_ROOM * _PX)
    values = np.zeros_like(signs)
    middles = (np.arange(count) + 0.5) * side / count
    cuts = np.linspace(0, side, _PARTS + 1).round().astype(int)
    scores = []
    for top, bottom in pairwise(cuts):
        for left, right in pairwise(cuts):
            around = seen[top : bottom + 2 * room, left : right + 2 * room]
            match: Any = cv2.matchTemplate(
                around, drawn[top:bottom, left:right], cv2.TM_CCOEFF_NORMED
            )
            _, score, _, (x, y) = cv2.minMaxLoc(match)
            scores.append(score)
            rows = np.flatnonzero((middles >= top) & (middles < bottom))
            columns = np.flatnonzero((middles >= left) & (middles < right))
            at_y, at_x = (middles[rows] + y).astype(int), (middles[columns] + x).astype(int)
            values[np.ix_(rows, columns)] = seen[np.ix_(at_y, at_x)]
    return float(np.mean(scores)), values
