"""Two figures of assessors: who needs training in what, and the lines by assessor.

Both read in black and white: what is shown has a thick frame or a black dashed
line and a word; what is only hinted at has a thin dotted frame.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from ..core.look import (
    DASHES,
    GREY,
    INK,
    MARKS,
    PALE,
    PAPER_WIDTH,
    SMALL,
    TITLE,
    in_look,
    short_name,
    wrapped,
)
from ..core.ratings_matrix import Floats
from ..core.wording import stated_percent
from ..core.words import say
from .assessor_measures import WHOLE_CARD

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
_TALL = 9.3
"""Inches that a figure is tall at most on A4 and Letter, as far as its rows can be read then."""
_ON_PAPER = 8
"""Columns that stand side by side on A4; of more attributes those with most findings are drawn."""


@in_look
def draw_overview(
    scores: pd.DataFrame,
    measures: pd.DataFrame,
    findings: pd.DataFrame,
    *,
    set_apart: Sequence[str],
    alpha: float,
    language: str,
    attributes: Sequence[str] | None = None,
) -> Figure:
    """Draw a small field for each assessor and attribute: own sample means on the panel's.

    The thin diagonal is the panel. A flat line is a narrow use of the scale, a
    falling one a reversed scale, points off the line another order, a line
    above or below another level; grey bars are the own scatter (plus and minus
    the repeatability).

    Parameters
    ----------
    scores : DataFrame
        ``assessor, sample, attribute, score``.
    measures : DataFrame
        ``attribute, assessor, repeatability``; whom and what to draw.
    findings : DataFrame
        ``assessor, attribute, finding, shown``.
    set_apart : sequence of str
        Assessors who do not count in the panel.
    alpha : float
        Chance that anybody of a clean panel is shown for anything, for the key.
    language : str
    attributes : sequence of str, optional
        Columns to draw; by default all, or of many the eight with most findings.

    Returns
    -------
    Figure
        Rows are assessors in the order of their names, never of merit.
    """
    from matplotlib.figure import Figure

    known = list(dict.fromkeys(measures["attribute"]))
    drawn = [name for name in known if attributes is None or name in attributes]
    people = sorted(dict.fromkeys(measures["assessor"]))
    if attributes is None and len(known) > _ON_PAPER:
        told = findings["attribute"].value_counts()
        drawn = sorted(known, key=lambda name: -int(told.get(name, 0)))[:_ON_PAPER]
        drawn.sort(key=known.index)
    ends, most = 1.2 + 2.1, PAPER_WIDTH if len(drawn) <= _ON_PAPER else np.inf
    width = min(ends + 1.0 * len(drawn), most)
    cell = (width - ends) / len(drawn)
    row = np.clip((_TALL - 1.5) / len(people), 0.62, 0.42 + min(cell, 0.8))
    height = 1.5 + float(row) * len(people)
    figure = Figure(figsize=(width, height), layout="constrained")
    ratios = [cell] * len(drawn) + [2.1]
    axes = figure.subplots(
        len(people), len(drawn) + 1, squeeze=False, gridspec_kw={"width_ratios": ratios}
    )
    for column, name in enumerate(drawn):
        title = wrapped(short_name(name, int(2 * 15 * cell)), int(15 * cell))
        axes[0, column].set_title("\n".join(title), fontsize=SMALL, loc="center")
        means = _means(scores, name)
        for row, who in enumerate(people):
            rest = [str(x) for x in means.index if str(x) not in set_apart]
            _field(axes[row, column], means, (who, rest), _row(measures, name, who))
            _frame(axes[row, column], _of(findings, who), name, language, int(15 * cell))
    practise = wrapped(say("assessors_figure.practise", language), 30)
    axes[0, -1].set_title("\n".join(practise), fontsize=SMALL)
    for row, who in enumerate(people):
        axes[row, 0].set_ylabel(
            short_name(who, 12), rotation=0, ha="right", va="center", fontweight="bold"
        )
        _words(axes[row, -1], _of(findings, who), language)
    figure.suptitle(say("assessors_figure.overview", language), x=0.01, ha="left")
    legend = say("assessors_figure.legend", language, rate=stated_percent(alpha))
    if len(drawn) < len(known):
        some = say("assessors_figure.some", language, n=len(drawn), all=len(known))
        legend = f"{some}\n{legend}"
    lines = wrapped(legend, int(17 * width))
    figure.supxlabel("\n".join(lines), fontsize=SMALL, x=0.01, ha="left", linespacing=1.5)
    return figure


def _of(findings: pd.DataFrame, who: str) -> pd.DataFrame:
    """Return the findings on one assessor, shown ones first."""
    mine = findings[findings["assessor"] == who]
    return mine.sort_values("shown", ascending=False, kind="stable")


def _means(scores: pd.DataFrame, attribute: str) -> pd.DataFrame:
    own = scores[scores["attribute"] == attribute]
    return own.pivot_table(index="assessor", columns="sample", values="score", observed=True)


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
        axes.set_facecolor(PALE)
        return
    level = float(reference.mean(axis=1).mean())
    own = (means.loc[who] - level).dropna()
    x = panel[own.index].to_numpy(float)
    y = own.to_numpy(float)
    limit = max(reach, float(np.abs(y).max()) * 1.1)
    axes.plot([-limit, limit], [-limit, limit], color=GREY, linewidth=0.7, zorder=1)
    scatter = numbers.get("repeatability", np.nan)
    if np.isfinite(scatter):
        axes.errorbar(x, y, yerr=scatter, fmt="none", ecolor="0.75", elinewidth=2.2, zorder=2)
    if x.size > 1 and np.ptp(x) > 0:
        slope, height = np.polyfit(x, y, 1)
        ends = np.array([-limit * 0.95, limit * 0.95])
        axes.plot(ends, height + slope * ends, color=INK, linewidth=1.4, zorder=3)
    axes.plot(x, y, "o", color=INK, markersize=3, zorder=4)
    axes.set_xlim(-limit, limit)
    axes.set_ylim(-limit, limit)
    axes.set_aspect("equal", adjustable="box")


def _frame(axes: Axes, mine: pd.DataFrame, attribute: str, language: str, room: int) -> None:
    """Frame a field by what is shown (thick) or hinted at (dotted), with the word."""
    here = mine[mine["attribute"] == attribute]
    shown = here[here["shown"]]
    for spine in axes.spines.values():
        spine.set_visible(True)
        spine.set_linewidth(2.6 if len(shown) else (1.2 if len(here) else 0.4))
        spine.set_linestyle("-" if len(shown) or not len(here) else (0, (1, 1.5)))
        spine.set_color(INK if len(here) else "0.7")
    if len(here):
        chosen = shown if len(shown) else here
        word = say(f"assessors.kind_{chosen['finding'].iloc[0]}", language)
        axes.set_xlabel(
            "\n".join(wrapped(word, room)),
            fontsize=SMALL,
            labelpad=1.5,
            fontweight="bold" if len(shown) else "normal",
            style="normal" if len(shown) else "italic",
        )


def _words(axes: Axes, mine: pd.DataFrame, language: str) -> None:
    axes.axis("off")
    whole = mine[mine["attribute"] == WHOLE_CARD]
    lines = []
    for row in whole.itertuples():
        word = say(f"assessors.kind_{row.finding}", language)
        key = "assessors_figure.shown" if row.shown else "assessors_figure.hint"
        lines.append(say(key, language, what=word))
    shown = mine[mine["shown"] & (mine["attribute"] != WHOLE_CARD)]
    known = set(whole.loc[whole["shown"], "finding"])
    for kind in dict.fromkeys(shown["finding"]):
        if kind in known:
            continue
        where = [
            short_name(str(name), 14) for name in shown.loc[shown["finding"] == kind, "attribute"]
        ]
        word = say(f"assessors.kind_{kind}", language)
        lines.append(say("assessors_figure.on", language, what=word, where=where))
    if not lines:
        lines = [say("assessors_figure.nothing", language)]
    axes.text(
        0.0, 0.5, "\n".join(lines[:5]), va="center", ha="left", linespacing=1.5,
        transform=axes.transAxes,
    )  # fmt: skip


@in_look
def draw_assessor_lines(
    scores: pd.DataFrame,
    findings: pd.DataFrame,
    attributes: Sequence[str],
    *,
    set_apart: Sequence[str],
    language: str,
) -> Figure:
    """Draw each attribute with one line per assessor over the samples, in the panel's order.

    Assessors with something shown on that attribute (or over the whole card)
    have a black dashed line, a mark and their name; the others stay grey; the
    panel mean is the thick line.

    Parameters
    ----------
    scores : DataFrame
        ``assessor, sample, attribute, score``.
    findings : DataFrame
        ``assessor, attribute, finding, shown``.
    attributes : sequence of str
        At least one.
    set_apart : sequence of str
        Assessors who do not count in the panel mean.
    language : str
    """
    from matplotlib.figure import Figure

    columns = min(2, len(attributes))
    rows = -(-len(attributes) // columns)
    figure = Figure(figsize=(3.6 * columns, 3.1 * rows + 0.5), layout="constrained")
    grid = figure.subplots(rows, columns, squeeze=False)
    for place, name in enumerate(attributes):
        assessor_lines(grid.flat[place], scores, findings, name, set_apart=set_apart)
    for axes in grid.flat[len(attributes) :]:
        axes.axis("off")
    title = "\n".join(wrapped(say("assessors_figure.lines", language), int(15 * 3.6 * columns)))
    figure.suptitle(title, x=0.01, ha="left", fontsize=TITLE)
    return figure


def assessor_lines(
    axes: Axes,
    scores: pd.DataFrame,
    findings: pd.DataFrame,
    attribute: str,
    *,
    set_apart: Sequence[str],
) -> None:
    """Draw one attribute, as in `draw_assessor_lines`."""
    on = findings["attribute"].isin([attribute, WHOLE_CARD]) & findings["shown"].astype(bool)
    _lines(axes, _means(scores, attribute), set(findings.loc[on, "assessor"]), set_apart)
    axes.set_title(short_name(attribute, 30))


def _lines(
    axes: Axes, means: pd.DataFrame, named: Collection[str], set_apart: Sequence[str]
) -> None:
    rest = [name for name in means.index if str(name) not in set_apart]
    order = means.loc[rest].mean(axis=0).sort_values().index
    means = means[order]
    at = np.arange(len(order))
    ends: list[tuple[float, str, float]] = []
    styles = 0
    for who, line in means.iterrows():
        y = line.to_numpy(float)
        if str(who) in named:
            axes.plot(
                at, y, color=INK, linewidth=1.3, linestyle=DASHES[styles % len(DASHES)],
                marker=MARKS[styles % len(MARKS)], markersize=4, zorder=4,
            )  # fmt: skip
            styles += 1
            seen = np.flatnonzero(~np.isnan(y))
            ends.append((float(y[seen[-1]]), str(who), float(at[seen[-1]])))
        else:
            axes.plot(at, y, color="0.72", linewidth=0.9, zorder=2)
    mean = means.loc[rest].mean(axis=0).to_numpy(float)
    axes.plot(at, mean, color=INK, linewidth=3.2, alpha=0.85, zorder=3)
    low, high = axes.get_ylim()
    for y, (_, name, _) in zip(
        spread([end[0] for end in ends], (high - low) * 0.07), ends, strict=True
    ):
        axes.text(at[-1] + 0.12, y, short_name(name, 8), va="center")
    axes.set_xlim(-0.3, at[-1] + 0.9)
    turn = 25 if len(order) <= 8 else 60
    axes.set_xticks(at, [short_name(str(name), 16) for name in order], rotation=turn)
    for label in axes.get_xticklabels():
        label.set_horizontalalignment("right")


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
