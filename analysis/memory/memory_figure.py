"""What a house remembers, as a picture: its spreads by attribute, its assessors' widths."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ..core.look import GREY, INK, in_look
from ..core.words import say

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@in_look
def draw_memory(house: pd.DataFrame, widths: pd.DataFrame, *, language: str) -> Figure:
    """Draw what is remembered, each with its limits.

    Parameters
    ----------
    house : DataFrame
        ``attribute, sample_sd, sample_low, sample_high, error_sd, error_low, error_high``,
        in shares of the scale.
    widths : DataFrame
        ``assessor, width, low, high``.
    language : str
    """
    from matplotlib.figure import Figure

    rows = max(len(house), len(widths))
    figure = Figure(figsize=(8.2, 1.6 + 0.42 * rows), layout="constrained")
    left, right = figure.subplots(1, 2)
    at = np.arange(len(house))[::-1]
    for name, marker, shift, filled in (("sample", "o", 0.14, True), ("error", "D", -0.14, False)):
        _limits(
            left,
            at + shift,
            100 * house[[f"{name}_sd", f"{name}_low", f"{name}_high"]].to_numpy(float),
            marker=marker,
            filled=filled,
            label=say(f"memory.figure_{name}", language),
        )
    left.set_yticks(at, list(house["attribute"]))
    left.set_xlim(left=0)
    left.set_xlabel(say("memory.figure_share", language))
    left.set_title(say("memory.figure_house", language))
    figure.legend(*left.get_legend_handles_labels(), loc="outside lower center", ncols=2)
    at = np.arange(len(widths))[::-1]
    right.axvline(1, color=GREY, lw=0.9)
    values = widths[["width", "low", "high"]].to_numpy(float)
    _limits(right, at, values, marker="o", filled=True, label="")
    right.set_yticks(at, list(widths["assessor"]))
    right.set_xlabel(say("memory.figure_multiple", language))
    right.set_title(say("memory.figure_widths", language))
    for axes in (left, right):
        axes.set_ylim(-0.6, max(len(axes.get_yticks()) - 0.4, 0.6))
    return figure


def _limits(
    axes: Axes,
    at: np.ndarray,
    values: np.ndarray,
    *,
    marker: str,
    filled: bool,
    label: str,
) -> None:
    middle, low, high = values.T
    axes.errorbar(
        middle,
        at,
        xerr=np.maximum([middle - low, high - middle], 0),
        ls="",
        marker=marker,
        ms=5,
        color=INK,
        mfc=INK if filled else "white",
        capsize=2,
        lw=1.0,
        label=label,
    )
