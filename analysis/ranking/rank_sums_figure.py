"""Rank sums on a line, with the least difference that is claimed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ..core.look import GREY, INK, PALE, field, in_look, whole
from ..core.words import say

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@in_look
def draw_rank_sums(
    sums: pd.DataFrame,
    critical: float | None,
    alpha: float,
    *,
    language: str,
    adjusted: bool = False,
    axes: Axes | None = None,
) -> Figure:
    """Draw rank sums as points, the least at the top, and the critical range as a bar.

    Parameters
    ----------
    sums : DataFrame
        ``sample, rank_sum``, sorted.
    critical : float or None
        Least difference that is claimed for any pair; no bar without it.
    alpha : float
        Its risk, for the label.
    language : str
    adjusted : bool
        Whether the sums are adjusted for incomplete flights, for the label.
    axes : Axes, optional
        Where to draw; a new figure by default.
    """
    n = len(sums)
    axes = field(axes, 6.4, 1.2 + 0.34 * n)
    y = np.arange(n)
    x = sums["rank_sum"].to_numpy(float)
    axes.hlines(y, x.min(), x, color=PALE, linewidth=1)
    axes.plot(x, y, "o", color=INK, markersize=6)
    axes.set_yticks(y, sums["sample"].tolist())
    axes.set_ylim(n - 0.5, -0.9 if critical is None else -1.9)
    axes.margins(x=0.08)
    if critical is not None:
        start = float(x.min())
        axes.plot([start, start + critical], [-0.9, -0.9], "|-", color=INK, markersize=8)
        axes.annotate(
            say("ranks.figure_bar", language, alpha=alpha),
            (start, -0.9),
            xytext=(0, 5),
            textcoords="offset points",
            color=GREY,
        )
    axes.set_xlabel(say("ranks.figure_adjusted" if adjusted else "ranks.figure_x", language))
    return whole(axes)
