"""How an intensity comes and goes: the parameters of time-intensity curves.

Each curve (one assessor, sample, attribute) gives its maximum and when it is
reached, area, onset, end, plateau and rates. The parameters are ordinary
scores afterwards and are compared like any other (`anova`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields

import numpy as np
import numpy.typing as npt
import pandas as pd

from ..core.errors import TableError
from ..core.options import share_of
from ..core.result import Result, copies
from ..core.words import Sentence

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """Parameters of one curve; seconds and scale points.

    Attributes
    ----------
    imax, tmax : float
        The maximum, and the first time it is reached.
    auc : float
        Area below the curve, by trapezoids.
    onset, end : float
        Last time at 0 before the rise; first time at 0 after it, or the last
        time of the record.
    plateau_start, plateau_end, plateau : float
        Where the curve first and last crosses the plateau's height, by
        straight lines between points; and the time between.
    rise, fall : float
        From onset to `tmax`, and from the last time at the maximum to the
        end, per second.
    """

    imax: float
    tmax: float
    auc: float
    onset: float
    end: float
    plateau_start: float
    plateau_end: float
    plateau: float
    rise: float
    fall: float


def curve(time: npt.ArrayLike, intensity: npt.ArrayLike, *, height: float = 0.9) -> Curve:
    """Return the parameters of one curve.

    Parameters
    ----------
    time : array_like of float
        Seconds, rising.
    intensity : array_like of float
        Scale points, not below 0.
    height : float
        Share of the maximum from which the plateau counts.

    Returns
    -------
    Curve
        Of a curve that never leaves 0, times and rates are nan.

    Raises
    ------
    TableError
        If times do not rise, an intensity is below 0 or missing, or there are
        fewer than 2 points.

    Examples
    --------
    >>> found = curve([0, 5, 15, 25, 60], [0, 0, 8, 8, 0])
    >>> found.imax, found.tmax, found.auc, found.plateau_start, found.plateau_end
    (8.0, 15.0, 260.0, 14.0, 28.5)
    """
    t, y = np.asarray(time, dtype=float), np.asarray(intensity, dtype=float)
    share_of("height", height)
    if len(t) != len(y) or len(t) < 2 or not (np.diff(t) > 0).all():
        raise TableError((Sentence.of("time_intensity.times", n=len(t)),))
    if not (y >= 0).all():
        raise TableError((Sentence.of("time_intensity.below", found=float(np.nanmin(y))),))
    top = float(y.max())
    area = float(np.trapezoid(y, t))
    if top == 0:
        empty = dict.fromkeys((f.name for f in fields(Curve)), float("nan"))
        return Curve(**{**empty, "imax": 0.0, "auc": 0.0, "plateau": 0.0})
    at = np.flatnonzero(y == top)
    first, last = int(at[0]), int(at[-1])
    before, after = np.flatnonzero(y[:first] == 0), np.flatnonzero(y[last:] == 0)
    begin = int(before[-1]) if len(before) else 0
    stop = last + int(after[0]) if len(after) else len(t) - 1
    start, finish = _crossings(t, y, top * height)
    onset, end = float(t[begin]), float(t[stop])
    return Curve(
        imax=top,
        tmax=float(t[first]),
        auc=area,
        onset=onset,
        end=end,
        plateau_start=start,
        plateau_end=finish,
        plateau=finish - start,
        rise=float((top - y[begin]) / (t[first] - onset)) if first > begin else float("nan"),
        fall=float((y[stop] - top) / (end - t[last])) if stop > last else float("nan"),
    )


def _crossings(t: Floats, y: Floats, level: float) -> tuple[float, float]:
    """Return the first and last time at a level, by straight lines between points."""
    above = np.flatnonzero(y >= level)
    a, b = int(above[0]), int(above[-1])
    start, finish = float(t[a]), float(t[b])
    if a > 0:
        start = float(np.interp(level, [y[a - 1], y[a]], [t[a - 1], t[a]]))
    if b < len(t) - 1:
        finish = float(np.interp(level, [y[b + 1], y[b]], [t[b + 1], t[b]]))
    return start, finish


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Curves(Result):
    """Parameters of many curves.

    Attributes
    ----------
    parameters : DataFrame
        Columns ``assessor, sample, replicate, attribute`` and those of `Curve`.
    means : DataFrame
        Columns ``sample, attribute, n`` and the mean parameters over
        assessors; replicates are averaged first.
    """

    parameters: pd.DataFrame
    means: pd.DataFrame
    method: str = "time-intensity parameters per curve"

    def sentences(self) -> tuple[Sentence, ...]:
        """Say how the parameters are compared."""
        n = int(self.parameters["assessor"].nunique())
        return (Sentence.of("time_intensity.curves", curves=len(self.parameters), n=n),)

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return means and all parameters."""
        return copies(
            **{
                "time_intensity.means": self.means,
                "time_intensity.parameters": self.parameters,
            }
        )

    def scores(self) -> pd.DataFrame:
        """Return the parameters as a long table of scores, one attribute a parameter."""
        keys = ["assessor", "sample", "replicate"]
        long = self.parameters.melt([*keys, "attribute"], var_name="parameter", value_name="score")
        long["attribute"] = long["attribute"] + " " + long["parameter"]
        return long[[*keys, "attribute", "score"]]


def time_intensity(table: pd.DataFrame, *, height: float = 0.9) -> Curves:
    """Return the parameters of every curve in a table.

    Parameters
    ----------
    table : DataFrame
        One row a moment: ``assessor, sample, attribute, time, score``,
        optional ``replicate``.
    height : float
        As for `curve`.

    Returns
    -------
    Curves

    Raises
    ------
    TableError
        For a missing column or a curve that cannot be read; all are told.
    """
    wanted = ("assessor", "sample", "attribute", "time", "score")
    missing = [name for name in wanted if name not in table.columns]
    if missing:
        have = [str(name) for name in table.columns]
        raise TableError(
            tuple(Sentence.of("table.no_column", column=name, have=have) for name in missing)
        )
    data = table if "replicate" in table else table.assign(replicate=1)
    rows, faults = [], []
    keys = ["assessor", "sample", "replicate", "attribute"]
    for names, own in data.groupby(keys, sort=True):
        ordered = own.sort_values("time")
        try:
            found = curve(ordered["time"], ordered["score"], height=height)
        except TableError as refusal:
            named = dict(zip(keys, names, strict=True))
            faults.append(Sentence.of("time_intensity.curve", why=refusal.faults[0], **named))
            continue
        values = {f.name: getattr(found, f.name) for f in fields(found)}
        rows.append({**dict(zip(keys, names, strict=True)), **values})
    if faults:
        raise TableError(tuple(faults))
    parameters = pd.DataFrame(rows)
    numbers = [f.name for f in fields(Curve)]
    own_means = parameters.groupby(["sample", "attribute", "assessor"])[numbers].mean()
    grouped = own_means.groupby(["sample", "attribute"])
    means = grouped.mean()
    means.insert(0, "n", grouped.size())
    return Curves(parameters=parameters, means=means.reset_index())
