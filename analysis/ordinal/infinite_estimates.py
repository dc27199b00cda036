"""Samples whose categories do not overlap: no finite estimate fits them best.

If every score of one bottle lies above every score of the others, the fit
improves for ever as the difference grows. A linear program finds out whether
there is such a direction, and which samples it pulls apart.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.optimize import linprog

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
_TINY = 1e-7


def run_away(y: Ints, sample: Ints, design: Floats, contrasts: Floats) -> Floats:
    """Return, for each contrast of effects, where its maximum-likelihood estimate lies.

    Parameters
    ----------
    y : ndarray of int, shape (n,)
        Categories from 0, none empty.
    sample : ndarray of int, shape (n,)
        Which row of the design each answer has.
    design : ndarray, shape (s, p)
        Design of the samples without intercept, of full column rank.
    contrasts : ndarray, shape (m, k + p)
        Combinations of the k thresholds and p effects.

    Returns
    -------
    ndarray, shape (m,)
        0 finite, +inf or -inf, nan if the data leave it open in both directions.

    Notes
    -----
    A direction (t, b) of thresholds and effects in which the likelihood never falls
    has ``t[y-1] <= x'b <= t[y]`` for all answers. A contrast runs away if it can be
    moved along such a direction. Where every sample has one effect or none, as it has unless
    factors are fitted, these say only which of two is never the lower one: what follows from
    them is what can be reached from one to the other, and no program needs to be solved.

    References
    ----------
    Albert and Anderson (1984), Biometrika 71:1-10, for binary and nominal answers.
    """
    category, alike = np.unique(np.stack([y, sample]), axis=1)
    design = design[alike]
    if _of_one(design, contrasts):
        return _by_order(category, design, contrasts)
    return _by_programs(category, design, contrasts)


def _of_one(design: Floats, contrasts: Floats) -> bool:
    """Say whether samples have one effect or none, and contrasts set one or two side by side."""
    one_or_none = np.isin(design, (0, 1)).all() and (design.sum(axis=1) <= 1).all()
    sides = [(contrasts == way).sum(axis=1) for way in (1, -1)]
    plain = np.isin(contrasts, (-1, 0, 1)).all() and all((side <= 1).all() for side in sides)
    return bool(one_or_none and plain)


def _by_order(category: Ints, design: Floats, contrasts: Floats) -> Floats:
    """Return the verdicts from who is never below whom: thresholds, effects, and 0 as the last."""
    k, p = int(category.max()), design.shape[1]
    ground = k + p
    of_row = np.where(design.any(axis=1), k + design.argmax(axis=1), ground)
    below, above = category < k, category > 0
    high = np.concatenate([category[below], of_row[above]])
    low = np.concatenate([of_row[below], category[above] - 1])
    never_below = np.eye(ground + 1, dtype=bool)
    never_below[high, low] = True
    for through in range(ground + 1):  # Warshall: by way of one after the other
        never_below |= never_below[:, [through]] & never_below[through]
    verdicts = np.zeros(len(contrasts))
    if never_below[low, high].all():
        return verdicts
    first, second = (
        np.where((contrasts == way).any(axis=1), (contrasts == way).argmax(axis=1), ground)
        for way in (1, -1)
    )
    up, down = ~never_below[second, first], ~never_below[first, second]
    verdicts[up], verdicts[down] = np.inf, -np.inf
    verdicts[up & down] = np.nan
    return verdicts


def _by_programs(category: Ints, design: Floats, contrasts: Floats) -> Floats:
    """Return the verdicts from a linear program for each contrast and way."""
    k, p = int(category.max()), design.shape[1]
    below, above = category < k, category > 0
    # Slack as A @ (t, b) >= 0: thresholds above their answers, answers above the one below.
    slack = np.zeros((int(below.sum() + above.sum()), k + p))
    first, second = np.arange(below.sum()), below.sum() + np.arange(above.sum())
    slack[first, category[below]] = 1
    slack[first, k:] = -design[below]
    slack[second, category[above] - 1] = -1
    slack[second, k:] = design[above]

    def furthest(goal: Floats) -> float:
        found: Any = linprog(-goal, A_ub=-slack, b_ub=np.zeros(len(slack)), bounds=(-1, 1))
        return float(goal @ found.x)

    verdicts = np.zeros(len(contrasts))
    if furthest(slack.sum(axis=0)) < _TINY:
        return verdicts
    for row, contrast in enumerate(contrasts):
        up, down = furthest(contrast) > _TINY, furthest(-contrast) > _TINY
        verdicts[row] = np.nan if up and down else np.inf if up else -np.inf if down else 0.0
    return verdicts
