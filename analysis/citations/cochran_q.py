"""Whether samples differ in how many assessors use a word: Cochran's Q, exactly.

The chi-square approximation of Q is too ready to claim a difference when few
assessors are informative (those who used the word for some samples but not
for all). Here the p value is exact: every assessor's ticks are dealt out anew
over the samples, in all ways, by convolving the rows' column sums. Which pairs
of samples differ is asked by McNemar's exact test, adjusted by Holm.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.optimize import brentq
from scipy.special import betainc, chdtrc, ndtri

from ..core.errors import NotEstimable, TableError
from ..core.options import ALPHA, share_of
from ..core.p_values import holds
from ..core.result import Interval, Result, copies, each_row
from ..core.wording import p_words, short
from ..core.words import Sentence
from ..inference.adjusted_p import adjust_discrete
from .dealt_ticks import DRAWS, squares_dealt, squares_drawn

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Cochran(Result):
    """Cochran's Q for one word.

    Attributes
    ----------
    attribute : str
        The word; empty if not named.
    Q : float
        The statistic.
    df : int
        Samples less one.
    p : float
        The p value that counts: exact, or simulated where `simulated` is true.
    p_chi2 : float
        The chi-square approximation, for comparison.
    p_least : float
        The smallest p value that the same marks could have given, had they
        been as different as possible. A panel whose `p_least` is above 0.05
        could not have shown a difference.
    n : int
        Assessors with a complete row.
    informative : int
        Those of them who used the word for some samples but not for all.
    incomplete : int
        Assessors left out because they did not judge every sample.
    totals : DataFrame
        Columns ``sample, k, n``.
    pairs : DataFrame
        Columns ``first, second, only_first, only_second, difference, low,
        high, p, holm``: exact McNemar per pair. The difference of shares has
        Tango's score limits at `level`, of one pair each, not adjusted.
    simulated : bool
    mc_error : float
        Standard error of a simulated p value, else 0.
    seed : int or None
        Seed of a simulation.
    """

    attribute: str
    Q: float
    df: int
    p: float
    p_chi2: float
    p_least: float
    n: int
    informative: int
    incomplete: int
    totals: pd.DataFrame
    pairs: pd.DataFrame
    level: float
    simulated: bool = False
    mc_error: float = 0.0
    seed: int | None = None
    method: str = "Cochran's Q, exact by convolution; McNemar exact, Holm"

    def sentences(self) -> tuple[Sentence, ...]:
        """Say whether the word tells the samples apart, and which pairs."""
        values = {
            "attribute": self.attribute or Sentence.of("cochran.the_word"),
            "Q": short(self.Q),
            "p": p_words(self.p),
            "informative": self.informative,
            "n": self.n,
        }
        if not holds(self.p_least, ALPHA):
            said = [Sentence.of("cochran.too_few", least=short(self.p_least), **values)]
        elif holds(self.p, ALPHA):
            said = [Sentence.of("cochran.differ", **values)]
        else:
            said = [Sentence.of("cochran.not_shown", **values)]
        said += each_row(self.pairs[holds(self.pairs["holm"], ALPHA)], _pair)
        if holds(self.p, ALPHA) and not holds(self.pairs["holm"], ALPHA).any():
            said.append(Sentence.of("cochran.no_pair"))
        return tuple(said)

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return the totals and the pairs."""
        return copies(**{"cochran.totals": self.totals, "cochran.pairs": self.pairs})


def _pair(row: Any) -> Sentence:
    more, less = (row.first, row.second) if row.difference > 0 else (row.second, row.first)
    return Sentence.of("cochran.pair", more=more, less=less, p=p_words(row.holm))


def cochran(
    ticks: pd.DataFrame, *, attribute: str = "", level: float = 0.95, seed: int = 1
) -> Cochran:
    """Test whether a word is used equally often for all samples.

    Parameters
    ----------
    ticks : DataFrame, shape (assessors, samples)
        1 used, 0 not used, missing not judged. An assessor with a missing
        value is left out of the test of all samples, and out of those pairs
        only that the value is part of.
    attribute : str
        The word, for the sentences.
    level : float
        Confidence level of the differences.
    seed : int
        For the simulation that takes over where a full convolution would be
        too large (many samples and assessors); 20,000 draws.

    Returns
    -------
    Cochran

    Raises
    ------
    NotEstimable
        With fewer than two samples or assessors with complete rows.
    TableError
        If a value is neither 0 nor 1.

    Notes
    -----
    ``Q = (k-1) (k sum C**2 - (sum C)**2) / (k sum R - sum R**2)`` with k
    samples, column sums C and row sums R. Without informative rows Q is 0 and
    p is 1.

    References
    ----------
    Cochran (1950), Biometrika 37:256-266. McNemar (1947), Psychometrika
    12:153-157. Tango (1998), Stat. Med. 17:891-908.

    Examples
    --------
    >>> rows = [[1, 1, 1, 1]] * 4 + [[1, 1, 0, 1]] * 2 + [[0, 1, 1, 1]] * 3 + [[0, 1, 0, 1]]
    >>> found = cochran(pd.DataFrame(rows, columns=list("ABCD")))
    >>> round(found.Q, 4), round(found.p, 4), round(found.p_chi2, 4)
    (8.0526, 0.0527, 0.0449)
    """
    share_of("level", level)
    values = ticks.to_numpy(dtype=float)
    wrong = ~(np.isin(values, (0, 1)) | np.isnan(values))
    if wrong.any():
        raise TableError(
            tuple(
                Sentence.of(
                    "cochran.bad_tick",
                    assessor=ticks.index[row],
                    sample=ticks.columns[column],
                    found=values[row, column],
                )
                for row, column in np.argwhere(wrong)[:20]
            )
        )
    whole = values[~np.isnan(values).any(axis=1)].astype(int)
    n, k = whole.shape
    if k < 2 or n < 2:
        raise NotEstimable("cochran.too_small", samples=k, n=n)
    columns, rows = whole.sum(axis=0), whole.sum(axis=1)
    mixed = rows[(rows > 0) & (rows < k)]
    Q = _q(columns, rows, k)
    p, simulated = _exact(whole, mixed, k, seed)
    return Cochran(
        attribute=attribute,
        Q=Q,
        df=k - 1,
        p=p,
        p_chi2=float(chdtrc(k - 1, Q)),
        p_least=_least(mixed, k),
        n=n,
        informative=len(mixed),
        incomplete=len(values) - n,
        totals=pd.DataFrame(
            {"sample": [str(name) for name in ticks.columns], "k": columns, "n": n}
        ),
        pairs=pairs(ticks, level=level),
        level=level,
        simulated=simulated,
        mc_error=math.sqrt(p * (1 - p) / DRAWS) if simulated else 0.0,
        seed=seed if simulated else None,
        warnings=_careful(len(values) - n, simulated=simulated, seed=seed),
    )


def _careful(incomplete: int, *, simulated: bool, seed: int) -> tuple[Sentence, ...]:
    found = []
    if incomplete:
        found.append(Sentence.of("cochran.incomplete", n=incomplete))
    if simulated:
        found.append(Sentence.of("cochran.simulated", draws=DRAWS, seed=seed))
    return tuple(found)


def _q(columns: npt.NDArray[np.int_], rows: npt.NDArray[np.int_], k: int) -> float:
    below = k * int(rows.sum()) - int((rows**2).sum())
    above = (k - 1) * (k * int((columns**2).sum()) - int(columns.sum()) ** 2)
    return above / below if below else 0.0


def _exact(
    whole: npt.NDArray[np.int_], mixed: npt.NDArray[np.int_], k: int, seed: int
) -> tuple[float, bool]:
    """Return p, and whether it was simulated.

    Rows of all 0 or all 1 add the same to every column in every deal and are left out.
    """
    used = whole[(whole.sum(axis=1) > 0) & (whole.sum(axis=1) < k)]
    seen = int((used.sum(axis=0) ** 2).sum())
    given = sorted(mixed.tolist())
    counted = squares_dealt(tuple(given), k)
    if counted is None:
        drawn = squares_drawn(given, k, seed)
        return (1 + int((drawn >= seen).sum())) / (DRAWS + 1), True
    squares, ways = counted
    return float(ways[squares >= seen].sum() / ways.sum()), False


def _least(mixed: npt.NDArray[np.int_], k: int) -> float:
    """Return the chance of the deals with the largest Q.

    These are the nested ones: every assessor gives the ticks to the first of
    one and the same order of the samples. No other deal has their column sums
    (Ryser 1957), so counting the orders that make a difference is enough.
    """
    steps = np.diff([0, *sorted(set(mixed.tolist())), k])
    orders = math.factorial(k) // math.prod(math.factorial(int(step)) for step in steps)
    return orders / math.prod(math.comb(k, int(ones)) for ones in mixed)


def pairs(ticks: pd.DataFrame, *, level: float = 0.95) -> pd.DataFrame:
    """Compare every two samples by McNemar's exact test.

    Parameters
    ----------
    ticks : DataFrame, shape (assessors, samples)
        As for `cochran`.
    level : float
        Confidence level of the differences.

    Returns
    -------
    DataFrame
        See `Cochran.pairs`.
    """
    rows = []
    values = ticks.to_numpy(dtype=float)
    for one, other in combinations(range(values.shape[1]), 2):
        both = values[:, [one, other]]
        both = both[~np.isnan(both).any(axis=1)]
        n = len(both)
        ahead = both[:, 0] - both[:, 1]
        b, c = int((ahead > 0).sum()), int((ahead < 0).sum())
        limits = paired_difference(b, c, n, level) if n else Interval(-1, 1, level)
        rows.append(
            {
                "first": str(ticks.columns[one]),
                "second": str(ticks.columns[other]),
                "only_first": b,
                "only_second": c,
                "difference": (b - c) / n if n else math.nan,
                "low": limits.low,
                "high": limits.high,
                "p": mcnemar(b, c),
            }
        )
    table = pd.DataFrame(rows)
    most = [mcnemar(apart, 0) for apart in table["only_first"] + table["only_second"]]
    return table.assign(holm=adjust_discrete(table["p"], most))


def mcnemar(b: int, c: int) -> float:
    """Return the exact two-sided p value of McNemar's test.

    Parameters
    ----------
    b, c : int
        Assessors who used the word for the first sample only, and for the
        second only.

    Examples
    --------
    >>> mcnemar(0, 4)
    0.125
    """
    n = b + c
    if n == 0:
        return 1.0
    low = min(b, c)
    return min(1.0, 2 * float(betainc(n - low, low + 1, 0.5)))


@lru_cache(maxsize=4096)
def paired_difference(b: int, c: int, n: int, level: float = 0.95) -> Interval:
    """Return score limits of the difference of two shares of the same assessors.

    Parameters
    ----------
    b, c : int
        Assessors who used the word for the first sample only, and for the
        second only.
    n : int
        Assessors who judged both.
    level : float
        Confidence level.

    Notes
    -----
    The limits are where the score statistic of the difference, with the other
    parameter at its restricted maximum likelihood, reaches the normal
    quantile.

    References
    ----------
    Tango (1998), Stat. Med. 17:891-908.
    """
    z = float(ndtri((1 + share_of("level", level)) / 2))
    estimate = (b - c) / n

    def score(difference: float) -> float:
        a = 2 * n
        half = -b - c + (2 * n - b + c) * difference
        free = -c * difference * (1 - difference)
        q = (math.sqrt(max(half**2 - 4 * a * free, 0.0)) - half) / (2 * a)
        variance = n * (2 * q + difference * (1 - difference))
        above = b - c - n * difference
        if variance <= 0:
            return math.copysign(math.inf, above) if above else 0.0
        return above / math.sqrt(variance)

    tiny = 1e-12
    low = -1.0
    if estimate > -1 + tiny and score(-1 + tiny) > z:
        low = float(brentq(lambda d: score(d) - z, -1 + tiny, estimate))
    high = 1.0
    if estimate < 1 - tiny and score(1 - tiny) < -z:
        high = float(brentq(lambda d: score(d) + z, estimate, 1 - tiny))
    return Interval(low, high, level)
