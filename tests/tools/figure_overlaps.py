"""What is wrong with the words of a figure: two on one another, cut off, or too small."""

from __future__ import annotations

import numpy as np
from matplotlib.axis import Axis
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text

LEAST = 7.0
PAPER = 184 / 25.4
"""Inches between the margins of a printed report on A4; what is wider is printed smaller."""
DEEP = 0.5


def faults(figure: Figure) -> list[str]:
    """Name words that cover others by more than half a point, are cut off, or printed under 7 pt.

    And lines that leave the field in which they stand.
    """
    canvas = FigureCanvasAgg(figure)
    figure.draw_without_rendering()
    scale = 72 / figure.dpi
    texts = _texts(figure)
    frames = [_frame(text, canvas) * scale for text in texts]
    width, height = np.array(figure.bbox.size) * scale
    found = _leaving(figure)
    printed = min(1.0, 72 * PAPER / width)
    for text, frame in zip(texts, frames, strict=True):
        word = text.get_text().replace("\n", " ")
        if (size := text.get_fontsize() * printed) < LEAST - 1e-9:
            found.append(f"{size:.3g} pt: {word!r}")
        out = max(-frame.min(), frame[:, 0].max() - width, frame[:, 1].max() - height)
        if out > DEEP:
            found.append(f"{out:.1f} pt outside: {word!r}")
    for j, i in _near(frames):
        if (deep := depth(frames[i], frames[j])) > DEEP:
            pair = f"{texts[j].get_text()!r} and {texts[i].get_text()!r}"
            found.append(f"{deep:.1f} pt over one another: {pair}")
    return found


def _leaving(figure: Figure) -> list[str]:
    """Name fields in which an interval (a straight line along an axis) ends beyond the field."""
    found = []
    for axes in figure.axes:
        ends = np.sort([axes.get_xlim(), axes.get_ylim()])
        slack = 1e-6 * np.ptp(ends, axis=1)
        for line in axes.lines:
            if line.get_transform() != axes.transData or not axes.axison:
                continue
            points = np.asarray(line.get_xydata(), dtype=float)
            if len(points) != 2 or not (np.ptp(points, axis=0) == 0).any():
                continue
            if (points < ends[:, 0] - slack).any() or (points > ends[:, 1] + slack).any():
                found.append(f"an interval beyond its field: {axes.get_title()!r}")
    return list(dict.fromkeys(found))


def _near(frames: list[np.ndarray]) -> list[tuple[int, int]]:
    """Return the pairs whose upright boxes touch: no others can lie over one another."""
    if not frames:
        return []
    corners = np.array(frames)
    low, high = corners.min(axis=1), corners.max(axis=1)
    touch = ((low[:, None] <= high) & (high[:, None] >= low)).all(axis=2)
    return [(int(one), int(other)) for one, other in np.argwhere(np.triu(touch, 1))]


def depth(one: np.ndarray, other: np.ndarray) -> float:
    """Return by how much two frames (4 corners each) would have to move apart; below 0: apart.

    By the axes that separate convex shapes: a direction of a side of either in
    which their shadows do not overlap.
    """
    least = np.inf
    for corners in (one, other):
        for start, end in ((0, 1), (1, 2)):
            side = corners[end] - corners[start]
            across = np.array([-side[1], side[0]]) / max(np.hypot(*side), 1e-12)
            a, b = one @ across, other @ across
            least = min(least, a.max() - b.min(), b.max() - a.min())
    return float(least)


def _texts(figure: Figure) -> list[Text]:
    """Return the words that are seen; of ticks, those that are drawn."""
    drawn: set[Text] = set()
    of_ticks: set[Text] = set()
    for axis in figure.findobj(Axis):
        for tick in (*axis.majorTicks, *axis.minorTicks):
            of_ticks |= {tick.label1, tick.label2}
        if axis.axes.axison and axis.axes.get_visible():
            drawn |= {text for tick in axis._update_ticks() for text in (tick.label1, tick.label2)}
    hidden = {
        text
        for axes in figure.axes
        if not axes.axison
        for text in axes.xaxis.findobj(Text) + axes.yaxis.findobj(Text)
    }
    return [
        text
        for text in figure.findobj(Text)
        if text.get_visible()
        and text.get_text().strip()
        and text not in hidden
        and (text not in of_ticks or text in drawn)
    ]


def _frame(text: Text, canvas: FigureCanvasAgg) -> np.ndarray:
    """Return the corners of the words in pixels, turned as the words are."""
    turned = text.get_rotation()
    x, y = text.get_transform().transform(text.get_unitless_position())
    if hasattr(text, "xyann"):  # an annotation knows its place only once it is drawn
        text.update_positions(canvas.get_renderer())
        x, y = text.get_transform().transform((text._x, text._y))
    own_mode = text.get_rotation_mode()
    upright = Text.get_window_extent
    if turned % 90 == 0:
        box = upright(text, canvas.get_renderer())
        return np.array([[box.x0, box.y0], [box.x1, box.y0], [box.x1, box.y1], [box.x0, box.y1]])
    text.set_rotation(0)
    box = upright(text, canvas.get_renderer())
    text.set_rotation(turned)
    corners = np.array([[box.x0, box.y0], [box.x1, box.y0], [box.x1, box.y1], [box.x0, box.y1]])
    angle = np.radians(turned)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    frame = (corners - (x, y)) @ turn.T + (x, y)
    if own_mode != "anchor":  # turned first, and the upright box around it is then aligned
        around = upright(text, canvas.get_renderer())
        frame += (around.x0, around.y0) - frame.min(axis=0)
    return frame
