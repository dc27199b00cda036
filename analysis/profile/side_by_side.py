"""Samples beside each other at every place of an axis, told apart by shape and ink."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd

from ..core.look import dash, mark, point


@dataclass(frozen=True, slots=True)
class Series:
    """What is drawn of one sample.

    Attributes
    ----------
    sample, ink : str
    point : dict
        How its means are marked.
    dash : Any
        Of its line.
    at : list of float
        Where its means stand along the axis of attributes.
    means : DataFrame
        Its rows, in the order of `at`.
    """

    sample: str
    ink: str
    point: dict[str, Any]
    dash: Any
    at: list[float]
    means: pd.DataFrame


def side_by_side(
    means: pd.DataFrame,
    samples: Sequence[str],
    order: Sequence[str],
    share: float,
    places: Sequence[int] = (),
) -> Iterator[Series]:
    """Yield what is drawn of each sample, a little beside the others.

    Parameters
    ----------
    means : DataFrame
        ``attribute, sample`` and what is to be drawn.
    samples, order : sequence of str
        Samples and attributes in order; attribute `i` stands at `i`.
    share : float
        Part of the distance between two attributes that the samples take.
    places : sequence of int
        Whose signs the samples have: those of their own places by default.
    """
    step = share / max(len(samples), 1)
    for place, sample in enumerate(samples):
        sign = places[place] if places else place
        own = means[means["sample"] == sample].set_index("attribute")
        ranks = [rank for rank, name in enumerate(order) if name in own.index]
        yield Series(
            sample,
            mark(sign)[1],
            point(sign),
            dash(sign),
            [rank + (place - (len(samples) - 1) / 2) * step for rank in ranks],
            own.loc[[order[rank] for rank in ranks]],
        )
