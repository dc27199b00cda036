"""Just-about-right answers as bars on both sides of just right."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import pandas as pd

from ..core.look import (
    PAPER_WIDTH,
    PHONE_WIDTH,
    field,
    in_look,
    key_of,
    letters,
    whole,
    without_frame,
    wrapped,
)
from ..core.wording import percent

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_INK = {-2: "#1b3a5c", -1: "#7f9cb8", 0: "#e9e4d8", 1: "#dba88f", 2: "#b5532a"}
_HATCH = {-2: "//", -1: "", 0: "", 1: "", 2: "\\\\"}


@in_look
def draw_balances(
    counts: pd.DataFrame,
    *,
    samples: Sequence[str],
    words: Sequence[str],
    language: str,  # noqa: ARG001 - every figure asks for it
    narrow: bool = False,
    axes: Axes | None = None,
) -> Figure:
    """Draw the share of answers by category, just right in the middle; n answers a sample.

    Parameters
    ----------
    counts : DataFrame
        Number of answers; index samples, columns the category values around 0.
    samples : sequence of str
        Order of the bars.
    words : sequence of str
        What each category is called, in the order of the columns.
    language : str
    narrow : bool
        Whether for the screen of a telephone.
    axes : Axes, optional
        Where to draw; a new figure by default.

    Returns
    -------
    matplotlib Figure
    """
    long = max(map(letters, words)) > 14
    columns = (1 if long else 2) if narrow else 3 if long else len(words)
    high = 0.8 + (0.16 * -(-len(words) // columns) if narrow else 0)
    axes = field(axes, PHONE_WIDTH if narrow else PAPER_WIDTH, high + 0.42 * len(samples))
    room = 24 if narrow else 12  # percent of a bar that has room for its number
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
            if width >= room:
                dark = abs(tone) == 2
                axes.text(
                    start + width / 2,
                    row,
                    percent(width / 100),
                    ha="center",
                    va="center",
                    color="black",
                    bbox={"facecolor": "white", "edgecolor": "none", "pad": 3} if dark else None,
                )
            start += width
    axes.axvline(0, color="#333333", linewidth=0.8, zorder=0)  # behind the bars and their numbers
    called = ["\n".join(wrapped(one, 14)) if narrow else one for one in samples]
    whose = [f"{one}\nn = {n:g}" for one, n in zip(called, answers.sum(axis=1), strict=True)]
    axes.set_yticks(range(len(samples)), whose)
    axes.set_ylim(len(samples) - 0.5, -0.5)
    axes.set_xlim(-105, 105)
    axes.set_xticks([])
    without_frame(axes, bottom=True)
    key_of(axes, "below", ncols=columns)
    return whole(axes)
