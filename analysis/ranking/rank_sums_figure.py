"""Rank sums on a line, with the least difference that is claimed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ..core.words import say

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure


def rank_sum_figure(
    sums: pd.DataFrame, critical: float | None, alpha: float, *, adjusted: bool = False
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
    adjusted : bool
        Whether the sums are adjusted for incomplete flights, for the label.
    """
    from matplotlib.figure import Figure

    n = len(sums)
    figure = Figure(figsize=(6.4, 1.4 + 0.42 * n), layout="constrained")
    axes = figure.subplots()
    y = np.arange(n)
    x = sums["rank_sum"].to_numpy(float)
    axes.hlines(y, x.min(), x, color="0.75", linewidth=1)
    axes.plot(x, y, "ko", markersize=6)
    axes.set_yticks(y, sums["sample"].tolist())
    axes.set_ylim(n - 0.5, -0.9 if critical is None else -1.6)
    axes.margins(x=0.08)
    if critical is not None:
        start = float(x.min())
        axes.plot([start, start + critical], [-0.9, -0.9], "k|-", markersize=8, linewidth=1.6)
        axes.annotate(
            say("ranks.figure_bar", alpha=alpha),
            (start, -0.9),
            xytext=(0, 5),
            textcoords="offset points",
            fontsize=9,
        )
    axes.set_xlabel(say("ranks.figure_adjusted" if adjusted else "ranks.figure_x"))
    axes.spines[["top", "right"]].set_visible(False)
    return figure
