"""Exact comparison of two shares of "yes", whole or within assessors.

Shared by the 'A' - 'not A' and the same-different test. Given how often an
assessor says "yes", every spread of these answers over the presentations is
equally likely where there is no difference. That is Fisher's exact test when
each assessor answers once, McNemar's when each answers once to either kind,
and its extension to any number of answers otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite

import numpy as np
import numpy.typing as npt
from scipy.special import xlogy
from scipy.stats import hypergeom

from ..core.errors import OptionError
from ..core.options import whole
from ..core.result import Interval
from ..core.wording import short, stated_percent
from ..core.words import Sentence

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class YesNo:
    """Answers of one stratum: "yes" to the first and to the second kind of presentation."""

    yes_first: int
    first: int
    yes_second: int
    second: int


def answers(
    yes_first: npt.ArrayLike, first: npt.ArrayLike, yes_second: npt.ArrayLike, second: npt.ArrayLike
) -> tuple[YesNo, ...]:
    """Check counts, one number each or one an assessor, and return them by stratum.

    Raises
    ------
    OptionError
        For counts of different length, or more "yes" than presentations.
    """
    columns = [np.atleast_1d(np.asarray(part)) for part in (yes_first, first, yes_second, second)]
    if len({len(column) for column in columns}) > 1:
        raise OptionError("yesno.lengths")
    strata = []
    for a, n, b, m in zip(*columns, strict=True):
        stratum = YesNo(*(whole("count", float(x), 0) for x in (a, n, b, m)))
        if stratum.yes_first > stratum.first or stratum.yes_second > stratum.second:
            raise OptionError("yesno.more_yes", yes=(int(a), int(b)), of=(int(n), int(m)))
        strata.append(stratum)
    if not sum(s.first for s in strata) or not sum(s.second for s in strata):
        raise OptionError("yesno.one_kind")
    return tuple(strata)


def totals(strata: tuple[YesNo, ...]) -> tuple[int, int, int, int]:
    """Return "yes" to the first kind, its presentations, and both of the second kind."""
    return (
        sum(s.yes_first for s in strata),
        sum(s.first for s in strata),
        sum(s.yes_second for s in strata),
        sum(s.second for s in strata),
    )


def exact_p(strata: tuple[YesNo, ...]) -> float:
    """Return P(so many "yes" to the first kind or more), given each stratum's "yes".

    Examples
    --------
    >>> round(exact_p((YesNo(30, 50, 20, 50),)), 6)
    0.035671
    """
    mass: Floats = np.ones(1)
    observed, offset = 0, 0
    for s in strata:
        said = s.yes_first + s.yes_second
        low, high = max(0, said - s.second), min(said, s.first)
        spread = hypergeom.pmf(np.arange(low, high + 1), s.first + s.second, s.first, said)
        mass = np.convolve(mass, spread)
        observed += s.yes_first
        offset += low
    return float(min(1.0, mass[observed - offset :].sum()))


def at_share(k: npt.NDArray[np.int64], n: int) -> Floats:
    """Return the log-likelihood of k of n at the share k / n, orders not counted."""
    return np.asarray(xlogy(k, k / n) + xlogy(n - k, 1 - k / n), dtype=np.float64)


def d_prime_said(d_prime: float, interval: Interval) -> Sentence:
    """Say how large d' is and what it is compatible with; either may have no limit."""
    return Sentence.of(
        "yesno.d_prime" if isfinite(d_prime) else "yesno.d_prime_open",
        d=short(d_prime),
        low=limit_said(interval.low),
        high=limit_said(interval.high),
        level=stated_percent(interval.level),
    )


def limit_said(limit: float) -> str | Sentence:
    """Return a limit of d' as it is read, also one that is infinite."""
    return short(limit) if isfinite(limit) else Sentence.of("yesno.no_limit")
