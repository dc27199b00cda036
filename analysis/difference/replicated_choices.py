"""Several right-or-wrong answers by each assessor.

Where nobody can tell the samples apart, every answer is an independent guess,
so the count of all right answers keeps its exact binomial p. Once some can and
others cannot, answers of one assessor hang together: intervals for the
population of assessors must allow for that, here by the beta-binomial model.

References
----------
Kunert & Meyners, Food Quality and Preference 10 (1999) 477-482, on the exact
test; beta-binomial with mean mu and correlation gamma, variance inflated by
``1 + (m - 1) gamma`` (Ennis & Bi, J. Sensory Studies 13 (1998) 389-412).
Tarone, Biometrika 66 (1979) 585-590, for the statistic against equal shares.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import comb

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.optimize import minimize, minimize_scalar
from scipy.special import gammaln
from scipy.stats import binom

from ...rounding import half_up
from ..core.errors import NotEstimable, OptionError
from ..core.options import share_of, whole
from ..core.p_values import holds
from ..core.result import Interval, Result
from ..core.wording import p_words, percent, short, stated_percent, test_word
from ..core.words import Sentence
from ..inference.profile_likelihood import likelihood_interval
from .critical_counts import needed
from .psychometric import named

Floats = npt.NDArray[np.float64]
Counts = Sequence[int] | npt.NDArray[np.int64]
_EDGE_GAMMA = 0.99
FEW = 6
"""Assessors below which it is said that little is known of others."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Replicated(Result):
    """Outcome of a replicated test of difference.

    Attributes
    ----------
    test : str
    assessors, n, correct : int
        Assessors, all answers, right answers.
    chance, alpha, p : float
        Share by guessing; stated risk; exact p of all answers together.
    needed : int or None
        Right answers needed among all.
    significant : bool
    mu, gamma : float
        Mean share of right answers over assessors, and the correlation of
        answers of one assessor (0 = alike assessors), by highest likelihood.
    mu_interval, distinguishers_interval : Interval
        Likelihood limits of `mu`, and the same as proportion of distinguishers.
    distinguishers : float
        ``(mu - chance) / (1 - chance)``; raw, told as 0 where it is below.
    inflation : float
        ``1 + (m - 1) gamma`` with the mean number m of answers an assessor.
    loglik, loglik_binomial : float
        Log-likelihoods with and without overdispersion.
    overdispersion_p : float
        Exact p, given all right answers, that assessors differ no more than by chance.
    table : DataFrame
        ``assessor, correct, n, p`` with each one's own exact p.
    """

    test: str
    assessors: int
    n: int
    correct: int
    chance: float
    alpha: float
    p: float
    needed: int | None
    significant: bool
    mu: float
    gamma: float
    mu_interval: Interval
    distinguishers: float
    distinguishers_interval: Interval
    inflation: float
    loglik: float
    loglik_binomial: float
    overdispersion_p: float
    table: pd.DataFrame

    def sentences(self) -> tuple[Sentence, ...]:
        """Say the verdict, what may be said of other assessors, and whether they differ."""
        low, high, level = self.distinguishers_interval
        first = Sentence.of(
            "replicated.counted",
            test=test_word(self.test),
            correct=self.correct,
            n=self.n,
            assessors=self.assessors,
            guessed=f"{float(half_up(self.n * self.chance)):g}",
            p=p_words(self.p),
        )
        verdict = Sentence.of(
            "replicated.shown" if self.significant else "replicated.not_shown",
            alpha=self.alpha,
            needed=self.needed if self.needed is not None else Sentence.of("paired.not_reachable"),
        )
        people = Sentence.of(
            "replicated.people",
            pd=percent(max(0.0, self.distinguishers)),
            low=percent(low),
            high=percent(high),
            level=stated_percent(level),
        )
        spread = Sentence.of(
            "replicated.overdispersed"
            if holds(self.overdispersion_p, self.alpha)
            else "replicated.not_overdispersed",
            p=p_words(self.overdispersion_p),
            gamma=short(self.gamma, 2),
            inflation=short(self.inflation, 2),
        )
        return first, verdict, people, spread

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return the counts by assessor."""
        return {"replicated.table": self.table.copy()}


def replicated(
    test: str,
    correct: Counts,
    n: Counts | int,
    *,
    assessors: Sequence[str] | None = None,
    alpha: float = 0.05,
    level: float = 0.95,
) -> Replicated:
    """Test for a difference with several answers by each assessor.

    Parameters
    ----------
    test : str
        A name in `psychometric.TESTS`.
    correct : sequence of int, shape (assessors,)
        Right answers of each assessor.
    n : int or sequence of int, shape (assessors,)
        Answers of each assessor.
    assessors : sequence of str, optional
        Their names; numbered otherwise.
    alpha : float
        Risk of finding a difference where there is none.
    level : float
        Confidence level of the intervals.

    Returns
    -------
    Replicated

    Raises
    ------
    OptionError
        For counts that do not fit.
    NotEstimable
        For one assessor, or if nobody answered twice.

    Examples
    --------
    >>> result = replicated("triangle", [0, 1, 1, 2, 2, 2, 3, 3, 4, 4, 1, 2], 4)
    >>> round(result.mu, 6), round(result.gamma, 6)
    (0.522266, 0.139753)
    """
    choice = named(test)
    share_of("alpha", alpha)
    share_of("level", level)
    right, given = _checked(correct, n)
    total, answers = int(right.sum()), int(given.sum())
    mu, gamma, best = _fit(right, given)
    limits = _mu_interval(right, given, mu, level)
    least = needed(answers, choice.chance, alpha)
    names = list(assessors) if assessors is not None else [str(i + 1) for i in range(len(right))]
    table = pd.DataFrame(
        {
            "assessor": names,
            "correct": right,
            "n": given,
            "p": binom.sf(right - 1, given, choice.chance),
        }
    )
    return Replicated(
        test=test,
        assessors=len(right),
        n=answers,
        correct=total,
        chance=choice.chance,
        alpha=alpha,
        p=float(binom.sf(total - 1, answers, choice.chance)),
        needed=least,
        significant=least is not None and total >= least,
        mu=mu,
        gamma=gamma,
        mu_interval=limits,
        distinguishers=choice.distinguishers(mu),
        distinguishers_interval=Interval(
            max(0.0, choice.distinguishers(limits.low)),
            max(0.0, choice.distinguishers(min(1.0, limits.high))),
            level,
        ),
        inflation=1 + (answers / len(right) - 1) * gamma,
        loglik=best,
        loglik_binomial=loglik(right, given, total / answers, 0.0),
        overdispersion_p=overdispersion_p(right, given),
        table=table,
        warnings=(Sentence.of("replicated.few", n=len(right)),) if len(right) < FEW else (),
    )


def loglik(
    correct: npt.NDArray[np.int64], n: npt.NDArray[np.int64], mu: float, gamma: float
) -> float:
    """Return the beta-binomial log-likelihood, binomial coefficients included.

    ``prod (mu + r t) prod (1 - mu + r t) / prod (1 + r t)`` with
    ``t = gamma / (1 - gamma)``, which also holds at gamma = 0.
    """
    t = gamma / (1 - gamma)
    steps = np.arange(int(n.max()))
    with np.errstate(divide="ignore"):
        up = np.concatenate([[0.0], np.cumsum(np.log(mu + steps * t))])
        down = np.concatenate([[0.0], np.cumsum(np.log(1 - mu + steps * t))])
        whole_ = np.concatenate([[0.0], np.cumsum(np.log(1 + steps * t))])
    ways = gammaln(n + 1) - gammaln(correct + 1) - gammaln(n - correct + 1)
    return float(np.sum(ways + up[correct] + down[n - correct] - whole_[n]))


def overdispersion_p(correct: npt.NDArray[np.int64], n: npt.NDArray[np.int64]) -> float:
    """Return the exact p that assessors differ no more than by chance, all right answers given.

    The statistic is the sum of ``(correct - n p)^2``; its distribution is that
    of drawing the right answers at random from all answers.
    """
    total, answers = int(correct.sum()), int(n.sum())
    share = total / answers
    observed = float(np.sum((correct - n * share) ** 2))
    states: dict[tuple[int, float], float] = {(0, 0.0): 1.0}
    for size in n.tolist():
        following: dict[tuple[int, float], float] = {}
        for (right, spread), ways in states.items():
            for k in range(min(size, total - right) + 1):
                key = (right + k, round(spread + (k - size * share) ** 2, 8))
                following[key] = following.get(key, 0.0) + ways * comb(size, k)
        states = following
        if len(states) > 200_000:
            raise NotEstimable("replicated.too_large")
    ends = [(spread, ways) for (right, spread), ways in states.items() if right == total]
    extreme = sum(ways for spread, ways in ends if spread >= observed - 1e-6)
    return extreme / sum(ways for _, ways in ends)


def _checked(
    correct: Counts, n: Counts | int
) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    right = np.array([whole("correct", k, 0) for k in correct], dtype=np.int64)
    if isinstance(n, (int, np.integer)):
        given = np.full(len(right), whole("n", int(n), 1), dtype=np.int64)
    else:
        given = np.array([whole("n", k, 1) for k in n], dtype=np.int64)
    if len(right) != len(given) or np.any(right > given):
        raise OptionError("replicated.bad_counts")
    if len(right) < 2 or given.max() < 2:
        raise NotEstimable("replicated.not_replicated", n=len(right))
    return right, given


def _fit(right: npt.NDArray[np.int64], given: npt.NDArray[np.int64]) -> tuple[float, float, float]:
    """Return mu, gamma and the highest log-likelihood."""
    pooled = right.sum() / given.sum()
    if pooled in {0.0, 1.0}:
        return float(pooled), 0.0, loglik(right, given, float(pooled), 0.0)
    best = (float(pooled), 0.0, loglik(right, given, float(pooled), 0.0))

    def unlikely(x: Floats) -> float:
        return -loglik(right, given, float(x[0]), float(x[1]))

    for start in (0.02, 0.3):
        found = minimize(
            unlikely,
            np.array([pooled, start]),
            bounds=[(1e-6, 1 - 1e-6), (0.0, _EDGE_GAMMA)],
            method="L-BFGS-B",
            options={"ftol": 1e-14, "gtol": 1e-9},
        )
        if -found.fun > best[2]:
            best = (float(found.x[0]), float(found.x[1]), float(-found.fun))
    return best


def _mu_interval(
    right: npt.NDArray[np.int64],
    given: npt.NDArray[np.int64],
    mu: float,
    level: float,
) -> Interval:
    def profile(share: float) -> float:
        found = minimize_scalar(
            lambda gamma: -loglik(right, given, share, gamma),
            bounds=(0.0, _EDGE_GAMMA),
            method="bounded",
            options={"xatol": 1e-8},
        )
        return max(float(-found.fun), loglik(right, given, share, 0.0))

    found = likelihood_interval(profile, mu, level=level, low=1e-9, high=1 - 1e-9)
    low = 0.0 if found.low <= 1e-9 else found.low
    return Interval(low, min(1.0, found.high), level)
