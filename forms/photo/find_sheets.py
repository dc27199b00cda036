"""Finding sheets in a picture: by their corner marks, named by their QR codes."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
import zxingcpp

from ..paper.page_parts import CORNER, EDGE, SIZES
from .page_code import Identity, bent_code, named_by
from .picture_files import Picture, Plane, Unreadable

PX = 6.0  # pixels a millimetre on a straightened page: 152 dpi
LOWEST = 3.4  # pixels a millimetre in the photo below which it is not read: 86 dpi
_MESSENGER = 1300  # a picture whose long side has fewer pixels was made small on its way
_LEAST = 3  # corner marks that a sheet needs
_ASTRAY = 60.0  # millimetres by which the corner marks of one sheet lie beside where one tells
_QR: Any = zxingcpp.BarcodeFormat.QRCode


@dataclass(frozen=True, slots=True)
class FoundSheet:
    """A sheet found in a picture.

    Attributes
    ----------
    identity : Identity
    picture : array
        The picture, made smaller if it was needlessly large.
    corners : dict
        For each corner mark that was found, its four corner points in the picture.
    two_tone : bool
        Whether the picture knows black and white only.
    """

    identity: Identity
    picture: Picture
    corners: dict[int, Plane]
    two_tone: bool = False


@dataclass(frozen=True, slots=True)
class UnnamedSheet:
    """The only sheet in a picture, whose code cannot be read; attributes as of `FoundSheet`."""

    picture: Picture
    corners: dict[int, Plane]
    two_tone: bool

    def named(self, identity: Identity) -> FoundSheet:
        """Return it as the page that somebody says it is."""
        return FoundSheet(identity, self.picture, self.corners, self.two_tone)


Marks = list[tuple[int, Plane]]
"""Corner marks: which of the four it is, and its corner points in the picture."""


def find(
    picture: Picture, known: Callable[[], Iterable[str]] = tuple
) -> list[FoundSheet | UnnamedSheet | Unreadable]:
    """Find the sheets in a picture, in most pictures one.

    Parameters
    ----------
    picture : Picture
    known : callable
        Gives what the codes of all pages of a session say. A code that is too
        bent to be read is set beside them.

    Returns
    -------
    list
        Each sheet, or why it cannot be read: ``photo_no_sheet`` if no corner mark and no
        QR code is there; ``photo_small`` and ``photo_poor`` if they are too small;
        ``photo_code_hidden`` and ``photo_corners`` if some were not found; ``photo_more`` if
        there are marks of further sheets. One that lies there alone with enough corner marks and
        no code that can be read may be named by a person.
    """
    two_tone = _two_tone(picture)
    marks = _marks(picture)
    if marks:
        scale = float(np.median([side_of(points) for _, points in marks])) / CORNER
        factor = 1.3 * PX / scale
        if factor < 0.8:  # finer than needed: smaller is faster, and loses nothing
            picture = _smaller(picture, factor)
            marks = [(name, (points + 0.5) * factor - 0.5) for name, points in marks]
            scale *= factor
        if scale < LOWEST:
            kind = "photo_small" if max(picture.shape) <= _MESSENGER else "photo_poor"
            return [Unreadable(kind, f"{scale * 25.4:.0f} dpi")]
    found: list[FoundSheet | UnnamedSheet | Unreadable] = []
    left = list(marks)
    several = len({name for name, _ in marks}) < len(marks)
    anchors: list[tuple[int, Plane] | None] = [mark for mark in marks if mark[0] == 1]
    for anchor in anchors or [None]:
        corners = _of_one_sheet(left, anchor) if several else dict(marks)
        identity = _identity(picture, corners, alone=not several)
        if identity is None and len(corners) >= _LEAST:
            identity = bent_code(picture, corners, known())
        if identity is None and len(corners) >= _LEAST and not several:
            found.append(UnnamedSheet(picture, corners, two_tone))
        elif identity is None:
            found.append(Unreadable("photo_code_hidden" if corners else "photo_no_sheet"))
        elif len(corners) < _LEAST:
            found.append(Unreadable("photo_corners", str(len(corners))))
        else:
            found.append(FoundSheet(identity, picture, corners, two_tone))
            mine = {id(points) for points in corners.values()}
            left = [mark for mark in left if id(mark[1]) not in mine]
    read = [one for one in found if isinstance(one, FoundSheet)]
    if several and len(marks) - sum(len(one.corners) for one in read) > 1:
        return [*read, Unreadable("photo_more", str(len(read)))]
    return found


def _two_tone(picture: Picture) -> bool:
    """Tell whether a picture knows black and white only, as faxes and some scanners leave it."""
    some = picture[:: max(1, picture.shape[0] // 1500)]
    ink = some[some < 0.8 * float(some.max())]
    return bool(ink.size and np.mean(ink < 0.15 * float(some.max())) > 0.9)


def _of_one_sheet(marks: Marks, anchor: tuple[int, Plane] | None) -> dict[int, Plane]:
    """Choose the corner marks that belong to one upper right mark: those where it lets expect."""
    if anchor is None:
        return {}
    points = anchor[1]
    across, down = (points[1] - points[0]) / CORNER, (points[3] - points[0]) / CORNER
    width, height = SIZES["A4"]
    far_x, far_y = width - 2 * EDGE - CORNER, height - 2 * EDGE - CORNER
    places = {0: (-far_x, 0.0), 2: (0.0, far_y), 3: (-far_x, far_y)}
    chosen = {1: points}
    for name, (x, y) in places.items():
        wanted = points[0] + x * across + y * down
        near = [
            (float(np.linalg.norm(other[0] - wanted)), number)
            for number, (which, other) in enumerate(marks)
            if which == name
        ]
        if near and min(near)[0] <= _ASTRAY * float(np.linalg.norm(down)):
            chosen[name] = marks[min(near)[1]][1]
    return chosen


def _smaller(picture: Picture, factor: float) -> Picture:
    made: Any = cv2.resize(picture, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    return np.asarray(made, dtype=np.uint8)


def side_of(points: Plane) -> float:
    """Return how long the sides of a corner mark are, in pixels."""
    return float(np.linalg.norm(np.roll(points, 1, axis=0) - points, axis=1).mean())


def _detector() -> Any:
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    settings.cornerRefinementWinSize = 4
    settings.minMarkerPerimeterRate = 0.012
    settings.maxMarkerPerimeterRate = 0.6
    settings.adaptiveThreshWinSizeMin = 13
    settings.adaptiveThreshWinSizeMax = 53
    settings.adaptiveThreshWinSizeStep = 20
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    return cv2.aruco.ArucoDetector(dictionary, settings)


def _marks(picture: Picture) -> Marks:
    """Find the corner marks, on a smaller picture first, and on the whole if some lack."""
    largest = max(picture.shape)
    found: Marks = []
    for limit in (2000, 4200):
        factor = min(1.0, limit / largest)
        looked = _smaller(picture, factor) if factor < 1 else picture
        marks, names, _ = _detector().detectMarkers(looked)
        numbers = [int(np.ravel(name)[0]) for name in (names if names is not None else [])]
        found = [
            (number, (points.reshape(4, 2).astype(np.float32) + 0.5) / factor - 0.5)
            for points, number in zip(marks, numbers, strict=True)
            if number <= 3
        ]
        if len({number for number, _ in found}) == 4 or factor == 1:
            break
    return found


def _identity(picture: Picture, corners: dict[int, Plane], *, alone: bool) -> Identity | None:
    """Read the QR code near the upper right corner mark, or anywhere around a sheet alone."""
    tries = []
    if 1 in corners:
        tries.append(_near_code(picture, corners[1]))
    if alone:
        tries.append(picture)
    for tried in tries:
        if tried.size == 0:
            continue
        for enlarged in (1.0, 2.0):
            if enlarged > 1 and max(tried.shape) > 2500:
                continue
            looked: Any = tried
            if enlarged > 1:
                looked = cv2.resize(
                    tried, None, fx=enlarged, fy=enlarged, interpolation=cv2.INTER_CUBIC
                )
            for code in zxingcpp.read_barcodes(looked, formats=_QR):
                named = named_by(code.text)
                if named is not None:
                    return named
    return None


def _near_code(picture: Picture, corner: Plane) -> Picture:
    """Cut out where the QR code must be, seen from the mark beside it."""
    across, down = corner[1] - corner[0], corner[3] - corner[0]
    reach = [corner[0] + a * across + b * down for a in (-4.6, 1.3) for b in (-0.9, 4.2)]
    (x1, y1), (x2, y2) = np.min(reach, axis=0), np.max(reach, axis=0)
    high, wide = picture.shape
    x1, x2 = (int(np.clip(x, 0, wide)) for x in (x1, x2))
    y1, y2 = (int(np.clip(y, 0, high)) for y in (y1, y2))
    return np.ascontiguousarray(picture[y1:y2, x1:x2])
