"""The wheel: families, groups and words around, one ring a sample, dots for shares.

Every sample owns a ring, every word a spoke; a dot's area is the share of
assessors who used the word, with their number in it. Outside the rings a bar
shows how far apart the samples are. What is shown to differ is dark, what is
not is grey: nothing depends on colour.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import groupby
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from ..core.errors import OptionError
from ..core.look import (
    PAPER_WIDTH,
    PHONE_WIDTH,
    SMALL,
    given,
    in_look,
    letters,
    short_name,
    whole,
    wrapped,
)
from ..core.options import ALPHA
from ..core.p_values import holds
from ..core.words import say

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.patches import Patch, Rectangle
    from matplotlib.textpath import TextPath
    from matplotlib.transforms import Bbox

Floats = npt.NDArray[np.float64]
INK, GREY, LINE, PAPER = "#14365c", "#a6a6a6", "#cfcfcf", "#eef0f3"
ALONE, EDGE = "#5f7896", "#707070"
"""Inks; each stands off from the figures written on it by 4.5 : 1, on a dark screen too."""
_INK = {"holds": INK, "alone": ALONE, "hinted": ALONE, "open": EDGE}
"""How a word is drawn, in the order of the key, with the ink of its bar."""
_HATCHED = frozenset({"alone", "hinted"})
_HUB, _INNER, _OUTER, _BAR, _LABEL, _GROUP, _RIM, _EDGE = (
    0.285, 0.32, 0.66, 0.066, 0.756, 1.0, 1.08, 1.165,
)  # fmt: skip
_GAP = 18.0
_MARGIN = 1.19
_KEY = 0.24
_WIDE = PAPER_WIDTH
_POINTS = 72 * _WIDE / (2 * _MARGIN)
"""Inches of the figure, and points of type in one unit of its axes."""
_LARGEST, _CLOSE = 8.5, 7.5
_ROW, _FOR_NAMES, _FOR_BARS = 0.225, 1.3, 0.6
"""Inches on a telephone: a row, and what names and bars take of it."""
_MARGINS = {"family": 0.03, "group": 0.03, "word": 0.12}
"""Inches on a telephone before what is written on the left."""
_LETTERS, _LABEL_LETTERS, _HOLDS = 62, 22, 8.5
"""Letters of a line and of a word on a telephone, and points of a dot that holds a figure."""
_RINGS = 7
"""Rings up to which their letters stand below one another; those of more stand in two columns."""


@dataclass(frozen=True, slots=True)
class _Spoke:
    """One word: its angle, what it is called, where it belongs."""

    attribute: str
    label: str
    group: str
    family: str
    angle: float


@in_look
def draw_wheel(
    counts: pd.DataFrame,
    tree: pd.DataFrame,
    *,
    language: str,
    tests: pd.DataFrame | None = None,
    samples: Sequence[str] | None = None,
    names: Mapping[str, str] | None = None,
    most: int = 36,
    narrow: bool = False,
) -> Figure:
    """Draw the wheel of words.

    Parameters
    ----------
    counts : DataFrame
        ``attribute, sample, k, n, share``: k of n assessors used the word.
    tree : DataFrame
        Columns ``attribute, label, group, family``, in the order to draw;
        words of one group, and groups of one family, stand together. Words
        that were not asked are not drawn.
    language : str
        Of the words around the wheel.
    tests : DataFrame, optional
        ``attribute, p, holds``: words that hold are drawn dark, those whose p would do by itself
        hatched. With a column ``hinted`` this one says which are hatched: hints, whatever their p.
    samples : sequence of str, optional
        Order of the rings from the inside; sorted by default.
    names : mapping, optional
        What to call the samples.
    most : int
        At most so many words are drawn: the most used ones. The figure says
        how many were not used by anybody.
    narrow : bool
        Whether for the screen of a telephone, where no wheel can be read: the same dots and bars,
        a row a word and a column a ring.

    Returns
    -------
    matplotlib Figure

    Raises
    ------
    OptionError
        If no word of the tree was asked.
    """
    from matplotlib.figure import Figure

    order = list(samples or sorted(counts["sample"].unique()))
    spokes, unused, asked = _spokes(counts, tree, most)
    if not spokes:
        raise OptionError("wheel.no_words", have=list(dict.fromkeys(counts["attribute"])))
    held = _held(tests)
    notes = []
    if unused:
        notes.append(say("wheel.unused", language, n=unused))
    if len(spokes) < asked:
        notes.append(say("wheel.most", language, n=len(spokes), asked=asked))
    if narrow:
        called = [str((names or {}).get(name, name)) for name in order]
        ends = (_legend_lines(called), notes)
        return _in_rows(counts, spokes, order, held, ends, language, tested=tests is not None)
    axes = given()
    if axes is None:
        figure = Figure(figsize=(_WIDE, _WIDE * (2 * _MARGIN + _KEY) / (2 * _MARGIN)))
        axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_xlim(-_MARGIN, _MARGIN)
    axes.set_ylim(-_MARGIN - _KEY, _MARGIN)
    axes.set_aspect("equal")
    axes.axis("off")
    pen = _Pen(axes)
    _draw_rings(pen, len(order))
    _draw_belonging(pen, spokes)
    for spoke in spokes:
        rows = counts[counts["attribute"] == spoke.attribute].set_index("sample").reindex(order)
        own, k = rows["share"].to_numpy(dtype=float), rows["k"].to_numpy(dtype=float)
        how = held.get(spoke.attribute, "open")
        _draw_spoke(pen, spoke, own, k, how=how, spokes=len(spokes))
    _draw_hub(pen, [str((names or {}).get(name, name)) for name in order])
    ends = (_kinds(counts, spokes, held), notes)
    _draw_key(pen, int(counts["n"].max()), ends, language, tested=tests is not None)
    return whole(axes)


def _kinds(counts: pd.DataFrame, spokes: list[_Spoke], held: Mapping[str, str]) -> list[str]:
    """Return the kinds of bars that are drawn: the key names these and no others."""
    each = counts.groupby("attribute", observed=True)["share"]
    apart = (each.max() > each.min()).to_dict()
    drawn = {held.get(one.attribute, "open") for one in spokes if apart[one.attribute]}
    return [one for one in _INK if one in drawn]


def _legend_lines(names: list[str]) -> list[str]:
    """Say which letter is which sample, in lines for a telephone."""
    told = [f"{chr(ord('A') + place)}  {name}" for place, name in enumerate(names)]
    lines: list[str] = []
    for one in told:
        joined = f"{lines[-1]}    {one}" if lines else one
        if lines and letters(joined) <= _LETTERS:
            lines[-1] = joined
        else:
            lines += wrapped(one, _LETTERS)
    return lines


def _in_rows(  # noqa: PLR0917
    counts: pd.DataFrame,
    spokes: list[_Spoke],
    order: list[str],
    held: Mapping[str, str],
    ends: tuple[list[str], list[str]],
    language: str,
    *,
    tested: bool,
) -> Figure:
    """Draw the words in rows: in inches, from the upper left, downwards."""
    from matplotlib.figure import Figure

    (key, notes), n = ends, int(counts["n"].max())
    kinds = _kinds(counts, spokes, held)
    rows: list[tuple[float, float, _Spoke]] = []
    at = _ROW * (len(key) + 1.2)
    heads: list[tuple[float, str, str]] = []
    for family, members in groupby(spokes, key=lambda spoke: spoke.family):
        heads.append((at, family, "family"))
        at += _ROW
        for group, inside in groupby(members, key=lambda spoke: spoke.group):
            own = list(inside)
            itself = [one.label.casefold() for one in own] == [group.casefold()]
            if not itself and group != family:
                heads.append((at, group, "group"))
                at += _ROW * 0.8
            for one in own:  # a word that is its group stands where groups stand, under no other
                rows.append((at, _MARGINS["group" if itself else "word"], one))
                at += _ROW
        at += 0.3 * _ROW
    foot = [line for one in notes for line in wrapped(one, _LETTERS)]
    low = at + _ROW * (3.6 + len(kinds)) + 0.15 * len(foot)
    figure = Figure(figsize=(PHONE_WIDTH, low))
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_xlim(0, PHONE_WIDTH)
    axes.set_ylim(low, 0)
    axes.axis("off")
    cell = (PHONE_WIDTH - _FOR_NAMES - _FOR_BARS) / len(order)
    columns = [_FOR_NAMES + (place + 0.5) * cell for place in range(len(order))]
    for place, line in enumerate(key):
        axes.text(0.03, _ROW * (place + 0.5), line, va="center", fontsize=SMALL)
    for place, x in enumerate(columns):
        letter = chr(ord("A") + place)
        head: dict[str, Any] = {"ha": "center", "va": "center", "fontweight": "bold", "fontsize": 8}
        axes.text(x, _ROW * (len(key) + 0.6), letter, **head)
    for y, name, kind in heads:
        if kind == "family":
            axes.axhspan(y, y + 0.9 * _ROW, facecolor="#e2e6ea", edgecolor="none", zorder=0)
        how: dict[str, Any] = {"fontsize": 8 if kind == "family" else SMALL, "va": "center"}
        up = 0.45 if kind == "family" else 0.5
        how["color"] = EDGE if kind == "group" else "black"
        axes.text(_MARGINS[kind], y + up * _ROW, name, **how)
    every = pd.MultiIndex.from_product([[one.attribute for one in spokes], order])
    table = counts.set_index(["attribute", "sample"])[["share", "k"]].reindex(every)
    dots: list[tuple[float, float, float, str, str]] = []
    for y, margin, spoke in rows:
        how_far = held.get(spoke.attribute, "open")
        cells = table.loc[[(spoke.attribute, name) for name in order], :]
        shares, k = cells["share"].to_numpy(dtype=float), cells["k"].to_numpy(dtype=float)
        start = (margin, y + _ROW / 2)
        dots += _draw_row(axes, start, spoke.label, columns, (shares, k), how_far, cell)
    y = at + 0.7 * _ROW
    axes.text(0.03, y, say("wheel.dots", language, n=n), va="center", fontsize=SMALL)
    axes.text(0.03, y + 2.1 * _ROW, say("wheel.bars", language), va="center", fontsize=SMALL)
    full = 72 * 0.92 * min(cell, _ROW)
    for place, count in enumerate(sorted({1, max(1, n // 2), n})):
        x = 0.18 + place * 0.75
        dots.append((x, y + _ROW, full * math.sqrt(count / n), GREY, EDGE))
        axes.text(x + 0.16, y + _ROW, f"{count} / {n}", va="center", fontsize=SMALL)
    for place, how_far in enumerate(kinds):
        word = say(f"wheel.{how_far}" if tested else "wheel.untested", language)
        _draw_bar(axes, 0.05, y + (3 + place) * _ROW, 0.25, how_far)
        axes.text(0.38, y + (3 + place) * _ROW, word, va="center", fontsize=SMALL)
    across, heights, wide, inks, rims = zip(*dots, strict=True)
    axes.scatter(across, heights, np.square(wide), inks, edgecolors=rims, linewidths=0.6)
    down = y + (2.6 + len(kinds)) * _ROW
    axes.text(0.03, down, "\n".join(foot), va="top", fontsize=SMALL)
    return figure


def _draw_row(  # noqa: PLR0917
    axes: Axes,
    place: tuple[float, float],
    label: str,
    columns: list[float],
    counted: tuple[Floats, Floats],
    how: str,
    cell: float,
) -> list[tuple[float, float, float, str, str]]:
    """Draw one word, its name, counts and the bar of the difference, and return its dots.

    A dot is its place, its width in points, its ink and that of its rim.
    """
    ink = GREY if how == "open" else _INK[how]
    weight = "bold" if how == "holds" else "normal"
    name = short_name(label, _LABEL_LETTERS - (2 if how == "holds" else 0))
    margin, y = place
    axes.text(margin, y, name, va="center", fontweight=weight, fontsize=SMALL)
    full = 72 * 0.92 * min(cell, _ROW)
    rim, written = (EDGE, "black") if how == "open" else ("white", "white")
    dots = []
    for x, share, k in zip(columns, *counted, strict=True):
        if math.isnan(share):
            continue
        wide = full * math.sqrt(share)
        dots.append((x, y, wide, ink, rim) if share else (x, y, 1.5, LINE, LINE))
        if wide > _HOLDS * (1 if k < 10 else 1.4):
            axes.text(x, y, f"{k:.0f}", fontsize=SMALL, color=written, ha="center", va="center")
    known = counted[0][~np.isnan(counted[0])]
    reach = float(np.ptp(known)) if len(known) else 0.0
    if reach > 0:
        start = PHONE_WIDTH - _FOR_BARS + 0.05
        _draw_bar(axes, start, y, (_FOR_BARS - 0.08) * reach, how)
    return dots


def _draw_bar(axes: Axes, x: float, y: float, width: float, how: str) -> None:
    from matplotlib.patches import Rectangle as Box

    ink = _INK[how]
    axes.add_artist(
        Box(
            (x, y - 0.05),
            width,
            0.1,
            facecolor=ink if how == "holds" else "white",
            edgecolor=ink,
            hatch="/////" if how in _HATCHED else None,
            linewidth=0.8,
        )
    )


def _spokes(counts: pd.DataFrame, tree: pd.DataFrame, most: int) -> tuple[list[_Spoke], int, int]:
    """Choose the words to draw and give them their angles, clockwise from the gap."""
    used = counts.groupby("attribute", observed=True)["k"].sum()
    asked = tree[tree["attribute"].isin(list(used.index))]
    worn = asked.assign(used=asked["attribute"].map(used)).reset_index(drop=True)
    kept = worn
    if len(worn) > most:
        chosen = worn[worn["used"] > 0].sort_values("used", ascending=False, kind="stable")
        kept = worn.loc[sorted(chosen.head(most).index)]
    step = (360 - _GAP) / max(len(kept), 1)
    spokes = [
        _Spoke(
            attribute=str(row.attribute),
            label=str(row.label),
            group=str(row.group),
            family=str(row.family),
            angle=90 - _GAP / 2 - step * (place + 0.5),
        )
        for place, row in enumerate(kept.itertuples(index=False))
    ]
    return spokes, int((worn["used"] == 0).sum()), len(worn)


def _held(tests: pd.DataFrame | None) -> dict[str, str]:
    """Say for each word whether it holds, is a hint or would hold by itself, or is not shown."""
    if tests is None:
        return {}
    named = "hinted" if "hinted" in tests else "alone"
    noted = tests["hinted"] if "hinted" in tests else holds(tests["p"], ALPHA)
    return {
        str(name): "holds" if held else named if note else "open"
        for name, held, note in zip(tests["attribute"], tests["holds"], noted, strict=True)
    }


def _at(angle: float, radius: float) -> tuple[float, float]:
    turn = math.radians(angle)
    return radius * math.cos(turn), radius * math.sin(turn)


@dataclass(frozen=True, slots=True)
class _Pen:
    """What draws on the wheel's axes."""

    axes: Axes
    _outlines: dict[tuple[str, str], tuple[TextPath, Bbox]] = field(default_factory=dict)

    def circle(self, x: float, y: float, radius: float, **style: Any) -> None:
        from matplotlib.patches import Circle

        self._add(Circle((x, y), radius, **style))

    def _add(self, patch: Patch) -> None:
        """Add a patch; the limits are set, so that nobody need measure it."""
        self.axes.add_artist(patch)

    def wedge(self, inner: float, outer: float, start: float, end: float, **style: Any) -> None:
        from matplotlib.patches import Wedge

        self._add(Wedge((0, 0), outer, start, end, width=outer - inner, **style))

    def line(self, start: tuple[float, float], end: tuple[float, float], **style: Any) -> None:
        self.axes.plot(*zip(start, end, strict=True), solid_capstyle="butt", **style)

    def write(self, x: float, y: float, text: str, **style: Any) -> None:
        style.setdefault("ha", "center")
        style.setdefault("va", "center")
        self.axes.text(x, y, text, **style)

    def fitted(self, text: str, room: float, weight: str = "normal") -> tuple[str, float]:
        """Return the text and its size for so much room: smaller first, then cut."""
        points = room * _POINTS
        for limit in range(letters(text), 2, -1):
            cut = short_name(text, limit)
            width = self._outline(cut, weight)[1].width
            if width * SMALL <= points:
                return cut, min(_LARGEST, points / max(width, 1e-9))
        return short_name(text, 2), SMALL

    def in_lines(self, text: str, room: float, weight: str = "normal") -> tuple[str, float]:
        """Return the text, in two lines where one would be cut, and its size for so much room."""
        whole = self.fitted(text, room, weight)
        most = letters(text)
        parted = (wrapped(text, most) for most in range(most // 2, most))
        two = next((lines for lines in parted if len(lines) == 2), [text])
        if whole[0] == text or len(two) == 1:
            return whole
        fitted = [self.fitted(line, room, weight) for line in two]
        size = min(own for _, own in fitted)
        return "\n".join(line for line, _ in fitted), min(size, _CLOSE)

    def _outline(self, text: str, weight: str = "normal") -> tuple[TextPath, Bbox]:
        """Return the outline of a text of size 1, and its box; each is made once."""
        from matplotlib.font_manager import FontProperties
        from matplotlib.path import Path
        from matplotlib.textpath import TextPath
        from matplotlib.transforms import Bbox

        if (text, weight) not in self._outlines:
            path = TextPath((0, 0), text, size=1.0, prop=FontProperties(weight=weight))
            # The points that hold the curves bound them, and are much quicker to find.
            points = path.vertices[path.codes != Path.CLOSEPOLY]
            corners = (points.min(axis=0), points.max(axis=0)) if len(points) else np.zeros((2, 2))
            self._outlines[text, weight] = path, Bbox(corners)
        return self._outlines[text, weight]

    def arc(self, text: str, angle: float, radius: float, size: float, room: float) -> None:
        """Write along a circle, middle at `angle`; smaller where the room is short."""
        from matplotlib.patches import PathPatch
        from matplotlib.path import Path

        along = room * math.radians(radius)
        text, _ = self.fitted(text, along)
        path, box = self._outline(text)
        size = min(size, along / max(box.width, 1e-9))
        x = (path.vertices[:, 0] - box.x0 - box.width / 2) * size
        y = (path.vertices[:, 1] - 0.36) * size
        below = math.sin(math.radians(angle)) < -0.05
        turn = math.radians(angle) + (x if below else -x) / radius
        reach = radius - y if below else radius + y
        bent = np.column_stack([reach * np.cos(turn), reach * np.sin(turn)])
        self._add(PathPatch(Path(bent, path.codes), facecolor="black", linewidth=0))


def _draw_rings(pen: _Pen, samples: int) -> None:
    """Draw a ring for every sample, every other one tinted, lettered in the gap."""
    thick = (_OUTER - _INNER) / samples
    start, end = 90 + _GAP / 2 - 360, 90 - _GAP / 2
    for place in range(samples):
        inner = _INNER + place * thick
        tint = PAPER if place % 2 == 0 else "white"
        pen.wedge(inner, inner + thick, start, end, facecolor=tint, edgecolor="none", zorder=0)
        letter = chr(ord("A") + place)
        size, aside = (9.5, 0.0) if samples <= _RINGS else (SMALL, 0.022 * (-1) ** place)
        pen.write(aside, inner + thick / 2, letter, fontsize=size, fontweight="bold")
    for radius in (_INNER, _OUTER):
        pen.wedge(radius - 0.001, radius + 0.001, start, end, facecolor=EDGE, edgecolor="none")


def _draw_belonging(pen: _Pen, spokes: list[_Spoke]) -> None:
    """Draw the arcs of groups and, as the rim, of families."""
    step = (360 - _GAP) / len(spokes)
    for name, members in groupby(spokes, key=lambda spoke: spoke.family):
        own = list(members)
        high, low = own[0].angle + step / 2, own[-1].angle - step / 2
        pen.wedge(_RIM, _EDGE, low + 0.5, high - 0.5, facecolor="#e2e6ea", edgecolor="none")
        for edge in (low, high):
            pen.line(_at(edge, _INNER), _at(edge, _EDGE), color=EDGE, linewidth=0.9, zorder=1)
        middle, room = (high + low) / 2, high - low - 1.5
        pen.arc(name, middle, (_RIM + _EDGE) / 2, 0.056, room)
        for group, inside in groupby(own, key=lambda spoke: spoke.group):
            part = list(inside)
            top, bottom = part[0].angle + step / 2, part[-1].angle - step / 2
            pen.wedge(
                _GROUP, _GROUP + 0.005, bottom + 0.8, top - 0.8, facecolor=INK, edgecolor="none"
            )
            pen.arc(group, (top + bottom) / 2, _GROUP + 0.037, 0.042, top - bottom - 1.2)


def _draw_spoke(
    pen: _Pen, spoke: _Spoke, shares: Floats, k: Floats, *, how: str, spokes: int
) -> None:
    """Draw one word: a dot in every ring, the bar of the difference, its name."""
    thick = (_OUTER - _INNER) / len(shares)
    ink = GREY if how == "open" else _INK[how]
    step = math.radians((360 - _GAP) / spokes)
    for place, (share, count) in enumerate(zip(shares, k, strict=True)):
        radius = _INNER + (place + 0.5) * thick
        x, y = _at(spoke.angle, radius)
        full = 0.46 * min(thick, step * radius)
        if math.isnan(share):
            continue
        if share == 0:
            pen.circle(x, y, 0.004, facecolor=LINE, edgecolor="none", zorder=3)
            continue
        size = full * math.sqrt(share)
        rim, written = (EDGE, "black") if how == "open" else ("white", "white")
        pen.circle(x, y, size, facecolor=ink, edgecolor=rim, linewidth=0.6, zorder=3)
        if size > 0.0245:
            pen.write(x, y - 0.001, f"{count:.0f}", fontsize=SMALL, color=written, zorder=4)
    known = shares[~np.isnan(shares)]
    reach = float(np.ptp(known)) if len(known) else 0.0
    width = min(math.degrees(step) * 0.32, 2.6)
    style: dict[str, Any] = {"facecolor": ink, "edgecolor": ink}
    if how != "holds":
        style = {
            "facecolor": "white",
            "edgecolor": EDGE if how == "open" else ink,
            "hatch": "////" if how in _HATCHED else None,
        }
    edge = _OUTER + 0.012
    if reach > 0:
        pen.wedge(
            edge,
            edge + _BAR * reach,
            spoke.angle - width,
            spoke.angle + width,
            linewidth=0.8,
            **style,
        )
    left = math.cos(math.radians(spoke.angle)) < 0
    x, y = _at(spoke.angle, _LABEL)
    weight = "bold" if how == "holds" else "normal"
    label, size = pen.in_lines(spoke.label, 0.92 * (_GROUP - _LABEL), weight)
    pen.write(
        x,
        y,
        label,
        fontsize=size,
        fontweight=weight,
        rotation=spoke.angle + 180 if left else spoke.angle,
        rotation_mode="anchor",
        linespacing=1.05,
        ha="right" if left else "left",
        multialignment="right" if left else "left",
    )


def _draw_hub(pen: _Pen, names: list[str]) -> None:
    """Write in the middle which ring is which sample, inside the two rings of a tasting cup."""
    pen.circle(0, 0, _HUB, facecolor="white", edgecolor=INK, linewidth=2.2)
    pen.circle(0, 0, _HUB - 0.024, facecolor="none", edgecolor=INK, linewidth=0.7)
    gap = min(0.066, 0.5 / len(names))
    size = 7.6 if len(names) <= 6 else 7.0
    for place, name in enumerate(names):
        y = gap * ((len(names) - 1) / 2 - place)
        room = 2 * math.sqrt(max((_HUB - 0.05) ** 2 - y**2, 0.01))
        letters = max(6, int(room * _POINTS / size * 1.2))
        shown = name if len(name) <= letters else name[: letters - 1] + "…"
        pen.write(0, y, f"{chr(ord('A') + place)}  {shown}", fontsize=size)


def _draw_key(
    pen: _Pen, n: int, ends: tuple[list[str], list[str]], language: str, *, tested: bool
) -> None:
    """Explain dots and bars in the corners below the wheel."""
    kinds, notes = ends
    left, low = -1.12, -_MARGIN - 0.185
    pen.write(
        left, low + 0.155, say("wheel.dots", language, n=n), fontsize=7.5, ha="left", va="bottom"
    )
    for place, count in enumerate(sorted({1, max(1, n // 2), n})):
        x = left + 0.05 + place * 0.16
        size = 0.05 * math.sqrt(count / n)
        pen.circle(x, low + 0.085, size, facecolor=GREY, edgecolor=EDGE, linewidth=0.6)
        pen.write(x, low + 0.0, f"{count} / {n}", fontsize=SMALL)
    right = 1.12
    pen.write(
        right, low + 0.155, say("wheel.bars", language), fontsize=7.5, ha="right", va="bottom"
    )
    for place, how in enumerate(kinds):
        y = low + 0.115 - place * 0.058
        ink = _INK[how]
        pen.axes.add_patch(_box(right - 0.045, y - 0.018, how, ink))
        word = say(f"wheel.{how}" if tested else "wheel.untested", language)
        pen.write(right - 0.065, y, word, fontsize=SMALL, ha="right")
    for place, note in enumerate(notes):
        pen.write(-0.08, low + 0.06 - 0.055 * place, note, fontsize=SMALL, color="#3d3d3d")


def _box(x: float, y: float, how: str, ink: str) -> Rectangle:
    from matplotlib.patches import Rectangle as Box

    filled = how == "holds"
    return Box(
        (x, y),
        0.045,
        0.036,
        facecolor=ink if filled else "white",
        edgecolor=ink,
        hatch="/////" if how in _HATCHED else None,
        linewidth=0.8,
    )
