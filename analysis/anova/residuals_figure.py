"""What assessors and samples leave: over what was expected, and against a normal distribution."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.special import ndtri

from ..core.look import GREY, INK, PAPER_WIDTH, SMALL, in_look, short_name, wrapped
from ..core.words import say

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@in_look
def draw_residuals(cells: pd.DataFrame, *, language: str) -> Figure:
    """Draw two fields an attribute; means that are far off are filled and named.

    Parameters
    ----------
    cells : DataFrame
        ``attribute, assessor, sample, expected, residual, studentised, far``.
    language : str
    """
    from matplotlib.figure import Figure

    names = list(dict.fromkeys(cells["attribute"]))
    figure = Figure(figsize=(PAPER_WIDTH, 0.7 + 2.3 * len(names)), layout="constrained")
    fields = figure.subplots(len(names), 2, squeeze=False)
    for (left, right), name in zip(fields, names, strict=True):
        own = cells[cells["attribute"] == name]
        over_expected(left, own, language=language)
        left.set_title(name)
        on_normal_paper(right, own, language=language)
    for above in fields[:-1].flat:
        above.set_xlabel("")
    note = "\n".join(wrapped(say("residuals.note", language), 125))
    figure.supxlabel(note, fontsize=SMALL, color=GREY, linespacing=1.5)
    return figure


def over_expected(axes: Axes, own: pd.DataFrame, *, language: str) -> None:
    """Draw the residuals of one attribute over what was expected."""
    _points(axes, own["expected"], own["residual"], own)
    axes.axhline(0, color=GREY, lw=0.8, zorder=0)
    axes.set_xlabel(say("residuals.x_left", language))
    axes.set_ylabel(say("residuals.y_left", language))


def on_normal_paper(axes: Axes, own: pd.DataFrame, *, language: str) -> None:
    """Draw the residuals of one attribute against the normal distribution."""
    own = own.sort_values("studentised", kind="stable")
    # middle ranks by Blom's rule, as on normal probability paper
    places = pd.Series(ndtri((np.arange(1, len(own) + 1) - 0.375) / (len(own) + 0.25)), own.index)
    _points(axes, places, own["studentised"], own)
    ends = np.array([places.iloc[0], places.iloc[-1]])
    axes.plot(ends, ends, color=GREY, lw=0.8, zorder=0)
    axes.set_xlabel(say("residuals.x_right", language))
    axes.set_ylabel(say("residuals.y_right", language))


def _points(axes: Axes, x: pd.Series[float], y: pd.Series[float], cells: pd.DataFrame) -> None:
    import seaborn as sns

    far = cells["far"].astype(bool)
    sns.scatterplot(
        x=x[~far], y=y[~far], ax=axes, s=22, facecolor="white", edgecolor=INK, linewidth=0.8
    )
    sns.scatterplot(x=x[far], y=y[far], ax=axes, s=26, color=INK, linewidth=0)
    axes.set(xlabel="", ylabel="")
    axes.margins(x=0.12, y=0.15)
    middle = float(x.mean())
    for at in cells.index[far]:
        left = x[at] < middle
        axes.annotate(
            short_name(f"{cells.loc[at, 'assessor']}, {cells.loc[at, 'sample']}", 28),
            (float(x[at]), float(y[at])),
            xytext=(5 if left else -5, 0),
            textcoords="offset points",
            ha="left" if left else "right",
            va="center",
        )
