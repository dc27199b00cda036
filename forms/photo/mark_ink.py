"""Measuring ink on a straightened page: in each box, and across each line.

Only what is seen is told here; what it means is for `rules` to say. Ink is
darkness where nothing was printed. Lengths are millimetres.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from ..paper.page_parts import Box, Field, Page, Scale
from .around_boxes import is_cross, length, loose, rings, through, touched, without
from .find_sheets import PX
from .local_fit import peak
from .mark_shape import NO_SHAPE, Shape, shape
from .notes_beside import noted
from .own_print import ABOVE, BELOW, REACH, AroundLine, around_line, lost
from .picture_files import Plane
from .straighten import Flat

INSET = 0.62  # from a box's outline to where ink counts
_BAND = 0.55  # half the height that the printed line hides, in a sharp photo
_TICK = 1.2  # a height at which an end tick hides ink and the line does not
_BLURRED = 0.3  # and how much more it hides in the poorest one
_SEARCH = 3  # pixels by which a box is looked for around its place
PARTLY = 0.6  # share of the way round from which ink about an empty box may be a ring
_FULL = 0.8  # share of a box from which what sticks out of it is no ring
_MIDDLE = 0.6  # share of a box's half in which a mark has some of its ink
EDGE_ONLY = 0.3  # share of its darkness in the middle below which ink lies at a box's edge alone
THIN = 0.25  # share of a box that such ink fills at most
PALER = 0.6  # darkness below which it is looked how far ink runs on: all pens are darker
RING = 0.72  # share of the way round from which ink around a box is a ring
RISING, RISING_FAR = 1.2, 2.1  # millimetres by which a stroke up to the right sticks out of a box
PEN = 0.35  # share of a mark's darkness that a stroke through it has at least
_STRAIGHT = 0.5  # and how near its middle it passes at most
_ARMS = (1.1, 1.65)  # millimetres from a line where it is seen whether a mark has arms
UPON, UPON_WIDE = 0.2, 0.3  # darkness by which a line is thicker, and for how many millimetres
_UPON = (0.34, 0.5)  # millimetres from its middle where that is seen
_UPON_END = 1.0  # and from its ends
_BEYOND = 0.35  # millimetres by which a stroke comes out of what the line hides
_HIDDEN = 2  # pixels to print in which it goes on
_INK = 0.12  # darkness from which something around a box is ink
_CORE = 0.7  # pixels by which darkness is smoothed before it is measured


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxInk:
    """What is in a box.

    Attributes
    ----------
    box : Box
    depth : float
        How dark the darkest part is: 0 paper, 1 print.
    extent : float
        The longest side of the largest connected piece of ink.
    fill : float
        Share of the inside that is inked.
    ring : float
        Share of the way round it that a ring runs.
    through : tuple of float
        Directions of straight strokes right through it, from 0 to pi, y downwards.
    inner : float
        How dark the darkest part is of what lies around its middle.
    around : float
        Share of the way round it where ink is at all, in one ring or not.
    touched : bool
        Whether a ring of another box runs through it.
    cross : bool
        Whether two slanting strokes cross in it.
    runs : float
        How far the ink runs on, in millimetres, where it is paler than a pen's.
    rises : float
        How far a straight stroke up to the right, or any where it is filled, sticks out at both
        ends: `RISING`, `RISING_FAR`, or 0 for less.
    covered : float
        How dark the darkest part is around its middle before the rings of others, which run
        through it, are taken off; 0 if none does.
    shape : Shape
        How far its mark sticks out of it, and what that encloses.
    """

    box: Box
    depth: float
    extent: float
    fill: float
    ring: float = 0.0
    through: tuple[float, ...] = ()
    inner: float = 1.0
    around: float = 0.0
    touched: bool = False
    cross: bool = False
    runs: float = 0.0
    rises: float = 0.0
    covered: float = 0.0
    shape: Shape = NO_SHAPE


@dataclass(frozen=True, slots=True, kw_only=True)
class LineInk:
    """One connected mark at a line.

    Attributes
    ----------
    x : float
        Where it crosses the line, on the page.
    depth : float
        As in `BoxInk`.
    above, below : float
        How far it reaches over and under the line.
    width : float
        How wide it is close to the line.
    fill : float
        Inked share of its rows a little over and under the line.
    crosses : bool
        Whether it meets the line on both sides.
    gap : float
        How far from the line it begins, where it does not cross.
    runs : float
        As in `BoxInk`.
    notch : float
        How dark it is between its arms, as a share of the darkness of the paler one, on the side
        where that is more: 1 where it has no arms.
    upon : bool
        Whether it is only a place where the line is thicker than elsewhere: a dot upon it.
    """

    x: float
    depth: float
    above: float
    below: float
    width: float
    fill: float
    crosses: bool
    gap: float
    runs: float = 0.0
    notch: float = 1.0
    upon: bool = False


@dataclass(frozen=True, slots=True)
class Ink:
    """All ink on a page.

    Attributes
    ----------
    boxes, lines, fields
        What is in each box, at each line, and in each frame for words.
    lost : frozenset
        Questions, by code and attribute, whose own print is not found in its place.
    loose : frozenset
        Questions beside whose boxes ink lies that belongs to no mark.
    noted : float
        Millimetres of ink that lies at no question.
    """

    boxes: tuple[BoxInk, ...]
    lines: tuple[tuple[Scale, tuple[LineInk, ...]], ...]
    fields: tuple[tuple[Field, float], ...]
    lost: frozenset[tuple[str, str]] = frozenset()
    loose: frozenset[tuple[str, str]] = frozenset()
    noted: float = 0.0


def measure(flat: Flat, page: Page, printed: Plane) -> Ink:
    """Measure all marks of a page.

    Parameters
    ----------
    flat : Flat
    page : Page
    printed : array
        Darkness of the blank printed page, `PX` pixels a millimetre.
    """
    smooth: Any = cv2.GaussianBlur(flat.dark, (0, 0), _CORE)
    soft = float(np.clip((PX - flat.sharpness) / 2, 0, 1))
    side = 3 if flat.sharpness > 1.08 * PX else 5
    print_near: Any = cv2.dilate(printed, np.ones((side, side), np.uint8)) > 0.12
    quiet = max(
        0.02, 1.2 * flat.noise
    )  # what smoothing leaves of the noise, about three deviations
    places = {box: _shift(smooth, printed, box) for box in page.boxes}
    limit = max(_INK, 3 * quiet)
    found = rings(smooth, print_near, page.boxes, limit)
    bare = without(smooth, [ring for ring in found if ring.share >= RING])
    boxes = _level([_box(bare, box, places[box], quiet) for box in page.boxes])
    boxes = [
        _filled(one, _box(smooth, one.box, places[one.box], quiet)) if ring.share >= RING else one
        for one, ring in zip(boxes, found, strict=True)
    ]
    ringed = [
        (one.box, ring)
        for one, ring in zip(boxes, found, strict=True)
        if ring.share >= PARTLY and one.fill < _FULL
    ]
    marked = [one.box for one in boxes if one.depth >= limit]

    def near(box: Box) -> list[Box]:
        return [one for one in marked if abs(one.x - box.x) + abs(one.y - box.y) < 3 * box.size]

    over = {one.box: touched(one.box, ringed) for one in boxes}
    boxes = [
        replace(
            one,
            ring=ring.share,
            around=ring.inked,
            touched=over[one.box],
            covered=_box(smooth, one.box, places[one.box], quiet).inner if over[one.box] else 0.0,
            through=through(
                bare, print_near, one.box, max(limit, PEN * one.depth), others=near(one.box)
            )
            if one.depth >= limit
            else (),
            cross=one.depth >= limit and is_cross(bare, print_near, one.box, limit),
            rises=_rises(bare, print_near, one, limit, near(one.box))
            if one.depth >= limit
            else 0.0,
            shape=shape(smooth, print_near, one.box, one.depth, limit)
            if one.depth >= limit
            else NO_SHAPE,
        )
        for one, ring in zip(boxes, found, strict=True)
    ]
    band = _BAND + _BLURRED * soft
    lines = tuple(
        (
            scale,
            _line(around_line(smooth, printed, print_near, scale, flat.bent), scale, quiet, band),
        )
        for scale in page.scales
    )
    boxes, lines = _running(smooth, print_near, boxes, lines, limit)
    fields = tuple((frame, _field(smooth, frame, quiet)) for frame in page.fields)
    taken = [one.box for one in boxes if one.depth >= limit and not edge_only(one)]
    return Ink(
        tuple(boxes),
        lines,
        fields,
        lost(smooth, printed, page, bent=flat.bent),
        loose(bare, print_near, page, taken, 2 * limit),
        noted(bare, print_near, page),
    )


def edge_only(one: BoxInk) -> bool:
    """Tell whether the ink in a box lies at its edge alone: it may be a mark beside it."""
    return one.inner < EDGE_ONLY * one.depth and one.fill < THIN


def _filled(bare: BoxInk, whole: BoxInk) -> BoxInk:
    """Return what is in a ringed box: neighbours' rings, taken off, may take its fill along."""
    if whole.fill < _FULL:
        return bare
    return replace(bare, depth=whole.depth, fill=whole.fill, extent=whole.extent)


def _rises(
    smooth: Plane, hidden: Any, one: BoxInk, limit: float, others: Sequence[Box] = ()
) -> float:
    """Return how far a straight stroke up to the right sticks out of a box at both ends.

    Of a filled one, whose own strokes stay in it, in whatever direction.
    """
    found = 0.0
    dark = max(limit, PEN * one.depth)
    for far in (RISING, RISING_FAR):
        ways = through(
            smooth, hidden, one.box, dark, beyond=far, within=_STRAIGHT, last=0.35, others=others
        )
        if not any(np.pi / 2 < way < np.pi or one.fill >= _FULL for way in ways):
            break
        found = far
    return found


_Lines = tuple[tuple[Scale, tuple[LineInk, ...]], ...]


def _running(
    smooth: Plane, hidden: Any, boxes: list[BoxInk], lines: _Lines, limit: float
) -> tuple[list[BoxInk], _Lines]:
    """See how far ink runs on that is paler than a pen's: the ring of a cup's foot."""
    seen = [
        replace(one, runs=length(smooth, hidden, (one.box.x, one.box.y), one.depth))
        if limit <= one.depth < PALER
        else one
        for one in boxes
    ]
    crossed = tuple(
        (
            scale,
            tuple(
                replace(one, runs=length(smooth, hidden, (one.x, scale.y - 1.2), one.depth))
                if limit <= one.depth < PALER
                else one
                for one in found
            ),
        )
        for scale, found in lines
    )
    return seen, crossed


def _cut(plane: Any, x: float, y: float, half_x: float, half_y: float) -> tuple[Any, int, int]:
    """Cut a window out around a point; also return its upper left pixel."""
    high, wide = plane.shape[:2]
    x1, x2 = (int(np.clip(round((x + d) * PX), 0, wide)) for d in (-half_x, half_x))
    y1, y2 = (int(np.clip(round((y + d) * PX), 0, high)) for d in (-half_y, half_y))
    return plane[y1:y2, x1:x2], x1, y1


def _shift(smooth: Plane, printed: Plane, box: Box) -> tuple[float, float]:
    """Return how far a box lies from where it was printed: its outline is found again."""
    half = box.size / 2 + 0.5
    wanted, x1, y1 = _cut(printed, box.x, box.y, half, half)
    high, wide = wanted.shape
    around = smooth[y1 - _SEARCH : y1 + high + _SEARCH, x1 - _SEARCH : x1 + wide + _SEARCH]
    if around.shape != (high + 2 * _SEARCH, wide + 2 * _SEARCH):
        return 0.0, 0.0
    match: Any = cv2.matchTemplate(around, wanted, cv2.TM_CCORR_NORMED)
    _, _, _, (x, y) = cv2.minMaxLoc(match)
    return (x - _SEARCH + peak(match, x, y, 1)) / PX, (y - _SEARCH + peak(match, x, y, 0)) / PX


def _box(smooth: Plane, box: Box, shift: tuple[float, float], quiet: float) -> BoxInk:
    half = box.size / 2 - INSET
    middle_x, middle_y = box.x + shift[0], box.y + shift[1]
    part, x1, y1 = _cut(smooth, middle_x, middle_y, half, half)
    high, wide = part.shape
    ys, xs = np.mgrid[0:high, 0:wide]
    across = (xs + x1 + 0.5) / PX - middle_x
    down = (ys + y1 + 0.5) / PX - middle_y
    inside = across**2 + down**2 <= half**2 if box.round else np.ones(part.shape, bool)
    values = part[inside]
    core = np.sort(values)[-max(4, round(0.05 * values.size)) :]
    depth = float(core.mean())
    limit = max(0.45 * depth, 3 * quiet, 0.05)
    inked = ((part > limit) & inside).astype(np.uint8)
    fill = float(inked[inside].mean())
    near = part[inside & (across**2 + down**2 <= (_MIDDLE * half) ** 2)]
    inner = float(np.sort(near)[-4:].mean()) if near.size else 0.0
    return BoxInk(box=box, depth=depth, extent=_extent(inked), fill=fill, inner=inner)


def _level(found: list[BoxInk]) -> list[BoxInk]:
    """Take off what even empty boxes show of their own outline, circles and squares apart."""
    base = {}
    for round_ones in (True, False):
        low = [one.depth for one in found if one.box.round is round_ones and one.depth < 0.2]
        base[round_ones] = min(float(np.median(low)), 0.12) if len(low) >= 4 else 0.0
    return [replace(one, depth=one.depth - base[one.box.round]) for one in found]


def _extent(inked: NDArray[np.uint8]) -> float:
    """Return the longest side of the largest connected piece; small gaps are closed."""
    if not inked.any():
        return 0.0
    closed = cv2.morphologyEx(inked, cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8))
    count, _, stats, _ = cv2.connectedComponentsWithStats(closed, connectivity=8)
    if count < 2:
        return 0.0
    sides = np.hypot(stats[1:, cv2.CC_STAT_WIDTH], stats[1:, cv2.CC_STAT_HEIGHT])
    return float(sides.max()) / PX


def _line(around: AroundLine, scale: Scale, quiet: float, hides: float) -> tuple[LineInk, ...]:
    left, top = scale.x - REACH, scale.y - ABOVE
    high, wide = round((ABOVE + BELOW) * PX), round((scale.length + 2 * REACH) * PX)
    x1, y1 = round(left * PX), round(top * PX)
    part = around.dark[y1 : y1 + high, x1 : x1 + wide].copy()
    hidden = around.hidden[y1 : y1 + high, x1 : x1 + wide].copy()
    level = scale.y * PX - y1  # the line in the window, in pixels
    rows = part[:, round(REACH * PX) : -round(REACH * PX)]
    near = slice(max(0, round(level) - 5), round(level) + 5)
    level += float(np.argmax(np.median(rows, axis=1)[near]) + near.start + 0.5 - level)
    band = round(hides * PX)
    middle = round(level - 0.5)
    dots = _dots(part, middle, x1)
    hidden[middle - band : middle + band + 1] = True
    bridged = _bridge(part, hidden, middle)
    for end, by in zip((scale.x, scale.x + scale.length), around.aside, strict=True):
        _bridge_end(bridged, hidden, round(end * PX - x1) + by, round(level - 0.5))
    limit = max(2.2 * quiet, 0.04)
    inked = (bridged > limit).astype(np.uint8)
    count, names, stats, _ = cv2.connectedComponentsWithStats(inked, connectivity=8)
    found = []
    for number in range(1, count):
        if stats[number, cv2.CC_STAT_AREA] < 0.12 * PX * PX:
            continue
        one = _mark((bridged, hidden), names == number, (level, x1), limit, hides)
        if one is not None:
            found.append(one)
    return (*found, *dots)


def _dots(part: Plane, middle: int, x1: int) -> list[LineInk]:
    """Return the places where a line is thicker, above and below, than it is elsewhere."""
    steps = [round(away * PX) for away in _UPON]
    sides = []
    for way in (-1, 1):
        rows = part[[middle + way * step for step in steps]]
        more = rows - np.median(rows, axis=1, keepdims=True)
        sides.append(more.max(axis=0))
    thick = np.minimum(*sides)
    thick[: round((REACH + _UPON_END) * PX)] = 0
    thick[-round((REACH + _UPON_END) * PX) :] = 0
    inked = (thick > UPON).astype(np.uint8)[None, :]
    _, _, stats, _ = cv2.connectedComponentsWithStats(inked, connectivity=8)
    return [
        LineInk(
            x=float(x1 + left + wide / 2) / PX,
            depth=float(thick[left : left + wide].max()),
            above=_UPON[-1],
            below=_UPON[-1],
            width=float(wide) / PX,
            fill=1.0,
            crosses=False,
            gap=0.0,
            upon=True,
        )
        for left, _, wide, _, _ in stats[1:]
        if wide >= UPON_WIDE * PX
    ]


def _bridge(part: Plane, hidden: Any, middle: int) -> Plane:
    """Write ink across the printed line and its end ticks where it shows on both sides.

    Print hides ink; a stroke that comes in above and goes out below is drawn
    through. Other hidden places, letters say, count as blank.
    """
    bridged = np.where(hidden, 0, part).astype(np.float32)
    high = part.shape[0]
    upper = middle - np.argmax(~hidden[middle::-1], axis=0)
    lower = middle + np.argmax(~hidden[middle:], axis=0)
    columns = np.arange(part.shape[1])
    three = np.arange(3)
    over = np.clip(upper[None, :] - three[:, None], 0, high - 1)
    under = np.clip(lower[None, :] + three[:, None], 0, high - 1)
    from_above = np.where(hidden[over, columns], 0, part[over, columns]).max(axis=0)
    from_below = np.where(hidden[under, columns], 0, part[under, columns]).max(axis=0)
    # A leaning stroke comes in beside where it goes out: look a little to both sides.
    reach = np.ones(2 * round(0.5 * PX) + 1, np.uint8)[None, :]
    wide_above = cv2.dilate(from_above[None, :], reach)[0]
    wide_below = cv2.dilate(from_below[None, :], reach)[0]
    through = np.maximum(np.minimum(from_above, wide_below), np.minimum(wide_above, from_below))
    for row in range(max(0, int(upper.min())), min(high, int(lower.max()) + 1)):
        within = (row > upper) & (row < lower)
        bridged[row, within] = through[within]
    return bridged


def _bridge_end(bridged: Plane, hidden: Any, column: int, middle: int) -> None:
    """Write ink across an end tick where it shows on both sides of it."""
    far = round(1.6 * PX)
    rows = slice(max(0, middle - far), middle + far + 1)
    left, right = column, column
    while left > 3 and hidden[middle - round(_TICK * PX), left]:
        left -= 1
    while right < hidden.shape[1] - 4 and hidden[middle - round(_TICK * PX), right]:
        right += 1
    if right - left > round(2.0 * PX):
        return
    reach = np.ones((2 * round(0.5 * PX) + 1, 1), np.uint8)
    from_left = bridged[rows, left - 2 : left + 1].max(axis=1)[:, None]
    from_right = bridged[rows, right : right + 3].max(axis=1)[:, None]
    through = np.maximum(
        np.minimum(from_left, cv2.dilate(from_right, reach)),
        np.minimum(cv2.dilate(from_left, reach), from_right),
    )
    gap = bridged[rows, left + 1 : right]
    np.maximum(gap, through, out=gap)


def _mark(
    planes: tuple[Plane, Any], mine: Any, at: tuple[float, int], limit: float, hides: float
) -> LineInk | None:
    bridged, hidden = planes
    level, x1 = at
    ys, xs = np.nonzero(mine)
    values = bridged[ys, xs]
    depth = float(np.sort(values)[-max(6, round(0.1 * values.size)) :].mean())
    strong = values > max(limit, 0.4 * depth)
    if strong.sum() < 6:
        return None
    ys, xs, values = ys[strong], xs[strong], values[strong]
    offset = (ys + 0.5 - level) / PX
    above, below = float(max(0.0, -offset.min())), float(max(0.0, offset.max()))
    near = np.abs(offset) <= 1.7
    over, under = (
        far > hides + _BEYOND or (far > hides and _goes_under(hidden, xs, ys, way * offset))
        for far, way in ((above, -1), (below, 1))
    )
    beyond = np.abs(offset) > hides
    use = near if near.any() else np.ones_like(near)
    width = float(np.ptp(xs[use]) + 1) / PX
    return LineInk(
        x=(x1 + 0.5 + _crossing(xs, offset, values)) / PX,
        depth=depth,
        above=above,
        below=below,
        width=width,
        fill=_solid(xs, ys, offset),
        crosses=bool(over and under),
        gap=float(np.abs(offset[beyond]).min()) if beyond.any() else 0.0,
        notch=_notch(bridged, hidden, (int(xs.min()), int(xs.max())), level),
    )


def _goes_under(hidden: Any, xs: Any, ys: Any, out: Any) -> bool:
    """Tell whether a mark runs, away from the line, to where print hides what follows."""
    way = 1 if ys[out.argmax()] > ys[out.argmin()] else -1
    at = np.arange(1, _HIDDEN + 1) * way + ys[out.argmax()]
    last = xs[out > out.max() - 1 / PX]
    at = at[(at >= 0) & (at < hidden.shape[0])]
    return bool(at.size) and bool(hidden[at][:, last].any(axis=0).mean() > 0.5)


def _notch(bridged: Plane, hidden: Any, span: tuple[int, int], level: float) -> float:
    """Return how dark it is between a mark's arms, over and under the line.

    Arms stand apart there, while what is scribbled over is dark throughout. Only what is seen
    counts, print hides the rest.
    """
    left, right = span
    found = []
    for way in (-1, 1):
        rows = np.round(level - 0.5 + way * np.arange(*_ARMS, 1 / PX) * PX).astype(int)
        rows = rows[(rows >= 0) & (rows < bridged.shape[0])]
        blind = hidden[rows, left : right + 1].mean(axis=0) > 0.5
        dark = bridged[rows, left : right + 1].mean(axis=0)
        dark = np.convolve(np.where(blind, np.nan, dark), np.ones(3) / 3, "same")
        middle = dark.size // 2
        arms = dark[:middle], dark[middle:]
        if any(np.isnan(arm).all() for arm in arms):
            return 1.0
        peaks = [int(np.nanargmax(arm)) for arm in arms]
        between = dark[peaks[0] : middle + peaks[1] + 1]
        paler = min(np.nanmax(arm) for arm in arms)
        found.append(float(np.nanmin(between) / paler) if paler > 0 else 1.0)
    return max(found)


def _solid(xs: Any, ys: Any, offset: Any) -> float:
    """Return the inked share of a mark's rows a little over and under the line.

    A scribbled patch is solid there; the arms of a cross stand apart.
    """
    shares = []
    for row in np.unique(ys[(np.abs(offset) > 0.85) & (np.abs(offset) < 1.5)]):
        mine = xs[ys == row]
        shares.append(mine.size / (np.ptp(mine) + 1))
    return float(np.mean(shares)) if shares else 0.0


def _crossing(xs: Any, offset: Any, values: Any) -> float:
    """Return where a mark crosses the line: midway between its parts just over and under it."""
    sides = []
    for way in (-1, 1):
        far = way * offset
        part = (far > 0.2) & (far <= 1.7)
        if part.any():
            sides.append(float(np.average(xs[part], weights=values[part])))
    return float(np.mean(sides)) if sides else float(np.average(xs, weights=values))


def _field(smooth: Plane, frame: Field, quiet: float) -> float:
    """Return the share of a frame for words that is inked."""
    part, _, _ = _cut(
        smooth,
        frame.x + frame.width / 2,
        frame.y + frame.height / 2,
        frame.width / 2 - 1.0,
        frame.height / 2 - 1.0,
    )
    inked = (part > max(0.12, 5 * quiet)).astype(np.uint8)
    count, _, stats, _ = cv2.connectedComponentsWithStats(inked, connectivity=8)
    areas = stats[1:count, cv2.CC_STAT_AREA]
    return float(areas[areas >= 0.3 * PX * PX].sum() / max(1, inked.size))
