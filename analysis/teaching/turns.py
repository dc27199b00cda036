"""Did a student turn the order of an attribute round from one session to the next?

Somebody who reads the line the wrong way and is told so mends it at once; the average over
all sessions then says "no relation", which is true of neither part. A turn is shown where
the order runs one way in the first sessions and the other way in all that follow, each by
itself.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from ..core.p_values import holds
from ..inference.adjusted_p import adjust
from .class_scores import ClassScores
from .expert_ground import Ground
from .progress_tests import COURSE
from .student_tests import Test, both_directions


class Turn(NamedTuple):
    """One attribute on which a student's order turned round.

    `before` and `since` are the sessions on either side. `mended`: it follows the expert
    since. `test` is that of the order in `since`, `p` that of the turn (Holm, over attributes).
    """

    attribute: str
    before: list[str]
    since: list[str]
    mended: bool
    test: Test
    p: float


def turns(
    scores: ClassScores, ground: Ground, sessions: Mapping[str, Sequence[str]], alpha: float
) -> dict[str, list[Turn]]:
    """Return the turns of each student that hold over the attributes (Holm at `alpha`).

    Both sides must show their direction, so p is the larger of their one-sided ones, times the
    number of places where the turn might lie. Of somebody whose order follows, or never does,
    two sides would have to err: a clean class shows no turn, and none is taken off its budget.

    Parameters
    ----------
    scores : ClassScores
    ground : Ground
    sessions : mapping of str to sequence of str
        By student: the sessions attended, in order; fewer than `COURSE` show no turn.
    alpha : float
        Of the class: none of it is spent in a class without anything to be told.
    """
    shown: dict[str, list[Turn]] = {who: [] for who in sessions}
    for who, there in sessions.items():
        found = _turns_of(scores, ground, who, list(there)) if len(there) >= COURSE else []
        p = adjust(np.array([turn.p for turn in found])) if found else np.array([])
        for turn, value in zip(found, p.tolist(), strict=True):
            if holds(value, alpha):
                shown[who].append(turn._replace(p=value))
    return shown


def _turns_of(scores: ClassScores, ground: Ground, who: str, there: list[str]) -> list[Turn]:
    """Return the likeliest turn of each attribute: the one that leaves the least scatter."""
    sides = {
        at: both_directions(scores, ground, who, (there[:at], there[at:]))
        for at in range(1, len(there))
    }
    found = []
    for place in sorted({place for tests in sides.values() for place in tests}):
        at, early, late = max(
            ((at, *tests[place]) for at, tests in sides.items() if place in tests),
            key=lambda one: sum((test.value / test.se) ** 2 for test in one[1:]),
        )
        opposite = early.value * late.value < 0
        p = min(1.0, max(early.p, late.p) / 2 * (len(there) - 1)) if opposite else 1.0
        name = scores.attributes[place]
        found.append(Turn(name, there[:at], there[at:], late.value > 0, late, p))
    return found
