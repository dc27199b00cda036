"""A map drawn: samples with their ellipses, and beside it what pulls where.

Samples differ by shape, ellipses by the dash of their line, so
nothing depends on colour. A map that shows no more than chance is drawn grey.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from ..core.look import (
    GREY,
    INK,
    PALE,
    PAPER_WIDTH,
    PHONE_WIDTH,
    SMALL,
    TEXT,
    dash,
    given,
    in_look,
    letters,
    mark,
    point,
    whole,
    wrapped,
)
from ..core.wording import percent
from ..core.words import say

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Floats = npt.NDArray[np.float64]
_UP, _AWAY = 1.22, 0.03
"""Half the height of the circle's field, and from a tip to its name."""
_BESIDE, _BESIDE_TWO = 22, 17
"""Letters of a sample's name in a line of the key, and in one of two columns on a telephone."""
_COLUMNS = 3
"""Of the key on paper."""


@dataclass(frozen=True, slots=True)
class _Names:
    """How names stand beside a circle of radius 1.

    Attributes
    ----------
    size : float
        Points.
    gap : float
        Height of a line.
    aside : float
        Half the width of the field.
    letters : int
        That fit beside the circle; longer names take another line.
    """

    size: float
    gap: float
    aside: float
    letters: int


_ON_PAPER = _Names(TEXT, 0.125, 1.85, 12)
_ON_PHONE = _Names(SMALL, 0.13, 1.9, 12)
_MOST = 16
"""Arrows that have room for their names."""
_ALIKE = 6
"""Digits to which arrows that are equally long agree: what rounding leaves makes no order."""
_TITLE = 42
"""Letters of a title in a line on a telephone."""
_ROW = 0.17
"""Inches of height for a line of words."""


@in_look
def draw_map(
    ellipses: pd.DataFrame,
    arrows: pd.DataFrame,
    shares: Sequence[float],
    *,
    real: bool,
    positions: bool,
    assessors: int,
    language: str,
    names: Mapping[str, str] | None = None,
    samples: Mapping[str, str] | None = None,
    order: Sequence[str] | None = None,
    told_apart: Sequence[str] = (),
    surest: Sequence[str] = (),
    narrow: bool = False,
) -> Figure:
    """Draw a map of samples.

    Parameters
    ----------
    ellipses : DataFrame
        ``sample, x, y, major, minor, angle``: half axes, and the angle of the
        longer one from the first dimension, in degrees.
    arrows : DataFrame
        ``name, dim1, dim2``: what pulls samples where.
    shares : sequence of float
        Of the variation, that the dimensions show.
    real : bool
        Whether the samples spread more than by chance; else they are drawn grey.
    positions : bool
        Whether `arrows` are positions of words, rather than correlations.
    assessors : int
        Whom the ellipses rest on.
    language : str
    names : mapping, optional
        What to call attributes or words.
    samples : mapping, optional
        What to call samples.
    order : sequence of str, optional
        Of the samples, which gives them their signs; as on the map by default.
    told_apart : sequence of str
        Arrows to set in bold, those whose samples differ: they come first where not all have
        room, then the longest.
    surest : sequence of str
        Arrows from the best evidence on: the order of those that are equally long.
    narrow : bool
        Whether for the screen of a telephone: the key stands below the samples.

    Returns
    -------
    matplotlib Figure
    """
    own = given()
    known = list(ellipses["sample"].astype(str))
    places = {name: place for place, name in enumerate(order or known)}
    called = [str((samples or {}).get(name, name)) for name in sorted(known, key=_rank(places))]
    parts = [*shares, 0.0, 0.0][:2]
    said = [
        say("maps.axis", language, place=place + 1, share=percent(share))
        for place, share in enumerate(parts)
    ]
    if own is not None:
        _draw_samples(own, ellipses, called, places, said, real=real)
        return whole(own)
    ranked = _in_order(arrows, told_apart, surest)
    head = _head(ranked, language, surest=bool(surest))
    note = say("maps.drawn_real" if real else "maps.drawn_noise", language, n=assessors)
    if narrow:
        figure, above, below, key = _on_a_telephone(called, head, note)
    else:
        figure, above, below, key = _on_paper(called, head, note)
    _draw_samples(above, ellipses, called, places, said, real=real, key=key)
    title = wrapped(say("maps.drawn_samples", language), _TITLE)
    above.set_title("\n".join(title), loc="center", pad=8)
    how = _ON_PHONE if narrow else _ON_PAPER
    _draw_arrows(below, ranked.head(_MOST), names or {}, positions=positions, how=how)
    below.set_title("\n".join(wrapped(head, _TITLE)), loc="center", pad=8)
    return figure


def _rank(places: Mapping[str, int]) -> Callable[[str], int]:
    """Return what orders samples by their places; those without one stand last."""
    return lambda name: places.get(name, len(places))


def _in_order(
    arrows: pd.DataFrame, told_apart: Sequence[str], surest: Sequence[str]
) -> pd.DataFrame:
    """Return arrows in the order in which they get room, with their ``length``, and who is bold."""
    places = {name: place for place, name in enumerate(surest)}
    table = arrows.assign(
        length=np.hypot(arrows["dim1"], arrows["dim2"]).round(_ALIKE),
        bold=arrows["name"].isin(list(told_apart)),
        place=[places.get(name, len(places)) for name in arrows["name"]],
    )
    by = ["bold", "length", "place"]
    return table.sort_values(by, ascending=[False, False, True], kind="stable")


def _head(ranked: pd.DataFrame, language: str, *, surest: bool) -> str:
    """Say what the arrows are, and which of them are drawn."""
    if len(ranked) <= _MOST:
        return say("maps.drawn_arrows", language)
    bold = ranked["bold"]
    others = ranked if not bold.any() else ranked[~bold]
    if len(others) and others["length"].min() == others["length"].max():
        how = "surest" if surest else "equal"
    else:
        how = "longest"
    key = f"maps.drawn_told_apart_{how}" if bold.any() else f"maps.drawn_{how}"
    return say(key, language, n=_MOST, all=len(ranked))


def _on_paper(called: list[str], head: str, note: str) -> tuple[Figure, Axes, Axes, dict[str, Any]]:
    """Return a figure with its two fields side by side, and how the key stands below them.

    One below the other they would take most of a page, and leave as much empty before them.
    """
    from matplotlib.figure import Figure

    columns = min(_COLUMNS, len(called))
    rows = -(-len(called) // columns) * max(len(wrapped(name, _BESIDE)) for name in called)
    side, first, wide = 2.5, 0.55, 3.95
    foot, between = 0.1 + 1.5 * _ROW, 0.5
    second = wide * _UP / _ON_PAPER.aside
    top = 0.2 + _ROW * max(len(wrapped(head, _TITLE)), 2)
    low = foot + _ROW * (rows + 0.4) + between
    high = low + side + top
    figure = Figure(figsize=(PAPER_WIDTH, high))
    left = (first / PAPER_WIDTH, (high - top - side) / high)
    right = ((PAPER_WIDTH - wide - 0.02) / PAPER_WIDTH, (high - top - second) / high)
    above = figure.add_axes((*left, side / PAPER_WIDTH, side / high))
    below = figure.add_axes((*right, wide / PAPER_WIDTH, second / high))
    figure.text(0.5, 0.04 / high, note, ha="center", va="bottom")
    key = {
        "loc": "upper center",
        "bbox_to_anchor": (0.5, (low - between + 0.08) / high),
        "bbox_transform": figure.transFigure,
        "ncols": columns,
        "borderpad": 0,
    }
    return figure, above, below, key


def _on_a_telephone(
    called: list[str], head: str, note: str
) -> tuple[Figure, Axes, Axes, dict[str, Any]]:
    """Return a figure with its two fields one below the other, and how the key stands between."""
    from matplotlib.figure import Figure

    columns = 2 if max(map(letters, called)) <= _BESIDE_TWO else 1
    rows = -(-sum(len(wrapped(name, _BESIDE)) for name in called) // columns)
    notes, heads = wrapped(note, 55), len(wrapped(head, _TITLE))
    side, wide = PHONE_WIDTH - 0.65, PHONE_WIDTH - 0.02
    between, foot = 0.55 + _ROW * (rows + 1.3 * heads), 0.2 + _ROW * len(notes)
    second = wide * _UP / _ON_PHONE.aside
    high = 0.55 + side + between + second + foot
    figure = Figure(figsize=(PHONE_WIDTH, high))
    low = foot + second + between
    above = figure.add_axes((0.5 / PHONE_WIDTH, low / high, side / PHONE_WIDTH, side / high))
    below = figure.add_axes((0.01 / PHONE_WIDTH, foot / high, wide / PHONE_WIDTH, second / high))
    figure.text(0.5, 0.04 / high, "\n".join(notes), ha="center", va="bottom")
    key = {
        "loc": "upper center",
        "bbox_to_anchor": (0.5, (low - 0.4) / high),
        "bbox_transform": figure.transFigure,
        "ncols": columns,
        "borderpad": 0,
    }
    return figure, above, below, key


def _draw_samples(
    axes: Axes,
    ellipses: pd.DataFrame,
    called: list[str],
    places: Mapping[str, int],
    said: Sequence[str],
    *,
    real: bool,
    key: Mapping[str, Any] | None = None,
) -> None:
    from matplotlib.patches import Ellipse

    axes.set_xlabel(said[0])
    axes.set_ylabel(said[1])
    axes.axhline(0, color=PALE, linewidth=0.8, zorder=0)
    axes.axvline(0, color=PALE, linewidth=0.8, zorder=0)
    own = ellipses.set_index(ellipses["sample"].astype(str))
    own = own.loc[sorted(own.index, key=_rank(places))]
    shapes = own[["x", "y", "major", "minor", "angle"]].to_numpy(dtype=float)
    for name, label, (x, y, major, minor, angle) in zip(own.index, called, shapes, strict=True):
        rank = _rank(places)(name)
        ink = mark(rank)[1] if real else GREY
        sign = point(rank, 7)
        if not real:
            open_one = sign["markerfacecolor"] == "white"
            sign |= {"color": GREY, "markerfacecolor": "white" if open_one else GREY}
        line: dict[str, Any] = {"linewidth": 1.2, "linestyle": dash(rank)}
        axes.add_patch(
            Ellipse(
                (x, y),
                2 * major,
                2 * minor,
                angle=angle,
                facecolor="none",
                edgecolor=ink,
                **line,
            )
        )
        axes.plot(x, y, **sign, linestyle="none", zorder=4)
        axes.plot([], [], **sign, **line, label="\n".join(wrapped(label, _BESIDE)))
    reach = _reach(ellipses)
    axes.set_xlim(-reach, reach)
    axes.set_ylim(-reach, reach)
    axes.set_aspect("equal", adjustable="box")
    # Beside the field: between ellipses that overlap no name has room.
    beside = {"loc": "center left", "bbox_to_anchor": (1.02, 0.5)}
    axes.legend(handlelength=3, **(key or beside))


def _reach(e: pd.DataFrame) -> float:
    """Return the half width of a square around all ellipses, but not around the absurdly wide."""
    wide = np.maximum(np.abs(e["x"]), np.abs(e["y"]))
    reach = float((wide + e["major"]).max())
    return min(reach, 4 * float(max(wide.max(), 1e-9))) * 1.08


def _draw_arrows(
    axes: Axes,
    table: pd.DataFrame,
    names: Mapping[str, str],
    *,
    positions: bool,
    how: _Names,
) -> None:
    from matplotlib.collections import LineCollection, PolyCollection
    from matplotlib.patches import Circle

    tips = table[["dim1", "dim2"]].to_numpy(dtype=float)
    if positions:
        tips = tips / max(float(table["length"].max()), 1e-9)
    else:
        axes.add_patch(Circle((0, 0), 1, facecolor="none", edgecolor=PALE, linewidth=0.8))
    axes.axhline(0, color=PALE, linewidth=0.8, zorder=0)
    axes.axvline(0, color=PALE, linewidth=0.8, zorder=0)
    shafts = np.stack([np.zeros_like(tips), tips], axis=1)
    axes.add_collection(LineCollection(list(shafts), colors=INK, linewidths=0.9))
    axes.add_collection(PolyCollection([_point_of(tip) for tip in tips], facecolors=INK))
    texts = [str(names.get(name, name)) for name in table["name"]]
    _label(axes, tips, texts, table["bold"].tolist(), how)
    axes.set_xlim(-how.aside, how.aside)
    axes.set_ylim(-_UP, _UP)
    axes.set_aspect("equal", adjustable="box")
    axes.set_xticks([])
    axes.set_yticks([])
    for spine in axes.spines.values():
        spine.set_visible(False)


def _point_of(tip: Floats) -> Floats:
    """Return the corners of an arrow's point."""
    along = tip / max(float(np.hypot(*tip)), 1e-9)
    across = 0.018 * np.array([-along[1], along[0]])
    return np.stack([tip, tip - 0.055 * along + across, tip - 0.055 * along - across])


def _label(
    axes: Axes,
    tips: Floats,
    texts: list[str],
    bold: list[bool],
    how: _Names,
) -> None:
    """Write names beside their tips, pushed apart up and down where they would overlap."""
    lines = [wrapped(text, how.letters) for text in texts]
    for side in (-1, 1):
        own = [i for i, (x, _) in enumerate(tips) if (x >= 0) == (side > 0)]
        own.sort(key=lambda i: tips[i][1])
        heights = _apart([float(tips[i][1]) for i in own], [len(lines[i]) for i in own], how.gap)
        for i, height in zip(own, heights, strict=True):
            x, y = tips[i]
            at = x + side * (_AWAY + (0.05 if abs(height - y) > 0.03 else 0.0))
            if abs(height - y) > 0.03:
                axes.plot(
                    [x, at],
                    [y, height],
                    color=GREY,
                    linewidth=0.6,
                    zorder=1,
                )
            axes.text(
                at,
                height,
                "\n".join(lines[i]),
                fontsize=how.size,
                fontweight="bold" if bold[i] else "normal",
                linespacing=1.05,
                ha="left" if side > 0 else "right",
                va="center",
                zorder=5,
                bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.4, "alpha": 0.75},
            )


def _apart(heights: list[float], lines: list[int], gap: float) -> list[float]:
    """Push sorted heights apart so that names of so many lines do not meet; the middle stays.

    >>> [round(h, 3) for h in _apart([0.0, 0.0, 0.5], [1, 1, 1], 0.118)]
    [-0.059, 0.059, 0.5]
    >>> [round(h, 3) for h in _apart([0.0, 0.0], [2, 1], 0.118)]
    [-0.059, 0.118]
    """
    clusters = [([height], [many]) for height, many in zip(heights, lines, strict=True)]
    merged = True
    while merged:
        merged = False
        for place in range(len(clusters) - 1):
            (low, below), (high, above) = clusters[place], clusters[place + 1]
            if _middle(high) - _middle(low) < (sum(below) + sum(above)) * gap / 2 - 1e-9:
                clusters[place : place + 2] = [(low + high, below + above)]
                merged = True
                break
    placed = []
    for own, many in clusters:
        at = _middle(own) - sum(many) * gap / 2
        for one in many:
            placed.append(at + one * gap / 2)
            at += one * gap
    return placed


def _middle(heights: list[float]) -> float:
    return math.fsum(heights) / len(heights)
