"""One taste as a sip goes by: a line a bottle over the stages, with limits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import pandas as pd

from ..core.look import field, in_look, key_of, mark, whole, without_frame, wrapped

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_DASHES = ("-", "--", ":", "-.")


@in_look
def draw_stages(
    means: pd.DataFrame,
    *,
    samples: Sequence[str],
    names: Mapping[str, str] | None = None,
    ends: tuple[float, float] = (0.0, 10.0),
    language: str,  # noqa: ARG001 - every figure asks for it
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
    axes : Axes, optional
        Where to draw; a new figure by default.

    Returns
    -------
    matplotlib Figure
    """
    order = list(dict.fromkeys(means["attribute"]))
    called = names or {}
    axes = field(axes, 7.2, 3.6)
    step = 0.3 / max(len(samples), 1)
    for place, sample in enumerate(samples):
        shape, ink = mark(place)
        own = means[means["sample"] == sample].set_index("attribute")
        places = [rank for rank, name in enumerate(order) if name in own.index]
        kept = own.loc[[order[rank] for rank in places]]
        at = [rank + (place - (len(samples) - 1) / 2) * step for rank in places]
        axes.vlines(at, kept["low"], kept["high"], color=ink, linewidth=1.2)
        axes.plot(
            at,
            kept["mean"],
            _DASHES[place % len(_DASHES)],
            marker=shape,
            color=ink,
            linewidth=1.2,
            markersize=6,
            markerfacecolor=ink if place % 2 == 0 else "white",
            label=sample,
        )
    axes.set_xticks(
        range(len(order)), ["\n".join(wrapped(called.get(name, name), 16)) for name in order]
    )
    axes.set_xlim(-0.4, len(order) - 0.6)
    reach = [*means["low"].dropna(), *means["high"].dropna()]
    axes.set_ylim(min([ends[0], *reach]), max([ends[1], *reach]))
    without_frame(axes)
    key_of(axes, "below", ncols=min(len(samples), 4))
    return whole(axes)
