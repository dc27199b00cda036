"""A course of answers between the two lines that decide."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from ..core.look import INK, field, in_look, whole
from ..core.words import say

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@in_look
def draw_course(
    answers: Sequence[int],
    *,
    slope: float,
    above: float,
    below: float,
    end: int,
    language: str,
    axes: Axes | None = None,
) -> Figure:
    """Draw the right answers as they came, and the lines.

    Parameters
    ----------
    answers : sequence of int
        1 right, 0 wrong, in the order they were given.
    slope, above, below : float
        Right answers per answer, and the distances of the two lines.
    end : int
        Answers to draw the lines to.
    language : str
    axes : Axes, optional
        Where to draw; a new figure by default.
    """
    from matplotlib.ticker import MaxNLocator

    n = np.arange(end + 1)
    axes = field(axes, 6.4, 3.8)
    axes.plot(n, slope * n + above, "-", color=INK, linewidth=1)
    axes.plot(n, slope * n - below, "--", color=INK, linewidth=1)
    axes.plot(range(len(answers) + 1), np.cumsum([0, *answers]), "o-", color=INK, markersize=4)
    for name, place in (("up", above), ("down", -below)):
        axes.annotate(
            say(f"sequential.figure_{name}", language),
            (end, slope * end + place),
            xytext=(5, 0),
            textcoords="offset points",
            va="center",
            annotation_clip=False,
        )
    axes.set_xlim(0, end)
    axes.xaxis.set_major_locator(MaxNLocator(integer=True))
    axes.set_ylim(0, max(slope * end + above + 1.5, sum(answers) + 1))
    axes.set_xlabel(say("sequential.figure_x", language))
    axes.set_ylabel(say("sequential.figure_y", language))
    return whole(axes)
