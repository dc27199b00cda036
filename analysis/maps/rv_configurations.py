"""How alike two layouts of the same samples are: the RV coefficient and its test.

RV is a squared correlation between two tables of the same samples, whatever
their attributes. With few samples and many attributes it is high by chance
alone, so it never stands without its expectation and a permutation test.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import permutations

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.stats import pearson3

from ..core.errors import NotEstimable, OptionError
from ..core.options import ALPHA, whole
from ..core.p_values import holds
from ..core.result import Result, copies
from ..core.wording import p_words, short
from ..core.words import Sentence
from .rv_permutation_moments import rv_moments

Floats = npt.NDArray[np.float64]
_ALL_ORDERS = 7


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class RV(Result):
    """The RV coefficient of two tables.

    Attributes
    ----------
    rv : float
        From 0 to 1.
    modified : float
        With the diagonals set to zero, which takes off most of what many
        attributes add by chance; can be negative.
    expected, sd : float
        Mean and standard deviation of `rv` over all orders of the samples (exact).
    skewness : float
        Of `rv` over all orders of the samples (exact).
    standardised : float
        ``(rv - expected) / sd``.
    p : float
        Share of orders of the samples with an RV as large.
    p_pearson : float
        Tail of Pearson's type III with the exact mean, standard deviation and
        skewness.
    n : int
        Samples.
    orders : int
        Orders gone through: all, up to 7 samples; else drawn with `seed`, and
        the observed one counted in.
    """

    rv: float
    modified: float
    expected: float
    sd: float
    skewness: float
    standardised: float
    p: float
    p_pearson: float
    n: int
    orders: int
    seed: int
    method: str = "RV, permutation of samples"

    def sentences(self) -> tuple[Sentence, ...]:
        """Say how alike the layouts are, against chance."""
        key = "rv.shared" if holds(self.p, ALPHA) else "rv.not_shown"
        return (
            Sentence.of(
                key,
                rv=short(self.rv),
                expected=short(self.expected),
                p=p_words(self.p),
                n=self.n,
            ),
        )

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return the coefficient with its expectation."""
        row = {
            "rv": self.rv,
            "modified": self.modified,
            "expected": self.expected,
            "sd": self.sd,
            "standardised": self.standardised,
            "p": self.p,
        }
        return copies(**{"rv.heading": pd.DataFrame([row])})


def rv_coefficient(first: npt.ArrayLike, second: npt.ArrayLike) -> float:
    """Return the RV coefficient of two tables of the same rows, columns centred.

    References
    ----------
    Robert and Escoufier (1976), Appl. Statist. 25:257-265.

    Examples
    --------
    >>> rv_coefficient([[1.0, 2], [3, 1], [2, 5]], [[2.0, 4], [6, 2], [4, 10]])
    1.0
    """
    s, t = _cross(first), _cross(second)
    return float(min(1.0, np.sum(s * t) / math.sqrt(np.sum(s * s) * np.sum(t * t))))


def modified_rv(first: npt.ArrayLike, second: npt.ArrayLike) -> float:
    """Return the RV coefficient with the diagonals set to zero.

    References
    ----------
    Smilde et al. (2009), Bioinformatics 25:401-405.
    """
    s, t = _cross(first), _cross(second)
    np.fill_diagonal(s, 0)
    np.fill_diagonal(t, 0)
    return float(np.sum(s * t) / math.sqrt(np.sum(s * s) * np.sum(t * t)))


def rv_test(
    first: npt.ArrayLike, second: npt.ArrayLike, *, orders: int = 9999, seed: int = 1
) -> RV:
    """Test whether two tables lay out the same samples alike.

    Parameters
    ----------
    first, second : array_like, shape (samples, attributes)
        The same samples in the same order; columns are centred here.
    orders : int
        Orders drawn where there are too many to go through all.
    seed : int

    Returns
    -------
    RV

    Raises
    ------
    OptionError
        If the numbers of samples differ.
    NotEstimable
        With fewer than 4 samples, or a table without differences.

    Notes
    -----
    Exact mean ``sqrt(b_x b_y) / (n - 1)`` with ``b = tr(S)**2 / tr(S**2)``; the
    variance and the skewness are those of Kazi-Aoual et al., computed as in
    `rv_moments`.

    References
    ----------
    Kazi-Aoual, Hitier, Sabatier and Lebreton (1995), Comput. Stat. Data Anal.
    20:643-656. Josse, Pages and Husson (2008), Comput. Stat. Data Anal. 53:82-91.
    """
    s, t = _cross(first), _cross(second)
    n = len(s)
    if len(t) != n:
        raise OptionError("rv.other_samples", first=n, second=len(t))
    if n < 4:
        raise NotEstimable("rv.few_samples", n=n)
    if not (np.any(s) and np.any(t)):
        raise NotEstimable("rv.no_difference")
    whole("orders", orders, 99)
    below = math.sqrt(np.sum(s * s) * np.sum(t * t))
    seen = float(np.sum(s * t) / below)
    values = _values(s, t / below, orders, seed)
    mean, sd, skewness = rv_moments(s, t)
    return RV(
        rv=min(1.0, seen),
        modified=modified_rv(first, second),
        expected=mean,
        sd=sd,
        standardised=(seen - mean) / sd,
        p=float(np.mean(values >= seen * (1 - 1e-12))),
        skewness=skewness,
        p_pearson=float(pearson3.sf((seen - mean) / sd, skewness)),
        n=n,
        orders=len(values),
        seed=seed,
    )


def _values(s: Floats, t: Floats, orders: int, seed: int) -> Floats:
    """Return the statistic over orders of the samples, the observed one first."""
    n = len(s)
    if n <= _ALL_ORDERS:
        each = np.array(list(permutations(range(n))))
    else:
        generator = np.random.default_rng(seed)
        drawn = generator.random((orders, n)).argsort(axis=1)
        each = np.vstack([np.arange(n), drawn])
    return np.array([np.sum(s * t[np.ix_(order, order)]) for order in each])


def _cross(table: npt.ArrayLike) -> Floats:
    """Return the products of samples, columns centred."""
    values = np.asarray(table, dtype=float)
    centred = values - values.mean(axis=0)
    product: Floats = centred @ centred.T
    return product
