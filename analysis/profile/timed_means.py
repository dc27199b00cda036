"""Means over a panel of what a sip did in time: curves with limits, and thirds of its time."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

import numpy as np
import numpy.typing as npt
import pandas as pd

from ..core.errors import OptionError
from ..core.options import share_of

Floats = npt.NDArray[np.float64]
THIRDS = ("first", "middle", "last")


def mean_curves(
    table: pd.DataFrame,
    *,
    step: float = 0.5,
    level: float = 0.95,
    ends: tuple[float, float] = (0.0, 10.0),
) -> pd.DataFrame:
    """Return the mean curve of each sample with limits at each moment.

    Parameters
    ----------
    table : DataFrame
        ``assessor, sample, replicate, attribute, time, score`` as `time_intensity` takes it;
        between points straight lines, after the last one its height.
    step : float
        Seconds between moments, above 0.
    level : float
        Of the limits, moment by moment.
    ends : tuple of float
        Of the scale, at which limits end.

    Returns
    -------
    DataFrame
        ``sample, attribute, time, n, mean, low, high``; n assessors, whose replicates are
        averaged first. Student's t over assessors; no limits for one assessor, or where all
        agree to the letter.

    Examples
    --------
    >>> rows = [(who, "A", 1, "sweet", t, y) for who, top in (("T1", 4), ("T2", 6))
    ...         for t, y in ((0, 0), (2, top))]
    >>> columns = ["assessor", "sample", "replicate", "attribute", "time", "score"]
    >>> mean_curves(pd.DataFrame(rows, columns=columns), step=1)["mean"].tolist()
    [0.0, 2.5, 5.0]
    """
    if not step > 0:
        raise OptionError("dominance.step", step=step)
    if table.empty:
        return pd.DataFrame(columns=["sample", "attribute", "time", "n", "mean", "low", "high"])
    moments = np.arange(0.0, float(table["time"].max()) + step / 2, step)
    made = []
    for names, own in table.groupby(["sample", "attribute"], sort=False):
        each = _by_assessor(own, partial(_heights, moments=moments))
        limits = limited(each, share_of("level", level), ends)
        made.append(limits.assign(sample=str(names[0]), attribute=str(names[1]), time=moments))
    whole = pd.concat(made, ignore_index=True)
    return whole[["sample", "attribute", "time", "n", "mean", "low", "high"]]


def mean_thirds(
    table: pd.DataFrame,
    seconds: float,
    *,
    level: float = 0.95,
    ends: tuple[float, float] = (0.0, 10.0),
) -> pd.DataFrame:
    """Return the mean height in the first, middle and last third of a sip's time, with limits.

    Parameters
    ----------
    table : DataFrame
        As `mean_curves` takes it.
    seconds : float
        How long a sip was followed.
    level, ends
        As in `mean_curves`.

    Returns
    -------
    DataFrame
        ``sample, attribute, third, start, end, n, mean, low, high``: area below the curve over
        the third's length.

    Examples
    --------
    >>> rows = [("T1", "A", 1, "sweet", t, y) for t, y in ((0, 6), (3, 6), (9, 0))]
    >>> columns = ["assessor", "sample", "replicate", "attribute", "time", "score"]
    >>> mean_thirds(pd.DataFrame(rows, columns=columns), 9)["mean"].tolist()
    [6.0, 4.5, 1.5]
    """
    cuts = np.linspace(0.0, seconds, 4)
    made = []
    for names, own in table.groupby(["sample", "attribute"], sort=False):
        each = _by_assessor(own, partial(_areas, cuts=cuts)) / (seconds / 3)
        limits = limited(each, share_of("level", level), ends)
        made.append(
            limits.assign(
                sample=str(names[0]),
                attribute=str(names[1]),
                third=THIRDS,
                start=cuts[:3],
                end=cuts[1:],
            )
        )
    columns = ["sample", "attribute", "third", "start", "end", "n", "mean", "low", "high"]
    return pd.concat(made, ignore_index=True)[columns] if made else pd.DataFrame(columns=columns)


def dominance_thirds(
    table: pd.DataFrame, seconds: float, words: Sequence[str] = ()
) -> pd.DataFrame:
    """Return which share of each third of a sip's time was named what.

    Parameters
    ----------
    table : DataFrame
        ``assessor, sample, replicate, time, attribute`` as `dominance` takes it.
    seconds : float
    words : sequence of str
        What could be named; by default what was.

    Returns
    -------
    DataFrame
        ``sample, third, start, end, attribute, n, share``; n sips.

    Examples
    --------
    >>> rows = [("T1", "A", 1, 0, "sweet"), ("T1", "A", 1, 4, "bitter"), ("T1", "A", 1, 9, "")]
    >>> columns = ["assessor", "sample", "replicate", "time", "attribute"]
    >>> found = dominance_thirds(pd.DataFrame(rows, columns=columns), 9)
    >>> found.pivot(index="attribute", columns="start", values="share").round(2).values.tolist()
    [[0.0, 0.67, 1.0], [1.0, 0.33, 0.0]]
    """
    cuts = np.linspace(0.0, seconds, 4)
    seen = dict.fromkeys(str(name) for name in table["attribute"] if name)
    names = list(words) or list(seen)
    rows = []
    for sample, own in table.groupby("sample", sort=False):
        lasting = {name: np.zeros(3) for name in names}
        sips = own.groupby(["assessor", "replicate"], sort=False)
        for _, sip in sips:
            ordered = sip.sort_values("time", kind="stable")
            starts = ordered["time"].to_numpy(dtype=float)
            stops = np.append(starts[1:], seconds)
            for name, start, stop in zip(ordered["attribute"], starts, stops, strict=True):
                if name in lasting:
                    inside = np.minimum(stop, cuts[1:]) - np.maximum(start, cuts[:3])
                    lasting[name] += np.maximum(inside, 0.0)
        n = len(sips)
        rows += [
            (sample, third, cuts[place], cuts[place + 1], name, n, share[place] * 3 / seconds / n)
            for place, third in enumerate(THIRDS)
            for name, share in lasting.items()
        ]
    columns = ["sample", "third", "start", "end", "attribute", "n", "share"]
    return pd.DataFrame(rows, columns=columns)


def _by_assessor(own: pd.DataFrame, read: Callable[[Floats, Floats], Floats]) -> Floats:
    """Return one row an assessor: what is read of a curve, replicates averaged."""
    found: dict[str, list[Floats]] = {}
    for (who, _), curve in own.groupby(["assessor", "replicate"], sort=True):
        ordered = curve.sort_values("time")
        times, heights = (ordered[name].to_numpy(dtype=float) for name in ("time", "score"))
        found.setdefault(str(who), []).append(read(times, heights))
    return np.array([np.mean(rows, axis=0) for rows in found.values()])


def _heights(times: Floats, heights: Floats, moments: Floats) -> Floats:
    found: Floats = np.interp(moments, times, heights)
    return found


def _areas(times: Floats, heights: Floats, cuts: Floats) -> Floats:
    """Return the area below a curve between neighbouring cuts."""
    inner = np.unique(np.concatenate([times[(times > 0) & (times < cuts[-1])], cuts]))
    curve = np.interp(inner, times, heights)
    pieces = np.diff(inner) * (curve[1:] + curve[:-1]) / 2
    sums = np.concatenate([[0.0], np.cumsum(pieces)])
    areas: Floats = np.diff(sums[np.searchsorted(inner, cuts)])
    return areas


def limited(each: Floats, level: float, ends: tuple[float, float]) -> pd.DataFrame:
    """Return mean and limits of Student's t, column by column."""
    from scipy.stats import t

    n = len(each)
    mean = each.mean(axis=0)
    low = high = np.full(mean.shape, np.nan)
    if n > 1:
        spread = each.std(axis=0, ddof=1)
        half = t.ppf((1 + level) / 2, n - 1) * spread / np.sqrt(n)
        half = np.where(spread > 1e-12, half, np.nan)
        low, high = np.clip(mean - half, *ends), np.clip(mean + half, *ends)
    return pd.DataFrame({"n": n, "mean": mean, "low": low, "high": high})


def mean_parameters(parameters: pd.DataFrame, *, level: float = 0.95) -> pd.DataFrame:
    """Return the means of the parameters of time-intensity curves with limits.

    Parameters
    ----------
    parameters : DataFrame
        As `time_intensity` returns them.
    level : float

    Returns
    -------
    DataFrame
        ``sample, attribute, parameter, n, mean, low, high``; n assessors, replicates averaged
        first. A curve that never leaves 0 has no times.
    """
    keys = ["sample", "attribute"]
    numbers = [
        name for name in parameters if name not in {*keys, "assessor", "replicate"}
    ]  # fmt: skip
    rows = []
    for names, own in parameters.groupby(keys, sort=False):
        each = own.groupby("assessor")[numbers].mean()
        for name in numbers:
            values = each[name].dropna().to_numpy(dtype=float)
            if len(values):
                found = limited(values[:, None], level, (-np.inf, np.inf)).iloc[0]
                rows.append((*names, name, int(found["n"]), *found[["mean", "low", "high"]]))
            else:
                rows.append((*names, name, 0, np.nan, np.nan, np.nan))
    return pd.DataFrame(rows, columns=[*keys, "parameter", "n", "mean", "low", "high"])
