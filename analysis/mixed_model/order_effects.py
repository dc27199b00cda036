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

from .block_layout import Array, Whole

_CUP = ["session", "assessor", "replicate", "position", "sample"]


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
    def of(cls, data: pd.DataFrame, unscored: pd.DataFrame, samples: tuple[str, ...]) -> Order:
        """Find what was served before each row of `data`.

        The one before is the cup of the same assessor and session (and, where
        positions start again with each replicate, the same replicate) at the
        next lower position, whether it was scored or not.
        """
        cups = pd.concat([data[_CUP], unscored[_CUP]], ignore_index=True).dropna(
            subset=["position"]
        )
        where = ["session", "assessor", "position"]
        flight = ["session", "assessor"]
        if cups.drop_duplicates([*where, "sample"]).duplicated(where).any():
            flight.append("replicate")
        columns = [*flight, "position", "sample"]
        cups = cups.drop_duplicates(columns).sort_values(columns)[columns]
        cups["before"] = cups.groupby(flight, dropna=False)["sample"].shift()
        joined = data[columns].merge(cups, how="left", on=columns)
        return cls(
            data["position"].to_numpy(np.int64),
            pd.Index(samples).get_indexer(pd.Index(joined["before"])).astype(np.int64) + 1,
        )


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
