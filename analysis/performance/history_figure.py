"""Control chart of the panel on its reference, one row of plots an attribute."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from ..core.look import GREY, INK, PAPER_WIDTH, SMALL, in_look
from ..core.words import say

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@in_look
def draw_control_charts(
    chart: pd.DataFrame, reference: str, attributes: Sequence[str], *, language: str
) -> Figure:
    """Draw the panel's mean on the reference over the sessions, with its limits.

    Parameters
    ----------
    chart : DataFrame
        ``attribute, date, mean, se, centre, lower, upper, signal`` (empty where
        there is none), in the order of the sessions.
    reference : str
        What the reference is called.
    attributes : sequence of str
        Those to draw, one below the other.
    language : str
    """
    from matplotlib.figure import Figure

    figure = Figure(figsize=(PAPER_WIDTH, 0.6 + 2.3 * len(attributes)), layout="constrained")
    panes = figure.subplots(len(attributes), 1, squeeze=False)[:, 0]
    for axes, name in zip(panes, attributes, strict=True):
        chart_of_panel(axes, chart[chart["attribute"] == name].reset_index(drop=True), language)
        axes.set_title(say("history.chart_title", language, attribute=name, reference=reference))
    panes[-1].set_xlabel(say("history.chart_x", language))
    figure.supylabel(say("history.chart_y", language))
    known = {}
    for axes in panes:
        handles, labels = axes.get_legend_handles_labels()
        known.update(dict(zip(labels, handles, strict=True)))
    figure.legend(known.values(), known.keys(), loc="outside lower center", ncols=3)
    return figure


def chart_of_panel(axes: Axes, rows: pd.DataFrame, language: str) -> None:
    """Draw the chart of one attribute, its rows in the order of the sessions."""
    x = np.arange(len(rows))
    row = rows.iloc[0]
    axes.axhline(row["centre"], color=GREY, lw=0.9, label=say("history.chart_centre", language))
    limits = say("history.chart_limits", language)
    axes.axhline(row["lower"], color=GREY, lw=0.9, ls="--", label=limits)
    axes.axhline(row["upper"], color=GREY, lw=0.9, ls="--")
    mean = rows["mean"].to_numpy(float)
    many = len(rows) > 60
    axes.errorbar(
        x,
        mean,
        yerr=None if many else rows["se"].to_numpy(float),
        color=INK,
        lw=1.0,
        marker="" if many else "o",
        ms=4,
        capsize=2,
    )
    out = (rows["signal"] != "").to_numpy()
    if out.any():
        axes.plot(
            x[out],
            mean[out],
            ls="",
            marker="o",
            ms=10,
            mfc="none",
            mec=INK,
            mew=1.6,
            label=say("history.chart_signal", language),
        )
    step = max(1, int(np.ceil(len(rows) / 12)))
    dates = [f"{date:%Y-%m-%d}" for date in rows["date"]]
    axes.set_xticks(x[::step], dates[::step], fontsize=SMALL, rotation=30, ha="right")
