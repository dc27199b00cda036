"""What a house remembers, as a picture: its spreads by attribute, its assessors' widths."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ..core.look import GREY, INK, PAPER_WIDTH, in_look
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
    figure = Figure(figsize=(PAPER_WIDTH, 1.6 + 0.42 * rows), layout="constrained")
    left, right = figure.subplots(1, 2)
    spreads_of_house(left, house, language=language)
    figure.legend(*left.get_legend_handles_labels(), loc="outside lower center", ncols=2)
    assessors_widths(right, widths, language=language)
    return figure


def spreads_of_house(axes: Axes, house: pd.DataFrame, *, language: str) -> None:
    """Draw how far bottles and answers scatter, an attribute a line."""
    at = np.arange(len(house))[::-1]
    for name, marker, shift, filled in (("sample", "o", 0.14, True), ("error", "D", -0.14, False)):
        _limits(
            axes,
            at + shift,
            100 * house[[f"{name}_sd", f"{name}_low", f"{name}_high"]].to_numpy(float),
            marker=marker,
            filled=filled,
            label=say(f"memory.figure_{name}", language),
        )
    axes.set_yticks(at, list(house["attribute"]))
    axes.set_xlim(left=0)
    axes.set_xlabel(say("memory.figure_share", language))
    axes.set_title(say("memory.figure_house", language))
    axes.set_ylim(-0.6, max(len(house) - 0.4, 0.6))


def assessors_widths(axes: Axes, widths: pd.DataFrame, *, language: str) -> None:
    """Draw how widely each assessor uses the scale, as a multiple of the usual."""
    at = np.arange(len(widths))[::-1]
    axes.axvline(1, color=GREY, lw=0.9)
    values = widths[["width", "low", "high"]].to_numpy(float)
    _limits(axes, at, values, marker="o", filled=True, label="")
    axes.set_yticks(at, list(widths["assessor"]))
    axes.set_xlabel(say("memory.figure_multiple", language))
    axes.set_title(say("memory.figure_widths", language))
    axes.set_ylim(-0.6, max(len(widths) - 0.4, 0.6))


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
