"""A count of right answers among the counts that guessing gives."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.stats import binom

from ..core.words import say

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def count_figure(
    correct: int,
    n: int,
    chance: float,
    *,
    limit: int | None,
    similar: bool = False,
    label: str = "",
) -> Figure:
    """Draw how often guessing gives each count, the count that came, and the deciding one.

    Parameters
    ----------
    correct, n : int
        Right answers of all answers.
    chance : float
        Share of right answers by guessing.
    limit : int or None
        Least count that shows a difference, or most that allows the claim of
        similarity; None when there is none.
    similar : bool
        Which of the two `limit` is.
    label : str
        What is counted, where it is not right answers.
    """
    from matplotlib.figure import Figure
    from matplotlib.ticker import MaxNLocator

    x = np.arange(n + 1)
    p = binom.pmf(x, n, chance)
    figure = Figure(figsize=(6.8, 3.4), layout="constrained")
    axes = figure.subplots()
    axes.bar(x, p, color="0.82", width=0.8, label=say("count_figure.guessing"))
    axes.plot([correct], [0], "kv", markersize=11, clip_on=False, label=say("count_figure.seen"))
    if limit is not None:
        edge = limit + 0.5 if similar else limit - 0.5
        axes.axvline(edge, color="black", linestyle="--", linewidth=1.2)
        key = "count_figure.similar" if similar else "count_figure.difference"
        axes.annotate(
            say(key, n=limit),
            (edge, p.max() * 1.12),
            xytext=(-5 if similar else 5, 0),
            textcoords="offset points",
            ha="right" if similar else "left",
            va="center",
            fontsize=9,
        )
    axes.set_xlim(-0.8, n + 0.8)
    axes.set_ylim(0, p.max() * 1.25)
    axes.xaxis.set_major_locator(MaxNLocator(integer=True))
    axes.set_xlabel(label or say("count_figure.x", n=n))
    axes.set_ylabel(say("count_figure.y"))
    figure.legend(loc="outside lower center", ncols=2, frameon=False, fontsize=9)
    axes.spines[["top", "right"]].set_visible(False)
    return figure
