"""The meter-value × acidity plane: lines of equal predicted sweetness, and the bottles on it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from ...rounding import rounded
from ..chemistry import taste_indices as indices
from ..core.errors import OptionError
from ..core.look import (
    GREY,
    INK,
    MARKS,
    PALE,
    PAPER_WIDTH,
    SMALL,
    field,
    in_look,
    key_of,
    letters,
    whole,
    without_frame,
)
from ..core.wording import stated_percent
from ..core.words import CATALOGUE, say
from .what_is_estimable import measurement

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Array = npt.NDArray[np.float64]
_AROUND = ((7, -4), (-7, -4), (0, 6), (0, -16), (7, 6), (-7, 6), (7, -15), (-7, -15))
_OUTSIDE: dict[str, Any] = {
    "facecolor": "none",
    "edgecolor": PALE,
    "hatch": "////",
    "linewidth": 0,
    "zorder": 0,
}
PLANE = ("meter_value", "acidity")


def plane_grid(bottles: pd.DataFrame) -> tuple[Array, Array]:
    """Return meter values and acidities over the plane of these bottles, 160 by 160.

    Raises
    ------
    OptionError
        If a column is missing or no bottle has both numbers.
    """
    known = _placed(bottles)
    across, up = _spans(known)
    x, y = np.meshgrid(np.linspace(*across, 160), np.linspace(*up, 160))
    return x, y


def _placed(bottles: pd.DataFrame) -> pd.DataFrame:
    missing = [name for name in ("sample", *PLANE) if name not in bottles]
    known = bottles.dropna(subset=[name for name in PLANE if name in bottles])
    if missing or not len(known):
        raise OptionError("plane.missing", listed=missing or list(PLANE))
    return known


def _spans(known: pd.DataFrame) -> tuple[tuple[float, float], tuple[float, float]]:
    x, y = (known[name].to_numpy(float) for name in PLANE)
    return _span(x, 2.0), _span(y, 0.15)


@in_look
def draw_plane(
    bottles: pd.DataFrame,
    own: pd.DataFrame | None = None,
    *,
    language: str,
    attribute: str = "",
    wanted: float | None = None,
    published: bool = True,
    group: str | None = None,
) -> Figure:
    """Draw the plane of meter value and acidity.

    Parameters
    ----------
    bottles : DataFrame
        ``sample, meter_value, acidity`` and, if given, `group`.
    own : DataFrame, optional
        ``mean, low, high`` that this panel would give at each point of
        `plane_grid`, row by row, for its own lines (solid).
    language : str
    attribute : str
        Name of what `own` speaks of.
    wanted : float, optional
        A score aimed at: its line is drawn thick, its 95 % band shaded.
    published : bool
        Whether the lines of the published sweet–dry index are drawn (dashed).
    group : str, optional
        Column by which the marks differ, for example the batch or the vintage.

    Raises
    ------
    OptionError
        If a column is missing or no bottle has both numbers.
    """
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    known = _placed(bottles)
    across, up = _spans(known)
    grid_x, grid_y = plane_grid(known)
    axes = field(None, PAPER_WIDTH, 5.4)
    figure = whole(axes)
    if published:
        _fitted_range(axes, across, up)
    written = [] if own is None else _own(axes, own, grid_x, grid_y, wanted)
    if published:
        written += _published(axes, grid_x, grid_y)
    _marks(axes, known, group, language)
    axes.set_xlim(*across)
    axes.set_ylim(*up)
    axes.set_xlabel(say("plane.x", language))
    axes.set_ylabel(say("plane.y", language))
    lines = "published" if published else "none"
    title = f"plane.title_{lines}" if own is None else "plane.title_own"
    axes.set_title(say(title, language, attribute=attribute))
    handles: list[Any] = []
    if published:
        label = say("plane.published", language)
        handles.append(Line2D([], [], color=GREY, ls="--", lw=0.9, label=label))
    if own is not None:
        label = say("plane.own", language, attribute=attribute)
        handles.append(Line2D([], [], color=INK, lw=1.3, label=label))
    if own is not None and wanted is not None:
        label = say("plane.wanted", language, attribute=attribute, wanted=wanted)
        handles.append(Line2D([], [], color=INK, lw=3.2, label=label))
        handles.append(Patch(facecolor="0.8", alpha=0.6, label=say("plane.band", language)))
    if published:
        handles.append(Patch(**_OUTSIDE, label=say("plane.not_fitted", language)))
    marks = axes.get_legend_handles_labels()[0]
    figure.legend(handles=[*handles, *marks], loc="outside lower center", ncols=4)
    unnamed = _names(figure, axes, known, written)
    if unnamed:  # said beside the axis's name: within the field it would lie on lines and names
        axes.set_xlabel(say("plane.x", language), loc="left")
        axes.annotate(
            say("plane.unnamed", language, n=unnamed), (1, 0),
            xycoords=(axes.transAxes, axes.xaxis.label), ha="right", va="bottom",
            fontsize=SMALL, color=GREY,
        )  # fmt: skip
    return figure


@in_look
def draw_slopes(
    slopes: pd.DataFrame, *, language: str, level: float = 0.95, axes: Axes | None = None
) -> Figure:
    """Draw each slope with its interval, per standard unit of the brewer (one meter value, 0.1 mL).

    Parameters
    ----------
    slopes : DataFrame
        ``attribute, predictor, slope, low, high, holds``.
    language : str
    level : float
        Of the intervals, for the axis.
    axes : Axes, optional
        Where to draw; a new figure by default.
    """
    rows = slopes.reset_index(drop=True)
    axes = field(axes, 7.2, 1.2 + 0.3 * len(rows))
    unit = np.array([0.1 if "acid" in str(name) else 1.0 for name in rows["predictor"]])
    place = np.arange(len(rows))[::-1]
    for mark, filled in (("o", True), ("o", False)):
        chosen = rows["holds"].to_numpy(bool) == filled
        if chosen.any():
            centre = rows["slope"].to_numpy(float) * unit
            low, high = rows["low"].to_numpy(float) * unit, rows["high"].to_numpy(float) * unit
            axes.errorbar(
                centre[chosen],
                place[chosen],
                xerr=[(centre - low)[chosen], (high - centre)[chosen]],
                fmt=mark,
                color=INK,
                markerfacecolor=INK if filled else "white",
                capsize=3,
                linewidth=1.2,
                label=say("plane.holds" if filled else "plane.does_not_hold", language),
            )
    axes.axvline(0, color=GREY, linewidth=0.8)
    axes.set_yticks(place, [_row_name(row, language) for row in rows.to_dict("records")])
    axes.set_ylim(-0.6, len(rows) - 0.4)
    axes.set_xlabel(say("plane.slope_axis", language, level=stated_percent(level)))
    without_frame(axes)
    key_of(axes, "below", ncols=2)
    return whole(axes)


def _row_name(row: dict[object, object], language: str) -> str:
    name = str(row["predictor"])
    unit = "plane.per_tenth" if "acid" in name else "plane.per_unit"
    return say(unit, language, attribute=row["attribute"], name=measurement(name))


def _span(values: Array, least: float) -> tuple[float, float]:
    low, high = float(values.min()), float(values.max())
    room = max(0.25 * (high - low), least)
    return low - room, high + room


def _fitted_range(axes: Axes, across: tuple[float, float], up: tuple[float, float]) -> None:
    """Shade where the published index was never fitted."""
    low, high = indices.FITTED_ACIDITY
    for bottom, top in ((up[0], min(low, up[1])), (max(high, up[0]), up[1])):
        if top > bottom:
            axes.axhspan(bottom, top, **_OUTSIDE)
    low, high = indices.FITTED_METER_VALUE
    for left, right in ((across[0], min(low, across[1])), (max(high, across[0]), across[1])):
        if right > left:
            axes.axvspan(left, right, **_OUTSIDE)


def _published(axes: Axes, grid_x: Array, grid_y: Array) -> list[Any]:
    index = np.asarray(indices.amakarado(grid_x, grid_y), dtype=np.float64)
    lines = axes.contour(
        grid_x,
        grid_y,
        index,
        levels=_levels(index),
        colors=GREY,
        linewidths=0.9,
        linestyles="dashed",
    )
    return _on_lines(axes.clabel(lines, fmt=lambda value: rounded(value, "+.1f"), inline=False))


def _own(
    axes: Axes, predicted: pd.DataFrame, grid_x: Array, grid_y: Array, wanted: float | None
) -> list[Any]:
    mean = predicted["mean"].to_numpy().reshape(grid_x.shape)
    levels = _levels(mean)
    if wanted is not None:
        levels = levels[np.abs(levels - wanted) > 1e-9 * (1 + abs(wanted))]
    lines = axes.contour(grid_x, grid_y, mean, levels=levels, colors=INK, linewidths=1.3)
    labels = _on_lines(axes.clabel(lines, fmt=lambda value: rounded(value, ".1f"), inline=False))
    if wanted is None:
        return labels
    low = predicted["low"].to_numpy().reshape(grid_x.shape)
    high = predicted["high"].to_numpy().reshape(grid_x.shape)
    band = ((low <= wanted) & (wanted <= high)).astype(float)
    if band.min() < band.max():
        axes.contourf(grid_x, grid_y, band, levels=[0.5, 1.5], colors="0.8", alpha=0.6, zorder=0.5)
    if mean.min() < wanted < mean.max():
        axes.contour(grid_x, grid_y, mean, levels=[wanted], colors=INK, linewidths=3.2)
    return labels


def _on_lines(labels: Iterable[Any]) -> list[Any]:
    """Let each number stand on its line, on a white ground of its own."""
    kept = list(labels)
    for label in kept:
        label.set(fontsize=8, color=INK, bbox={"facecolor": "white", "linewidth": 0, "pad": 0.8})
    return kept


def _levels(values: Array) -> Array:
    """Choose about six round levels."""
    spread = float(values.max() - values.min())
    step = next(
        (step for step in (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0) if spread / step <= 8), spread / 6
    )
    first = np.ceil(values.min() / step) * step
    return np.arange(first, float(values.max()) + step / 2, step)


def _marks(axes: Axes, known: pd.DataFrame, group: str | None, language: str) -> None:
    names = [""] if group is None else sorted(known[group].astype(str).unique())
    for place, name in enumerate(names):
        rows = known if group is None else known[known[group].astype(str) == name]
        axes.scatter(
            rows["meter_value"],
            rows["acidity"],
            marker=MARKS[place % len(MARKS)],
            s=46,
            facecolor=INK if place % 2 == 0 else "white",
            edgecolor=INK,
            linewidth=1.2,
            zorder=3,
            label=_group_name(group, name, language),
        )


def _group_name(group: str | None, name: str, language: str) -> str | None:
    """Say what a bare number numbers."""
    if group is None:
        return None
    if not name.replace(".", "").isdigit():
        return name
    known = CATALOGUE.has(f"column.{group}")
    return f"{say(f'column.{group}', language) if known else group} {name}"


def _names(figure: Figure, axes: Axes, known: pd.DataFrame, written: Sequence[Any]) -> int:
    """Write each bottle's name where it covers no mark and no other name; count those left out."""
    figure.draw_without_rendering()
    scale = 72 / figure.dpi
    points = axes.transData.transform(known[list(PLANE)].to_numpy(float)) * scale
    left, bottom, right, top = np.array(axes.get_window_extent().extents) * scale
    taken = [(x - 4, y - 4, x + 4, y + 4) for x, y in points]
    for text in written:
        box = tuple(side * scale for side in text.get_window_extent().extents)
        text.set_visible(not any(_overlap(box, other) for other in taken))
        if text.get_visible():
            taken.append(box)
    unnamed = 0
    places = known[list(PLANE)].to_numpy(float)
    for (x, y), at, name in zip(points, places, known["sample"].astype(str), strict=True):
        width, height = 4.6 * letters(name) + 2, 9.0
        for dx, dy in _AROUND:
            start = x + dx - (width if dx < 0 else width / 2 if dx == 0 else 0)
            box = (start, y + dy, start + width, y + dy + height)
            fits = box[0] > left and box[2] < right and box[1] > bottom and box[3] < top
            if fits and not any(_overlap(box, other) for other in taken):
                taken.append(box)
                axes.annotate(
                    name,
                    (float(at[0]), float(at[1])),
                    xytext=(start - x + 1, dy + 1),
                    textcoords="offset points",
                    bbox={"boxstyle": "square,pad=0.1", "facecolor": "white", "linewidth": 0},
                    zorder=4,
                    annotation_clip=False,
                )
                break
        else:
            unnamed += 1
    return unnamed


def _overlap(a: Sequence[float], b: Sequence[float]) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]
