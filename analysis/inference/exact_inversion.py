"""Exact limits where another parameter is unknown as well, from every outcome of a small study.

A limit is the outermost value of the parameter that a one-sided test does not
reject; the test's p is the largest over all values of the other parameter, so
the limits hold the truth at least as often as they say, whatever it is. The
statistic is the signed root of the likelihood ratio.

References
----------
Chan & Zhang (1999), Biometrics 55:1202-1209 (inverting two one-sided exact
unconditional tests). Barndorff-Nielsen & Cox (1994), Inference and Asymptotics
(signed root).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from math import inf

import numpy as np
import numpy.typing as npt

from ..core.result import Interval

Floats = npt.NDArray[np.float64]
MOST_EXACT = 2_700
"""Outcomes up to which limits are found this way; with more, likelihood limits do."""
_TIE = 1e-7
_COARSE_POINTS = 33


@dataclass(frozen=True, slots=True)
class Outcomes:
    """All outcomes of a study with one parameter of interest and one other.

    Attributes
    ----------
    logpmf : callable
        Value of the parameter -> log probabilities, shape (values of the
        other, outcomes); the values of the other are a grid over its range.
    best : ndarray, shape (outcomes,)
        Highest log-likelihood of each outcome.
    estimates : ndarray, shape (outcomes,)
        Its estimate of the parameter, maybe infinite.
    """

    logpmf: Callable[[float], Floats]
    best: Floats
    estimates: Floats

    def limits(self, seen: int, low: float, high: float, level: float = 0.95) -> Interval:
        """Return the limits for the outcome `seen`.

        Parameters
        ----------
        seen : int
            Index of the outcome.
        low, high : float
            Range that is searched; a limit that is not met inside it is `low`
            or infinity.
        level : float
            Confidence level, 0 to 1; each side errs at most half of the rest.
        """
        tail = (1 - level) / 2
        grid = np.linspace(low, high, _COARSE_POINTS)
        middle = min(max(float(self.estimates[seen]), low), high)
        lower, upper = low, inf
        below = [float(x) for x in grid if x < middle]
        for outer, inner in pairwise([*below, middle]):
            if self._p(seen, inner, 1) > tail:
                if self._p(seen, outer, 1) <= tail:
                    lower = self._between(seen, outer, inner, 1, tail)
                break
        above = [float(x) for x in grid[::-1] if x > middle]
        for outer, inner in pairwise([*above, middle]):
            if self._p(seen, inner, -1) > tail:
                if self._p(seen, outer, -1) <= tail:
                    upper = self._between(seen, outer, inner, -1, tail)
                break
        return Interval(lower, upper, level)

    def _p(self, seen: int, value: float, side: int) -> float:
        """Return the chance of an outcome as far above (1) or below (-1) `value` as the seen."""
        logs = self.logpmf(value)
        ratio = np.maximum(self.best - logs.max(axis=0), 0.0)
        root = side * np.sign(self.estimates - value) * np.sqrt(ratio)
        return float(np.exp(logs[:, root >= root[seen] - _TIE]).sum(axis=1).max())

    def _between(self, seen: int, outer: float, inner: float, side: int, tail: float) -> float:
        """Halve the gap between a rejected and a kept value; return the rejected end."""
        while abs(inner - outer) > 1e-4:
            middle = (inner + outer) / 2
            if self._p(seen, middle, side) > tail:
                inner = middle
            else:
                outer = middle
        return outer
