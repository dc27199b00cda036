"""Two figures of assessors: who needs training in what, and the lines by assessor.

Both read in black and white: what is shown has a thick frame or a black dashed
line and a word; what is only hinted at has a thin dotted frame.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ..core.errors import NotEstimable
from ..core.ratings_matrix import Floats
from ..core.tidy_table import Tidy, as_tidy
from ..core.words import FALLBACK, say
from .assessor_findings import WHOLE_CARD, Assessors

_GREY, _PALE = "0.55", "0.93"
_DASHES = ("-", (0, (6, 2)), (0, (2, 1.5)), (0, (7, 2, 1.5, 2)))
_MARKS = ("o", "s", "^", "D")


def overview(
    table: Tidy | pd.DataFrame,
    result: Assessors,
    language: str = FALLBACK,
    attributes: Sequence[str] | None = None,
) -> Figure:
    """Draw a small field for each assessor and attribute: own sample means on the panel's.

    The thin diagonal is the panel. A flat line is a narrow use of the scale, a
    falling one a reversed scale, points off the line another order, a line
    above or below another level; grey bars are the own scatter (plus and minus
    the repeatability).

    Parameters
    ----------
    table : Tidy or DataFrame
        The table that `result` was made from.
    result : Assessors
    language : str
        Language of headings and words.
    attributes : sequence of str, optional
        Columns to draw; all by default.

    Returns
    -------
    Figure
        Rows are assessors in the order of their names, never of merit.
    """
    checked = as_tidy(table)
    known = list(dict.fromkeys(result.measures["attribute"]))
    attributes = [name for name in known if attributes is None or name in attributes]
    people = sorted(dict.fromkeys(result.measures["assessor"]))
    width, height = 1.6 + 1.25 * len(attributes) + 2.9, 1.5 + 1.12 * len(people)
    figure = Figure(figsize=(width, height), layout="constrained")
    ratios = [1.0] * len(attributes) + [2.3]
    axes = figure.subplots(
        len(people), len(attributes) + 1, squeeze=False, gridspec_kw={"width_ratios": ratios}
    )
    for column, name in enumerate(attributes):
        axes[0, column].set_title(_short(name, 16), fontsize=9)
        means = _means(checked, name)
        for row, who in enumerate(people):
            rest = [str(x) for x in means.index if str(x) not in result.set_apart]
            _field(axes[row, column], means, (who, rest), _row(result.measures, name, who))
            _frame(axes[row, column], result, who, name, language)
    axes[0, -1].set_title(say("plots_assessors.practise", language), fontsize=9, loc="left")
    for row, who in enumerate(people):
        axes[row, 0].set_ylabel(
            _short(who, 12), rotation=0, ha="right", va="center", fontsize=10, fontweight="bold"
        )
        _words(axes[row, -1], result, who, language)
    figure.suptitle(say("plots_assessors.overview", language), fontsize=12, x=0.01, ha="left")
    figure.supxlabel(
        say("plots_assessors.legend", language, rate=f"{100 * result.rate:g}"),
        fontsize=8,
        x=0.01,
        ha="left",
    )
    return figure


def _means(checked: Tidy, attribute: str) -> pd.DataFrame:
    return checked.of(attribute).pivot_table(index="assessor", columns="sample", values="score")


def _row(measures: pd.DataFrame, attribute: str, who: str) -> pd.Series:
    mine = measures[(measures["attribute"] == attribute) & (measures["assessor"] == who)]
    return mine.iloc[0] if len(mine) else pd.Series(dtype=float)


def _field(
    axes: Axes, means: pd.DataFrame, people: tuple[str, list[str]], numbers: pd.Series
) -> None:
    who, rest = people
    axes.set_xticks([])
    axes.set_yticks([])
    reference = means.loc[rest or list(means.index)]
    panel = reference.sub(reference.mean(axis=1), axis=0).mean(axis=0)
    reach = float(panel.abs().max()) * 1.35
    if who not in means.index or not reach > 0:
        axes.set_facecolor(_PALE)
        return
    level = float(reference.mean(axis=1).mean())
    own = (means.loc[who] - level).dropna()
    x = panel[own.index].to_numpy(float)
    y = own.to_numpy(float)
    limit = max(reach, float(np.abs(y).max()) * 1.1)
    axes.plot([-limit, limit], [-limit, limit], color=_GREY, linewidth=0.7, zorder=1)
    scatter = numbers.get("repeatability", np.nan)
    if np.isfinite(scatter):
        axes.errorbar(x, y, yerr=scatter, fmt="none", ecolor="0.75", elinewidth=2.2, zorder=2)
    if x.size > 1 and np.ptp(x) > 0:
        slope, height = np.polyfit(x, y, 1)
        ends = np.array([-limit * 0.95, limit * 0.95])
        axes.plot(ends, height + slope * ends, color="black", linewidth=1.4, zorder=3)
    axes.plot(x, y, "o", color="black", markersize=3, zorder=4)
    axes.set_xlim(-limit, limit)
    axes.set_ylim(-limit, limit)
    axes.set_aspect("equal", adjustable="box")


def _frame(axes: Axes, result: Assessors, who: str, attribute: str, language: str) -> None:
    """Frame a field by what is shown (thick, with the word) or hinted at (dotted)."""
    mine = result.of(who)
    here = mine[mine["attribute"] == attribute]
    shown = here[here["shown"]]
    for spine in axes.spines.values():
        spine.set_linewidth(2.6 if len(shown) else (1.2 if len(here) else 0.4))
        spine.set_linestyle("-" if len(shown) or not len(here) else (0, (1, 1.5)))
        spine.set_color("black" if len(here) else "0.7")
    if len(here):
        chosen = shown if len(shown) else here
        word = say(f"assessors.kind_{chosen['finding'].iloc[0]}", language)
        axes.set_xlabel(
            word,
            fontsize=7,
            labelpad=1.5,
            fontweight="bold" if len(shown) else "normal",
            style="normal" if len(shown) else "italic",
        )


def _words(axes: Axes, result: Assessors, who: str, language: str) -> None:
    axes.axis("off")
    mine = result.of(who)
    whole = mine[mine["attribute"] == WHOLE_CARD]
    lines = []
    for row in whole.itertuples():
        word = say(f"assessors.kind_{row.finding}", language)
        key = "plots_assessors.shown" if row.shown else "plots_assessors.hint"
        lines.append(say(key, language, what=word))
    shown = mine[mine["shown"] & (mine["attribute"] != WHOLE_CARD)]
    known = set(whole.loc[whole["shown"], "finding"])
    for kind in dict.fromkeys(shown["finding"]):
        if kind in known:
            continue
        where = [_short(str(name), 14) for name in shown.loc[shown["finding"] == kind, "attribute"]]
        word = say(f"assessors.kind_{kind}", language)
        lines.append(say("plots_assessors.on", language, what=word, where=where))
    if not lines:
        lines = [say("plots_assessors.nothing", language)]
    axes.text(
        0.0, 0.5, "\n".join(lines[:5]), fontsize=8.5, va="center", ha="left",
        transform=axes.transAxes,
    )  # fmt: skip


def assessor_lines(
    table: Tidy | pd.DataFrame, result: Assessors, language: str = FALLBACK
) -> Figure:
    """Draw each attribute with one line per assessor over the samples, in the panel's order.

    Assessors with something shown or hinted at on that attribute (or over the
    whole card) have a black dashed line, a mark and their name; the others
    stay grey; the panel mean is the thick line.

    Raises
    ------
    NotEstimable
        When there is no attribute to draw.
    """
    checked = as_tidy(table)
    attributes = list(dict.fromkeys(result.measures["attribute"]))
    if not attributes:
        raise NotEstimable("assessors.no_scale")
    columns = min(3, len(attributes))
    rows = -(-len(attributes) // columns)
    figure = Figure(figsize=(4.3 * columns, 3.4 * rows + 0.5), layout="constrained")
    grid = figure.subplots(rows, columns, squeeze=False)
    for place, name in enumerate(attributes):
        _lines(grid.flat[place], _means(checked, name), result, name)
    for axes in grid.flat[len(attributes) :]:
        axes.axis("off")
    figure.suptitle(say("plots_assessors.lines", language), fontsize=12, x=0.01, ha="left")
    return figure


def _lines(axes: Axes, means: pd.DataFrame, result: Assessors, attribute: str) -> None:
    rest = [name for name in means.index if str(name) not in result.set_apart]
    order = means.loc[rest].mean(axis=0).sort_values().index
    means = means[order]
    at = np.arange(len(order))
    ends: list[tuple[float, str, float]] = []
    styles = 0
    for who, line in means.iterrows():
        mine = result.of(str(who))
        named = mine["shown"] & mine["attribute"].isin([attribute, WHOLE_CARD])
        y = line.to_numpy(float)
        if named.any():
            axes.plot(
                at, y, color="black", linewidth=1.3, linestyle=_DASHES[styles % 4],
                marker=_MARKS[styles % 4], markersize=4, zorder=4,
            )  # fmt: skip
            styles += 1
            seen = np.flatnonzero(~np.isnan(y))
            ends.append((float(y[seen[-1]]), str(who), float(at[seen[-1]])))
        else:
            axes.plot(at, y, color="0.72", linewidth=0.9, zorder=2)
    mean = means.loc[rest].mean(axis=0).to_numpy(float)
    axes.plot(at, mean, color="black", linewidth=3.2, alpha=0.85, zorder=3)
    low, high = axes.get_ylim()
    for y, (_, name, _) in zip(
        spread([end[0] for end in ends], (high - low) * 0.07), ends, strict=True
    ):
        axes.text(at[-1] + 0.12, y, _short(name, 8), fontsize=8, va="center")
    axes.set_xlim(-0.3, at[-1] + 0.9)
    axes.set_xticks(at, [_short(str(name), 12) for name in order], fontsize=8, rotation=25)
    for label in axes.get_xticklabels():
        label.set_horizontalalignment("right")
    axes.tick_params(axis="y", labelsize=8)
    axes.set_title(_short(attribute, 30), fontsize=10, loc="left")
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)


def spread(places: list[float], gap: float) -> Floats:
    """Move labels apart until `gap` lies between neighbours, keeping their order.

    Examples
    --------
    >>> spread([1.0, 1.1, 3.0], 0.5).tolist()
    [0.8, 1.3, 3.0]
    """
    given = np.asarray(places, dtype=float)
    order = np.argsort(given, kind="stable")
    moved = given[order].copy()
    for _ in range(200):
        short_by = gap - np.diff(moved)
        if not (short_by > 1e-9).any():
            break
        push = np.maximum(short_by, 0) / 2
        moved[:-1] -= push
        moved[1:] += push
    back = np.empty_like(moved)
    back[order] = moved
    return np.round(back, 9)


def _short(text: str, limit: int) -> str:
    return text if len(text) <= limit else text[: limit - 1] + "…"
