"""The power curve of a scored panel: what it finds, over the size of the difference."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from ..core.wording import short
from ..core.words import Sentence, say

if TYPE_CHECKING:
    from matplotlib.figure import Figure

Floats = npt.NDArray[np.float64]
_STYLES = ("-", "--", "-.", ":")


def power_figure(
    curves: Mapping[int, Floats],
    gap: Floats,
    *,
    difference: float,
    power: float,
    title: Sentence,
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
    """
    from matplotlib.figure import Figure

    figure = Figure(figsize=(7.2, 4.4), layout="constrained")
    axes = figure.subplots()
    for place, (assessors, found) in enumerate(curves.items()):
        axes.plot(
            gap,
            found,
            color="black",
            linewidth=1.2 if place else 2.2,
            linestyle=_STYLES[place % len(_STYLES)],
            label=say("power_figure.others" if place else "power_figure.this", n=assessors),
        )
    axes.axhline(power, color="0.55", linewidth=0.8)
    axes.axvline(difference, color="0.55", linewidth=0.8)
    axes.annotate(
        say("power_figure.mark", difference=short(difference)),
        (difference, 0.02),
        xytext=(4, 0),
        textcoords="offset points",
        fontsize=9,
    )
    axes.set_xlim(0, gap[-1])
    axes.set_ylim(0, 1.02)
    axes.set_xlabel(say("power_figure.x"))
    axes.set_ylabel(say("power_figure.y"))
    axes.set_title(str(title), loc="left", fontsize=11)
    figure.legend(frameon=False, loc="outside right center", fontsize=9)
    axes.spines[["top", "right"]].set_visible(False)
    return figure
