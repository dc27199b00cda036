"""Rank sums on a line, with the least difference that is claimed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ..core.look import GREY, INK, PALE, PHONE_WIDTH, field, in_look, whole, wrapped
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
    narrow: bool = False,
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
    narrow : bool
        Whether for the screen of a telephone.
    axes : Axes, optional
        Where to draw; a new figure by default.
    """
    n = len(sums)
    bar = [] if critical is None else [say("ranks.figure_bar", language, alpha=alpha)]
    bar = wrapped(bar[0], 36) if bar and narrow else bar
    width, over = (PHONE_WIDTH if narrow else 6.4), 0.5 * max(0, len(bar) - 1)
    axes = field(axes, width, 1.2 + 0.34 * (n + over))
    y = np.arange(n)
    x = sums["rank_sum"].to_numpy(float)
    axes.hlines(y, x.min(), x, color=PALE, linewidth=1)
    axes.plot(x, y, "o", color=INK, markersize=6)
    called = ["\n".join(wrapped(str(one), 14)) if narrow else str(one) for one in sums["sample"]]
    axes.set_yticks(y, called)
    axes.set_ylim(n - 0.5, -0.9 if critical is None else -1.9 - over)
    axes.margins(x=0.08)
    if critical is not None:
        start = float(x.min())
        axes.plot([start, start + critical], [-0.9, -0.9], "|-", color=INK, markersize=8)
        axes.annotate(
            "\n".join(bar),
            (start, -0.9),
            xytext=(0, 5),
            textcoords="offset points",
            color=GREY,
        )
    axes.set_xlabel(say("ranks.figure_adjusted" if adjusted else "ranks.figure_x", language))
    return whole(axes)
