"""Shares of right answers over the concentration, with the fitted curve."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from ...rounding import rounded
from ..core.look import GREY, INK, PHONE_WIDTH, field, in_look, key_of, whole
from ..core.result import Interval
from ..core.words import say

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@in_look
def draw_threshold(
    steps: pd.DataFrame,
    curve: tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]],
    limits: Interval,
    guess: float,
    *,
    language: str,
    narrow: bool = False,
    axes: Axes | None = None,
) -> Figure:
    """Draw shares of right answers, the fitted curve and the limits of the threshold.

    Parameters
    ----------
    steps : DataFrame
        ``concentration, share``, the steps that were served.
    curve : tuple of array
        Concentrations, and the fitted share of right answers at each.
    limits : Interval
        Of the threshold.
    guess : float
        Share of right answers by guessing.
    language : str
    narrow : bool
        Whether for the screen of a telephone.
    axes : Axes, optional
        Where to draw; a new figure by default.
    """
    axes = field(axes, PHONE_WIDTH if narrow else 6.8, 4.2 if narrow else 3.8)
    c, (x, fitted) = steps["concentration"].to_numpy(float), curve
    axes.plot(x, fitted, "-", color=INK, label=say("threshold.figure_fit", language))
    axes.plot(c, steps["share"], "o", color=INK, label=say("threshold.figure_seen", language))
    axes.axhline(guess, color=GREY, linewidth=0.8, linestyle=":")
    left, right = max(limits.low, x[0]), min(limits.high, x[-1])
    y = guess + (1 - guess) / 2
    label = say("threshold.figure_limits", language)
    axes.plot([left, right], [y, y], "|-", color=INK, linewidth=1.6, markersize=7, label=label)
    axes.set_xscale("log")
    # the steps that were served, not powers of ten, whose labels overlap on a short scale
    every = 2 if narrow and len(c) > 8 else 1
    axes.set_xticks(c[::every], [f"{float(rounded(value, '.3g')):g}" for value in c[::every]])
    axes.minorticks_off()
    axes.set_ylim(0, 1.03)
    axes.set_xlabel(say("threshold.figure_x", language))
    axes.set_ylabel(say("threshold.figure_y", language))
    if narrow:
        key_of(axes, "below")
    else:
        axes.legend(loc="lower right")
    return whole(axes)
