"""From a found sheet to a flat page.

A page is laid flat by the perspective of its corner marks, and then shifted piece by piece until
the printed text lies where it was printed, which takes out the bulge of a curled page.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from ..paper.page_parts import CORNER, EDGE, Page
from .damage import torn
from .find_sheets import PX, FoundSheet, side_of
from .local_fit import follow, peak
from .page_code import corner_points
from .picture_files import Picture, Plane, Unreadable

_PATCH, _REACH, _FINE = 14.0, 4.0, 1.2  # millimetres
_MARGIN = 0.7  # millimetres beside print that are not looked at for tears: pages bulge
_BENT = 0.17  # millimetres that a tenth of the pieces may miss a smooth field by


@dataclass(frozen=True, slots=True)
class Flat:
    """A straightened page.

    Attributes
    ----------
    dark : array
        Darkness of each pixel, 0 for the paper around it and 1 for print.
    grey : array
        The page as people see it, 0 to 255.
    likeness : float
        How well print lies on print after straightening, at most 1.
    moved : float
        The largest shift in millimetres beyond perspective.
    noise : float
        Standard deviation of darkness on blank paper.
    sharpness : float
        Pixels a millimetre in the photo.
    two_tone : bool
        Whether the photo knows black and white only.
    bent : bool
        Whether the paper had to be followed piece by piece.
    bend : float
        By how many millimetres a tenth of the print lay beside a smooth field, or more.
    torn : bool
        Whether its brightness jumps as only damaged data make it do.
    """

    dark: Plane
    grey: Picture
    likeness: float
    moved: float
    noise: float
    sharpness: float
    two_tone: bool = False
    bent: bool = False
    bend: float = 0.0
    torn: bool = False


def flatten(found: FoundSheet, page: Page, printed: Plane) -> Flat:
    """Lay a found sheet flat on its printed page.

    Parameters
    ----------
    found : FoundSheet
    page : Page
    printed : array
        Darkness of the blank printed page, `PX` pixels a millimetre.

    Raises
    ------
    Unreadable
        ``photo_poor`` if the print cannot be brought to lie on the print.
    """
    here = [points for number, points in sorted(found.corners.items())]
    there = [corner_points(page.paper, number) * PX - 0.5 for number in sorted(found.corners)]
    matrix, _ = cv2.findHomography(
        np.concatenate(there).astype(np.float64), np.concatenate(here).astype(np.float64)
    )
    if matrix is None:
        raise Unreadable("photo_corners", str(len(here)))
    high, wide = printed.shape
    xs, ys = np.meshgrid(np.arange(wide, dtype=np.float32), np.arange(high, dtype=np.float32))
    shift = np.zeros((2, high, wide), np.float32)
    moved = likeness = bend = 0.0
    misses = np.zeros(1)
    for reach in (_REACH, _FINE):
        grey = _look(found.picture, matrix, xs + shift[0], ys + shift[1])
        dark = darkness(grey)
        places, offsets, scores = _compare(dark, printed, reach)
        if len(places) < 4:  # even a page with one question has a head and a foot
            raise Unreadable("photo_poor", "too little print was found again")
        likeness = float(np.median(scores))
        further, misses = _smooth(places, offsets, scores, xs, ys)
        shift += further
        moved = float(np.sqrt((shift[0] ** 2 + shift[1] ** 2).max()) / PX)
        bend = max(bend, float(np.quantile(misses, 0.9)) / PX)
    if likeness < 0.45 or moved > 12:
        raise Unreadable("photo_poor", f"likeness {likeness:.2f}")
    bent = float(np.quantile(misses, 0.9)) > _BENT * PX
    if bent:

        def look(shifts: Plane) -> Plane:
            return darkness(_look(found.picture, matrix, xs + shifts[0], ys + shifts[1]))

        shift = follow(look, printed, shift)
    grey = _look(found.picture, matrix, xs + shift[0], ys + shift[1])
    dark = darkness(grey)
    blank = cv2.dilate(printed, np.ones((9, 9), np.uint8)) < 0.02
    quiet = dark[blank]
    noise = 1.4826 * float(np.median(np.abs(quiet - np.median(quiet))))
    sides = [side_of(points) for points in here]
    level = _black(dark, printed)
    return Flat(
        dark=np.clip(dark / level, 0, 1.2).astype(np.float32),
        grey=grey,
        likeness=likeness,
        moved=moved,
        noise=noise / level,
        sharpness=float(np.median(sides)) / CORNER,
        two_tone=found.two_tone,
        bent=bent,
        bend=bend,
        torn=_torn(found.picture, matrix, printed),
    )


def _torn(picture: Picture, matrix: Any, printed: Plane) -> bool:
    """Tell whether the page is torn where nothing is printed."""
    side = 2 * round(_MARGIN * PX) + 1
    inked: Any = cv2.dilate((printed > 0.05).astype(np.uint8), np.ones((side, side), np.uint8))
    high, wide = picture.shape
    covered: Any = cv2.warpPerspective(
        inked, matrix, (wide, high), flags=cv2.INTER_NEAREST, borderValue=1
    )
    bare = covered == 0
    down, across = (np.flatnonzero(bare.any(axis=way)) for way in (1, 0))
    if not down.size:
        return False
    page = slice(down[0], down[-1] + 1), slice(across[0], across[-1] + 1)
    return torn(picture[page], covered[page] > 0)


def _look(picture: Picture, matrix: Any, xs: Plane, ys: Plane) -> Picture:
    """Sample the photo where the points of the flat page lie in it."""
    m = matrix.astype(np.float32)
    at_x, at_y, below = (_along(row, xs, ys) for row in m)
    at_x /= below
    at_y /= below
    seen: Any = cv2.remap(picture, at_x, at_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(seen, dtype=np.uint8)


def _along(row: Any, xs: Plane, ys: Plane) -> Plane:
    """Return a x + b y + c of a row a, b, c, in place: pages are large."""
    made: Plane = row[0] * xs
    made += row[1] * ys
    made += row[2]
    return made


def darkness(grey: Picture) -> Plane:
    """Return how much darker each pixel is than the paper around it, as a share.

    Paper is what is left when everything narrower than 8 mm is closed over;
    that follows shadows and slopes of light.
    """
    quarter: Any = cv2.resize(grey, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    side = round(8.0 * PX / 4) | 1
    quarter = cv2.medianBlur(quarter, 3)
    paper = cv2.morphologyEx(quarter, cv2.MORPH_CLOSE, np.ones((side, side), np.uint8))
    paper = cv2.GaussianBlur(paper, (0, 0), 4)
    size = (grey.shape[1], grey.shape[0])
    whole: Any = cv2.resize(paper, size, interpolation=cv2.INTER_LINEAR).astype(np.float32)
    seen: Plane = 1 - grey.astype(np.float32) / np.maximum(whole, 1)
    return seen


def _black(dark: Plane, printed: Plane) -> float:
    """Return how dark full print is in the photo."""
    full = cv2.erode(printed, np.ones((5, 5), np.uint8)) > 0.95
    return max(0.2, float(np.median(dark[full]))) if full.any() else 0.8


def _compare(
    dark: Plane, printed: Plane, reach: float
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Find how far each piece of print lies from where it was printed, in pixels."""
    side, far = round(_PATCH * PX), round(reach * PX)
    high, wide = printed.shape
    places, offsets, scores = [], [], []
    step = round(side * 0.9)
    for y in range(far, high - side - far, step):
        for x in range(far, wide - side - far, step):
            piece = printed[y : y + side, x : x + side]
            if _spread(piece) < 0.1 or any(
                _spread(cv2.reduce(piece, way, cv2.REDUCE_AVG)) < 0.02 for way in (0, 1)
            ):
                continue
            around = dark[y - far : y + side + far, x - far : x + side + far]
            match: Any = cv2.matchTemplate(around, piece, cv2.TM_CCOEFF_NORMED)
            _, best, _, (bx, by) = cv2.minMaxLoc(match)
            if best < 0.3:
                continue
            offsets.append((bx - far + peak(match, bx, by, 1), by - far + peak(match, bx, by, 0)))
            places.append((x + side / 2, y + side / 2))
            scores.append(best)
    return np.array(places), np.array(offsets, float), np.array(scores)


def _spread(piece: Any) -> float:
    """Return the standard deviation of darkness, which OpenCV takes faster than numpy."""
    return float(cv2.meanStdDev(piece)[1][0, 0])


def _terms(x: Any, y: Any) -> list[Any]:
    return [x**0, x, y, x * x, x * y, y * y, x**3, x * x * y, x * y * y, y**3, x**4, y**4]


def _smooth(
    places: Any, offsets: Any, scores: Any, xs: Plane, ys: Plane
) -> tuple[Plane, NDArray[np.float64]]:
    """Fit a smooth field through the shifts, leaving out pieces that disagree.

    Also return by how many pixels each piece misses it.
    """
    high, wide = xs.shape
    terms = _terms(places[:, 0] / wide - 0.5, places[:, 1] / high - 0.5)
    enough = ((30, 12), (16, 6), (7, 3), (0, 1))
    count = next(fitted for least, fitted in enough if len(places) >= least)
    cells = {(int(3 * x / wide), int(3 * y / high)) for x, y in places}
    if len(cells) < 7:
        # Print on a part of the page only: a bend is not followed into what is blank,
        # and the corner marks, which lie where they should, hold the field.
        count = min(count, 6)
        far = (EDGE + CORNER / 2) * PX
        held = [(x, y) for x in (far, wide - far) for y in (far, high - far)] * 3
        places = np.concatenate([places, held])
        offsets = np.concatenate([offsets, np.zeros((len(held), 2))])
        scores = np.concatenate([scores, np.ones(len(held))])
        terms = _terms(places[:, 0] / wide - 0.5, places[:, 1] / high - 0.5)
    design = np.column_stack(terms[:count])
    weights = np.asarray(scores, float)
    solved = np.zeros((count, 2))
    miss = np.zeros(len(places))
    for _ in range(5):
        root = np.sqrt(weights)[:, None]
        solved, *_ = np.linalg.lstsq(design * root, offsets * root, rcond=None)
        miss = np.hypot(*(offsets - design @ solved).T)
        spread = max(0.25, 1.4826 * float(np.median(miss)))
        weights = scores / (1 + (miss / (2 * spread)) ** 2) ** 2
    small_y, small_x = np.mgrid[0:high:16, 0:wide:16].astype(np.float64)
    at = _terms(small_x / wide - 0.5, small_y / high - 0.5)[:count]
    field = [sum(c * term for c, term in zip(solved[:, k], at, strict=True)) for k in (0, 1)]
    # The coarse field's points lie at multiples of 16; interpolate there exactly.
    spots_x, spots_y = xs / 16, ys / 16
    whole: Plane = np.stack(
        [
            cv2.remap(
                part.astype(np.float32), spots_x, spots_y, cv2.INTER_LINEAR,
                borderMode=cv2.BORDER_REPLICATE,
            )
            for part in field
        ]
    )  # fmt: skip
    return whole, miss
