"""The curve of a sample size: what a panel finds, over the number of assessors."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.stats import binom

from ..core.look import DASHES, GREY, INK, field, in_look, key_of, whole
from ..core.wording import stated_percent, test_word
from ..core.words import say
from ..difference.critical_counts import needed_for_each
from ..difference.psychometric import named

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from pandas import DataFrame, Series


@in_look
def draw_size_curves(
    test: str,
    *,
    alpha: float,
    sides: int,
    beta: float,
    pd: float,
    n: int,
    n_safe: int,
    language: str,
    axes: Axes | None = None,
) -> Figure:
    """Draw the power over the number of assessors for four sizes of difference.

    Power is a saw-tooth; drawn is its lower edge from each number on, which is
    what one may count on. Lines differ by their dashes, not by colour alone.
    """
    choice = named(test)
    tail = alpha / sides
    top = max(12, int(n * 2))
    numbers = np.unique(np.linspace(1, 1.5 * top, min(2 * top, 1800)).astype(np.int64))
    least = needed_for_each(numbers, choice.chance, tail)
    axes = field(axes, 7.2, 4.0)
    for share, style in zip(_shares(pd), DASHES, strict=False):
        p = choice.p_of_distinguishers(share)
        found = np.where(least <= numbers, binom.sf(least - 1, numbers, p), 0.0)
        sure = np.minimum.accumulate(found[::-1])[::-1]
        stated = np.isclose(share, pd)
        axes.step(
            numbers,
            sure,
            where="post",
            linestyle=style,
            color=INK,
            linewidth=2.2 if stated else 1.2,
            label=say("size.figure_line", language, pd=stated_percent(share)),
        )
    axes.axhline(1 - beta, color=GREY, linewidth=0.8)
    axes.axvline(n_safe, color=GREY, linewidth=0.8)
    axes.annotate(
        say("size.figure_mark", language, n=n_safe),
        (n_safe, 0.02),
        xytext=(4, 0),
        textcoords="offset points",
    )
    axes.set_xlim(0, top)
    axes.set_ylim(0, 1.02)
    axes.set_xlabel(say("size.figure_x", language))
    axes.set_ylabel(say("size.figure_y", language))
    axes.set_title(say("size.figure_title", language, test=test_word(test), alpha=alpha))
    key_of(axes, "right", title=say("size.figure_legend", language))
    return whole(axes)


@in_look
def draw_limits_curve(
    numbers: Series[int],
    limits: DataFrame,
    *,
    stated: int,
    expected: float,
    what: str,
    language: str,
    axes: Axes | None = None,
) -> Figure:
    """Draw the two limits of an estimate over a number of samples or assessors.

    `what` is ``"agreement"`` (over samples) or ``"fault"`` (over assessors).
    """
    axes = field(axes, 7.2, 3.6)
    axes.fill_between(numbers, limits["low"], limits["high"], color="0.88", linewidth=0)
    axes.plot(numbers, limits["low"], color=INK, linewidth=1.4)
    axes.plot(numbers, limits["high"], color=INK, linewidth=1.4)
    axes.axhline(expected, color=INK, linestyle="--", linewidth=0.9)
    axes.axvline(stated, color=GREY, linewidth=0.8)
    bottom = min(0.0, float(limits["low"].min()))
    axes.annotate(
        say(f"size.figure_{what}_mark", language, n=stated),
        (stated, 1.0),
        xytext=(4, -2),
        textcoords="offset points",
    )
    axes.set_xlim(numbers.min(), numbers.max())
    axes.set_ylim(bottom, 1.02)
    axes.set_xlabel(say(f"size.figure_{what}_x", language))
    axes.set_ylabel(say(f"size.figure_{what}_y", language))
    return whole(axes)


def _shares(stated: float) -> list[float]:
    """Return the stated proportion among round ones, the largest first."""
    near = sorted((0.1, 0.2, 0.3, 0.4, 0.5, 0.7), key=lambda share: abs(share - stated))
    others = [share for share in near if abs(share - stated) > 0.04][:3]
    return sorted([stated, *others], reverse=True)
