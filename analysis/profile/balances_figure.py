"""Just-about-right answers as bars on both sides of just right."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import pandas as pd

from .profiles_figure import in_face

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from matplotlib.font_manager import FontProperties

_INK = {-2: "#1b3a5c", -1: "#7f9cb8", 0: "#e9e4d8", 1: "#dba88f", 2: "#b5532a"}
_HATCH = {-2: "///", -1: "", 0: "", 1: "", 2: "\\\\\\"}


def balance_figure(
    counts: pd.DataFrame,
    *,
    samples: Sequence[str],
    words: Sequence[str],
    font: FontProperties | None = None,
) -> Figure:
    """Draw the share of answers by category, just right in the middle.

    Parameters
    ----------
    counts : DataFrame
        Number of answers; index samples, columns the category values around 0.
    samples : sequence of str
        Order of the bars.
    words : sequence of str
        What each category is called, in the order of the columns.
    font : FontProperties, optional
        A face that has the letters of the words.

    Returns
    -------
    matplotlib Figure
    """
    from matplotlib.figure import Figure

    figure = Figure(figsize=(7.2, 1.3 + 0.5 * len(samples)))
    axes = figure.subplots()
    values = [float(str(value)) for value in counts.columns]
    answers = counts.reindex(list(samples)).fillna(0).to_numpy(float)
    shares = 100 * answers / answers.sum(axis=1, keepdims=True).clip(min=1)
    for row, own in enumerate(shares):
        below = sum(width for value, width in zip(values, own, strict=True) if value < 0)
        right = sum(width for value, width in zip(values, own, strict=True) if value == 0)
        start = -float(below) - float(right) / 2
        for value, width, word in zip(values, map(float, own), words, strict=True):
            tone = max(-2, min(2, int(value)))
            axes.barh(
                row,
                width,
                left=start,
                height=0.62,
                color=_INK[tone],
                hatch=_HATCH[tone],
                edgecolor="white" if tone else "#8a8578",
                linewidth=0.8,
                label=word if row == 0 else None,
            )
            if width >= 12:
                dark = abs(tone) == 2
                axes.text(
                    start + width / 2,
                    row,
                    f"{width:.0f} %",
                    ha="center",
                    va="center",
                    fontsize=8.5,
                    color="black",
                    bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.2} if dark else None,
                )
            start += width
    axes.axvline(0, color="#333333", linewidth=0.8)
    axes.set_yticks(range(len(samples)), list(samples))
    axes.set_ylim(len(samples) - 0.5, -0.5)
    axes.set_xlim(-105, 105)
    axes.set_xticks([])
    for side in ("top", "right", "bottom", "left"):
        axes.spines[side].set_visible(False)
    axes.tick_params(axis="y", length=0)
    axes.legend(
        loc="lower center", bbox_to_anchor=(0.5, 1.0), ncols=len(words), frameon=False, fontsize=8.5
    )
    in_face(figure, font)
    figure.tight_layout()
    return figure
