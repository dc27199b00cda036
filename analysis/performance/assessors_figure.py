"""Two figures of assessors: who needs training in what, and the lines by assessor.

Both read in black and white: what is shown has a thick frame or a black dashed
line and a word; what is only hinted at has a thin dotted frame. The small fields stand in one
axes, in inches, lines of one kind in one collection: an axes for each takes five times as long.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from ..core.look import (
    DASHES,
    GREY,
    INK,
    MARKS,
    PALE,
    PAPER_WIDTH,
    PHONE_WIDTH,
    SMALL,
    TITLE,
    in_look,
    letters,
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
_TALL = 6.8
"""Inches that a figure is tall at most, as far as its rows can be read then: beside it on its page
there is room for some text of its chapter."""
_ON_PAPER, _ON_PHONE = 8, 5
"""Columns that stand side by side; of more attributes those with most findings are drawn."""
_AROUND, _NAMES, _WORDS = 1.5, 1.2, 2.1
"""Inches for what stands above and below the fields, left of them, and right of them."""
_PHONE_AROUND, _PHONE_NAMES, _PHONE_WORDS = 0.75, 0.5, 54
"""Inches above and below but for the legend, and left; letters in a line, on a telephone."""
_HALVED, _SHORT, _HALF_WORDS = 4, 6, 50
"""People from whom on paper, where no more columns are drawn than a telephone has, half of them
stand beside the others, so that the figure is half as tall and finds room on more pages; letters
of a name that has room then; letters in a line above a row."""
_WORD, _NEIGHBOURS = 9, 20
"""Letters of a line of a title in such halves, if no word is longer; letters of the longest lines
of two titles side by side at most."""
_WHOLE, _CUT = 40, 14
"""Letters of an attribute's name in what is told of a person: above a row, and beside it."""
_INSIDE = 0.92
"""Share of a field within which everything is drawn, so that nothing lies on its frame."""
_LINE, _GAP, _OFF, _LEAST = 0.125, 0.1, 0.07, 0.3
"""Inches: a line of small type, between rows, between field and words, a field at least."""
_FRAMES: dict[str, tuple[float, Any, str]] = {
    "shown": (2.6, "-", INK), "hint": (1.2, (0, (1, 1.5)), INK), "nothing": (0.4, "-", "0.7")
}  # fmt: skip
"""Width, dashes and ink of the frame of a field, by what is found in it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Column:
    """One attribute.

    Attributes
    ----------
    name : str
    own : DataFrame
        Means less the panel's level, assessors by samples.
    panel : Series
        The panel's means less its level.
    limit : float
        Points from the middle of its fields to the edge; 0 where the panel tells no samples apart.
    """

    name: str
    own: pd.DataFrame
    panel: pd.Series
    limit: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Field:
    """One field: its middle and half its side in inches, and what is found in it."""

    x: float
    y: float
    half: float
    found: str
    word: list[str]

    @property
    def frame(self) -> Floats:
        """Corners, shape (5, 2), the first one twice."""
        return self.at(np.array([-1.0, 1, 1, -1, -1]), np.array([-1.0, -1, 1, 1, -1]))

    def at(self, x: Floats, y: Floats) -> Floats:
        """Place points of -1 to 1 in the field."""
        return np.column_stack([self.x + self.half * x, self.y + self.half * y])


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
    narrow: bool = False,
) -> Figure:
    """Draw a small field for each assessor and attribute: own sample means on the panel's.

    The thin diagonal is the panel. A flat line is a narrow use of the scale, a
    falling one a reversed scale, points off the line another order, a line
    above or below another level; grey bars are the own scatter (plus and minus
    the repeatability). All fields of an attribute have one scale, told below its name.

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
    narrow : bool
        Whether for the screen of a telephone: five columns at most, what is found stands above
        each row.

    Returns
    -------
    Figure
        Rows are assessors in the order of their names, never of merit.
    """
    from matplotlib.figure import Figure

    known = list(dict.fromkeys(measures["attribute"]))
    drawn = _columns(known, findings, attributes, _ON_PHONE if narrow else _ON_PAPER)
    people = sorted(dict.fromkeys(measures["assessor"]))
    means = _all_means(scores, drawn)
    columns = [_column(means, name, people, set_apart) for name in drawn]
    ends, most = _NAMES + _WORDS, PAPER_WIDTH if len(drawn) <= _ON_PAPER else np.inf
    halved = not narrow and _is_halved(people, drawn)
    width = PHONE_WIDTH if narrow else min(ends + 1.0 * len(drawn), most)
    width, across = (PAPER_WIDTH, PAPER_WIDTH / 2) if halved else (width, width)
    close = narrow or halved  # names and words take less room
    cell = min(0.8, (across - _PHONE_NAMES) / len(drawn)) if close else (width - ends) / len(drawn)
    room = int(15 * cell)
    mine = [_of(findings, who) for who in people]
    words = [_noted(own, drawn, language, room) for own in mine]
    told = [_told(own, language, _WHOLE if close else _CUT) for own in mine]
    none = [say("assessors_figure.nothing", language)]
    heading = "overview" if any(lines != none for lines in told) else "overview_nothing"
    if close:
        long = _PHONE_WORDS if narrow else _HALF_WORDS
        told = [[line for one in lines if lines != none for line in wrapped(one, long)]
                for lines in told]  # fmt: skip
    tall = float(np.clip((_TALL - _AROUND) / len(people), 0.62, 0.42 + min(cell, 0.8)))
    above = [len(lines) if close else 0 for lines in told]
    parts = _parts(len(people), halves=2 if halved else 1)
    first_above = max(above[part.start] for part in parts)
    rows = [
        row
        for n, part in enumerate(parts)
        for row in _rows(
            words[part],
            cell,
            np.inf if close else tall * len(people),
            [first_above, *above[part][1:]],
            n * across,
        )
    ]
    bottom = min(row[0].y - row[0].half - _LINE * max(len(one.word) for one in row) for row in rows)
    titles = [
        [
            *wrapped(short_name(one.name, (4 if halved else 3 if narrow else 2) * room), room),
            *([f"±{one.limit:g}"] if one.limit else []),
        ]
        for one in columns
    ]
    found = {one.found for fields in rows for one in fields}
    bars = not measures.loc[measures["attribute"].isin(drawn), "repeatability"].isna().all()
    legend = _legend(found, language, alpha, bars=bars, apart=bool(set_apart))
    if len(drawn) < len(known):
        key = "assessors_figure.most_found" if attributes is None else "assessors_figure.some"
        legend = [say(key, language, n=len(drawn), all=len(known)), *legend]
    low = [line for one in legend for line in wrapped(one, int(16.5 * width))]
    high = _LINE * max(0, max(map(len, titles)) - 3) if halved else 0.0
    around = _PHONE_AROUND + 0.155 * len(low) if narrow else _AROUND + high
    figure = Figure(figsize=(width, around - bottom), layout="constrained")
    axes = figure.subplots()
    axes.set_axis_off()
    axes.set_aspect("equal", anchor="NW")
    _frames(axes, [one for fields in rows for one in fields])
    _dots(axes, rows, measures, (columns, people))
    first, left = rows[0][0], rows[0][0].x - rows[0][0].half - _OFF
    top = first.y + first.half + _OFF + (_LINE * 1.25 * first_above if close else 0.0)
    for part in parts:
        for one, title in zip(rows[part.start], titles, strict=True):
            axes.text(one.x, top, "\n".join(title), fontsize=SMALL, ha="center")
    right = len(drawn) * cell + _OFF
    if not close:
        practise = wrapped(say("assessors_figure.practise", language), 40)
        axes.text(right, top, "\n".join(practise), fontsize=SMALL)
    for who, fields, lines in zip(people, rows, told, strict=True):
        y, name = fields[0].y, short_name(who, 8 if narrow else 12)
        edge = fields[0].x - fields[0].half - _OFF
        axes.text(edge, y, name, ha="right", va="center", fontweight="bold")
        if close:
            smaller: dict[str, Any] = {"fontsize": SMALL, "va": "bottom", "linespacing": 1.25}
            high = y + fields[0].half + 0.04
            axes.text(edge + _OFF, high, "\n".join(lines), **smaller)
        else:
            axes.text(right, y, "\n".join(lines), va="center", linespacing=1.5)
    axes.set_xlim(left, left + width - _PHONE_NAMES if close else right + _WORDS)
    axes.set_ylim(bottom, top)
    figure.suptitle(say(f"assessors_figure.{heading}", language), x=0.01, ha="left")
    figure.supxlabel("\n".join(low), fontsize=SMALL, x=0.01, ha="left", linespacing=1.5)
    return figure


def _is_halved(people: list[str], drawn: list[str]) -> bool:
    """Tell whether half of the people stand beside the others: so many, with names so short.

    No words of neighbouring titles may touch.
    """
    short = all(letters(who) <= _SHORT for who in people)
    longest = [max(map(letters, wrapped(name, _WORD))) for name in drawn]
    free = all(one + other <= _NEIGHBOURS for one, other in pairwise(longest))
    return len(people) >= _HALVED and len(drawn) <= _ON_PHONE and short and free


def _parts(n: int, halves: int) -> list[slice]:
    """Part rows among those who stand beside one another, the first part the longer one."""
    most = -(-n // halves)
    return [slice(start, min(n, start + most)) for start in range(0, n, most)]


def _legend(
    found: Collection[str], language: str, alpha: float, *, bars: bool, apart: bool
) -> list[str]:
    """Explain what is drawn, and nothing else."""
    first = [say(f"assessors_figure.field{'_apart' if apart else ''}", language)]
    first += [say("assessors_figure.reach", language)]
    first += [say("assessors_figure.bars", language)] if bars else []
    rate = stated_percent(alpha)
    frames = [
        say(f"assessors_figure.frame_{kind}", language, rate=rate)
        for kind in ("shown", "hint")
        if kind in found
    ]
    between = "" if any(ord(letter) > 0x2E80 for letter in first[0]) else " "
    return [between.join(first), *([between.join(frames)] if frames else [])]


def _columns(
    known: list[str], findings: pd.DataFrame, attributes: Sequence[str] | None, most: int
) -> list[str]:
    """Choose the attributes to draw, in their order."""
    wanted = [name for name in known if attributes is None or name in attributes]
    if len(wanted) <= most or (attributes is not None and most == _ON_PAPER):
        return wanted
    told = findings["attribute"].value_counts()
    drawn = sorted(wanted, key=lambda name: -int(told.get(name, 0)))[:most]
    return sorted(drawn, key=known.index)


def _all_means(scores: pd.DataFrame, drawn: list[str]) -> pd.DataFrame:
    """Return the mean of each assessor (second index) over samples, by attribute (the first)."""
    own = scores[scores["attribute"].isin(drawn)]
    index = ["attribute", "assessor"]
    return own.pivot_table(index=index, columns="sample", values="score", observed=True)


def _column(means: pd.DataFrame, name: str, people: list[str], set_apart: Sequence[str]) -> _Column:
    """Take the panel's level off all means of one attribute, and find the scale of its fields."""
    own = means[means.index.get_level_values("attribute") == name]
    table = own.droplevel("attribute").dropna(axis="columns", how="all")
    rest = [str(one) for one in table.index if str(one) not in set_apart]
    reference = table.loc[rest or list(table.index)]
    panel = reference.sub(reference.mean(axis=1), axis=0).mean(axis=0)
    own = table - float(reference.mean(axis=1).mean())
    reach = float(panel.abs().max()) * 1.35
    if not reach > 0:
        return _Column(name=name, own=own, panel=panel, limit=0.0)
    furthest = float(own[own.index.isin(people)].abs().max().max())
    return _Column(name=name, own=own, panel=panel, limit=_round_up(max(reach, 1.15 * furthest)))


def _round_up(value: float) -> float:
    """Round up to a number that can be read: two digits, the last one 0 or 5.

    >>> _round_up(2.3), _round_up(0.61), _round_up(31.0)
    (2.5, 0.65, 35.0)
    """
    step = 10.0 ** math.floor(math.log10(value)) / 2
    return round(math.ceil(value / step - 1e-9) * step, 9)


def _of(findings: pd.DataFrame, who: str) -> pd.DataFrame:
    """Return the findings on one assessor, shown ones first."""
    mine = findings[findings["assessor"] == who]
    return mine.sort_values("shown", ascending=False, kind="stable")


def _means(scores: pd.DataFrame, attribute: str) -> pd.DataFrame:
    own = scores[scores["attribute"] == attribute]
    return own.pivot_table(index="assessor", columns="sample", values="score", observed=True)


def _noted(
    mine: pd.DataFrame, drawn: list[str], language: str, room: int
) -> list[tuple[str, list[str]]]:
    """Return what is found of each attribute: a kind of `_FRAMES`, and its word in lines."""
    first: dict[str, tuple[str, list[str]]] = {}
    for name, finding, shown in zip(
        mine["attribute"], mine["finding"], mine["shown"], strict=True
    ):  # those that are shown come first
        word = say(f"assessors.kind_{finding}", language)
        first.setdefault(str(name), ("shown" if shown else "hint", wrapped(word, room)))
    return [first.get(name, ("nothing", [])) for name in drawn]


def _rows(
    words: list[list[tuple[str, list[str]]]],
    cell: float,
    tall: float,
    above: list[int],
    left: float,
) -> list[list[_Field]]:
    """Lay the fields out from the upper `left`, as large as `cell` and `tall` let them be.

    `above` counts the lines of words above each row.
    """
    lines = [max(len(word) for _, word in row) for row in words]
    side = (tall - _LINE * sum(lines)) / len(words) - _GAP
    half = max(_LEAST, min(0.82 * cell, side)) / 2
    rows, top = [], 0.0
    for row, deep, said in zip(words, lines, above, strict=True):
        top -= _LINE * 1.25 * said
        rows.append([
            _Field(x=left + (column + 0.5) * cell, y=top - half, half=half, found=found, word=word)
            for column, (found, word) in enumerate(row)
        ])  # fmt: skip
        top -= 2 * half + _LINE * deep + _GAP
    return rows


def _frames(axes: Axes, fields: list[_Field]) -> None:
    """Frame fields by what is shown (thick) or hinted at (dotted), with the word below."""
    from matplotlib.collections import LineCollection

    for found, (width, dashes, ink) in _FRAMES.items():
        frames = [one.frame for one in fields if one.found == found]
        axes.add_collection(
            LineCollection(
                frames, linewidths=width, linestyles=[dashes], colors=ink, zorder=5, clip_on=False
            )
        )
    for one in fields:
        if one.word:
            axes.text(
                one.x, one.y - one.half - 0.03, "\n".join(one.word),
                fontsize=SMALL, ha="center", va="top",
                fontweight="bold" if one.found == "shown" else "normal",
                style="normal" if one.found == "shown" else "italic",
            )  # fmt: skip


def _dots(
    axes: Axes,
    rows: list[list[_Field]],
    measures: pd.DataFrame,
    named: tuple[list[_Column], list[str]],
) -> None:
    """Fill the fields: the panel's diagonal, own scatter, own line, own sample means."""
    from matplotlib.collections import LineCollection, PolyCollection

    drawn, people = named
    columns = (measures[name] for name in ("attribute", "assessor", "repeatability"))
    scatter = {(name, who): float(own) for name, who, own in zip(*columns, strict=True)}
    empty: list[Floats] = []
    diagonals: list[Floats] = []
    bars: list[Floats] = []
    slopes: list[Floats] = []
    means: list[Floats] = [np.empty((0, 2))]
    for place, column in enumerate(drawn):
        for one, who in zip((row[place] for row in rows), people, strict=True):
            if who not in column.own.index or not column.limit > 0:
                empty.append(one.frame)
                continue
            own = column.own.loc[who].dropna()
            x, y = column.panel[own.index].to_numpy(float), own.to_numpy(float)
            x, y = x / column.limit, y / column.limit
            corner = np.array([-_INSIDE, _INSIDE])
            diagonals.append(one.at(corner, corner))
            spread = scatter.get((column.name, who), np.nan) / column.limit
            if np.isfinite(spread):
                ends = [np.clip(y + way * spread, -_INSIDE, _INSIDE) for way in (-1, 1)]
                bars += [one.at(*pair) for pair in zip(np.c_[x, x], np.stack(ends, 1), strict=True)]
            if x.size > 1 and np.ptp(x) > 0:
                slopes.append(one.at(*_within(*np.polyfit(x, y, 1))))
            means.append(one.at(x, y))
    axes.add_collection(
        PolyCollection(empty, facecolors=PALE, edgecolors="none", zorder=0, clip_on=False)
    )
    for lines, ink, width, order in (
        (diagonals, GREY, 0.7, 1), (bars, "0.75", 2.2, 2), (slopes, INK, 1.4, 3)
    ):  # fmt: skip
        axes.add_collection(
            LineCollection(
                lines, colors=ink, linewidths=width, zorder=order, capstyle="butt", clip_on=False
            )
        )
    axes.plot(*np.concatenate(means).T, "o", color=INK, markersize=3, zorder=4, clip_on=False)


def _within(slope: float, height: float) -> tuple[Floats, Floats]:
    """Return the ends of a line as far as it lies within a field."""
    x = np.array([-_INSIDE, _INSIDE])
    if slope:
        low, high = sorted(((-_INSIDE - height) / slope, (_INSIDE - height) / slope))
        x = np.clip(x, low, high)
    return x, height + slope * x


def _told(mine: pd.DataFrame, language: str, most: int) -> list[str]:
    """Say in up to five lines what is found over the whole card, and what to practise.

    Names have at most so many letters.
    """
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
            short_name(str(name), most) for name in shown.loc[shown["finding"] == kind, "attribute"]
        ]
        word = say(f"assessors.kind_{kind}", language)
        lines.append(say("assessors_figure.on", language, what=word, where=where))
    return (lines or [say("assessors_figure.nothing", language)])[:5]


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
    title = "\n".join(wrapped(say("assessors_figure.lines", language), int(13.5 * 3.6 * columns)))
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
