"""One taste as a sip goes by: a line a bottle over the stages, with limits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import pandas as pd

from ..core.look import (
    PAPER_WIDTH,
    PHONE_WIDTH,
    beside,
    field,
    in_look,
    key_of,
    whole,
    without_frame,
    wrapped,
)
from .side_by_side import side_by_side

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@in_look
def draw_stages(
    means: pd.DataFrame,
    *,
    samples: Sequence[str],
    names: Mapping[str, str] | None = None,
    ends: tuple[float, float] = (0.0, 10.0),
    language: str,  # noqa: ARG001 - every figure asks for it
    narrow: bool = False,
    axes: Axes | None = None,
) -> Figure:
    """Draw the means over the stages of a sip.

    Parameters
    ----------
    means : DataFrame
        ``attribute, sample, mean, low, high``; the attributes are the stages in order.
    samples : sequence of str
        Order of the samples.
    names : mapping, optional
        What to write for a stage.
    ends : tuple of float
        Ends of the scale.
    language : str
    narrow : bool
        Whether for the screen of a telephone.
    axes : Axes, optional
        Where to draw; a new figure by default.

    Returns
    -------
    matplotlib Figure
    """
    order = list(dict.fromkeys(means["attribute"]))
    called = names or {}
    width = PHONE_WIDTH if narrow else PAPER_WIDTH
    columns = beside(samples, width)
    axes = field(axes, width, 3.6 + (0.16 * -(-len(samples) // columns) if narrow else 0))
    most = 9 if narrow else 16
    for one in side_by_side(means, samples, order, 0.3):
        axes.vlines(one.at, one.means["low"], one.means["high"], color=one.ink, linewidth=1.2)
        how = {"linewidth": 1.2, "linestyle": one.dash, **one.point}
        axes.plot(one.at, one.means["mean"], label=one.sample, **how)
    axes.set_xticks(
        range(len(order)), ["\n".join(wrapped(called.get(name, name), most)) for name in order]
    )
    axes.set_xlim(-0.4, len(order) - 0.6)
    reach = [*means["low"].dropna(), *means["high"].dropna()]
    axes.set_ylim(min([ends[0], *reach]), max([ends[1], *reach]))
    without_frame(axes)
    key_of(axes, "below", ncols=columns)
    return whole(axes)
