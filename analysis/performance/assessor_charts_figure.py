"""Charts of assessors over the sessions: own cups and distance, with limits of the panel."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from ..core.look import GREY, INK, PAPER_WIDTH, in_look
from ..core.words import say

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

LABELS = 4
"""Sessions that are named below one chart."""


@in_look
def draw_assessor_charts(
    chart: pd.DataFrame,
    assessors: Sequence[str],
    measures: Sequence[str],
    sessions: Sequence[str],
    *,
    language: str,
) -> Figure:
    """Draw one row an assessor, one column a measure, in times the assessor's usual.

    Parameters
    ----------
    chart : DataFrame
        ``measure, assessor, session, value, centre, upper, signal``.
    assessors, measures : sequence of str
    sessions : sequence of str
        In their order.
    language : str
    """
    from matplotlib.figure import Figure

    figure = Figure(figsize=(PAPER_WIDTH, 0.9 + 1.4 * len(assessors)), layout="constrained")
    panes = figure.subplots(len(assessors), len(measures), squeeze=False, sharex=True)
    for row, who in zip(panes, assessors, strict=True):
        for axes, measure in zip(row, measures, strict=True):
            mine = chart[(chart["assessor"] == who) & (chart["measure"] == measure)]
            assessor_chart(axes, mine, list(sessions), language)
            title = say(f"charts.measure_{measure}", language)
            axes.set_title(say("charts.title", language, assessor=who, measure=title))
    figure.supylabel(say("charts.y", language))
    known = {}
    for axes in panes.flat:
        handles, labels = axes.get_legend_handles_labels()
        known.update(dict(zip(labels, handles, strict=True)))
    figure.legend(known.values(), known.keys(), loc="outside lower center", ncols=3)
    return figure


def assessor_chart(axes: Axes, mine: pd.DataFrame, sessions: list[str], language: str) -> None:
    """Draw what was measured around the assessor's own mean, and the limit of each session."""
    named = range(0, len(sessions), -(-len(sessions) // LABELS))
    axes.set_xticks(named, [sessions[place] for place in named])
    known = mine[mine["value"].notna()]
    if not len(known):
        axes.text(0.5, 0.5, say("charts.none", language), transform=axes.transAxes, ha="center",
                  va="center", color=GREY)  # fmt: skip
        axes.set_yticks([])
        return
    x = np.array([sessions.index(str(name)) for name in known["session"]], dtype=int)
    value = known["value"].to_numpy(float)
    centre = known["centre"].to_numpy(float)
    upper = known["upper"].to_numpy(float)
    middle = np.where(np.isfinite(centre), centre, value.mean() if value.size else 0.0)
    axes.plot(x, np.exp(value - middle), color=INK, lw=1.0, marker="o", ms=4,
              label=say("charts.measured", language))  # fmt: skip
    limited = np.isfinite(upper)
    axes.plot(x[limited], np.exp(upper - middle)[limited], color=GREY, lw=0.9, ls="--",
              marker="_", label=say("charts.limit", language))  # fmt: skip
    out = (known["signal"] != "").to_numpy()
    if out.any():
        axes.plot(x[out], np.exp(value - middle)[out], ls="", marker="o", ms=10, mfc="none",
                  mec=INK, clip_on=False, label=say("charts.signal", language))  # fmt: skip
    axes.axhline(1.0, color=GREY, lw=0.9)
    axes.set_ylim(bottom=0)
