"""Order, carry-over and session effects: the fixed columns that a serving plan brings in.

The first cup tastes different from the sixth, and a sweet sample makes the
next one taste drier. Where the serving order is recorded, both can be
estimated beside the samples, whose means then stand for the average place
and the average predecessor.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from .blocks import Array, Whole


@dataclass(frozen=True, slots=True, eq=False)
class Effect:
    """A fixed effect besides the samples.

    Attributes
    ----------
    name : str
        ``"position"``, ``"carry_over"`` or ``"session"``.
    columns : array, shape (cells, c)
        Its columns; each level's effects sum to 0.
    labels : tuple of str
        Its levels, or the slope.
    weights : array, shape (levels, c)
        Effect of each level from the coefficients of the columns.
    """

    name: str
    columns: Array
    labels: tuple[str, ...]
    weights: Array


@dataclass(frozen=True, slots=True, eq=False)
class Order:
    """Serving order of each row.

    Attributes
    ----------
    position : integer array, shape (rows,)
        Place in the serving order, from 1.
    before : integer array, shape (rows,)
        1 + the sample served before, 0 for the first of a flight.
    """

    position: Whole
    before: Whole

    @classmethod
    def of(cls, data: pd.DataFrame, assessor: Whole, sample: Whole, session: Whole) -> Order:
        """Find what was served before each row.

        The one before is the row of the same assessor and session (and, where
        positions start again with each replicate, the same replicate) with the
        next lower position.
        """
        position = data["position"].to_numpy(np.int64)
        flight = data["replicate"].fillna(0).to_numpy(np.int64)
        served = pd.DataFrame(
            {"session": session, "assessor": assessor, "position": position, "sample": sample}
        ).drop_duplicates()
        if not served.duplicated(["session", "assessor", "position"]).any():
            flight = np.zeros_like(flight)
        served = pd.DataFrame(
            {
                "session": session,
                "assessor": assessor,
                "flight": flight,
                "position": position,
                "sample": sample,
            }
        )
        cups = served.drop_duplicates().sort_values(["session", "assessor", "flight", "position"])
        shifted = cups.groupby(["session", "assessor", "flight"])["sample"].shift()
        cups["before"] = shifted.fillna(-1).astype(np.int64) + 1
        joined = served.merge(cups, how="left", on=list(served.columns))
        return cls(position, joined["before"].to_numpy(np.int64))


def _sum_to_zero(codes: Whole, levels: int) -> tuple[Array, Array]:
    """Code levels 0, 1, ... (-1: none of them) so that effects sum to 0."""
    weights = np.vstack([np.eye(levels - 1), -np.ones(levels - 1)])
    return np.where((codes >= 0)[:, None], weights[codes], 0.0), weights


def position_columns(position: Whole, kind: str) -> Effect:
    """Code the place in the serving order as a slope per place, or each place by itself."""
    places = np.unique(position)
    if kind == "linear":
        column = (position - places.mean())[:, None]
        return Effect("position", column, ("slope",), np.ones((1, 1)))
    columns, weights = _sum_to_zero(np.searchsorted(places, position), len(places))
    return Effect("position", columns, tuple(str(place) for place in places), weights)


def carry_over_columns(before: Whole, samples: tuple[str, ...]) -> Effect:
    """Code the sample served before; the first of a flight follows none."""
    columns, weights = _sum_to_zero(before - 1, len(samples))
    return Effect("carry_over", columns, samples, weights)


def session_columns(session: Whole, names: tuple[str, ...]) -> Effect:
    """Code sessions by effects that sum to 0."""
    columns, weights = _sum_to_zero(session, len(names))
    return Effect("session", columns, names, weights)
