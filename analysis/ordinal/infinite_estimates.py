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
    moved along such a direction.

    References
    ----------
    Albert and Anderson (1984), Biometrika 71:1-10, for binary and nominal answers.
    """
    category, alike = np.unique(np.stack([y, sample]), axis=1)
    design = design[alike]
    k, p = int(y.max()), design.shape[1]
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
