"""Means with intervals, one line an attribute, samples told apart by shape and grey."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import pandas as pd

from ..core.look import (
    GREY,
    PALE,
    PAPER_WIDTH,
    PHONE_WIDTH,
    TEXT,
    beside,
    field,
    in_look,
    key_of,
    whole,
    without_frame,
)
from ..core.words import say
from .side_by_side import side_by_side

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


FRAME = 0.9
"""Inches of height for axis and key."""
HEAD = 0.36
"""Inches of height for an attribute's name and the ends of its scale where they stand above it."""


@in_look
def draw_profiles(
    means: pd.DataFrame,
    *,
    samples: Sequence[str],
    names: Mapping[str, str] | None = None,
    told_apart: Sequence[str] = (),
    ends: Mapping[str, tuple[str, str]] | None = None,
    language: str,
    narrow: bool = False,
    axes: Axes | None = None,
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
    ends : mapping, optional
        Words at the ends of each attribute's scale. They stand below the axis where all
        attributes have the same, else below each name.
    language : str
    narrow : bool
        Whether for the screen of a telephone: names stand above their lines, not beside them.
    axes : Axes, optional
        Where to draw; a new figure by default.

    Returns
    -------
    matplotlib Figure
    """
    attributes = list(dict.fromkeys(means["attribute"]))
    called = names or {}
    lines = _row(len(samples))
    width, row_high = (PHONE_WIDTH, lines + HEAD) if narrow else (PAPER_WIDTH, lines)
    columns = beside(samples, width)
    frame = FRAME + (0.16 * -(-len(samples) // columns) if narrow else 0)
    axes = field(axes, width, frame + len(attributes) * row_high)
    for one in side_by_side(means, samples, attributes, 0.72 * lines / row_high):
        places = [at + (row_high - lines) / row_high / 2 for at in one.at]
        axes.hlines(places, one.means["low"], one.means["high"], color=one.ink, linewidth=1.4)
        axes.plot(one.means["mean"], places, linestyle="", label=one.sample, **one.point)
    between = [row - 0.5 for row in range(1, len(attributes))]
    across: dict[str, Any] = {
        "transform": axes.get_yaxis_transform(),
        "color": PALE,
        "linewidth": 0.6,
    }
    axes.hlines(between, 0, 1, **across)
    weights = ["bold" if name in told_apart else "normal" for name in attributes]
    if narrow:
        axes.set_yticks([])
        for row, (name, weight) in enumerate(zip(attributes, weights, strict=True)):
            _write_above(axes, row, called.get(name, name), 3, fontweight=weight)
    else:
        axes.set_yticks(range(len(attributes)), [called.get(name, name) for name in attributes])
        for tick, weight in zip(axes.get_yticklabels(), weights, strict=True):
            tick.set_fontweight(weight)
    axes.set_ylim(len(attributes) - 0.5, -0.5)
    low = min(0.0, float(means["low"].min()))
    high = max(10.0, float(means["high"].max()))
    axes.set_xlim(low, high)
    own = {name: words for name, words in (ends or {}).items() if name in attributes and any(words)}
    if narrow:
        for row, name in enumerate(attributes):
            if any(words := own.get(name, ("", ""))):
                told = say("common.scale_ends", language, low=words[0], high=words[1])
                _write_above(axes, row, told, 14, fontsize=TEXT, color=GREY)
    elif len(set(own.values())) == 1 and len(own) == len(attributes):
        low_word, high_word = next(iter(own.values()))
        axes.set_xlabel(say("common.scale_low", language, word=low_word), loc="left")
        axes.annotate(
            say("common.scale_high", language, word=high_word),
            (1, 0),
            xycoords=("axes fraction", axes.xaxis.label),
            ha="right",
        )
    else:
        for row, name in enumerate(attributes):
            _write_ends(axes, row, own.get(name, ("", "")), language)
    without_frame(axes)
    key_of(axes, "below", ncols=columns)
    return whole(axes)


def _write_above(axes: Axes, row: int, text: str, down: float, **how: Any) -> None:
    """Write a line at the head of an attribute's row, so many points down."""
    axes.annotate(
        text,
        (0, row - 0.5),
        xycoords=("axes fraction", "data"),
        xytext=(0, -down),
        textcoords="offset points",
        va="top",
        **how,
    )


def _write_ends(axes: Axes, row: int, words: tuple[str, str], language: str) -> None:
    """Write what the ends of one attribute's scale are called, below its name."""
    if any(words):
        axes.annotate(
            say("common.scale_ends", language, low=words[0], high=words[1]),
            (0, row),
            xycoords=("axes fraction", "data"),
            xytext=(-3.5, -8),
            textcoords="offset points",
            ha="right",
            va="top",
            fontsize=TEXT,
            color=GREY,
        )


def _row(samples: int) -> float:
    return 0.2 * (1 + 0.42 * samples)


def fitting(samples: int, height: float) -> int:
    """Return how many attributes such a figure of so many inches has room for.

    >>> fitting(3, 2.8), fitting(6, 2.3)
    (4, 1)
    """
    return int((height - FRAME) / _row(samples))
