"""'A' - 'not A': one cup at a time, and the answer is "this is A" or "this is not".

It fits what cannot be tasted side by side, such as a lingering finish. The
answers also depend on how readily somebody says "A", so both kinds of cup are
needed, and d' is freed of that readiness.

References
----------
ISO 8588:1987; Macmillan & Creelman, Detection Theory. ``d' = z(H) - z(F)``,
``var d' = H(1-H) / (n_A phi(zH)^2) + F(1-F) / (n_N phi(zF)^2)``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from math import inf, isfinite, isinf, nan, sqrt

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import comb, log_ndtr
from scipy.stats import norm

from ..core.options import share_of
from ..core.p_values import holds
from ..core.result import Interval, Result
from ..core.wording import p_words, percent
from ..core.words import Sentence
from ..inference.exact_inversion import MOST_EXACT, Floats, Outcomes
from ..inference.profile_likelihood import likelihood_interval, profiled
from .yes_no_answers import answers, at_share, d_prime_said, exact_p, totals

_FAR = 9.0  # z of a share that no panel can tell from 0 or 1


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class ANotA(Result):
    """Outcome of an 'A' - 'not A' test.

    Attributes
    ----------
    hits, n_a : int
        "A" said to A, and presentations of A.
    false_alarms, n_not_a : int
        "A" said to not-A, and presentations of not-A.
    assessors : int or None
        Assessors, if the answers were given by assessor.
    alpha, p : float
        Stated risk; exact one-sided p that A is called "A" no oftener than not-A.
    significant : bool
    d_prime, d_prime_se : float
        Difference in standard deviations of a cup's percept, may be negative;
        infinite where a share is 0 or 1, then without a standard error.
    d_prime_interval : Interval
        Exact: over all criteria; beyond 2,700 possible outcomes by likelihood,
        the criterion at its best for each d'.
    criterion : float
        ``-(z(H) + z(F)) / 2``; above 0 = reluctant to say "A".
    chi_square, chi_square_p : float
        Pearson's, without correction, for comparison; valid for one answer an assessor.
    method : str
        ``"Fisher"``, ``"McNemar"`` or ``"within assessors"``.
    """

    hits: int
    n_a: int
    false_alarms: int
    n_not_a: int
    assessors: int | None
    alpha: float
    p: float
    significant: bool
    d_prime: float
    d_prime_se: float
    d_prime_interval: Interval
    criterion: float
    chi_square: float
    chi_square_p: float
    method: str

    def sentences(self) -> tuple[Sentence, ...]:
        """Say whether A is recognised, how far, and how readily "A" is said."""
        first = Sentence.of(
            "yesno.a_counted",
            hits=self.hits,
            n_a=self.n_a,
            false=self.false_alarms,
            n_not=self.n_not_a,
            h=percent(self.hits / self.n_a),
            f=percent(self.false_alarms / self.n_not_a),
            p=p_words(self.p),
            method=Sentence.of(f"yesno.method_{self.method.replace(' ', '_')}"),
        )
        verdict = "yesno.a_shown" if self.significant else "yesno.a_not_shown"
        size = d_prime_said(self.d_prime, self.d_prime_interval)
        return first, Sentence.of(verdict, alpha=self.alpha), size

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return the two by two table."""
        table = pd.DataFrame(
            {
                "served": ["A", "not A"],
                "said_A": [self.hits, self.false_alarms],
                "said_not_A": [self.n_a - self.hits, self.n_not_a - self.false_alarms],
            }
        )
        return {"yesno.table": table}


def a_not_a(
    hits: npt.ArrayLike,
    n_a: npt.ArrayLike,
    false_alarms: npt.ArrayLike,
    n_not_a: npt.ArrayLike,
    *,
    alpha: float = 0.05,
    level: float = 0.95,
) -> ANotA:
    """Test whether A is called "A" oftener than not-A.

    Give four numbers when every assessor answered once. Give four lists, one
    entry an assessor, when assessors answered several times: the test then
    compares within assessors, for their answers are not independent.

    Parameters
    ----------
    hits, n_a : int or array_like of int
        "A" said to A, and presentations of A.
    false_alarms, n_not_a : int or array_like of int
        "A" said to not-A, and presentations of not-A.
    alpha : float
        Risk of finding a difference where there is none.
    level : float
        Confidence level of the interval of d'.

    Returns
    -------
    ANotA

    Raises
    ------
    OptionError
        For counts that do not fit, or when one kind was never served.

    Examples
    --------
    >>> result = a_not_a(30, 50, 20, 50)
    >>> round(result.d_prime, 6), round(result.d_prime_se, 6), round(result.p, 6)
    (0.506694, 0.253608, 0.035671)
    """
    share_of("alpha", alpha)
    share_of("level", level)
    strata = answers(hits, n_a, false_alarms, n_not_a)
    h, n, f, m = totals(strata)
    p = exact_p(strata)
    paired = len(strata) > 1 and all(s.first == s.second == 1 for s in strata)
    several = len(strata) > 1
    z_h, z_f = float(norm.ppf(h / n)), float(norm.ppf(f / m))
    d = z_h - z_f if not (isinf(z_h) and z_h == z_f) else 0.0
    finite = isfinite(z_h) and isfinite(z_f)
    chi, chi_p = _chi_square(h, n, f, m)
    return ANotA(
        hits=h,
        n_a=n,
        false_alarms=f,
        n_not_a=m,
        assessors=len(strata) if several else None,
        alpha=alpha,
        p=p,
        significant=holds(p, alpha),
        d_prime=d,
        d_prime_se=_d_se(h, n, f, m) if finite else nan,
        d_prime_interval=_d_interval((h, n, f, m), d, level),
        criterion=-(z_h + z_f) / 2 if finite else nan,
        chi_square=chi,
        chi_square_p=chi_p,
        method="McNemar" if paired else "within assessors" if several else "Fisher",
        warnings=(Sentence.of("yesno.pooled"),) if several else (),
    )


def _d_se(h: int, n: int, f: int, m: int) -> float:
    parts = 0.0
    for share, size in ((h / n, n), (f / m, m)):
        parts += share * (1 - share) / (size * norm.pdf(norm.ppf(share)) ** 2)
    return sqrt(parts)


def _d_interval(counts: tuple[int, int, int, int], d: float, level: float) -> Interval:
    h, n, f, m = counts
    limit = 2 * _FAR - 4
    best = max(-limit, min(limit, d))
    if (n + 1) * (m + 1) <= MOST_EXACT:
        found = _outcomes(n, m).limits(h * (m + 1) + f, -limit, limit, level)
    else:

        def loglik(distance: float, criterion: float) -> float:
            a, b = distance / 2 - criterion, -distance / 2 - criterion
            said = h * log_ndtr(a) + (n - h) * log_ndtr(-a)
            return float(said + f * log_ndtr(b) + (m - f) * log_ndtr(-b))

        profile = profiled(loglik, (-_FAR, _FAR))
        found = likelihood_interval(profile, best, level=level, low=-limit, high=limit)
    low = -inf if found.low <= -limit else found.low
    return Interval(low, found.high, level)


@cache
def _outcomes(n: int, m: int) -> Outcomes:
    """Lay out every pair of hits and false alarms, the criterion over its range."""
    criterion = np.linspace(-_FAR, _FAR, 73)[:, None]
    h, f = np.arange(n + 1), np.arange(m + 1)
    ways_h, ways_f = np.log(comb(n, h)), np.log(comb(m, f))

    def logpmf(d: float) -> Floats:
        a, b = d / 2 - criterion, -d / 2 - criterion
        hits = ways_h + h * log_ndtr(a) + (n - h) * log_ndtr(-a)
        false = ways_f + f * log_ndtr(b) + (m - f) * log_ndtr(-b)
        both: Floats = (hits[:, :, None] + false[:, None, :]).reshape(len(criterion), -1)
        return both

    best_h, best_f = ways_h + at_share(h, n), ways_f + at_share(f, m)
    z_h, z_f = norm.ppf(h / n)[:, None], norm.ppf(f / m)[None, :]
    with np.errstate(invalid="ignore"):
        estimates = np.where(z_h == z_f, 0.0, z_h - z_f)
    return Outcomes(logpmf, np.add.outer(best_h, best_f).ravel(), estimates.ravel())


def _chi_square(h: int, n: int, f: int, m: int) -> tuple[float, float]:
    """Return Pearson's chi-square and its p; not a number where a margin is empty."""
    from scipy.stats import chi2

    said = h + f
    if said in {0, n + m}:
        return nan, nan
    value = (n + m) * (h * (m - f) - f * (n - h)) ** 2 / (n * m * said * (n + m - said))
    return value, float(chi2.sf(value, 1))
