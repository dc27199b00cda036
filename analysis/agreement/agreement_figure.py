"""All measures of agreement of all attributes as one field of numbers."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from ..core.look import PAPER_WIDTH, field, in_look, whole, wrapped
from ..core.wording import fixed, stated_percent
from ..core.words import say

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@in_look
def draw_agreement(
    measures: pd.DataFrame, *, level: float, language: str, axes: Axes | None = None
) -> Figure:
    """Draw measures by attribute: the darker, the better the panel agrees.

    Each field holds the estimate and its limits, so that nothing hangs on the shade.

    Parameters
    ----------
    measures : DataFrame
        ``attribute, measure, estimate, low, high``; limits may be nan.
    level : float
        Of the limits.
    language : str
    axes : Axes, optional
        Where to draw; a new figure by default.
    """
    import seaborn as sns

    rows = measures.assign(text=[_written(*row) for row in _numbers(measures)])
    attributes = list(dict.fromkeys(rows["attribute"]))
    names = list(dict.fromkeys(rows["measure"]))
    estimate, text = (
        rows.pivot_table(
            index="attribute", columns="measure", values=what, aggfunc="first"
        ).reindex(index=attributes, columns=names)
        for what in ("estimate", "text")
    )
    axes = field(axes, min(PAPER_WIDTH, 2.0 + 1.05 * len(names)), 1.1 + 0.44 * len(attributes))
    sns.heatmap(
        estimate.astype(float).where(lambda share: share <= 1, 0.0),
        annot=text.fillna("").to_numpy(),
        annot_kws={"linespacing": 1.5},
        fmt="",
        vmin=0,
        vmax=1,
        cmap="Blues",
        cbar=False,
        linewidths=1,
        linecolor="white",
        ax=axes,
    )
    _write_in_black_or_white(axes, len(names))
    told = say("agreement.figure_x", language, level=stated_percent(level))
    below = wrapped(told, int(14 * (whole(axes).get_figwidth() - 2)))
    axes.set(ylabel="", xlabel="\n".join(below))
    axes.tick_params(length=0, rotation=0)
    axes.xaxis.tick_top()
    return whole(axes)


def _write_in_black_or_white(axes: Axes, columns: int) -> None:
    """Give each number the colour that stands out more: seaborn's own is faint on middle blues.

    Luminance and contrast as in the Web Content Accessibility Guidelines 2.2 (W3C 2023).
    """
    fields = axes.collections[-1]
    fields.update_scalarmappable()
    shades = np.asarray(fields.get_facecolor())[:, :3]
    linear = np.where(shades <= 0.04045, shades / 12.92, ((shades + 0.055) / 1.055) ** 2.4)
    light = linear @ [0.2126, 0.7152, 0.0722] + 0.05
    for number in axes.texts:
        column, row = (int(place) for place in number.get_position())
        own = light[row * columns + column]
        number.set_color("black" if own / 0.05 > 1.05 / own else "white")


def _numbers(measures: pd.DataFrame) -> list[tuple[float, float, float]]:
    return [(a, b, c) for a, b, c in measures[["estimate", "low", "high"]].to_numpy(float)]


def _written(estimate: float, low: float, high: float) -> str:
    r"""Write an estimate over its limits; one above 1 is none, far below 0 is not told apart.

    >>> _written(0.712, 0.4, 0.9), _written(-0.04, float("nan"), float("nan"))
    ('0.71\n0.40 … 0.90', '−0.04')
    >>> _written(10.4, float("-inf"), 0.84), _written(0.07, -0.004, 0.61)
    ('–\n< −1 … 0.84', '0.07\n0.00 … 0.61')
    """
    number = "–" if estimate > 1 else _number(estimate)
    return number if np.isnan(low) else f"{number}\n{_number(low)} … {_number(high)}"


def _number(value: float) -> str:
    return "< −1" if value < -1 else fixed(value, 2)
