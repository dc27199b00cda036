"""Means with intervals, one line an attribute, samples told apart by shape and grey."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import pandas as pd

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from matplotlib.font_manager import FontProperties

MARKS = ("o", "s", "^", "D", "v", "P", "X", "*", "<", ">")
INKS = ("#1b3a5c", "#b5532a", "#5b7f3a", "#8a5a8f", "#3c8d93", "#8c6d1f", "#444444", "#a33a5b")
"""Inks of one darkness apart, so that shapes carry the difference in black and white."""


def mark(place: int) -> tuple[str, str]:
    """Return shape and ink of the sample at `place`."""
    return MARKS[place % len(MARKS)], INKS[place % len(INKS)]


def profile_figure(
    means: pd.DataFrame,
    *,
    samples: Sequence[str],
    names: Mapping[str, str] | None = None,
    told_apart: Sequence[str] = (),
    low_word: str = "",
    high_word: str = "",
    font: FontProperties | None = None,
) -> Figure:
    """Draw means with intervals.

    Parameters
    ----------
    means : DataFrame
        ``attribute, sample, mean, low, high``, attributes in the order to draw.
    samples : sequence of str
        Order of the samples.
    names : mapping, optional
        What to write for an attribute.
    told_apart : sequence of str
        Attributes to set in bold: those whose samples differ.
    low_word, high_word : str
        Words at the ends of the scale.
    font : FontProperties, optional
        A face that has the letters of the words.

    Returns
    -------
    matplotlib Figure
    """
    from matplotlib.figure import Figure

    attributes = list(dict.fromkeys(means["attribute"]))
    called = names or {}
    figure = Figure(figsize=(7.2, 0.9 + 0.2 * len(attributes) * (1 + 0.42 * len(samples))))
    axes = figure.subplots()
    step = 0.72 / max(len(samples), 1)
    for place, sample in enumerate(samples):
        shape, ink = mark(place)
        own = means[means["sample"] == sample].set_index("attribute")
        rows = [row for row, name in enumerate(attributes) if name in own.index]
        kept = own.loc[[attributes[row] for row in rows]]
        at = [row + (place - (len(samples) - 1) / 2) * step for row in rows]
        axes.hlines(at, kept["low"], kept["high"], color=ink, linewidth=1.4)
        filled = ink if place % 2 == 0 else "white"
        axes.plot(
            kept["mean"], at, shape, color=ink, markersize=6, markerfacecolor=filled, label=sample
        )
    for row in range(1, len(attributes)):
        axes.axhline(row - 0.5, color="#d9d9d9", linewidth=0.6)
    axes.set_yticks(range(len(attributes)), [called.get(name, name) for name in attributes])
    for tick, name in zip(axes.get_yticklabels(), attributes, strict=True):
        tick.set_fontweight("bold" if name in told_apart else "normal")
    axes.set_ylim(len(attributes) - 0.5, -0.5)
    low = min(0.0, float(means["low"].min()))
    high = max(10.0, float(means["high"].max()))
    axes.set_xlim(low, high)
    if low_word or high_word:
        axes.set_xlabel(f"← {low_word}        {high_word} →")
    for side in ("top", "right", "left"):
        axes.spines[side].set_visible(False)
    axes.tick_params(axis="y", length=0)
    axes.legend(
        loc="lower center", bbox_to_anchor=(0.5, 1.0), ncols=min(len(samples), 5), frameon=False
    )
    in_face(figure, font)
    figure.tight_layout()
    return figure


def in_face(figure: Figure, font: FontProperties | None) -> None:
    """Set all words of a figure in a face, each in its own size and weight."""
    if font is None:
        return
    from matplotlib.text import Text

    for text in figure.findobj(Text):
        own = font.copy()
        own.set_size(text.get_fontsize())
        own.set_weight(text.get_fontweight())
        text.set_fontproperties(own)
