"""Control charts of the reference, at one rate for all of them together."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

import numpy as np
import numpy.typing as npt
import pandas as pd

from .reference_over_time import ReferenceFit

Array = npt.NDArray[np.float64]
MOVING_RANGE = 1.128
"""Mean range of two normal values in standard deviations (d2, ISO 7870-2)."""
STEADY = 40_000
"""Steady histories that are simulated for the limits of a control chart."""


def control_chart(
    fits: Mapping[str, ReferenceFit], dated: pd.DataFrame, level: float
) -> pd.DataFrame:
    """Set limits from the ranges between neighbouring sessions, and mark what breaks them.

    Shewhart's chart of individual values, centre ± k × mean moving range / 1.128,
    and runs on one side of the centre. The usual k = 3 and eight in a row, on
    many attributes at once, mark most steady histories; k and the length of a
    run are therefore taken from their distribution in steady ones (`_steady`),
    half of the rate each, in equal parts for the attributes.
    """
    share = (1 - level) / 2 / max(len(fits), 1)
    order = {name: place for place, name in enumerate(dated["session"])}
    dates = dated["date"].to_numpy()
    parts = []
    for attribute, fitted in fits.items():
        at = np.array([order[name] for name in fitted.sessions])
        place = np.argsort(at, kind="stable")
        means = fitted.means[place]
        names = [fitted.sessions[k] for k in place]
        centre = float(means.mean())
        sigma = float(np.abs(np.diff(means)).mean()) / MOVING_RANGE
        reach, run = _reach_and_run(len(means), share)
        lower, upper = centre - reach * sigma, centre + reach * sigma
        signal = np.where((means < lower) | (means > upper), "beyond", "")
        in_row = _in_row((means - centre)[None])[0] >= run
        signal = np.where((signal == "") & in_row, "run", signal)
        parts.append(
            {
                "attribute": attribute,
                "session": names,
                "date": dates[at[place]],
                "mean": means,
                "se": fitted.se[place],
                "centre": centre,
                "lower": lower,
                "upper": upper,
                "run": run,
                "signal": signal,
            }
        )
    if not parts:
        return pd.DataFrame()
    long = [len(part["session"]) for part in parts]
    columns = {
        name: np.concatenate(
            [np.broadcast_to(part[name], n) for part, n in zip(parts, long, strict=True)]
        )
        for name in parts[0]
    }
    return pd.DataFrame(columns)


def _in_row(away: Array) -> npt.NDArray[np.int_]:
    """Count how many values in a row, up to each, lie on one side; shape (histories, sessions)."""
    counted = np.ones(away.shape, dtype=int)
    for place in range(1, away.shape[1]):
        same = np.sign(away[:, place]) == np.sign(away[:, place - 1])
        same &= away[:, place] != 0
        counted[:, place] = np.where(same, counted[:, place - 1] + 1, 1)
    return counted


@cache
def _reach_and_run(sessions: int, share: float) -> tuple[float, int]:
    """Return what at most a share of steady histories go beyond: reach in sd, values in a row."""
    farthest, longest = _steady(sessions)
    reach = float(np.quantile(farthest, 1 - share, method="higher"))
    return reach, int(np.quantile(longest, 1 - share, method="higher")) + 1


@cache
def _steady(sessions: int) -> tuple[Array, npt.NDArray[np.int_]]:
    """Simulate steady histories: farthest value in standard deviations, and longest row.

    40,000 of independent normal values, centre and standard deviation found as
    in the chart; seed 7870.
    """
    values = np.random.default_rng(7870).normal(size=(STEADY, sessions))
    away = values - values.mean(axis=1, keepdims=True)
    sigma = np.abs(np.diff(values, axis=1)).mean(axis=1) / MOVING_RANGE
    return np.abs(away).max(axis=1) / sigma, _in_row(away).max(axis=1)
