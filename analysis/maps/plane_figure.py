"""A map drawn: samples with their ellipses, and beside it what pulls where.

Samples differ by shape, ellipses by the dash of their line, so
nothing depends on colour. A map that shows no more than chance is drawn grey.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from ..core.look import DASHES, GREY, INK, PALE, PAPER_WIDTH, given, in_look, mark, whole, wrapped
from ..core.wording import percent
from ..core.words import say

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Floats = npt.NDArray[np.float64]
_GAP = 0.118
"""Height of a line of words, where the radius of the circle is 1."""
_WIDE = 16
"""Letters that fit beside the circle; longer names take another line."""
_BESIDE = 22
"""Letters of a sample's name in a line of the key."""
_MOST = 16


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
        Of the samples, which gives them their shapes; as on the map by default.

    Returns
    -------
    matplotlib Figure
    """
    from matplotlib.figure import Figure

    own = given()
    figure = Figure(figsize=(PAPER_WIDTH, 7.6)) if own is None else whole(own)
    left, right = figure.subplots(2, 1, height_ratios=(1, 1.12)) if own is None else (own, None)
    _draw_samples(left, ellipses, samples or {}, list(order or []), real=real)
    two = [*shares, 0.0, 0.0][:2]
    for axis, share, place in ((left.xaxis, two[0], 1), (left.yaxis, two[1], 2)):
        axis.set_label_text(say("maps.axis", language, place=place, share=percent(share)))
    if right is None:
        return figure
    left.set_anchor((0.28, 0.5))
    left.set_title(say("maps.drawn_samples", language), loc="center", pad=8)
    _draw_arrows(right, arrows, names or {}, positions=positions)
    few = len(arrows) > _MOST
    head = "maps.drawn_longest" if few else "maps.drawn_arrows"
    right.set_title(say(head, language, n=_MOST, all=len(arrows)), loc="center")
    note = say("maps.drawn_real" if real else "maps.drawn_noise", language, n=assessors)
    figure.text(0.5, 0.012, note, ha="center")
    figure.subplots_adjust(left=0.07, right=0.985, top=0.95, bottom=0.035, hspace=0.28)
    return figure


def _draw_samples(
    axes: Axes, ellipses: pd.DataFrame, names: Mapping[str, str], order: list[str], *, real: bool
) -> None:
    from matplotlib.patches import Ellipse

    axes.axhline(0, color=PALE, linewidth=0.8, zorder=0)
    axes.axvline(0, color=PALE, linewidth=0.8, zorder=0)
    shapes = ellipses[["x", "y", "major", "minor", "angle"]].to_numpy(dtype=float)
    for place, (x, y, major, minor, angle) in enumerate(shapes):
        name = str(ellipses["sample"].iloc[place])
        rank = order.index(name) if name in order else place
        shape, ink = mark(rank)
        ink = ink if real else GREY
        line: dict[str, Any] = {"linewidth": 1.2, "linestyle": DASHES[rank % len(DASHES)]}
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
        point: dict[str, Any] = {
            "color": ink,
            "marker": shape,
            "markersize": 8,
            "markeredgecolor": "white",
        }
        axes.plot(x, y, **point, linestyle="none", zorder=4)
        called = "\n".join(wrapped(str(names.get(name, name)), _BESIDE))
        axes.plot([], [], **point, **line, label=called)
    reach = _reach(ellipses)
    axes.set_xlim(-reach, reach)
    axes.set_ylim(-reach, reach)
    axes.set_aspect("equal", adjustable="box")
    # Beside the field: between ellipses that overlap no name has room.
    axes.legend(loc="center left", bbox_to_anchor=(1.02, 0.5), handlelength=3.2)


def _reach(e: pd.DataFrame) -> float:
    """Return the half width of a square around all ellipses, but not around the absurdly wide."""
    wide = np.maximum(np.abs(e["x"]), np.abs(e["y"]))
    reach = float((wide + e["major"]).max())
    return min(reach, 4 * float(max(wide.max(), 1e-9))) * 1.08


def _draw_arrows(
    axes: Axes, arrows: pd.DataFrame, names: Mapping[str, str], *, positions: bool
) -> None:
    from matplotlib.patches import Circle

    table = arrows.assign(length=np.hypot(arrows["dim1"], arrows["dim2"]))
    table = table.sort_values("length", ascending=False, kind="stable").head(_MOST)
    tips = table[["dim1", "dim2"]].to_numpy(dtype=float)
    if positions:
        tips = tips / max(float(table["length"].max()), 1e-9)
    else:
        axes.add_patch(Circle((0, 0), 1, facecolor="none", edgecolor=PALE, linewidth=0.8))
    axes.axhline(0, color=PALE, linewidth=0.8, zorder=0)
    axes.axvline(0, color=PALE, linewidth=0.8, zorder=0)
    for x, y in tips:
        axes.annotate(
            "",
            xy=(x, y),
            xytext=(0, 0),
            arrowprops={"arrowstyle": "-|>", "color": INK, "linewidth": 0.9},
        )
    texts = [str(names.get(name, name)) for name in table["name"]]
    _label(axes, tips, texts, 0.03)
    axes.set_xlim(-1.72, 1.72)
    axes.set_ylim(-1.22, 1.22)
    axes.set_aspect("equal", adjustable="box")
    axes.set_xticks([])
    axes.set_yticks([])
    for spine in axes.spines.values():
        spine.set_visible(False)


def _label(
    axes: Axes,
    tips: Floats,
    texts: list[str],
    away: float,
) -> None:
    """Write names beside their tips, pushed apart up and down where they would overlap."""
    lines = [wrapped(text, _WIDE) for text in texts]
    for side in (-1, 1):
        own = [i for i, (x, _) in enumerate(tips) if (x >= 0) == (side > 0)]
        own.sort(key=lambda i: tips[i][1])
        heights = _apart([float(tips[i][1]) for i in own], [len(lines[i]) for i in own])
        for i, height in zip(own, heights, strict=True):
            x, y = tips[i]
            at = x + side * (away + (0.05 if abs(height - y) > 0.03 else 0.0))
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
                linespacing=1.05,
                ha="left" if side > 0 else "right",
                va="center",
                zorder=5,
                bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.4, "alpha": 0.75},
            )


def _apart(heights: list[float], lines: list[int]) -> list[float]:
    """Push sorted heights apart so that names of so many lines do not meet; the middle stays.

    >>> [round(h, 3) for h in _apart([0.0, 0.0, 0.5], [1, 1, 1])]
    [-0.059, 0.059, 0.5]
    >>> [round(h, 3) for h in _apart([0.0, 0.0], [2, 1])]
    [-0.059, 0.118]
    """
    clusters = [([height], [many]) for height, many in zip(heights, lines, strict=True)]
    merged = True
    while merged:
        merged = False
        for place in range(len(clusters) - 1):
            (low, below), (high, above) = clusters[place], clusters[place + 1]
            if _middle(high) - _middle(low) < (sum(below) + sum(above)) * _GAP / 2 - 1e-9:
                clusters[place : place + 2] = [(low + high, below + above)]
                merged = True
                break
    placed = []
    for own, many in clusters:
        at = _middle(own) - sum(many) * _GAP / 2
        for one in many:
            placed.append(at + one * _GAP / 2)
            at += one * _GAP
    return placed


def _middle(heights: list[float]) -> float:
    return math.fsum(heights) / len(heights)
