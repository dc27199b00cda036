"""Ink around boxes: rings drawn about them, strokes through them, and ink that is no box's own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from ..paper.page_parts import CORNER, EDGE, HEADER, Box, Page
from .find_sheets import PX
from .picture_files import Plane

_ANGLES = 48
_FROM, _TO = 0.45, 3.1  # millimetres beyond an outline between which a ring runs
_JUMP = 0.8  # millimetres by which a ring moves out or in from one angle to the next
_GAP = 4  # angles in a row at which print may hide a ring, or the pen left it open
_THICK = 1.5  # millimetres: what is taken off where a ring was found
_CHORDS = 24
_BEYOND = 0.9  # millimetres by which a stroke through a box sticks out at both ends
_ARM, _SLANT = 1.7, 0.45  # millimetres of a cross's arms at least, and radians from the diagonals
_WHOLE = 0.93  # share of its length that must be inked or hidden
_APART = 0.45  # angle between two strokes
LOOSE = 1.8  # millimetres from which ink beside a box is somebody's mark
_LARGE = 45.0  # and up to which
_WITHIN = 0.2  # millimetres inside an outline from which another's ring is in a box
_RUN = 25.0  # millimetres to each side in which it is looked how far ink runs on
_PALE = 0.55  # share of its darkness that ink has as it runs on
_BRIDGED = 11  # pixels of print across which ink is the same
_CUT = 7  # and across which a stroke beside a box goes on
MARGIN = 10.0  # millimetres right of a row in which people write what it has no circle for
_MIDDLE = 1.5  # and above and below its middle
_OWN = 1.0  # millimetres from a box within which a mark's own strokes begin


@dataclass(frozen=True, slots=True)
class Ring:
    """What runs around a box.

    Attributes
    ----------
    share : float
        The longest way round that ink runs on.
    inked : float
        The share of the way round where ink is at all.
    path : array
        Where ink is, angle by angle, in millimetres, shape (angles, 2).
    """

    share: float
    inked: float
    path: NDArray[np.float32]


def _outline(box: Box, angles: Any) -> Any:
    """Return how far the outline of a box is from its middle, angle by angle."""
    half = box.size / 2
    if box.round:
        return np.full(angles.shape, half)
    return half / np.maximum(np.abs(np.cos(angles)), np.abs(np.sin(angles)))


def rings(smooth: Plane, hidden: Any, boxes: Sequence[Box], limit: float) -> list[Ring]:
    """Look for a ring around each box.

    Parameters
    ----------
    smooth : Plane
        Darkness of the straightened page.
    hidden : array of bool
        Where print hides ink.
    boxes : sequence of Box
    limit : float
        Darkness from which something is ink.
    """
    if not boxes:
        return []
    angles = np.arange(_ANGLES) * 2 * np.pi / _ANGLES
    radii = np.arange(_FROM, _TO, 1 / PX)
    far = np.stack([_outline(box, angles)[:, None] + radii[None, :] for box in boxes])
    x = np.array([box.x for box in boxes])[:, None, None] + far * np.cos(angles)[None, :, None]
    y = np.array([box.y for box in boxes])[:, None, None] + far * np.sin(angles)[None, :, None]
    ink = _sample(np.where(hidden, 0, smooth), x, y)
    made = []
    for number, box in enumerate(boxes):
        share, radius = _around(ink[number], limit)
        way = _outline(box, angles) + _FROM + radius / PX
        known = np.isfinite(way)
        path = np.column_stack([box.x + way * np.cos(angles), box.y + way * np.sin(angles)])
        made.append(Ring(share, float(known.mean()), path[known].astype(np.float32)))
    return made


def _sample(plane: Any, x: Any, y: Any) -> Any:
    wide = x.shape[-1]
    flat_x = (x.reshape(-1, wide) * PX - 0.5).astype(np.float32)
    flat_y = (y.reshape(-1, wide) * PX - 0.5).astype(np.float32)
    seen: Any = cv2.remap(
        np.asarray(plane, np.float32), flat_x, flat_y, cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )  # fmt: skip
    return seen.reshape(x.shape)


def _around(ink: Any, limit: float) -> tuple[float, Any]:
    """Return the longest way round that ink runs on, and how far out it is at each angle."""
    best = ink.argmax(axis=1).astype(float)
    inked = ink.max(axis=1) > limit
    radius = np.where(inked, best, np.nan)
    longest = 0
    for start in range(_ANGLES):
        if not inked[start]:
            continue
        at, last, run, gap = start, radius[start], 1, 0
        for step in range(1, _ANGLES):
            at = (start + step) % _ANGLES
            if inked[at] and abs(radius[at] - last) <= _JUMP * PX * (1 + gap):
                run, last, gap = step + 1, radius[at], 0
            else:
                gap += 1
                if gap > _GAP:
                    break
        longest = max(longest, run)
    return longest / _ANGLES, radius


def without(smooth: Plane, found: Sequence[Ring]) -> Plane:
    """Take rings off a page, so that they are no ink of the boxes beside."""
    left = smooth.copy()
    for ring in found:
        points = np.round(ring.path * PX - 0.5).astype(np.int32)
        cv2.polylines(left, [points], True, 0, round(_THICK * PX))
    return left


def touched(box: Box, others: Sequence[tuple[Box, Ring]]) -> bool:
    """Tell whether the ring of another box runs through this one."""
    half = box.size / 2 - _WITHIN
    return any(
        bool((np.abs(ring.path - (box.x, box.y)) < half).all(axis=1).any())
        for other, ring in others
        if other is not box and abs(other.y - box.y) + abs(other.x - box.x) < 4 * box.size
    )


def length(smooth: Plane, hidden: Any, middle: tuple[float, float], depth: float) -> float:
    """Return how far, in millimetres, the ink at a place runs on, across print that hides it."""
    x, y = middle
    x1, y1 = (max(0, round((at - _RUN) * PX)) for at in (x, y))
    x2, y2 = (round((at + _RUN) * PX) for at in (x, y))
    blind = hidden[y1:y2, x1:x2]
    inked = ((smooth[y1:y2, x1:x2] > _PALE * depth) & ~blind).astype(np.uint8)
    bridged = cv2.dilate(inked, np.ones((_BRIDGED, _BRIDGED), np.uint8))
    joined = np.where(blind, bridged, inked)
    _, names, stats, _ = cv2.connectedComponentsWithStats(joined, connectivity=8)
    at_x, at_y, near = round(x * PX) - x1, round(y * PX) - y1, round(_OWN * PX)
    mine = np.unique(names[max(0, at_y - near) : at_y + near + 1,
                           max(0, at_x - near) : at_x + near + 1])  # fmt: skip
    sides = np.hypot(stats[:, cv2.CC_STAT_WIDTH], stats[:, cv2.CC_STAT_HEIGHT])
    return max((float(sides[name]) / PX for name in mine if name), default=0.0)


def is_cross(smooth: Plane, hidden: Any, box: Box, limit: float) -> bool:
    """Tell whether two slanting strokes cross in a box, as no tick does."""
    ways = through(smooth, hidden, box, limit, arm=_ARM)
    down = any(abs(way - np.pi / 4) < _SLANT for way in ways)
    return down and any(abs(way - 3 * np.pi / 4) < _SLANT for way in ways)


def through(
    smooth: Plane,
    hidden: Any,
    box: Box,
    limit: float,
    *,
    arm: float | None = None,
    beyond: float = _BEYOND,
    within: float = 1.0,
    last: float = 0.7,
    others: Sequence[Box] = (),
) -> tuple[float, ...]:
    """Return the directions, from 0 to pi, in which a straight stroke runs right through a box.

    It passes the middle by `within` millimetres at most and sticks out by `beyond`, and its
    `last` millimetres hold ink. Or it runs at least `arm` millimetres to both sides of the middle.
    Not both of its ends lie nearer to `others`, which are marked, than to this box: there it is
    their marks that stick out.
    """
    angles = np.arange(_CHORDS) * np.pi / _CHORDS
    cosine, sine = np.cos(angles)[:, None, None], np.sin(angles)[:, None, None]
    beside = np.arange(-within, within + 0.01, 0.2)[None, :, None]
    long = np.linspace(-1, 1, 31)[None, None, :]
    reach: Any = (_outline(box, angles) + beyond)[:, None, None]
    if arm is not None:
        reach = np.full_like(reach, arm)
    x = box.x + reach * long * cosine - beside * sine
    y = box.y + reach * long * sine + beside * cosine
    inked = _sample(smooth, x, y) > limit
    blind = _sample(np.asarray(hidden, np.float32), x, y) > 0.3
    ends = inked & ~blind & (np.abs(long) > 1 - last / reach)
    both = (ends & (long < 0)).any(axis=2) & (ends & (long > 0)).any(axis=2)
    both &= ~_between(box, others, angles, reach[:, 0, 0])[:, None]
    score = np.where(both, (inked | blind).mean(axis=2), 0).max(axis=1)
    found: list[float] = []
    for place in np.argsort(-score):
        angle = float(angles[place])
        if score[place] < _WHOLE:
            break
        if all(min(abs(angle - one), np.pi - abs(angle - one)) > _APART for one in found):
            found.append(angle)
    return tuple(found)


def _between(box: Box, others: Sequence[Box], angles: Any, reach: Any) -> Any:
    """Tell in which directions both ends of a stroke through a box lie nearer to others."""
    among = np.ones(len(angles), bool)
    for sign in (-1, 1):
        x, y = box.x + sign * reach * np.cos(angles), box.y + sign * reach * np.sin(angles)
        nearer = np.zeros(len(angles), bool)
        for other in others:
            away = np.hypot(x - other.x, y - other.y) - other.size / 2
            nearer |= (other is not box) & (away < reach - box.size / 2)
        among &= nearer
    return among


def loose(
    smooth: Plane, hidden: Any, page: Page, taken: Sequence[Box], limit: float
) -> frozenset[tuple[str, str]]:
    """Return the questions, by code and attribute, beside whose boxes ink of no mark lies.

    What begins in or at a box of `taken` is that box's own, what lies at a line is the line's.
    What is as large as the ring of a cup's foot or a fold is no mark.
    """
    inked = ((smooth > limit) & ~hidden).astype(np.uint8)
    edge = round((EDGE + CORNER) * PX)
    inked[: round(HEADER * PX)] = 0
    inked[-edge:] = 0
    for scale in page.scales:
        _blank(inked, scale.x - 6, scale.y - 5, scale.x + scale.length + 6, scale.y + 5)
    for frame in page.fields:
        _blank(inked, frame.x - 2, frame.y - 2, frame.x + frame.width + 2,
               frame.y + frame.height + 2)  # fmt: skip
    # Print may cut a stroke in pieces, which are too short each, or join it to what is near.
    joined = np.where(hidden, cv2.dilate(inked, np.ones((_CUT, _CUT), np.uint8)), inked)
    return _loose(inked, inked, page, taken) | _loose(joined, inked, page, taken)


def _loose(joined: Any, inked: Any, page: Page, taken: Sequence[Box]) -> frozenset[tuple[str, str]]:
    """Return the questions beside whose boxes one connected piece of ink is no box's own.

    It is as long as what is seen of it: the edges of letters are joined under their print, too.
    """
    count, names = cv2.connectedComponents(joined, connectivity=8)
    sides = long_sides(names, inked, count)
    left = (sides >= LOOSE) & (sides <= _LARGE)
    left[0] = False
    for box in taken:
        reach = box.size / 2 + _OWN
        left[np.unique(_part(names, box, reach, reach))] = False
    if count < 2 or not left.any():
        return frozenset()
    found = {
        (box.code, box.attribute)
        for box in page.boxes
        if left[np.unique(_part(names, box, box.size / 2 + 1.2, box.size / 2 + 0.6))].any()
    }
    return frozenset(
        found
        | {
            (last.code, last.attribute)
            for *_, last in page.groups
            if left[np.unique(_beside(names, last, page))].any()
        }
    )


def long_sides(names: Any, inked: Any, count: int) -> Any:
    """Return how long what is inked of each piece is, in millimetres: from corner to corner."""
    ys, xs = np.nonzero(inked)
    mine = names[ys, xs]
    sides = []
    for at in (xs, ys):
        least, most = np.full(count, np.iinfo(np.int64).max), np.full(count, -1)
        np.minimum.at(least, mine, at)
        np.maximum.at(most, mine, at)
        sides.append(np.where(most < 0, 0, most - least + 1))
    return np.hypot(*sides) / PX


def _beside(names: Any, last: Box, page: Page) -> Any:
    """Return what lies right of the last circle of a row, up to a rule that is printed there."""
    right = last.x + last.size / 2
    rules = [stroke.points[0][0] - 1 for stroke in page.strokes
             if stroke.points[0][0] == stroke.points[-1][0] > last.x]  # fmt: skip
    x1, x2 = (round(x * PX) for x in (right + 1.2, min([right + MARGIN, *rules])))
    y1, y2 = (round((last.y + away) * PX) for away in (-_MIDDLE, _MIDDLE))
    return names[y1:y2, x1 : max(x1, x2)]


def _blank(inked: Any, left: float, top: float, right: float, bottom: float) -> None:
    x1, y1, x2, y2 = (max(0, round(length * PX)) for length in (left, top, right, bottom))
    inked[y1:y2, x1:x2] = 0


def _part(names: Any, box: Box, across: float, down: float) -> Any:
    x, y = box.x * PX, box.y * PX
    return names[
        max(0, round(y - down * PX)) : round(y + down * PX),
        max(0, round(x - across * PX)) : round(x + across * PX),
    ]
