"""All answers of a session by attribute, assessor and bottle, put together once."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from ..core.ratings_matrix import Floats, rounding_variance
from ..core.tidy_table import Tidy


class CellTable:
    """Answers by attribute, assessor and bottle.

    Parameters
    ----------
    checked : Tidy
    assessors, samples : sequence of str
        The rows and columns wanted; answers of others are left out.
    """

    def __init__(self, checked: Tidy, assessors: Sequence[str], samples: Sequence[str]) -> None:
        data = checked.data
        self.assessors, self.samples = list(assessors), list(samples)
        self._row = pd.Index(self.assessors).get_indexer(pd.Index(data["assessor"]))
        self._column = pd.Index(self.samples).get_indexer(pd.Index(data["sample"]))
        number, names = pd.factorize(data["attribute"])
        self._score = data["score"].to_numpy(float)
        self.attributes = [str(name) for name in names]
        kept = (self._row >= 0) & (self._column >= 0)
        self._of = {
            name: np.flatnonzero(kept & (number == place))
            for place, name in enumerate(self.attributes)
        }

    def __contains__(self, attribute: object) -> bool:
        return attribute in self._of

    def scores(self, attribute: str) -> Floats:
        """Return all answers of an attribute."""
        return np.asarray(self._score[self._of[attribute]])

    def count(self, attribute: str) -> Floats:
        """Return the number of answers a cell, shape (assessors, bottles)."""
        return self._sum(attribute, np.ones(len(self._of[attribute])))

    def means(self, attribute: str) -> Floats:
        """Return the mean of each cell; nan where there is no answer."""
        count = self.count(attribute)
        total = self._sum(attribute, self.scores(attribute))
        return np.where(count > 0, total / np.maximum(count, 1), np.nan)

    def noted(self, attribute: str) -> Floats:
        """Return 1 where any answer is above 0, 0 where none is, nan where there is no answer."""
        above = self._sum(attribute, (self.scores(attribute) > 0).astype(float))
        return np.where(self.count(attribute) > 0, np.minimum(above, 1.0), np.nan)

    def sides(self, attribute: str) -> tuple[Floats, Floats, Floats]:
        """Return the numbers of answers below 0, at 0 and above 0, each a cell."""
        scores = self.scores(attribute)
        below, at, above = (
            self._sum(attribute, kind.astype(float))
            for kind in (scores < 0, scores == 0, scores > 0)
        )
        return below, at, above

    def floor(self, attribute: str) -> float:
        """Return the variance of a cell's mean that writing in whole steps makes."""
        count = self.count(attribute)
        filled = count > 0
        if not filled.any():
            return 0.0
        return rounding_variance(self.scores(attribute)) * float((1 / count[filled]).mean())

    def _sum(self, attribute: str, values: Floats) -> Floats:
        rows = self._of[attribute]
        total = np.zeros((len(self.assessors), len(self.samples)))
        np.add.at(total, (self._row[rows], self._column[rows]), values)
        return total
