"""The power curve of a scored panel: what it finds, over the size of the difference."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ..core.result import short
from ..core.words import say
from .power_of_tests import critical_t, power_t

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from .detectable_difference import Detectable

_STYLES = ("-", "--", "-.", ":")


def power_figure(found: Detectable) -> Figure:
    """Draw the probability of finding a difference, for this panel and larger ones.

    Lines differ by their dashes, not by colour alone; this panel's is the thick one.
    """
    from matplotlib.figure import Figure

    figure = Figure(figsize=(7.2, 4.4), layout="constrained")
    axes = figure.subplots()
    gap = np.linspace(0, 1.6 * found.difference, 161)
    sizes = [found.assessors * times for times in (1, 2, 3)]
    axes.plot(
        gap,
        found.power_of(gap),
        color="black",
        linewidth=2.2,
        label=say("power_figure.this", n=found.assessors),
    )
    for assessors, style in zip(sizes[1:], _STYLES[1:], strict=False):
        df = (assessors - 1) * (found.samples - 1)
        se = np.sqrt(2 * (found.interaction + found.residual / found.replicates) / assessors)
        critical = critical_t(df, found.samples, found.alpha, found.comparison)
        axes.plot(
            gap,
            power_t(gap / se, df, critical),
            color="black",
            linewidth=1.2,
            linestyle=style,
            label=say("power_figure.others", n=assessors),
        )
    axes.axhline(found.power, color="0.55", linewidth=0.8)
    axes.axvline(found.difference, color="0.55", linewidth=0.8)
    axes.annotate(
        say("power_figure.mark", difference=short(found.difference)),
        (found.difference, 0.02),
        xytext=(4, 0),
        textcoords="offset points",
        fontsize=9,
    )
    axes.set_xlim(0, gap[-1])
    axes.set_ylim(0, 1.02)
    axes.set_xlabel(say("power_figure.x"))
    axes.set_ylabel(say("power_figure.y"))
    axes.set_title(
        say(
            "power_figure.title_of" if found.attribute else "power_figure.title",
            attribute=found.attribute,
            samples=found.samples,
            replicates=f"{found.replicates:.3g}",
            alpha=f"{found.alpha:g}",
        ),
        loc="left",
        fontsize=11,
    )
    figure.legend(frameon=False, loc="outside right center", fontsize=9)
    axes.spines[["top", "right"]].set_visible(False)
    return figure
