"""What a condition does to each bottle: a line a bottle over its levels, with limits."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import pandas as pd

from ..core.look import (
    GREY,
    PAPER_WIDTH,
    PHONE_WIDTH,
    SMALL,
    beside,
    in_look,
    without_frame,
    wrapped,
)
from ..core.words import say
from .side_by_side import side_by_side

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_HIGH, _LOW = 1.8, 1.9
"""Inches of height for a field, on paper, where two stand side by side and a figure of four must
find room below what it is told with, and on a telephone."""


@in_look
def draw_conditions(
    cells: pd.DataFrame,
    *,
    lines: Sequence[str],
    levels: Sequence[str],
    names: Sequence[str],
    places: Sequence[int] = (),
    language: str,
    narrow: bool = False,
) -> Figure:
    """Draw a field an attribute: means over the levels, with the limits of their change.

    Lines that run side by side say that the condition does as much to each bottle.

    Parameters
    ----------
    cells : DataFrame
        ``attribute, line, level, mean, change, low, high``; see `level_changes`.
    lines, levels : sequence of str
        Their order.
    names : sequence of str
        What to write at each level.
    places : sequence of int, optional
        Whose signs the lines have in other figures; those of their own places by default.
    language : str
    narrow : bool
        Whether for the screen of a telephone: one field below the other.

    Returns
    -------
    matplotlib Figure
    """
    from matplotlib.figure import Figure

    attributes = list(dict.fromkeys(cells["attribute"]))
    across = 2 if len(attributes) > 1 and not narrow else 1
    down = math.ceil(len(attributes) / across)
    width, high = (PHONE_WIDTH, _LOW) if narrow else (PAPER_WIDTH, _HIGH)
    columns = beside(lines, width)
    frame = 1.1 + (0.5 + 0.16 * math.ceil(len(lines) / columns) if narrow else 0)
    figure = Figure(figsize=(width, frame + high * down), layout="constrained")
    fields = list(figure.subplots(down, across, squeeze=False).flat)
    for axes, attribute in zip(fields, attributes, strict=False):
        own = cells[cells["attribute"] == attribute]
        off = own["mean"] - own["change"]  # the limits are those of the change since the first
        drawn = own.assign(low=own["low"] + off, high=own["high"] + off)
        drawn = drawn.drop(columns="attribute").rename(
            columns={"level": "attribute", "line": "sample"}
        )
        for one in side_by_side(drawn, lines, levels, 0.24, places):
            axes.vlines(one.at, one.means["low"], one.means["high"], color=one.ink, linewidth=1.2)
            how = {"linewidth": 1.2, "linestyle": one.dash, **one.point}
            axes.plot(one.at, one.means["mean"], label=one.sample, **how)
        axes.set_xticks(range(len(levels)), ["\n".join(wrapped(name, 14)) for name in names])
        axes.set_xlim(-0.4, len(levels) - 0.6)
        axes.set_title("\n".join(wrapped(attribute, 34)))
        without_frame(axes)
    for axes in fields[len(attributes) :]:
        axes.remove()
    shown = fields[: len(attributes)]
    ends = [axes.get_ylim() for axes in shown]
    span = max(high - low for low, high in ends)  # one unit is as high in every field
    for axes, (low, high) in zip(shown, ends, strict=True):
        axes.set_ylim((low + high - span) / 2, (low + high + span) / 2)
    handles, labels = fields[0].get_legend_handles_labels()
    figure.legend(handles, labels, loc="outside upper center", ncols=columns)
    note = "\n".join(wrapped(say("conditions.note", language), int(16.6 * width)))
    figure.supxlabel(note, fontsize=SMALL, color=GREY, linespacing=1.5)
    return figure
