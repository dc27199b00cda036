"""What strikes over time, and how strong one thing is: curves a sample, with what chance does."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import pandas as pd

from ..core.look import (
    GREY,
    PAPER_WIDTH,
    PHONE_WIDTH,
    beside,
    dash,
    field,
    in_look,
    key_of,
    mark,
    point,
    short_name,
    whole,
    without_frame,
)
from ..core.words import say

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

SHAPES = 8
"""Marks along a line, so that it is known without colour."""
LONGEST = 34
"""Letters of a sample's name above its field."""


@in_look
def draw_dominance(
    curves: pd.DataFrame,
    limits: pd.DataFrame,
    *,
    samples: Sequence[str],
    names: Mapping[str, str] | None = None,
    language: str,
    narrow: bool = False,
) -> Figure:
    """Draw the share of sips in which each attribute is named, moment by moment.

    Parameters
    ----------
    curves : DataFrame
        ``sample, time, attribute, share``.
    limits : DataFrame
        ``sample, n, chance, share``: sips, the share by chance, and the least share beyond it.
    samples : sequence of str
        Order of the samples.
    names : mapping, optional
        What to write for an attribute.
    language : str
    narrow : bool
        Whether for the screen of a telephone: one field below the other.

    Returns
    -------
    matplotlib Figure
    """
    from matplotlib.figure import Figure

    columns = min(1 if narrow else 2, len(samples))
    rows = math.ceil(len(samples) / columns)
    called = names or {}
    order = list(dict.fromkeys(curves["attribute"]))
    width = PHONE_WIDTH if narrow else PAPER_WIDTH
    across = beside([called.get(name, name) for name in order], width)
    below = 0.18 * math.ceil(len(order) / across) if narrow else 0.0
    figure = Figure(figsize=(width, 0.9 + below + 2.1 * rows), layout="constrained")
    fields = figure.subplots(rows, columns, squeeze=False, sharex=True, sharey=True).ravel()
    bounds = {str(row["sample"]): row for row in limits.to_dict("records")}
    for axes, sample in zip(fields, samples, strict=False):
        own = curves[curves["sample"] == sample]
        for place, name in enumerate(order):
            line = own[own["attribute"] == name]
            _line(axes, line["time"], line["share"], place, called.get(name, name))
        bound = bounds[sample]
        axes.axhline(bound["chance"], color=GREY, linewidth=0.6, linestyle=":")
        if bound["share"] <= 1:
            axes.axhline(bound["share"], color=GREY, linewidth=0.9)
        n = say("over_time_figure.sips", language, n=int(bound["n"]))
        axes.set_title(f"{short_name(sample, LONGEST)} ({n})")
        axes.set_ylim(0, 1.02)
        axes.set_yticks([0, 0.25, 0.5, 0.75, 1], ["0", "25", "50", "75", "100"])
        axes.margins(x=0.01)
    for axes in fields[len(samples) :]:
        axes.remove()
    for place, axes in enumerate(figure.axes):
        if place % columns == 0:
            axes.set_ylabel(say("over_time_figure.share", language))
        if place + columns >= len(samples):
            axes.set_xlabel(say("over_time_figure.time", language))
            axes.tick_params(labelbottom=True)
    handles, labels = figure.axes[0].get_legend_handles_labels()
    figure.legend(handles, labels, loc="outside lower center", ncols=across)
    return figure


@in_look
def draw_intensity(
    curves: pd.DataFrame,
    *,
    samples: Sequence[str],
    top: float = 10.0,
    language: str,
    narrow: bool = False,
    axes: Axes | None = None,
) -> Figure:
    """Draw the mean curve of each sample; limits stand at its marks.

    Parameters
    ----------
    curves : DataFrame
        ``sample, time, mean, low, high`` of one attribute.
    samples : sequence of str
        Order of the samples.
    top : float
        End of the scale, which begins at 0.
    language : str
    narrow : bool
        Whether for the screen of a telephone.
    axes : Axes, optional
        Where to draw; a new figure by default.

    Returns
    -------
    matplotlib Figure
    """
    width = PHONE_WIDTH if narrow else PAPER_WIDTH
    across = beside(samples, width)
    axes = field(axes, width, 3.2 + 0.2 * math.ceil(len(samples) / across))
    for place, sample in enumerate(samples):
        own = curves[curves["sample"] == sample]
        at = _places(len(own), place, len(samples))
        seen = own.iloc[at].dropna(subset=["low", "high"])
        _, ink = mark(place)
        axes.vlines(seen["time"], seen["low"], seen["high"], color=ink, linewidth=0.8)
        _line(axes, own["time"], own["mean"], place, sample, at)
    axes.set_ylim(0, top)
    axes.margins(x=0.01)
    axes.set_xlabel(say("over_time_figure.time", language))
    axes.set_ylabel(say("over_time_figure.height", language))
    without_frame(axes)
    key_of(axes, "below", ncols=across)
    return whole(axes)


def _places(n: int, place: int, of: int) -> list[int]:
    """Return where along a line of `n` points its marks stand, apart from those of others."""
    step = max(1, n // SHAPES)
    return list(range((place * step) // max(of, 1), n, step))


def _line(  # noqa: PLR0917
    axes: Axes, x: pd.Series, y: pd.Series, place: int, label: str, at: list[int] | None = None
) -> None:
    how: dict[str, Any] = {"linewidth": 1.1, "linestyle": dash(place), **point(place, 4)}
    places = at if at is not None else _places(len(x), place, SHAPES)
    axes.plot(x, y, markevery=places, label=label, **how)
