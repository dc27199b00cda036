"""k of n assessors noted it, and how much that says.

With three assessors "nobody noticed the fault" still allows that six drinkers
in ten would. The Clopper-Pearson interval is exact: it holds its level at any
n, and stands in the sentence. Wilson's is shorter and right on average; it is
given beside it. Both treat the assessors as a sample of those one has in mind,
and each assessor as one vote: repeats by one assessor are not more votes.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import betainc, betaincinv, ndtri

from ..core.errors import OptionError
from ..core.options import share_of, whole
from ..core.result import Interval, Result, copies
from ..core.wording import percent, stated_percent
from ..core.words import Sentence

Floats = npt.NDArray[np.float64]
NOTEWORTHY = 0.10
"""Share that silence must rule out, or it is said how many assessors would (no source)."""


def clopper_pearson(
    k: npt.ArrayLike, n: npt.ArrayLike, level: float = 0.95
) -> tuple[Floats, Floats]:
    """Return exact limits of a proportion; arrays broadcast.

    Parameters
    ----------
    k, n : array_like of int
        Counts, 0 <= k <= n, n >= 1.
    level : float
        Confidence level, between 0 and 1.

    Returns
    -------
    low, high : ndarray
        Limits in [0, 1].

    Raises
    ------
    OptionError
        For counts that are no counts, or a level outside (0, 1).

    References
    ----------
    Clopper and Pearson (1934), Biometrika 26:404-413.

    Examples
    --------
    >>> low, high = clopper_pearson(2, 8)
    >>> round(float(low), 4), round(float(high), 4)
    (0.0319, 0.6509)
    """
    k, n = _counts(k, n)
    tail = (1 - share_of("level", level)) / 2
    return _beta(k, n - k + 1, tail), _beta(k + 1, n - k, 1 - tail)


def wilson(k: npt.ArrayLike, n: npt.ArrayLike, level: float = 0.95) -> tuple[Floats, Floats]:
    """Return Wilson's score limits of a proportion; arrays broadcast.

    Parameters and errors as `clopper_pearson`.

    References
    ----------
    Wilson (1927), J. Am. Stat. Assoc. 22:209-212; Newcombe (1998), Stat. Med.
    17:857-872, method 3.

    Examples
    --------
    >>> low, high = wilson(0, 20)
    >>> round(float(low), 4), round(float(high), 4)
    (0.0, 0.1611)
    """
    k, n = _counts(k, n)
    z = float(ndtri((1 + share_of("level", level)) / 2))
    middle = (k + z**2 / 2) / (n + z**2)
    half = z / (n + z**2) * np.sqrt(k * (n - k) / n + z**2 / 4)
    # At k = 0 and k = n one limit is exact; rounding must not push it outside.
    low = np.where(k == 0, 0.0, middle - half)
    high = np.where(k == n, 1.0, middle + half)
    return low, high


def upper_limit(k: npt.ArrayLike, n: npt.ArrayLike, level: float = 0.95) -> Floats:
    """Return the exact one-sided upper limit; for k = 0 it is ``1 - (1 - level)**(1 / n)``.

    Parameters and errors as `clopper_pearson`.

    Examples
    --------
    >>> float(upper_limit(0, 8).round(4))
    0.3123
    """
    k, n = _counts(k, n)
    return _beta(k + 1, n - k, share_of("level", level))


def at_least(k: npt.ArrayLike, n: npt.ArrayLike, chance: float | Floats) -> Floats:
    """Return the binomial chance of `k` or more of `n`; arrays broadcast.

    Parameters
    ----------
    k, n : array_like of int
        Counts; `k` may lie outside 0 to `n`.
    chance : float or ndarray
        Of each of the n, between 0 and 1.

    Examples
    --------
    >>> float(at_least(5, 8, 1 / 3).round(4)), float(at_least(0, 8, 0.2))
    (0.0879, 1.0)
    """
    k, n = np.asarray(k), np.asarray(n)
    inside = betainc(np.clip(k, 1, n), np.clip(n - k + 1, 1, n), chance)
    above: Floats = np.where(k <= 0, 1.0, np.where(k > n, 0.0, inside))
    return above


def silent_panel(share: float, level: float = 0.95) -> int:
    """Return how many assessors must all stay silent to claim that fewer than `share` notice.

    Parameters
    ----------
    share : float
        The share of drinkers that would matter, between 0 and 1.
    level : float
        Confidence level.

    Raises
    ------
    OptionError
        For a share or level outside (0, 1).

    Examples
    --------
    >>> silent_panel(0.10)
    29
    """
    exact = math.log1p(-share_of("level", level)) / math.log1p(-share_of("share", share))
    # A hair below a whole number is that number: 1 - 0.5**5 against a level of 0.96875.
    return max(1, math.ceil(exact - 1e-9))


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Proportion(Result):
    """k of n, with its limits.

    Attributes
    ----------
    what : str
        What was noted; empty if not said.
    k, n : int
        How many noted it, of how many.
    estimate : float
        k / n.
    interval : Interval
        Clopper-Pearson limits (exact): the ones that the sentence gives.
    wilson : Interval
        Wilson's score limits.
    upper : float
        Exact one-sided upper limit at `level`.
    lower : float
        Exact one-sided lower limit at `level`.
    level : float
        Confidence level of all limits.
    """

    what: str
    k: int
    n: int
    estimate: float
    interval: Interval
    wilson: Interval
    upper: float
    lower: float
    level: float
    method: str = "Clopper-Pearson, Wilson"

    def sentence(self) -> Sentence:
        """Write the count with the limit that says most about it."""
        values = {
            "k": self.k,
            "n": self.n,
            "level": stated_percent(self.level),
            "low": percent(self.interval.low),
            "high": percent(self.interval.high),
            "upper": percent(self.upper),
            "lower": percent(self.lower),
        }
        form = "nobody" if self.k == 0 else "everybody" if self.k == self.n else "some"
        said = Sentence.of(f"proportion.{form}", **values)
        return Sentence.of("proportion.about", what=self.what, said=said) if self.what else said

    def sentences(self) -> tuple[Sentence, ...]:
        """Say the count, and for silence how large a panel a stronger claim would need."""
        if self.k:
            return (self.sentence(),)
        more = Sentence.of(
            "proportion.silent_panel",
            share=stated_percent(NOTEWORTHY),
            level=stated_percent(self.level),
            needed=silent_panel(NOTEWORTHY, self.level),
        )
        return (self.sentence(), more) if self.upper > NOTEWORTHY else (self.sentence(),)

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return the limits as a table."""
        rows = [
            ("Clopper-Pearson", self.interval.low, self.interval.high),
            ("Wilson", self.wilson.low, self.wilson.high),
        ]
        return copies(
            **{"proportion.heading": pd.DataFrame(rows, columns=["method", "low", "high"])}
        )


def proportion(k: int, n: int, *, level: float = 0.95, what: str = "") -> Proportion:
    """Estimate a share from k of n, with exact and score limits.

    Parameters
    ----------
    k, n : int
        How many assessors noted it, of how many who were asked. Each assessor
        counts once.
    level : float
        Confidence level, between 0 and 1.
    what : str
        What was noted, for the sentence.

    Returns
    -------
    Proportion

    Raises
    ------
    OptionError
        For counts that are no counts, k above n, or a level outside (0, 1).

    Examples
    --------
    >>> print(proportion(2, 8, what="diacetyl").sentence())
    diacetyl: 2 of 8 assessors noted it (95 % interval 3 % to 65 %).
    """
    k, n = whole("k", k, 0), whole("n", n, 1)
    low, high = clopper_pearson(k, n, level)
    score_low, score_high = wilson(k, n, level)
    return Proportion(
        what=what,
        k=k,
        n=n,
        estimate=k / n,
        interval=Interval(float(low), float(high), level),
        wilson=Interval(float(score_low), float(score_high), level),
        upper=float(upper_limit(k, n, level)),
        lower=1 - float(upper_limit(n - k, n, level)),
        level=level,
    )


def _counts(k: npt.ArrayLike, n: npt.ArrayLike) -> tuple[Floats, Floats]:
    """Check and broadcast counts."""
    some, of = np.broadcast_arrays(np.asarray(k, dtype=float), np.asarray(n, dtype=float))
    for name, values, low in (("k", some, 0), ("n", of, 1)):
        wrong = ~((values % 1 == 0) & (values >= low))
        if wrong.any():
            whole(name, float(values[wrong].flat[0]), low)
    if (some > of).any():
        at = np.flatnonzero(some > of)[0]
        raise OptionError("proportion.above", k=int(some.flat[at]), n=int(of.flat[at]))
    return some, of


def _beta(a: Floats, b: Floats, q: float) -> Floats:
    """Return beta quantiles, with the limits 0 and 1 where a parameter is 0."""
    inside = (a > 0) & (b > 0)
    quantile = betaincinv(np.where(inside, a, 1.0), np.where(inside, b, 1.0), q)
    return np.where(inside, quantile, np.where(a > 0, 1.0, 0.0))
