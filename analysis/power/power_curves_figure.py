"""The power curve of a scored panel: what it finds, over the size of the difference."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from ..core.look import DASHES, GREY, INK, field, in_look, key_of, whole
from ..core.wording import short
from ..core.words import Sentence, say

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Floats = npt.NDArray[np.float64]


@in_look
def draw_power_curves(
    curves: Mapping[int, Floats],
    gap: Floats,
    *,
    difference: float,
    power: float,
    title: Sentence,
    language: str,
    axes: Axes | None = None,
) -> Figure:
    """Draw the probability of finding a difference, for this panel and larger ones.

    Lines differ by their dashes, not by colour alone; this panel's is the thick one.

    Parameters
    ----------
    curves : mapping of int to ndarray
        Power at each of `gap` by number of assessors, this panel first.
    gap : ndarray
        Differences in points.
    difference, power : float
        What this panel finds, and how often.
    title : Sentence
    language : str
    axes : Axes, optional
        Where to draw; a new figure by default.
    """
    axes = field(axes, 7.2, 4.0)
    for place, (assessors, found) in enumerate(curves.items()):
        whose = "power_figure.others" if place else "power_figure.this"
        axes.plot(
            gap,
            found,
            color=INK,
            linewidth=1.2 if place else 2.2,
            linestyle=DASHES[place % len(DASHES)],
            label=say(whose, language, n=assessors),
        )
    axes.axhline(power, color=GREY, linewidth=0.8)
    axes.axvline(difference, color=GREY, linewidth=0.8)
    axes.annotate(
        say("power_figure.mark", language, difference=short(difference)),
        (difference, 0.02),
        xytext=(4, 0),
        textcoords="offset points",
    )
    axes.set_xlim(0, gap[-1])
    axes.set_ylim(0, 1.02)
    axes.set_xlabel(say("power_figure.x", language))
    axes.set_ylabel(say("power_figure.y", language))
    axes.set_title(title.to(language))
    key_of(axes, "right")
    return whole(axes)
