"""How many sessions does it take until progress of a student can be shown at all?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from ..core.options import share_of
from ..core.result import Result
from ..core.wording import percent, stated_percent
from ..core.words import Sentence
from .progress_tests import COURSE

MOST_SESSIONS = 24
"""Sessions beyond which a plan is no plan: more bottles a session are needed."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Retest(Result):
    """What it takes to show that a distance from the expert shrank.

    Attributes
    ----------
    log_error : float
        Standard error of the log of a session's distance, as this class has it.
    n_bottles : int
        Bottles a session that it belongs to.
    ratio : float
        The change to be shown: last distance by first.
    sessions : int or None
        Sessions like these until it is shown with probability `power`; None beyond
        `MOST_SESSIONS`.
    bottles : int or None
        Bottles a session with which three sessions would do.
    power, alpha : float
        `alpha`: the risk of one test under the rule of the class.
    """

    log_error: float
    n_bottles: int
    ratio: float
    sessions: int | None
    bottles: int | None
    power: float
    alpha: float

    def sentences(self) -> tuple[Sentence, ...]:
        """Say how many sessions, or how many bottles in three."""
        values = {"ratio": percent(self.ratio), "power": stated_percent(self.power),
                  "bottles": self.n_bottles}  # fmt: skip
        if self.sessions is None:
            return (Sentence.of("teaching.retest_never", **values),)
        said = Sentence.of("teaching.retest", n=self.sessions, **values)
        if self.bottles is None or self.sessions <= COURSE:
            return (said,)
        return (said, Sentence.of("teaching.retest_bottles", n=self.bottles))


def change_error(log_error: float, sessions: int) -> float:
    """Return the standard error of the log ratio, last by first, on a line through all sessions."""
    x = np.arange(sessions) - (sessions - 1) / 2
    return log_error * (sessions - 1) / float(np.sqrt((x**2).sum()))


def retest(
    log_error: float, n_bottles: int, *, ratio: float = 0.5, alpha: float, power: float = 0.8
) -> Retest:
    """Plan the sessions that can show a change of a distance.

    Parameters
    ----------
    log_error : float
        Standard error of the log of one session's distance, over 0.
    n_bottles : int
        Bottles a session that it was found with; the error falls with their square root.
    ratio : float
        Last distance by first that should be shown (0 to 1); half by default.
    alpha : float
        Risk of one test, two-sided.
    power : float

    Returns
    -------
    Retest

    Notes
    -----
    A t test on a line through the logs of S sessions: enough are the fewest S, three at
    least, with ``|log ratio| >= (t_{1-alpha/2} + t_{power}) se`` and S (bottles - 1) degrees of
    freedom.
    """
    share_of("ratio", ratio)
    share_of("alpha", alpha)
    share_of("power", power)

    def enough(sessions: int, bottles: int) -> bool:
        df = sessions * (bottles - 1)
        error = change_error(log_error * float(np.sqrt(n_bottles / bottles)), sessions)
        wanted = float(stdtrit(df, 1 - alpha / 2)) + float(stdtrit(df, power))
        return abs(float(np.log(ratio))) >= wanted * error

    sessions = next((n for n in range(COURSE, MOST_SESSIONS + 1) if enough(n, n_bottles)), None)
    bottles = next((n for n in range(n_bottles, 4 * n_bottles + 1) if enough(COURSE, n)), None)
    return Retest(
        log_error=log_error,
        n_bottles=n_bottles,
        ratio=ratio,
        sessions=sessions,
        bottles=bottles,
        power=power,
        alpha=alpha,
    )
