"""The meter-value × acidity plane: lines of equal predicted sweetness, and the bottles on it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from ..chemistry import taste_indices as indices
from ..core.errors import OptionError
from ..core.words import say
from .mixed_slopes import Slopes

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Array = npt.NDArray[np.float64]
_MARKS = "os^Dv<>pP*"
_AROUND = ((7, -4), (-7, -4), (0, 6), (0, -16), (7, 6), (-7, 6), (7, -15), (-7, -15))
_OUTSIDE: dict[str, Any] = {
    "facecolor": "none",
    "edgecolor": "0.85",
    "hatch": "////",
    "linewidth": 0,
    "zorder": 0,
}
PLANE = ("meter_value", "acidity")


def plane(
    bottles: pd.DataFrame,
    fitted: Slopes | None = None,
    *,
    attribute: str = "",
    wanted: float | None = None,
    group: str | None = None,
) -> Figure:
    """Draw the plane of meter value and acidity.

    Parameters
    ----------
    bottles : DataFrame
        ``sample, meter_value, acidity`` and, if given, `group`.
    fitted : Slopes, optional
        This panel's slopes of both, for its own lines (solid); the published
        index alone is drawn (dashed) without it.
    attribute : str
        Name of what `fitted` speaks of.
    wanted : float, optional
        A score aimed at: its line is drawn thick, its 95 % band shaded.
    group : str, optional
        Column by which the marks differ, for example the batch or the vintage.

    Raises
    ------
    OptionError
        If a column is missing or no bottle has both numbers.
    """
    from matplotlib.figure import Figure

    missing = [name for name in ("sample", *PLANE) if name not in bottles]
    known = bottles.dropna(subset=[name for name in PLANE if name in bottles])
    if missing or not len(known):
        raise OptionError("plane.missing", listed=missing or list(PLANE))
    figure = Figure(figsize=(8.2, 5.6), layout="constrained")
    axes: Axes = figure.subplots()
    x, y = known["meter_value"].to_numpy(float), known["acidity"].to_numpy(float)
    across, up = _span(x, 2.0), _span(y, 0.15)
    grid_x, grid_y = np.meshgrid(np.linspace(*across, 160), np.linspace(*up, 160))
    _fitted_range(axes, across, up)
    written = _published(axes, grid_x, grid_y)
    if fitted is not None and set(PLANE) <= set(fitted.predictors):
        written += _own(axes, fitted, grid_x, grid_y, wanted)
    _marks(axes, known, group)
    axes.set_xlim(*across)
    axes.set_ylim(*up)
    axes.set_xlabel(say("plane.x"))
    axes.set_ylabel(say("plane.y"))
    own = fitted is not None and set(PLANE) <= set(fitted.predictors)
    title = "plane.title_both" if own else "plane.title_published"
    axes.set_title(say(title, attribute=attribute), loc="left", fontsize=11)
    axes.spines[["top", "right"]].set_visible(False)
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    handles: list[Any] = [
        Line2D([], [], color="0.45", ls="--", lw=0.9, label=say("plane.published"))
    ]
    if own:
        label = say("plane.own", attribute=attribute)
        handles.append(Line2D([], [], color="black", lw=1.3, label=label))
    if own and wanted is not None:
        label = say("plane.wanted", attribute=attribute, wanted=wanted)
        handles.append(Line2D([], [], color="black", lw=3.2, label=label))
        handles.append(Patch(facecolor="0.8", alpha=0.6, label=say("plane.band")))
    handles.append(Patch(**_OUTSIDE, label=say("plane.not_fitted")))
    marks = axes.get_legend_handles_labels()[0]
    figure.legend(
        handles=[*handles, *marks],
        loc="outside lower center",
        ncols=4,
        frameon=False,
        fontsize=8.5,
    )
    unnamed = _names(figure, axes, known, written)
    if unnamed:
        axes.set_title(say("plane.unnamed", n=unnamed), loc="right", fontsize=8, color="0.35")
    return figure


def slopes_figure(slopes: pd.DataFrame, *, level: float = 0.95) -> Figure:
    """Draw each slope with its interval, per standard unit of the brewer (one meter value, 0.1 mL).

    Parameters
    ----------
    slopes : DataFrame
        `link.Link.slopes`.
    level : float
        Of the intervals, for the axis.
    """
    from matplotlib.figure import Figure

    rows = slopes.reset_index(drop=True)
    figure = Figure(figsize=(7.2, 1.4 + 0.34 * len(rows)), layout="constrained")
    axes: Axes = figure.subplots()
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
                color="black",
                markerfacecolor="black" if filled else "white",
                capsize=3,
                linewidth=1.2,
                label=say("plane.holds" if filled else "plane.does_not_hold"),
            )
    axes.axvline(0, color="0.6", linewidth=0.8)
    axes.set_yticks(place, [_row_name(row) for row in rows.to_dict("records")])
    axes.set_ylim(-0.6, len(rows) - 0.4)
    axes.set_xlabel(say("plane.slope_axis", level=f"{100 * level:g} %"))
    axes.spines[["top", "right", "left"]].set_visible(False)
    axes.tick_params(left=False)
    figure.legend(loc="outside lower center", ncols=2, frameon=False, fontsize=9)
    return figure


def _row_name(row: dict[object, object]) -> str:
    from .what_is_estimable import measurement

    name = str(row["predictor"])
    unit = "plane.per_tenth" if "acid" in name else "plane.per_unit"
    return say(unit, attribute=row["attribute"], name=measurement(name))


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
        colors="0.45",
        linewidths=0.9,
        linestyles="dashed",
    )
    labels = axes.clabel(lines, fmt=lambda value: f"{value:+.1f}", fontsize=8, inline_spacing=3)
    return list(labels)


def _own(
    axes: Axes, fitted: Slopes, grid_x: Array, grid_y: Array, wanted: float | None
) -> list[Any]:
    at = np.tile(fitted.centre, (grid_x.size, 1))
    at[:, fitted.predictors.index("meter_value")] = grid_x.ravel()
    at[:, fitted.predictors.index("acidity")] = grid_y.ravel()
    predicted = fitted.predict(at)
    mean = predicted["mean"].to_numpy().reshape(grid_x.shape)
    levels = _levels(mean)
    if wanted is not None:
        levels = levels[np.abs(levels - wanted) > 1e-9 * (1 + abs(wanted))]
    lines = axes.contour(grid_x, grid_y, mean, levels=levels, colors="black", linewidths=1.3)
    labels = list(
        axes.clabel(lines, fmt=lambda value: f"{value:.1f}", fontsize=9, inline_spacing=3)
    )
    if wanted is None:
        return labels
    low = predicted["low"].to_numpy().reshape(grid_x.shape)
    high = predicted["high"].to_numpy().reshape(grid_x.shape)
    band = ((low <= wanted) & (wanted <= high)).astype(float)
    if band.min() < band.max():
        axes.contourf(grid_x, grid_y, band, levels=[0.5, 1.5], colors="0.8", alpha=0.6, zorder=0.5)
    if mean.min() < wanted < mean.max():
        axes.contour(grid_x, grid_y, mean, levels=[wanted], colors="black", linewidths=3.2)
    return labels


def _levels(values: Array) -> Array:
    """Choose about six round levels."""
    spread = float(values.max() - values.min())
    step = next(
        (step for step in (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0) if spread / step <= 8), spread / 6
    )
    first = np.ceil(values.min() / step) * step
    return np.arange(first, float(values.max()) + step / 2, step)


def _marks(axes: Axes, known: pd.DataFrame, group: str | None) -> None:
    names = [""] if group is None else sorted(known[group].astype(str).unique())
    for place, name in enumerate(names):
        rows = known if group is None else known[known[group].astype(str) == name]
        axes.scatter(
            rows["meter_value"],
            rows["acidity"],
            marker=_MARKS[place % len(_MARKS)],
            s=46,
            facecolor="black" if place % 2 == 0 else "white",
            edgecolor="black",
            linewidth=1.2,
            zorder=3,
            label=_group_name(group, name),
        )


def _group_name(group: str | None, name: str) -> str | None:
    """Say what a bare number numbers."""
    if group is None:
        return None
    return f"{group} {name}" if name.replace(".", "").isdigit() else name


def _names(figure: Figure, axes: Axes, known: pd.DataFrame, written: Sequence[Any]) -> int:
    """Write each bottle's name where it covers no mark and no other name; count those left out."""
    figure.draw_without_rendering()
    scale = 72 / figure.dpi
    points = axes.transData.transform(known[list(PLANE)].to_numpy(float)) * scale
    left, bottom, right, top = np.array(axes.get_window_extent().extents) * scale
    taken = [(x - 4, y - 4, x + 4, y + 4) for x, y in points]
    for text in written:
        box = text.get_window_extent()
        taken.append((box.x0 * scale, box.y0 * scale, box.x1 * scale, box.y1 * scale))
    unnamed = 0
    places = known[list(PLANE)].to_numpy(float)
    for (x, y), at, name in zip(points, places, known["sample"].astype(str), strict=True):
        width, height = 4.9 * len(name) + 2, 9.0
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
                    fontsize=8,
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
