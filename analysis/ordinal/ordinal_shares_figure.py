"""Shares of the categories per sample, as bars that lie side by side."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from ..core.look import INK, field, in_look, key_of, whole
from ..core.wording import percent
from ..core.words import say

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@in_look
def draw_shares(
    shares: pd.DataFrame,
    order: Sequence[str],
    *,
    attribute: str,
    assessors: int,
    language: str,
    axes: Axes | None = None,
) -> Figure:
    """Draw the modelled shares of the categories, samples from low to high.

    Greys run from light (lowest category) to dark (highest), and the category
    stands in each bar that is wide enough: nothing hangs on colour.

    Parameters
    ----------
    shares : DataFrame
        ``sample, category, share`` (0 to 1).
    order : sequence of str
        Samples from low to high.
    attribute : str
    assessors : int
    language : str
    axes : Axes, optional
        Where to draw; a new figure by default.
    """
    wide = shares.pivot_table(index="sample", columns="category", values="share").loc[list(order)]
    categories = wide.columns.tolist()
    axes = field(axes, 7.2, 1.2 + 0.36 * len(order))
    left = np.zeros(len(order))
    greys = np.linspace(0.94, 0.25, len(categories))
    for grey, category in zip(greys, categories, strict=True):
        width = wide[category].to_numpy()
        axes.barh(
            range(len(order)),
            width,
            left=left,
            height=0.72,
            color=str(grey),
            edgecolor=INK,
            linewidth=0.7,
            label=f"{category:g}",
        )
        for row, (start, share) in enumerate(zip(left, width, strict=True)):
            if share >= 0.045:
                axes.text(
                    start + share / 2,
                    row,
                    f"{category:g}",
                    ha="center",
                    va="center",
                    color=INK if grey > 0.55 else "white",
                )
        left = left + width
    axes.set_yticks(range(len(order)), order)
    axes.set_xlim(0, 1)
    axes.set_xticks(np.linspace(0, 1, 5), [percent(tick) for tick in np.linspace(0, 1, 5)])
    axes.set_xlabel(say("ordinal_figure.x", language))
    axes.set_title(say("ordinal_figure.title", language, attribute=attribute, n=assessors))
    key_of(axes, "right", title=say("ordinal_figure.legend", language))
    return whole(axes)
