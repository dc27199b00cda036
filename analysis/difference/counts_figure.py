"""A count of right answers among the counts that guessing gives."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.stats import binom

from ..core.look import INK, PHONE_WIDTH, field, in_look, key_of, whole
from ..core.wording import stated_percent
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
    allowed: tuple[float, float] | None = None,
    limits: tuple[float, float, float] | None = None,
    narrow: bool = False,
    axes: Axes | None = None,
) -> Figure:
    """Draw how often guessing gives each count, the count that came, and the deciding one.

    Of a test of similarity also how often the counts come where just so many can tell the samples
    apart as would matter: this is what it is tested against.

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
    allowed : tuple of (pd, share), optional
        Of a test of similarity: the share of assessors who can tell the samples apart that would
        matter, and the share of right answers that it gives.
    limits : tuple of (low, high, level), optional
        Limits of the share of right answers, and their level.
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
    top = p.max()
    if allowed is not None:
        pd, share = allowed
        tested = binom.pmf(x, n, share)
        top = max(top, tested.max())
        words = say("count_figure.allowed", language, pd=stated_percent(pd))
        axes.bar(x, tested, width=0.8, facecolor="none", edgecolor=INK, linewidth=0.7, label=words)
    above = ScaledTranslation(0, 8 / 72, axes.figure.dpi_scale_trans)
    seen: dict[str, Any] = {"color": INK, "transform": axes.transData + above, "zorder": 4}
    # above its bar, and with an interval, which is longer, above all bars
    height = p[correct] if limits is None else 1.04 * top
    if limits is None:
        words = say("count_figure.seen", language)
    else:
        words = say("count_figure.seen_limits", language, level=stated_percent(limits[2]))
    axes.plot([correct], [height], "v", markersize=10, label=words, **seen)
    if limits is not None:
        ends = [n * limits[0], n * limits[1]]
        axes.plot(ends, [height] * 2, "-|", linewidth=1.4, markersize=8, **seen)
    axes.annotate(
        f"{correct}",
        (correct, height),
        xytext=(0, 15),
        textcoords="offset points",
        ha="center",
        va="bottom",
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 1},
        zorder=4,
    )
    high = top * (1.45 if limits is None else 1.75)
    said: dict[str, Any] = {"textcoords": "offset points", "va": "center"}
    if limit is not None:
        edge = limit + 0.5 if similar else limit - 0.5
        axes.axvline(edge, color=INK, linestyle="--", linewidth=1.2)
        # on its own side of the line, where the field has room for the words
        share = 0.5 if narrow else 0.4 if similar else 0.6
        left = edge > share * n
        words = "count_figure.similar" if similar else "count_figure.difference"
        axes.annotate(
            say(words, language, n=limit),
            (edge, 0.94 * high),
            xytext=(-5 if left else 5, 0),
            ha="right" if left else "left",
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 1},
            **said,
        )
    elif similar:
        none = say("count_figure.none_similar", language, n=n)
        axes.annotate(none, (n + 0.8, 0.94 * high), xytext=(-4, 0), ha="right", **said)
    axes.set_xlim(-0.8, n + 0.8)
    axes.set_ylim(0, high)
    axes.xaxis.set_major_locator(MaxNLocator(integer=True))
    axes.set_xlabel(label or say("count_figure.x", language, n=n))
    axes.set_ylabel(say("count_figure.y", language))
    key_of(axes, "below", ncols=1 if narrow and limits is not None else 3)
    return whole(axes)
