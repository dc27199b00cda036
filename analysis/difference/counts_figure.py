"""A count of right answers among the counts that guessing gives."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.stats import binom

from ..core.look import INK, PHONE_WIDTH, field, in_look, key_of, whole
from ..core.words import say

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@in_look
def draw_counts(
    correct: int,
    n: int,
    chance: float,
    *,
    limit: int | None,
    language: str,
    similar: bool = False,
    label: str = "",
    narrow: bool = False,
    axes: Axes | None = None,
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
    language : str
    similar : bool
        Which of the two `limit` is.
    label : str
        What is counted, where it is not right answers.
    narrow : bool
        Whether for the screen of a telephone.
    axes : Axes, optional
        Where to draw; a new figure by default.
    """
    from matplotlib.ticker import MaxNLocator
    from matplotlib.transforms import ScaledTranslation

    x = np.arange(n + 1)
    p = binom.pmf(x, n, chance)
    axes = field(axes, PHONE_WIDTH if narrow else 6.8, 3.2)
    axes.bar(x, p, color="0.55", width=0.8, label=say("count_figure.guessing", language))
    above = ScaledTranslation(0, 8 / 72, axes.figure.dpi_scale_trans)
    axes.plot(
        [correct],
        [p[correct]],
        "v",
        color=INK,
        markersize=10,
        transform=axes.transData + above,
        zorder=4,
        label=say("count_figure.seen", language),
    )
    axes.annotate(
        f"{correct}",
        (correct, p[correct]),
        xytext=(0, 15),
        textcoords="offset points",
        ha="center",
        va="bottom",
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 1},
        zorder=4,
    )
    if limit is not None:
        edge = limit + 0.5 if similar else limit - 0.5
        axes.axvline(edge, color=INK, linestyle="--", linewidth=1.2)
        # on its own side of the line, where the field has room for the words
        share = 0.5 if narrow else 0.4 if similar else 0.6
        left = edge > share * n
        words = "count_figure.similar" if similar else "count_figure.difference"
        axes.annotate(
            say(words, language, n=limit),
            (edge, p.max() * 1.36),
            xytext=(-5 if left else 5, 0),
            textcoords="offset points",
            ha="right" if left else "left",
            va="center",
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 1},
        )
    axes.set_xlim(-0.8, n + 0.8)
    axes.set_ylim(0, p.max() * 1.45)
    axes.xaxis.set_major_locator(MaxNLocator(integer=True))
    axes.set_xlabel(label or say("count_figure.x", language, n=n))
    axes.set_ylabel(say("count_figure.y", language))
    key_of(axes, "below", ncols=2)
    return whole(axes)
