"""Paired comparison: which of two cups is sweeter, and may they be called equal.

Ties are told and kept apart. The test leaves them out (given the number of
ties, the others are coin tosses where there is no difference); splitting them
evenly between the two samples would find differences that are not there.
d' uses all three counts.

References
----------
ISO 5495; Thurstone's model with a zone of no difference of half width tau:
``P(first) = Phi((d - tau) / sqrt2)``, ``P(second) = Phi((-d - tau) / sqrt2)``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from math import inf, isfinite, sqrt

import numpy as np
import pandas as pd
from scipy.special import gammaln, log_ndtr, ndtr, ndtri, xlogy
from scipy.stats import binom

from ..core.errors import NotEstimable
from ..core.options import one_of, share_of, whole
from ..core.p_values import holds
from ..core.result import Interval, Result
from ..core.wording import p_words, percent, short, stated_percent
from ..core.words import Sentence
from ..inference.exact_inversion import MOST_EXACT, Floats, Outcomes
from ..inference.profile_likelihood import likelihood_interval, profiled
from ..inference.proportions import clopper_pearson
from .critical_counts import needed
from .yes_no_answers import limit_said

_FAR = 8.0


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Paired(Result):
    """Outcome of a paired comparison.

    Attributes
    ----------
    first, second, ties : int
        How often either sample was chosen, and how often none.
    names : tuple of str or Sentence
        Names of the two samples.
    alternative : str
        ``"two-sided"``, or ``"first"`` when only that one could be the stronger.
    alpha, p : float
        Stated risk; exact p without the ties.
    needed : int or None
        Choices of one sample needed among those that were not ties.
    significant : bool
    share : float
        Share of `first` among those that were not ties.
    share_interval : Interval
        Exact limits of that share.
    d_prime : float
        By how much `first` is the stronger, may be negative, infinite when all
        chose the same.
    d_prime_interval : Interval
        Exact, ties counted, over all values of tau; with more than 71 answers
        of which some are ties by likelihood, tau at its best for each d'.
    tau : float
        Half width of the zone that is called equal; 0 without ties.
    """

    first: int
    second: int
    ties: int
    names: tuple[str | Sentence, str | Sentence]
    alternative: str
    alpha: float
    p: float
    needed: int | None
    significant: bool
    share: float
    share_interval: Interval
    d_prime: float
    d_prime_interval: Interval
    tau: float

    def sentences(self) -> tuple[Sentence, ...]:
        """Say the three counts, the verdict, and the size of the difference."""
        a, b = self.names
        first = Sentence.of(
            "paired.counted_ties" if self.ties else "paired.counted",
            a=a,
            b=b,
            x=self.first,
            y=self.second,
            ties=self.ties,
            p=p_words(self.p),
        )
        low, high, level = self.share_interval
        verdict = Sentence.of(
            "paired.shown" if self.significant else "paired.not_shown",
            stronger=a if self.first > self.second else b,
            alpha=self.alpha,
            sides=Sentence.of(f"paired.{self.alternative.replace('-', '_')}", a=a),
            needed=self.needed if self.needed is not None else Sentence.of("paired.not_reachable"),
            a=a,
            low=percent(low),
            high=percent(high),
            level=stated_percent(level),
        )
        d_low, d_high, d_level = self.d_prime_interval
        size = Sentence.of(
            "paired.size" if isfinite(self.d_prime) else "paired.size_open",
            a=a,
            d=short(self.d_prime),
            low=limit_said(d_low),
            high=limit_said(d_high),
            level=stated_percent(d_level),
        )
        return first, verdict, size

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return the three counts."""
        counts = [self.first, self.second, self.ties]
        names = [*self.names, Sentence.of("paired.tie")]
        return {"paired.table": pd.DataFrame({"chosen": names, "answers": counts})}


def paired(
    first: int,
    second: int,
    ties: int = 0,
    *,
    alternative: str = "two-sided",
    alpha: float = 0.05,
    level: float = 0.95,
    names: tuple[str | Sentence, str | Sentence] = ("A", "B"),
) -> Paired:
    """Test whether one of two samples is chosen oftener than the other.

    Parameters
    ----------
    first, second, ties : int
        How often either was chosen, and how often no difference was found.
        Every assessor answers once.
    alternative : {"two-sided", "first"}
        "first" only when, before the session, the second sample could not be
        the stronger one.
    alpha : float
        Risk of finding a difference where there is none.
    level : float
        Confidence level of the intervals.
    names : tuple of str or Sentence
        Names of the samples, for the sentences.

    Returns
    -------
    Paired

    Raises
    ------
    NotEstimable
        If all answers are ties.
    OptionError
        For a negative count or an unknown alternative.

    Examples
    --------
    >>> result = paired(21, 9)
    >>> round(result.p, 6), round(result.d_prime, 5)
    (0.042774, 0.74161)
    """
    first, second = whole("first", first, 0), whole("second", second, 0)
    ties = whole("ties", ties, 0)
    one_of("alternative", alternative, ("two-sided", "first"))
    share_of("alpha", alpha)
    share_of("level", level)
    n = first + second
    if n == 0:
        raise NotEstimable("paired.all_ties", n=ties)
    two = alternative == "two-sided"
    if two:
        p = min(1.0, 2 * float(binom.sf(max(first, second) - 1, n, 0.5)))
    else:
        p = float(binom.sf(first - 1, n, 0.5))
    low, high = clopper_pearson(first, n, level)
    d, tau = _estimate(first, second, ties)
    return Paired(
        first=first,
        second=second,
        ties=ties,
        names=names,
        alternative=alternative,
        alpha=alpha,
        p=p,
        needed=needed(n, 0.5, alpha / 2 if two else alpha),
        significant=holds(p, alpha),
        share=first / n,
        share_interval=Interval(float(low), float(high), level),
        d_prime=d,
        d_prime_interval=_interval(first, second, ties, d, level),
        tau=tau,
        warnings=(Sentence.of("paired.many_ties", ties=ties, n=n + ties),) if ties > n else (),
    )


def _estimate(first: int, second: int, ties: int) -> tuple[float, float]:
    """Return d' and tau; two shares, two unknowns, so the model fits exactly."""
    total = first + second + ties
    if min(first, second) == 0:
        return (inf if first else -inf), float("nan")
    z_first, z_second = ndtri(first / total), ndtri(second / total)
    return float(z_first - z_second) / sqrt(2), max(0.0, -float(z_first + z_second) / sqrt(2))


def _interval(first: int, second: int, ties: int, best: float, level: float) -> Interval:
    total = first + second + ties
    if not ties:
        low, high = clopper_pearson(first, total, level)
        z_low, z_high = float(ndtri(low)), float(ndtri(high))
        return Interval(sqrt(2) * z_low, sqrt(2) * z_high, level)
    root = sqrt(2)
    if (total + 1) * (total + 2) // 2 <= MOST_EXACT:
        # outcomes run over `first`, then `second`; those before: all with fewer of `first`
        before = sum(total + 1 - k for k in range(first))
        found = _outcomes(total).limits(before + second, -_FAR, _FAR, level)
    else:

        def loglik(d: float, tau: float) -> float:
            a, b = (d - tau) / root, (-d - tau) / root
            equal = ndtr(-b) - ndtr(a)
            chosen = first * log_ndtr(a) + second * log_ndtr(b)
            return float(chosen + xlogy(ties, max(equal, 1e-300)))

        start = max(-_FAR, min(_FAR, best))
        profile = profiled(loglik, (0.0, 2 * _FAR))
        found = likelihood_interval(profile, start, level=level, low=-_FAR, high=_FAR)
    return Interval(-inf if found.low <= -_FAR else found.low, found.high, level)


@cache
def _outcomes(total: int) -> Outcomes:
    """Lay out all splits of the answers into first, second and ties, tau over its range."""
    tau = np.linspace(0.0, 2 * _FAR, 129)[:, None]
    pairs = [(x, y) for x in range(total + 1) for y in range(total + 1 - x)]
    x, y = np.array(pairs).T
    equal = total - x - y
    ways = gammaln(total + 1) - gammaln(x + 1) - gammaln(y + 1) - gammaln(equal + 1)
    root = sqrt(2)

    def logpmf(d: float) -> Floats:
        a, b = (d - tau) / root, (-d - tau) / root
        same = np.maximum(ndtr(-b) - ndtr(a), 1e-300)
        chosen: Floats = ways + x * log_ndtr(a) + y * log_ndtr(b) + xlogy(equal, same)
        return chosen

    shares = [xlogy(k, k / total) for k in (x, y, equal)]
    with np.errstate(invalid="ignore"):
        estimates = ndtri(x / total) - ndtri(y / total)
    return Outcomes(logpmf, ways + sum(shares), np.nan_to_num(estimates, posinf=inf, neginf=-inf))
