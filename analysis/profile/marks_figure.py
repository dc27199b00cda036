"""Marks of a few people, one line each under an attribute, samples told apart by shape and ink."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import pandas as pd

from ..core.look import (
    GREY,
    PALE,
    PAPER_WIDTH,
    PHONE_WIDTH,
    SMALL,
    beside,
    field,
    in_look,
    key_of,
    letters,
    mark,
    point,
    whole,
    without_frame,
)
from ..core.words import say

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


FRAME, LINE, BETWEEN, LEAST = 0.75, 0.17, 0.12, 0.34
"""Inches of height: axis and key, a person's line, between attributes, an attribute at least."""
HEAD = 0.36
"""Inches for an attribute's name and the ends of its scale where they stand above its lines."""
APART = 0.12
"""Inches within a line over which samples are spread, so that equal marks are both seen."""


@in_look
def draw_marks(
    marks: pd.DataFrame,
    *,
    samples: Sequence[str],
    people: Sequence[str],
    names: Mapping[str, str] | None = None,
    ends: Mapping[str, tuple[str, str]] | None = None,
    language: str,
    narrow: bool = False,
    axes: Axes | None = None,
) -> Figure:
    """Draw what each of a few people marked, with how far their own tastings reach.

    Parameters
    ----------
    marks : DataFrame
        ``attribute, assessor, sample, mark, low, high``: the mean of the person's tastings, the
        lowest and the highest of them; attributes in the order to draw. No interval.
    samples, people : sequence of str
        In their order.
    names : mapping, optional
        What to write for an attribute.
    ends : mapping, optional
        Words at the ends of each attribute's scale.
    language : str
    narrow : bool
        Whether for the screen of a telephone: names stand above their lines, not beside them.
    axes : Axes, optional
        Where to draw; a new figure by default.

    Returns
    -------
    matplotlib Figure
    """
    attributes = list(dict.fromkeys(marks["attribute"]))
    block = _block(len(people))
    head = HEAD if narrow else 0.0
    width = PHONE_WIDTH if narrow else PAPER_WIDTH
    columns = beside(samples, width)
    frame = FRAME + 0.16 * (-(-len(samples) // columns) - 1)
    tall = len(attributes) * (block + head)
    axes = field(axes, width, frame + tall)
    inside = (block - LINE * (len(people) - 1)) / 2
    at = {
        (name, who): row * (block + head) + head + inside + LINE * turn
        for row, name in enumerate(attributes)
        for turn, who in enumerate(people)
    }
    for place, sample in enumerate(samples):
        own = marks[marks["sample"] == sample]
        off = (place - (len(samples) - 1) / 2) * APART / len(samples)
        rows = [at[key] + off for key in zip(own["attribute"], own["assessor"], strict=True)]
        axes.hlines(rows, own["low"], own["high"], color=mark(place)[1], linewidth=1.1)
        axes.plot(own["mark"], rows, linestyle="", label=sample, **point(place, 5))
    across: dict[str, Any] = {"transform": axes.get_yaxis_transform(), "color": PALE}
    axes.hlines([n * (block + head) for n in range(1, len(attributes))], 0, 1, lw=0.6, **across)
    axes.set_yticks(list(at.values()), [who for _, who in at])
    axes.set_ylim(tall, 0)
    axes.set_xlim(min(0.0, float(marks["low"].min())), max(10.0, float(marks["high"].max())))
    called, words = names or {}, ends or {}
    left = 0.0 if narrow else -(4.6 * max(map(letters, people)) + 12)
    for row, name in enumerate(attributes):
        middle = row * (block + head) + (0.0 if narrow else block / 2)
        told = any(words.get(name, ("", "")))
        up = -3.0 if narrow else 5.0 if told else 0.0
        _write(axes, middle, called.get(name, name), (left, up), narrow=narrow, fontweight="bold")
        if told:
            low, high = words[name]
            text = say("common.scale_ends", language, low=low, high=high)
            down = -14.0 if narrow else -5.0
            _write(axes, middle, text, (left, down), narrow=narrow, fontsize=SMALL, color=GREY)
    without_frame(axes)
    key_of(axes, "below", ncols=columns)
    return whole(axes)


def _write(
    axes: Axes, y: float, text: str, off: tuple[float, float], *, narrow: bool, **how: Any
) -> None:
    """Write a line beside an attribute's lines, or above them; `off` in points from the axis."""
    axes.annotate(
        text, (0, y), xycoords=("axes fraction", "data"), xytext=off, textcoords="offset points",
        ha="left" if narrow else "right", va="top" if narrow else "center", **how,
    )  # fmt: skip


def _block(people: int) -> float:
    return max(LEAST, LINE * people + BETWEEN)


def fitting(people: int, height: float) -> int:
    """Return how many attributes such a figure of so many inches has room for.

    >>> fitting(2, 2.6), fitting(3, 2.6)
    (4, 2)
    """
    return int((height - FRAME) / _block(people))
