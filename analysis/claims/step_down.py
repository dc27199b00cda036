"""The weighted step-down: questions and pairs refused one after another, error held throughout.

The smallest p over its weight goes first. It is claimed if at most 5 in 100
shuffles hold anything as small among the questions that are still open. A
question stays open, and keeps its share of the error, until all of its pairs
are claimed: while two of its bottles may still be alike, something false could
still be said about it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..core.ratings_matrix import Floats
from .closed_pairs import ClosedPairs

_ALIKE = 1 + 1e-9


@dataclass(slots=True)
class StatedQuestion:
    """One question on its way through the step-down.

    Attributes
    ----------
    q : ndarray, shape (shuffles,), or None
        p over weight under every shuffle; None for a question that is not
        about differences between bottles and whose p is exact.
    weight : float
    p : float
        p of the data.
    pairs : ClosedPairs, optional
        The pairs that can be told; without, the question is one statement.
    adjusted : float
        Share of shuffles that hold anything as small; set by `step_down`.
    pair_adjusted : ndarray
        The same for each pair.
    """

    q: Floats | None
    weight: float
    p: float
    pairs: ClosedPairs | None
    adjusted: float = 1.0
    pair_adjusted: Floats | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Steps:
    """Where the step-down began and ended.

    Attributes
    ----------
    first, last : float
        p that a question of weight 1 needed at the first step, and with the
        questions that were open at the end.
    """

    first: float
    last: float


def step_down(questions: Sequence[StatedQuestion], level: float) -> Steps:
    """Adjust the p values of all questions and pairs, in place.

    Parameters
    ----------
    questions : sequence of StatedQuestion
    level : float
        Familywise error that is held.

    Returns
    -------
    Steps

    Notes
    -----
    The sequential rejection principle (Goeman & Solari 2010, Ann. Stat.
    38:3782-3810): with the shuffles' smallest p over weight for the questions
    that are about all bottles (Westfall & Young 1993), Bonferroni's sum for the
    exact ones, and closed testing of partitions for the pairs.
    """
    open_ones = list(range(len(questions)))
    first = last = needed([questions[n] for n in open_ones], level)
    best = {n: _best(questions[n]) for n in open_ones}
    for one in questions:
        if one.pairs is not None:
            one.pair_adjusted = np.ones(len(one.pairs.open))
    reached = 0.0
    smallest = _smallest(questions, open_ones)
    while open_ones:
        number = min(open_ones, key=lambda n: best[n][0])
        q, pair = best[number]
        one = questions[number]
        reached = max(reached, min(_share(questions, open_ones, smallest, q), 1.0))
        one.adjusted = min(one.adjusted, reached)
        if one.pairs is not None and one.pair_adjusted is not None:
            one.pair_adjusted[pair] = reached
            one.pairs.refuse(pair)
        if one.pairs is None or not one.pairs.open.any():
            open_ones.remove(number)
            smallest = _smallest(questions, open_ones)
        else:
            best[number] = _best(one)
        if reached <= level:
            last = needed([questions[n] for n in open_ones], level)
        if reached >= 1:
            break
    return Steps(first, last)


def needed(questions: Sequence[StatedQuestion], level: float) -> float:
    """Return the largest p over weight that would still be claimed first; 1 if nothing is open."""
    if not questions:
        return 1.0
    smallest = _smallest(questions, range(len(questions)))
    exact = sum(one.weight for one in questions if one.q is None)
    if smallest is None:
        return level / exact
    ordered = np.sort(smallest)
    share = np.searchsorted(ordered, ordered * _ALIKE, side="right") / len(ordered)
    able = share + ordered * exact <= level
    return float(ordered[able].max()) if able.any() else float(ordered[0] / 2)


def _smallest(questions: Sequence[StatedQuestion], chosen: Sequence[int]) -> Floats | None:
    columns = [q for q in (questions[n].q for n in chosen) if q is not None]
    return np.min(columns, axis=0) if columns else None


def _share(
    questions: Sequence[StatedQuestion], open_ones: Sequence[int], smallest: Floats | None, q: float
) -> float:
    """Return the share of shuffles with anything as small, plus what the exact ones add."""
    exact = sum(questions[n].weight for n in open_ones if questions[n].q is None)
    shuffled = 0.0 if smallest is None else float((smallest <= q * _ALIKE).mean())
    return shuffled + q * exact


def _best(one: StatedQuestion) -> tuple[float, int]:
    """Return the smallest p over weight among what is open, and its pair."""
    if one.pairs is None:
        return one.p / one.weight, -1
    p = one.pairs.p()
    pair = int(np.nanargmin(p))
    return float(p[pair]) / one.weight, pair
