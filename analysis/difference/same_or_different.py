"""Same or different: two cups, and the answer is "the same" or "different".

Some people say "different" readily, so pairs of the same sample must be served
as well; what they call the same tells where each puts the border (tau).

References
----------
Macmillan, Kaplan & Creelman, Psychological Review 84 (1977) 452-471, the
differencing rule: ``P(same | same) = 2 Phi(tau / sqrt2) - 1``,
``P(same | different) = Phi((tau - d) / sqrt2) - Phi((-tau - d) / sqrt2)``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from math import inf, nan, sqrt

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.optimize import brentq
from scipy.special import comb, ndtr, ndtri, xlogy

from ..core.options import share_of
from ..core.p_values import holds
from ..core.result import Interval, Result
from ..core.wording import p_words, percent
from ..core.words import Sentence
from ..inference.exact_inversion import MOST_EXACT, Floats, Outcomes
from ..inference.profile_likelihood import likelihood_interval, profiled
from .yes_no_answers import answers, at_share, d_prime_said, exact_p, totals

_FAR = 12.0


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class SameDifferent(Result):
    """Outcome of a same-different test.

    Attributes
    ----------
    same_same, n_same : int
        "Same" said to pairs of one sample, and such pairs.
    same_different, n_different : int
        "Same" said to pairs of the two samples, and such pairs.
    assessors : int or None
        Assessors, if the answers were given by assessor.
    alpha, p : float
        Stated risk; exact one-sided p.
    significant : bool
    d_prime : float
        0 when unlike pairs were called the same as often or oftener.
    d_prime_interval : Interval
        Exact: over all values of tau; beyond 2,700 possible outcomes by
        likelihood, tau at its best for each d'.
    tau : float
        Border between "same" and "different", in the units of d'.
    method : str
        ``"Fisher"`` or ``"within assessors"``.
    """

    same_same: int
    n_same: int
    same_different: int
    n_different: int
    assessors: int | None
    alpha: float
    p: float
    significant: bool
    d_prime: float
    d_prime_interval: Interval
    tau: float
    method: str

    def sentences(self) -> tuple[Sentence, ...]:
        """Say whether unlike pairs are told from like ones, and how far apart they are."""
        first = Sentence.of(
            "yesno.same_counted",
            same=self.same_same,
            n_same=self.n_same,
            other=self.same_different,
            n_other=self.n_different,
            s=percent(self.same_same / self.n_same),
            o=percent(self.same_different / self.n_different),
            p=p_words(self.p),
            method=Sentence.of(f"yesno.method_{self.method.replace(' ', '_')}"),
        )
        verdict = "yesno.same_shown" if self.significant else "yesno.same_not_shown"
        size = d_prime_said(self.d_prime, self.d_prime_interval)
        return first, Sentence.of(verdict, alpha=self.alpha), size

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return the two by two table."""
        said = [self.same_same, self.same_different]
        served = [self.n_same, self.n_different]
        table = pd.DataFrame(
            {
                "served": ["same", "different"],
                "said_same": said,
                "said_different": [n - k for k, n in zip(said, served, strict=True)],
            }
        )
        return {"yesno.table": table}


def p_same(d_prime: float, tau: float) -> float:
    """Return how often two cups that lie `d_prime` apart are called the same.

    Examples
    --------
    >>> round(p_same(1.588555, 1.465738), 3), round(p_same(0, 1.465738), 3)
    (0.45, 0.7)
    """
    root = sqrt(2)
    return float(ndtr((tau - d_prime) / root) - ndtr((-tau - d_prime) / root))


def same_different(
    same_same: npt.ArrayLike,
    n_same: npt.ArrayLike,
    same_different: npt.ArrayLike,
    n_different: npt.ArrayLike,
    *,
    alpha: float = 0.05,
    level: float = 0.95,
) -> SameDifferent:
    """Test whether like pairs are called the same oftener than unlike pairs.

    Parameters
    ----------
    same_same, n_same : int or array_like of int
        "Same" said to pairs of one sample, and such pairs; lists, one entry an
        assessor, when assessors judged several pairs.
    same_different, n_different : int or array_like of int
        "Same" said to pairs of the two samples, and such pairs.
    alpha : float
        Risk of finding a difference where there is none.
    level : float
        Confidence level of the interval of d'.

    Returns
    -------
    SameDifferent

    Raises
    ------
    OptionError
        For counts that do not fit, or when one kind of pair was never served.

    Examples
    --------
    >>> result = same_different(70, 100, 45, 100)
    >>> round(result.tau, 6), round(result.d_prime, 6)
    (1.465738, 1.588555)
    """
    share_of("alpha", alpha)
    share_of("level", level)
    strata = answers(same_same, n_same, same_different, n_different)
    a, n, b, m = totals(strata)
    p = exact_p(strata)
    several = len(strata) > 1
    d, tau = _estimate(a, n, b, m)

    return SameDifferent(
        same_same=a,
        n_same=n,
        same_different=b,
        n_different=m,
        assessors=len(strata) if several else None,
        alpha=alpha,
        p=p,
        significant=holds(p, alpha),
        d_prime=d,
        d_prime_interval=_d_interval((a, n, b, m), d, level),
        tau=tau,
        method="within assessors" if several else "Fisher",
        warnings=(Sentence.of("yesno.pooled"),) if several else (),
    )


def _estimate(a: int, n: int, b: int, m: int) -> tuple[float, float]:
    """Return d' and tau at the highest likelihood."""
    like, unlike = a / n, b / m
    if unlike >= like:  # the best d' is 0, and tau answers for all pairs together
        said = (a + b) / (n + m)
        return 0.0, inf if said == 1 else sqrt(2) * float(ndtri((said + 1) / 2))
    if like == 1:  # no pair of one sample was called different: the border may lie anywhere above
        return inf, inf
    tau = sqrt(2) * float(ndtri((like + 1) / 2))
    if unlike == 0:
        return inf, tau
    d = brentq(lambda x: p_same(x, tau) - unlike, 0.0, 40.0, xtol=1e-12)
    return float(d), tau if tau > 0 else nan


def _d_interval(counts: tuple[int, int, int, int], d: float, level: float) -> Interval:
    a, n, b, m = counts
    if (n + 1) * (m + 1) <= MOST_EXACT:
        return _outcomes(n, m).limits(a * (m + 1) + b, 0.0, _FAR, level)

    def loglik(distance: float, border: float) -> float:
        like, unlike = p_same(0.0, border), p_same(distance, border)
        said = xlogy(a, like) + xlogy(n - a, 1 - like)
        return float(said + xlogy(b, unlike) + xlogy(m - b, 1 - unlike))

    profile = profiled(loglik, (0.0, _FAR))
    return likelihood_interval(profile, d, level=level, high=_FAR)


@cache
def _outcomes(n: int, m: int) -> Outcomes:
    """Lay out every pair of counts of "same", the border over its range."""
    tau = np.linspace(0.0, _FAR, 97)[:, None]
    a, b = np.arange(n + 1), np.arange(m + 1)
    ways_a, ways_b = np.log(comb(n, a)), np.log(comb(m, b))
    root = sqrt(2)

    def logpmf(d: float) -> Floats:
        like = 2 * ndtr(tau / root) - 1
        unlike = ndtr((tau - d) / root) - ndtr((-tau - d) / root)
        first = ways_a + xlogy(a, like) + xlogy(n - a, 1 - like)
        second = ways_b + xlogy(b, unlike) + xlogy(m - b, 1 - unlike)
        both = first[:, :, None] + second[:, None, :]
        return np.asarray(both.reshape(len(tau), -1), dtype=np.float64)

    apart = ways_a[:, None] + ways_b + at_share(a, n)[:, None] + at_share(b, m)
    said = np.add.outer(a, b)
    together = ways_a[:, None] + ways_b + at_share(said, n + m)
    pairs = [(int(one), int(other)) for one in a for other in b]
    estimates = np.array([_estimate(one, n, other, m)[0] for one, other in pairs])
    best = np.where(a[:, None] / n >= b / m, apart, together)
    return Outcomes(logpmf, best.ravel(), estimates)
