"""Many tests at once, and which of them still hold.

Twenty attributes tested at 5 % give one false alarm on average, even when all
bottles are the same. Holm's method keeps the chance of *any* false alarm at
the level; Benjamini and Hochberg's keeps the *share* of false alarms among the
claims there on average, and finds more.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from ..core.errors import NotEstimable, OptionError
from ..core.options import one_of, share_of
from ..core.p_values import holds
from ..core.result import Result, copies
from ..core.wording import stated_percent
from ..core.words import Sentence

METHODS = ("holm", "hochberg", "bonferroni", "bh", "by")
Floats = npt.NDArray[np.float64]


def adjust(p: npt.ArrayLike, method: str = "holm") -> Floats:
    """Return p values adjusted for having looked at all of them.

    An adjusted p value is the smallest level at which its test would still be
    claimed. A missing p value (no test was made) stays missing and is not
    counted among the tests.

    Parameters
    ----------
    p : array_like of float, shape (m,)
        p values in [0, 1]; nan where no test was possible.
    method : {'holm', 'hochberg', 'bonferroni', 'bh', 'by'}
        'holm' and 'bonferroni' hold the familywise error under any dependence,
        'hochberg' under independence or positive dependence; 'bh' holds the
        false discovery rate under independence or positive dependence, 'by'
        under any.

    Returns
    -------
    ndarray, shape (m,)
        Adjusted p values in [0, 1], in the order given.

    Raises
    ------
    OptionError
        For an unknown method or a value outside [0, 1].

    References
    ----------
    Holm (1979), Scand. J. Stat. 6:65-70. Hochberg (1988), Biometrika 75:800-802.
    Benjamini and Hochberg (1995), J. R. Stat. Soc. B 57:289-300. Benjamini and
    Yekutieli (2001), Ann. Stat. 29:1165-1188.

    Examples
    --------
    >>> adjust([0.01, 0.04, 0.03], "holm").round(2).tolist()
    [0.03, 0.06, 0.06]
    >>> adjust([0.01, 0.04, 0.03], "bh").round(2).tolist()
    [0.03, 0.04, 0.04]
    """
    one_of("method", method, METHODS)
    given = np.asarray(p, dtype=float)
    if given.ndim != 1:
        raise OptionError("multiplicity.one_row", shape=given.shape)
    tested = ~np.isnan(given)
    values = given[tested]
    wrong = values[(values < 0) | (values > 1)]
    if wrong.size:
        raise OptionError("multiplicity.bad_p", value=wrong[0])
    order = np.argsort(values, kind="stable")
    ranked = values[order]
    m = ranked.size
    rank = np.arange(1, m + 1)
    match method:
        case "bonferroni":
            steps = ranked * m
        case "holm":
            steps = np.maximum.accumulate(ranked * (m - rank + 1))
        case "hochberg":
            steps = _from_the_top(ranked * (m - rank + 1))
        case "bh":
            steps = _from_the_top(ranked * m / rank)
        case _:
            steps = _from_the_top(ranked * m / rank * np.sum(1 / rank))
    adjusted = np.full(given.shape, np.nan)
    kept = np.empty(m)
    kept[order] = np.minimum(steps, 1.0)
    adjusted[tested] = kept
    return adjusted


def adjust_discrete(p: npt.ArrayLike, least: npt.ArrayLike) -> Floats:
    """Return p values adjusted by Holm's steps, counting only tests that could be as small.

    With few assessors a test of counts has a smallest p that its data can give.
    A test whose smallest p lies above x can never fall to x by chance, so it
    does not count among those that could have: P(any p <= x) is at most x times
    the number of tests whose smallest p is at most x.

    Parameters
    ----------
    p : array_like of float, shape (m,)
        p values in [0, 1]; nan where no test was possible.
    least : array_like of float, shape (m,)
        The smallest p that each test could have given, whatever the answers,
        with what is taken as given (for words: how often each assessor used them).

    Returns
    -------
    ndarray, shape (m,)
        Adjusted p values in [0, 1], never above Holm's.

    Notes
    -----
    The familywise error is held under any dependence. Tarone's number of tests
    at level a is the same count, turned into an adjusted p value; the steps
    are those of Hommel & Krummenauer.

    References
    ----------
    Tarone (1990), Biometrics 46:515-522. Hommel and Krummenauer (1998),
    Biometrical Journal 40:673-681.

    Examples
    --------
    Of three tests only the first could give p = 0.01 or less, and of the other two only one
    could give 0.2: each stands alone at its step, where Holm would say 0.03, 0.4 and 0.4.

    >>> adjust_discrete([0.01, 0.3, 0.2], [0.01, 0.25, 0.05]).round(2).tolist()
    [0.01, 0.3, 0.2]
    """
    given, floor = np.asarray(p, dtype=float), np.asarray(least, dtype=float)
    holm = adjust(given)
    if floor.shape != given.shape:
        raise OptionError("multiplicity.one_row", shape=floor.shape)
    tested = np.flatnonzero(~np.isnan(given))
    order = tested[np.argsort(given[tested], kind="stable")]
    adjusted, largest = np.full(given.shape, np.nan), 0.0
    for place, which in enumerate(order):
        slack = given[which] * (1 + 1e-9)
        count = max(1, int((floor[order[place:]] <= slack).sum()))
        largest = max(largest, count * float(given[which]))
        adjusted[which] = min(largest, 1.0, holm[which])
    return adjusted


def _from_the_top(values: Floats) -> Floats:
    """Return the running minimum from the last value back: the step-up rule."""
    return np.minimum.accumulate(values[::-1])[::-1]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class AdjustedFamily(Result):
    """Tests that belong together, and which of them hold.

    Attributes
    ----------
    method : str
        One of `METHODS`.
    alpha : float
        The familywise error or false discovery rate that is held.
    n : int
        Number of tests made.
    tests : DataFrame
        Columns ``name, p, adjusted, holds``, smallest p first; a missing p
        does not hold.
    """

    method: str
    alpha: float
    n: int
    tests: pd.DataFrame

    @property
    def holding(self) -> list[str]:
        """Names of the tests that hold, smallest p first."""
        return [str(name) for name in self.tests.loc[self.tests["holds"], "name"]]

    def sentences(self) -> tuple[Sentence, ...]:
        """Say how many hold, which, and how many would have without adjustment."""
        said = [
            Sentence.of(
                "multiplicity.hold" if self.holding else "multiplicity.none",
                n=self.n,
                k=len(self.holding),
                names=self.holding,
                error=Sentence.of(
                    f"multiplicity.error_{self.method}", level=stated_percent(self.alpha)
                ),
            )
        ]
        alone = int(holds(self.tests["p"], self.alpha).sum()) - len(self.holding)
        if alone > 0:
            said.append(Sentence.of("multiplicity.alone", n=alone, level=f"{self.alpha:g}"))
        return tuple(said)

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return the tests with raw and adjusted p."""
        return copies(**{"multiplicity.heading": self.tests})


def family(
    p: Mapping[str, float] | pd.Series, method: str = "holm", *, alpha: float = 0.05
) -> AdjustedFamily:
    """Adjust named p values together and say which tests hold.

    Parameters
    ----------
    p : mapping or Series of name to p value
        One per test of the family, for example one per attribute.
    method : str
        See `adjust`.
    alpha : float
        Familywise error or false discovery rate, between 0 and 1.

    Returns
    -------
    AdjustedFamily

    Raises
    ------
    OptionError
        As `adjust`.
    NotEstimable
        If no test of the family has a p value.

    Examples
    --------
    >>> found = family({"sweet": 0.001, "acid": 0.02, "bitter": 0.2}, "holm")
    >>> found.holding
    ['sweet', 'acid']
    """
    series = pd.Series(p, dtype=float)
    share_of("alpha", alpha)
    adjusted = adjust(series.to_numpy(), method)
    n = int(series.notna().sum())
    if n == 0:
        raise NotEstimable("multiplicity.no_tests")
    tests = pd.DataFrame(
        {
            "name": [str(name) for name in series.index],
            "p": series.to_numpy(),
            "adjusted": adjusted,
            "holds": holds(adjusted, alpha),
        }
    ).sort_values("p", kind="stable", ignore_index=True)
    missing = len(series) - n
    warnings = (Sentence.of("multiplicity.missing", n=missing),) if missing else ()
    return AdjustedFamily(method=method, alpha=alpha, n=n, tests=tests, warnings=warnings)
