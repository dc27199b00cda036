"""Is a map more than noise? Assessors drawn anew, scores dealt out again, pair by pair."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import combinations, product

import numpy as np
import numpy.typing as npt
import pandas as pd

from ..core.p_values import holds
from ..inference.adjusted_p import adjust

Floats = npt.NDArray[np.float64]
ALL_WAYS = 12
PERMUTATIONS = 1999
_AT_ONCE = 2_000_000


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Space:
    """Where samples stand, as a function of the sums over assessors.

    Attributes
    ----------
    data : ndarray, shape (assessors, samples, attributes)
        Answers, holes filled.
    place : callable
        From sums over assessors, shape (…, attributes), and their number to
        positions in the whole space, in which distances are meant.
    axes : ndarray, shape (attributes, dimensions)
        Of the map; fixed.
    middle : ndarray, shape (attributes,)
        Position of the map's origin in the whole space.
    metric : callable, optional
        Like `place`, for the tests; by default `place` itself. It must not
        depend on which answers belong to which sample.
    tested : ndarray, optional
        Like `data`, for the tests: filled cells in the middle of the assessor's
        others, which does not depend on the sample either.
    """

    data: Floats
    place: Callable[[Floats, int], Floats]
    axes: Floats
    middle: Floats
    metric: Callable[[Floats, int], Floats] | None = None
    tested: Floats | None = None

    @property
    def dealt(self) -> Floats:
        """The answers that the tests deal out."""
        return self.data if self.tested is None else self.tested

    def positions(self, data: Floats) -> Floats:
        """Return the positions on the map of a drawn panel's samples."""
        on_map: Floats = (self.place(data.sum(axis=0), len(data)) - self.middle) @ self.axes
        return on_map

    def compared(self, sums: Floats) -> Floats:
        """Return positions in the whole space, for the tests."""
        return (self.metric or self.place)(sums, len(self.data))


def means_in(unit: Floats | float = 1.0) -> Callable[[Floats, int], Floats]:
    """Return the `Space.place` that takes means over assessors, in units of each attribute."""

    def place(total: Floats, n: int) -> Floats:
        placed: Floats = total / n / unit
        return placed

    return place


def cloud_of(space: Space, *, draws: int, seed: int) -> Floats:
    """Draw assessors again and again and place each panel on the same axes.

    Returns
    -------
    ndarray, shape (usable draws, samples, dimensions)
        Draws in which a sample has no position are left out.
    """
    generator = np.random.default_rng(seed)
    n = len(space.data)
    placed = [space.positions(space.data[generator.integers(n, size=n)]) for _ in range(draws)]
    return np.array([one for one in placed if np.isfinite(one).all()])


def whole_p(space: Space, *, permutations: int = PERMUTATIONS, seed: int = 1) -> float:
    """Test whether samples spread more than answers dealt out at random would.

    Every assessor's rows are dealt to the samples anew, each assessor apart.
    The statistic is the sum of squared distances from the middle.
    """
    generator = np.random.default_rng(seed)
    n, samples, attributes = space.data.shape
    seen = _spread(space.compared(space.dealt.sum(axis=0)))
    people = np.arange(n)[:, None]
    as_much, left = 0, permutations
    while left:
        size = max(1, min(left, _AT_ONCE // (n * samples * attributes)))
        orders = generator.random((size, n, samples)).argsort(axis=2)
        dealt = _spread(space.compared(space.dealt[people, orders].sum(axis=1)))
        as_much += int((dealt >= seen * (1 - 1e-12)).sum())
        left -= size
    return (1 + as_much) / (permutations + 1)


def _spread(positions: Floats) -> Floats:
    """Return the sum of squared distances from the middle; samples are the last but one axis."""
    centred = positions - positions.mean(axis=-2, keepdims=True)
    squared: Floats = np.nansum(centred**2, axis=(-2, -1))
    return squared


def pair_tests(samples: list[str], space: Space, *, level: float, seed: int = 1) -> pd.DataFrame:
    """Compare every two samples by exchanging their answers, assessor by assessor.

    Up to 12 assessors all ways are gone through, so that p is exact; above,
    4,095 random ones (seed given) with the observed one counted in.

    Returns
    -------
    DataFrame
        As `Map.pairs`.
    """
    n = len(space.data)
    if n <= ALL_WAYS:
        signs = np.array(list(product((1.0, -1.0), repeat=n)))
    else:
        generator = np.random.default_rng(seed)
        signs = np.vstack([np.ones(n), generator.choice([1.0, -1.0], size=(4095, n))])
    rows = []
    for i, j in combinations(range(len(samples)), 2):
        both = (space.dealt[:, i] + space.dealt[:, j]).sum(axis=0)
        difference = signs @ (space.dealt[:, i] - space.dealt[:, j])
        gap = space.compared((both + difference) / 2) - space.compared((both - difference) / 2)
        squared = np.nansum(gap**2, axis=1)
        rows.append(
            {
                "first": samples[i],
                "second": samples[j],
                "distance": math.sqrt(squared[0]),
                "p": float((squared >= squared[0] * (1 - 1e-9)).mean()),
            }
        )
    table = pd.DataFrame(rows)
    holm = adjust(table["p"])
    return table.assign(holm=holm, apart=holds(holm, 1 - level))
