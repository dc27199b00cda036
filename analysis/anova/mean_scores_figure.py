"""Two figures of the ANOVA: means with intervals, and differences with theirs.

Both read in black and white. Means: a thick line is the interval for new
assessors, small grey dots are single assessors, letters stand at the right.
Differences: filled marks stand clear of the line at 0, open ones do not.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from ..core.look import (
    GREY,
    INK,
    PALE,
    SMALL,
    field,
    given,
    in_look,
    short_name,
    whole,
    without_frame,
    wrapped,
)
from ..core.wording import stated_percent
from ..core.words import say

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_LINE = 20
"""Letters of a name in one line beside or above a field."""


@in_look
def draw_means(
    means: pd.DataFrame, own: pd.DataFrame | None = None, *, language: str, columns: int = 2
) -> Figure:
    """Draw the means of each attribute with intervals and shared letters.

    Parameters
    ----------
    means : DataFrame
        ``attribute, sample, low, mean, high, letters``, in the order to draw.
    own : DataFrame, optional
        ``attribute, assessor, sample, score``: each assessor's own mean, drawn as a dot.
    language : str
    columns : int
        Fields side by side.
    """
    from matplotlib.figure import Figure

    names = list(dict.fromkeys(means["attribute"]))
    if (axes := given()) is not None:
        _means(axes, means, own)
        _finish(axes, means["sample"].tolist(), names[0])
        return whole(axes)
    wide = min(columns, len(names))
    tall = -(-len(names) // wide)
    longest = int(means["attribute"].value_counts().max())
    row = 0.34 if any("\n" in _broken(one) for one in means["sample"].unique()) else 0.27
    size = (0.6 + 2.9 * wide, 0.8 + tall * (0.9 + row * longest))
    figure = Figure(figsize=size, layout="constrained")
    fields = figure.subplots(tall, wide, squeeze=False).ravel()
    for axes, name in zip(fields, names, strict=False):
        rows = means[means["attribute"] == name]
        scores = None if own is None else own[own["attribute"] == name]
        _means(axes, rows, scores)
        _finish(axes, [_broken(one) for one in rows["sample"]], _broken(name))
    for axes in fields[len(names) :]:
        axes.set_axis_off()
    _below(figure, say("anova.figure_means" if own is None else "anova.figure_assessors", language))
    return figure


def _broken(name: str) -> str:
    """Write a long name in two lines."""
    return "\n".join(wrapped(short_name(name, 2 * _LINE), _LINE)[:2])


def _means(axes: Axes, rows: pd.DataFrame, own: pd.DataFrame | None) -> None:
    import seaborn as sns

    if own is not None:
        sns.swarmplot(
            own,
            x="score",
            y="sample",
            order=rows["sample"].tolist(),
            ax=axes,
            color="0.72",
            size=3.2,
            zorder=1,
            warn_thresh=1,
        )
        axes.set(xlabel="", ylabel="")
    numbers = rows[["low", "mean", "high"]].to_numpy(float)
    for place, (low, middle, high) in enumerate(numbers):
        axes.plot([low, high], [place, place], color=INK, lw=2.2)
        axes.plot(middle, place, "D", color=INK, ms=5)
    for place, shown in enumerate(rows["letters"]):
        axes.annotate(
            shown,
            (1, place),
            xycoords=("axes fraction", "data"),
            xytext=(5, 0),
            textcoords="offset points",
            va="center",
        )


@in_look
def draw_differences(
    pairs: pd.DataFrame,
    *,
    attribute: str,
    level: float,
    against_one: bool,
    language: str,
    axes: Axes | None = None,
) -> Figure:
    """Draw the differences of one attribute with intervals that hold together.

    Parameters
    ----------
    pairs : DataFrame
        ``sample, against, low, difference, high``, in the order to draw.
    attribute : str
    level : float
        Of the intervals, all together.
    against_one : bool
        Whether all are differences from one sample (Dunnett) instead of all pairs (Tukey).
    language : str
    axes : Axes, optional
        Where to draw; a new figure by default.
    """
    new = axes is None and given() is None
    axes = field(axes, 6.2, 0.95 + 0.27 * len(pairs))
    axes.axvline(0, color=INK, lw=0.9, ls=(0, (5, 2)))
    numbers = pairs[["low", "difference", "high"]].to_numpy(float)
    for place, (low, middle, high) in enumerate(numbers):
        clear = low > 0 or high < 0
        axes.plot([low, high], [place, place], color=INK, lw=2.2 if clear else 1.1)
        fill = INK if clear else "white"
        axes.plot(middle, place, "o", ms=6, mfc=fill, mec=INK, mew=1.1)
    labels = [
        f"{one} − {other}" for one, other in zip(pairs["sample"], pairs["against"], strict=True)
    ]
    _finish(axes, labels, attribute)
    text = say(
        "anova.figure_against" if against_one else "anova.figure_pairs",
        language,
        level=stated_percent(level),
    )
    if new:
        _below(whole(axes), text)
    return whole(axes)


def _below(figure: Figure, text: str) -> None:
    """Write below the fields, in lines that fit the figure."""
    lines = wrapped(text, int(17 * figure.get_figwidth()))
    figure.supxlabel("\n".join(lines), fontsize=SMALL, color=GREY, linespacing=1.5)


def _finish(axes: Axes, labels: list[str], title: str) -> None:
    axes.set_yticks(range(len(labels)), labels)
    axes.set_ylim(len(labels) - 0.5, -0.5)
    axes.set_title(title)
    axes.grid(axis="x", color=PALE, lw=0.7)
    axes.set_axisbelow(True)
    without_frame(axes)
