"""Two figures of the ANOVA: means with intervals, and differences with theirs.

Both read in black and white. Means: a thick line is the interval for new
assessors, small open circles are single assessors, letters stand at the right.
Differences: filled marks stand clear of the line at 0, open ones do not.
"""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import wrap
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from ..core.errors import OptionError
from ..core.tidy_table import Tidy, as_tidy
from ..core.words import FALLBACK, say
from ..mixed_model.block_layout import Array
from .whole_table import Anova

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_INK, _GREY, _PALE = "0.1", "0.45", "0.85"


def means_figure(
    found: Anova,
    table: Tidy | pd.DataFrame | None = None,
    *,
    attributes: Sequence[str] | None = None,
    columns: int = 3,
    language: str = FALLBACK,
) -> Figure:
    """Draw the means of each attribute with intervals and shared letters.

    Parameters
    ----------
    found : Anova
    table : Tidy or DataFrame, optional
        The table that `found` was made from; with it each assessor's own mean
        is drawn as a small circle.
    attributes : sequence of str, optional
        Attributes to draw; all by default.
    columns : int
        Fields side by side.
    language : str
        Language of the words.

    Returns
    -------
    Figure
        Samples from the highest mean down; samples that share a letter were
        not told apart.

    Raises
    ------
    OptionError
        For an attribute that has no result.
    """
    from matplotlib.figure import Figure

    names = _chosen(found, attributes)
    data = None if table is None else as_tidy(table).data
    wide = min(columns, len(names))
    tall = -(-len(names) // wide)
    longest = max(len(found[name].samples) for name in names)
    figure = Figure(
        figsize=(0.6 + 3.1 * wide, 0.8 + tall * (0.75 + 0.3 * longest)), layout="constrained"
    )
    fields = figure.subplots(tall, wide, squeeze=False).ravel()
    for axes, name in zip(fields, names, strict=False):
        one = found[name]
        letters = one.letters()
        means = one.means.set_index("sample").loc[letters["sample"]]
        numbers = means[["low", "mean", "high"]].to_numpy(float)
        for place, (sample, (low, middle, high)) in enumerate(
            zip(means.index, numbers, strict=True)
        ):
            if data is not None:
                scores = data[(data["attribute"] == name) & (data["sample"] == sample)]
                own = scores.groupby("assessor")["score"].mean().to_numpy(float)
                axes.plot(own, _spread(len(own), place), "o", ms=3, mfc="none", mec=_GREY, mew=0.6)
            axes.plot([low, high], [place, place], color=_INK, lw=2.2)
            axes.plot(middle, place, "D", color=_INK, ms=5)
        for place, shown in enumerate(letters["letters"]):
            axes.annotate(
                shown,
                (1, place),
                xycoords=("axes fraction", "data"),
                xytext=(5, 0),
                textcoords="offset points",
                va="center",
                fontsize=9,
            )
        _finish(axes, list(means.index), name)
    for axes in fields[len(names) :]:
        axes.set_axis_off()
    key = "anova.figure_means" if data is None else "anova.figure_assessors"
    _below(figure, say(key, language))
    return figure


def differences_figure(
    found: Anova, attribute: str, *, reference: str | None = None, language: str = FALLBACK
) -> Figure:
    """Draw the differences of one attribute with intervals that hold together.

    Parameters
    ----------
    found : Anova
    attribute : str
    reference : str, optional
        Draw differences from this sample (Dunnett) instead of all pairs (Tukey).
    language : str

    Returns
    -------
    Figure
    """
    from matplotlib.figure import Figure

    result = found[_chosen(found, [attribute])[0]]
    pairs = result.differences if reference is None else result.against(reference)
    figure = Figure(figsize=(6.2, 0.95 + 0.3 * len(pairs)), layout="constrained")
    axes = figure.subplots()
    axes.axvline(0, color=_INK, lw=0.9, ls=(0, (5, 2)))
    numbers = pairs[["low", "difference", "high"]].to_numpy(float)
    for place, (low, middle, high) in enumerate(numbers):
        clear = low > 0 or high < 0
        axes.plot([low, high], [place, place], color=_INK, lw=2.2 if clear else 1.1)
        fill = _INK if clear else "white"
        axes.plot(middle, place, "o", ms=6, mfc=fill, mec=_INK, mew=1.1)
    labels = [
        f"{one} − {other}" for one, other in zip(pairs["sample"], pairs["against"], strict=True)
    ]
    _finish(axes, labels, attribute)
    key = "anova.figure_pairs" if reference is None else "anova.figure_against"
    _below(figure, say(key, language, level=f"{100 * result.level:g}"))
    return figure


def _chosen(found: Anova, attributes: Sequence[str] | None) -> list[str]:
    known = list(found.attributes)
    for name in attributes or []:
        if name not in known:
            raise OptionError("anova.no_attribute", attribute=name, attributes=known)
    return known if attributes is None else list(attributes)


def _spread(count: int, place: int) -> Array:
    """Set the points of assessors apart, always in the same way."""
    return np.asarray(place + 0.22 * np.sin(np.arange(count) * 2.4))


def _below(figure: Figure, text: str) -> None:
    """Write below the fields, in lines that fit the figure (about 14 letters an inch)."""
    lines = wrap(text, int(14 * figure.get_figwidth()))
    figure.supxlabel("\n".join(lines), fontsize=8, color=_GREY)


def _finish(axes: Axes, labels: list[str], title: str) -> None:
    axes.set_yticks(range(len(labels)), labels, fontsize=9)
    axes.set_ylim(len(labels) - 0.5, -0.5)
    axes.set_title(title, fontsize=10, loc="left")
    axes.grid(axis="x", color=_PALE, lw=0.7)
    axes.set_axisbelow(True)
    axes.tick_params(axis="x", labelsize=8)
    for side in ("top", "right", "left"):
        axes.spines[side].set_visible(False)
    axes.tick_params(axis="y", length=0)
