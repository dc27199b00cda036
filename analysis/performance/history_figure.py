"""Control chart of the panel on its reference, one row of plots an attribute."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from ..core.errors import NotEstimable
from ..core.words import say
from .panel_over_time import History

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST = 6


def control_charts(past: History, attributes: Sequence[str] | None = None) -> Figure:
    """Draw the panel's mean on the reference over the sessions, with its limits.

    Parameters
    ----------
    past : History
    attributes : sequence of str, optional
        At most six; by default those with signals, then the others.

    Raises
    ------
    NotEstimable
        If there is no reference.
    """
    from matplotlib.figure import Figure

    if past.reference is None or not len(past.chart):
        raise NotEstimable("history.no_reference")
    names = list(attributes or _worth(past))[:MOST]
    figure = Figure(figsize=(8.2, 0.6 + 2.3 * len(names)), layout="constrained")
    panes = figure.subplots(len(names), 1, squeeze=False)[:, 0]
    for axes, name in zip(panes, names, strict=True):
        _pane(axes, past, name)
    panes[-1].set_xlabel(say("history.chart_x"))
    figure.supylabel(say("history.chart_y"), fontsize=10)
    handles, labels = panes[0].get_legend_handles_labels()
    for axes in panes[1:]:
        for handle, label in zip(*axes.get_legend_handles_labels(), strict=True):
            if label not in labels:
                handles, labels = [*handles, handle], [*labels, label]
    figure.legend(handles, labels, loc="outside lower center", ncols=3, frameon=False, fontsize=9)
    return figure


def _worth(past: History) -> list[str]:
    """Name attributes, those with signals first."""
    chart = past.chart
    order = list(dict.fromkeys(str(name) for name in chart["attribute"]))
    loud = set(chart.loc[chart["signal"] != "", "attribute"])
    return sorted(order, key=lambda name: (name not in loud, order.index(name)))


def _pane(axes: Axes, past: History, name: str) -> None:
    rows = past.chart[past.chart["attribute"] == name].reset_index(drop=True)
    x = np.arange(len(rows))
    row = rows.iloc[0]
    axes.axhline(row["centre"], color="0.4", lw=0.9, label=say("history.chart_centre"))
    axes.axhline(row["lower"], color="0.4", lw=0.9, ls="--", label=say("history.chart_limits"))
    axes.axhline(row["upper"], color="0.4", lw=0.9, ls="--")
    mean = rows["mean"].to_numpy(float)
    many = len(rows) > 60
    axes.errorbar(
        x,
        mean,
        yerr=None if many else rows["se"].to_numpy(float),
        color="black",
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
            mec="black",
            mew=1.6,
            label=say("history.chart_signal"),
        )
    step = max(1, int(np.ceil(len(rows) / 12)))
    dates = [f"{date:%Y-%m-%d}" for date in rows["date"]]
    axes.set_xticks(x[::step], dates[::step], fontsize=8, rotation=30, ha="right")
    title = say("history.chart_title", attribute=name, reference=past.reference)
    axes.set_title(title, loc="left", fontsize=10)
    axes.spines[["top", "right"]].set_visible(False)
