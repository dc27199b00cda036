"""From a photo to a flat page: finds a sheet in a picture, names it, straightens it.

A page is found by its corner marks, named by its QR code, laid flat by the
perspective of the marks, and then shifted piece by piece until the printed
text lies where it was printed, which takes out the bulge of a curled page.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import zxingcpp
from numpy.typing import NDArray

from ..paper.page_parts import CORNER, EDGE, MARK, SIZES, Page

Picture = NDArray[np.uint8]
Plane = NDArray[np.float32]

PX = 6.0  # pixels a millimetre on a straightened page: 152 dpi
LOWEST = 3.4  # pixels a millimetre in the photo below which it is not read: 86 dpi
_PATCH, _REACH, _FINE = 14.0, 4.0, 1.2  # millimetres
_PICTURES = {".jpg", ".jpeg", ".png", ".heic", ".heif", ".tif", ".tiff", ".webp", ".bmp"}
SUFFIXES = frozenset(_PICTURES | {".pdf"})
_PDF_DPI = 200
MOST_PIXELS = 110_000_000  # of one picture: the finest telephone cameras, and A3 at 600 dpi
MOST_PAGES = 300  # of one file
LARGEST = 150_000_000  # bytes of one file
_QR: Any = zxingcpp.BarcodeFormat.QRCode


class Unreadable(Exception):
    """A file or page that gives nothing; `kind` is a fault's name, `found` what was seen."""

    def __init__(self, kind: str, found: str = "") -> None:
        super().__init__(kind)
        self.kind = kind
        self.found = found


@dataclass(frozen=True, slots=True)
class Identity:
    """What a page's QR code says."""

    session: str
    assessor: str
    page: int
    paper: str
    fingerprint: str
    check: str


def pictures(path: Path) -> Iterator[Picture]:
    """Read a file as grey pictures: one, or one per page of a PDF or TIFF.

    Raises
    ------
    Unreadable
        If the file cannot be opened as what its name says.
    """
    try:
        if path.stat().st_size > LARGEST:
            raise Unreadable("too_large", f"{path.stat().st_size:,} bytes")
        with path.open("rb") as opened:
            is_pdf = opened.read(4) == b"%PDF"
        if is_pdf or path.suffix.lower() == ".pdf":
            yield from _pdf(path)
        else:
            yield from _images(path)
    except (OSError, ValueError, RuntimeError, SyntaxError) as refusal:
        raise Unreadable("unreadable_file", str(refusal) or type(refusal).__name__) from refusal


def _pdf(path: Path) -> Iterator[Picture]:
    import pypdfium2

    with pypdfium2.PdfDocument(path) as document:
        if len(document) > MOST_PAGES:
            raise Unreadable("too_large", f"{len(document):,} pages")
        for page in document:
            wide, high = (side * _PDF_DPI / 72 for side in page.get_size())
            _bounded(wide, high)
            bitmap = page.render(scale=_PDF_DPI / 72, grayscale=True)
            yield np.array(bitmap.to_numpy(), dtype=np.uint8)


def _images(path: Path) -> Iterator[Picture]:
    from PIL import Image, ImageOps, ImageSequence

    if path.suffix.lower() in (".heic", ".heif"):
        import pillow_heif

        pillow_heif.register_heif_opener()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # its own bound is looser than ours
        with Image.open(path) as image:
            for number, frame in enumerate(ImageSequence.Iterator(image), start=1):
                if number > MOST_PAGES:
                    raise Unreadable("too_large", f"more than {MOST_PAGES} pages")
                _bounded(*frame.size)
                upright = ImageOps.exif_transpose(frame)
                yield np.asarray(upright.convert("L"), dtype=np.uint8)


def _bounded(wide: float, high: float) -> None:
    """Refuse a picture that no page gives, before memory is taken for it."""
    if not (16 <= wide <= 40_000 and 16 <= high <= 40_000 and wide * high <= MOST_PIXELS):
        raise Unreadable("too_large", f"{wide:.0f} x {high:.0f} pixels")


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
    """

    identity: Identity
    picture: Picture
    corners: dict[int, Plane]


def find(picture: Picture) -> FoundSheet:
    """Find the sheet in a picture.

    Raises
    ------
    Unreadable
        ``photo_no_sheet`` if no corner mark and no QR code is there; ``photo_poor``
        if there are some, but too few or too small.
    """
    corners = _corners(picture)
    sides = [_side(points) for points in corners.values()]
    if sides:
        scale = float(np.median(sides)) / CORNER
        factor = 1.3 * PX / scale
        if factor < 0.8:  # finer than needed: smaller is faster, and loses nothing
            picture = _smaller(picture, factor)
            corners = {key: (points + 0.5) * factor - 0.5 for key, points in corners.items()}
            scale *= factor
        if scale < LOWEST:
            raise Unreadable("photo_poor", f"{scale * 25.4:.0f} dpi")
    identity = _identity(picture, corners)
    if identity is None:
        raise Unreadable("photo_no_code" if corners else "photo_no_sheet")
    if len(corners) < 3:
        raise Unreadable("photo_corners", str(len(corners)))
    return FoundSheet(identity, picture, corners)


def _smaller(picture: Picture, factor: float) -> Picture:
    made: Any = cv2.resize(picture, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    return np.asarray(made, dtype=np.uint8)


def _side(points: Plane) -> float:
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


def _corners(picture: Picture) -> dict[int, Plane]:
    """Find the corner marks, on a smaller picture first, and on the whole if some lack."""
    largest = max(picture.shape)
    found: dict[int, Plane] = {}
    for limit in (2000, 4200):
        factor = min(1.0, limit / largest)
        looked = _smaller(picture, factor) if factor < 1 else picture
        marks, names, _ = _detector().detectMarkers(looked)
        found = {}
        twice = set()
        for points, name in zip(marks, names if names is not None else [], strict=True):
            number = int(np.ravel(name)[0])
            if number > 3:
                continue
            if number in found:
                twice.add(number)
            found[number] = (points.reshape(4, 2).astype(np.float32) + 0.5) / factor - 0.5
        for number in twice:
            del found[number]
        if len(found) == 4 or factor == 1:
            break
    return found


def _identity(picture: Picture, corners: dict[int, Plane]) -> Identity | None:
    """Read the QR code: near the upper right corner mark first, then anywhere."""
    tries = []
    if 1 in corners:
        tries.append(_near_code(picture, corners[1]))
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
                named = _named(code.text)
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


def _named(text: str) -> Identity | None:
    parts = text.split("|")
    if len(parts) != 7 or parts[0] != MARK or parts[4] not in SIZES or not parts[3].isdigit():
        return None
    return Identity(parts[1], parts[2], int(parts[3]), parts[4], parts[5], parts[6])


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
    """

    dark: Plane
    grey: Picture
    likeness: float
    moved: float
    noise: float
    sharpness: float


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
    there = [_printed_corner(page, number) for number in sorted(found.corners)]
    matrix, _ = cv2.findHomography(
        np.concatenate(there).astype(np.float64), np.concatenate(here).astype(np.float64)
    )
    if matrix is None:
        raise Unreadable("photo_corners", str(len(here)))
    high, wide = printed.shape
    ys, xs = np.mgrid[0:high, 0:wide].astype(np.float32)
    shift = np.zeros((2, high, wide), np.float32)
    moved = 0.0
    likeness = 0.0
    for reach in (_REACH, _FINE):
        grey = _look(found.picture, matrix, xs + shift[0], ys + shift[1])
        dark = darkness(grey)
        places, offsets, scores = _compare(dark, printed, reach)
        if len(places) < 4:  # even a page with one question has a head and a foot
            raise Unreadable("photo_poor", "too little print was found again")
        likeness = float(np.median(scores))
        further = _smooth(places, offsets, scores, xs, ys)
        shift += further
        moved = float(np.hypot(*shift).max() / PX)
    grey = _look(found.picture, matrix, xs + shift[0], ys + shift[1])
    dark = darkness(grey)
    if likeness < 0.45 or moved > 12:
        raise Unreadable("photo_poor", f"likeness {likeness:.2f}")
    blank = cv2.dilate(printed, np.ones((9, 9), np.uint8)) < 0.02
    quiet = dark[blank]
    noise = 1.4826 * float(np.median(np.abs(quiet - np.median(quiet))))
    sides = [_side(points) for points in here]
    level = _black(dark, printed)
    return Flat(
        dark=np.clip(dark / level, 0, 1.2).astype(np.float32),
        grey=grey,
        likeness=likeness,
        moved=moved,
        noise=noise / level,
        sharpness=float(np.median(sides)) / CORNER,
    )


def _printed_corner(page: Page, number: int) -> Plane:
    x, y = page.corners[number]
    points = ((x, y), (x + CORNER, y), (x + CORNER, y + CORNER), (x, y + CORNER))
    return np.array(points, np.float32) * PX - 0.5


def _look(picture: Picture, matrix: Any, xs: Plane, ys: Plane) -> Picture:
    """Sample the photo where the points of the flat page lie in it."""
    m = matrix.astype(np.float32)
    below = m[2, 0] * xs + m[2, 1] * ys + m[2, 2]
    at_x = (m[0, 0] * xs + m[0, 1] * ys + m[0, 2]) / below
    at_y = (m[1, 0] * xs + m[1, 1] * ys + m[1, 2]) / below
    seen: Any = cv2.remap(picture, at_x, at_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(seen, dtype=np.uint8)


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
            if (
                piece.std() < 0.1
                or piece.mean(axis=0).std() < 0.02
                or piece.mean(axis=1).std() < 0.02
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


def peak(match: Plane, x: int, y: int, axis: int) -> float:
    """Refine a best match to a part of a pixel by a parabola through three values."""
    line = match[y, :] if axis == 1 else match[:, x]
    at = x if axis == 1 else y
    if not 0 < at < len(line) - 1:
        return 0.0
    before, here, after = (float(line[at + d]) for d in (-1, 0, 1))
    bend = before - 2 * here + after
    return 0.0 if bend >= -1e-6 else float(np.clip(0.5 * (before - after) / bend, -0.5, 0.5))


def _terms(x: Any, y: Any) -> list[Any]:
    return [x**0, x, y, x * x, x * y, y * y, x**3, x * x * y, x * y * y, y**3, x**4, y**4]


def _smooth(places: Any, offsets: Any, scores: Any, xs: Plane, ys: Plane) -> Plane:
    """Fit a smooth field through the shifts, leaving out pieces that disagree."""
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
    return np.stack(
        [
            cv2.remap(
                part.astype(np.float32), spots_x, spots_y, cv2.INTER_LINEAR,
                borderMode=cv2.BORDER_REPLICATE,
            )
            for part in field
        ]
    )  # fmt: skip
