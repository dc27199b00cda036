"""Samples beside each other at every place of an axis, told apart by shape and ink."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import pandas as pd

from ..core.look import mark


@dataclass(frozen=True, slots=True)
class Series:
    """What is drawn of one sample.

    Attributes
    ----------
    sample, shape, ink, filling : str
    at : list of float
        Where its means stand along the axis of attributes.
    means : DataFrame
        Its rows, in the order of `at`.
    """

    sample: str
    shape: str
    ink: str
    filling: str
    at: list[float]
    means: pd.DataFrame


def side_by_side(
    means: pd.DataFrame, samples: Sequence[str], order: Sequence[str], share: float
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
    """
    step = share / max(len(samples), 1)
    for place, sample in enumerate(samples):
        shape, ink = mark(place)
        own = means[means["sample"] == sample].set_index("attribute")
        places = [rank for rank, name in enumerate(order) if name in own.index]
        yield Series(
            sample,
            shape,
            ink,
            ink if place % 2 == 0 else "white",
            [rank + (place - (len(samples) - 1) / 2) * step for rank in places],
            own.loc[[order[rank] for rank in places]],
        )
