"""Ranking: do the samples differ in rank, and which.

Every assessor puts the same samples in order. The p value is exact while the
orders can be counted, and comes from random orders beyond that; the chi-square
and F forms that tables and textbooks give stand beside it.

References
----------
Friedman (1937); ISO 8587. Iman & Davenport (1980), Communications in
Statistics A9:571-595, for the F form. Nemenyi (1963), for comparing all pairs
by the range of rank sums.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations
from math import inf, isfinite, sqrt
from typing import TYPE_CHECKING, Unpack

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.stats import chi2, norm, studentized_range
from scipy.stats import f as f_dist

from ..core.errors import NotEstimable
from ..core.options import share_of
from ..core.p_values import holds
from ..core.plotted import Plotted
from ..core.result import copies
from ..core.tidy_table import Columns, Tidy
from ..core.wording import p_words, short
from ..core.words import FALLBACK, Sentence
from .exact_rank_sums import RankSums, rank_sums
from .rank_table import PAIR_COLUMNS, SEED, complete_ranks, one_answer_each, verdict_said

if TYPE_CHECKING:
    from matplotlib.figure import Figure

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Ranking(Plotted):
    """Outcome of a ranking of complete rows (Friedman).

    Attributes
    ----------
    attribute : str
    assessors, samples : int
        Numbers J and P.
    chi_square, df, p_chi_square : float
        Friedman's statistic, corrected for ties, on P - 1 degrees of freedom.
    f, f_df, p_f : float, tuple, float
        F form on P - 1 and (J - 1)(P - 1); infinite when all rank alike.
    p : float
        The p value to read: exact, or from random orders.
    method : str
        ``"exact"`` or ``"random orders"``.
    draws, seed : int
        Random orders (0 when exact) and their seed.
    w : float
        Kendall's W, 0 to 1: how far the assessors agree.
    alpha : float
    rank_sums : DataFrame
        ``sample, rank_sum, mean_rank``, the least first.
    differences : DataFrame
        ``sample, other, difference, p_comparisonwise, p_familywise``: differences
        of rank sums. `p_comparisonwise` (normal, ISO 8587) risks `alpha` in every
        single comparison; `p_familywise` (range of rank sums, exact or from
        random orders) risks it once for all of them when no sample differs.
    lsd : float
        Least significant difference, comparison-wise, ISO 8587.
    critical_range : float or None
        Least difference of rank sums that is claimed family-wise; None when
        none can be.
    hsd : float
        The same by the large-sample table (studentised range).
    """

    attribute: str
    assessors: int
    samples: int
    chi_square: float
    df: int
    p_chi_square: float
    f: float
    f_df: tuple[int, int]
    p_f: float
    p: float
    method: str
    draws: int
    seed: int
    w: float
    alpha: float
    rank_sums: pd.DataFrame
    differences: pd.DataFrame
    lsd: float
    critical_range: float | None
    hsd: float

    def sentences(self) -> tuple[Sentence, ...]:
        """Say whether the samples differ in rank, and which pairs do."""
        first = Sentence.of(
            "ranks.counted",
            attribute=self.attribute,
            assessors=Sentence.of("common.assessors", n=self.assessors),
            samples=Sentence.of("common.samples", n=self.samples),
            chi=short(self.chi_square),
            df=self.df,
            p=p_words(self.p),
            how=Sentence.of(f"ranks.{self.method.replace(' ', '_')}", n=self.draws, seed=self.seed),
            w=short(self.w, 2),
        )
        told = [first, *verdict_said(self.p, self.differences, self.alpha)]
        if self.critical_range is None:
            told.append(Sentence.of("ranks.no_pair_possible", alpha=self.alpha))
        else:
            told.append(Sentence.of("ranks.range", gap=f"{self.critical_range:g}"))
        return tuple(told)

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return rank sums and differences."""
        return copies(
            **{"ranks.table_sums": self.rank_sums, "ranks.table_differences": self.differences}
        )

    def figure(self, *, language: str = FALLBACK, narrow: bool = False) -> Figure:
        """Draw the rank sums and the least difference that is claimed."""
        from .rank_sums_figure import draw_rank_sums

        return draw_rank_sums(
            self.rank_sums, self.critical_range, self.alpha, language=language, narrow=narrow
        )


def friedman(
    table: Tidy | pd.DataFrame,
    attribute: str | None = None,
    *,
    alpha: float = 0.05,
    seed: int = SEED,
    **column_names: Unpack[Columns],
) -> Ranking:
    """Test whether samples differ in rank when every assessor ranked all of them.

    Parameters
    ----------
    table : Tidy or DataFrame
        A tidy table; the score is a rank, or a score that is turned into ranks
        within the assessor (1 = least). Ties share their mean rank. Replicates
        are averaged before ranking.
    attribute : str, optional
        May be left out if there is one only.
    alpha : float
        Risk of finding a difference where there is none.
    seed : int
        For random orders beyond the exact range.
    **column_names : str
        What the columns of a DataFrame are called, as in `tidy`.

    Returns
    -------
    Ranking

    Raises
    ------
    NotEstimable
        With fewer than two assessors or samples, with holes (see
        `rank_blocks`), or when every assessor ties all samples.

    Examples
    --------
    >>> rows = [(a, s, r) for a, row in enumerate([[1, 2, 3], [1, 3, 2], [1, 2, 3]])
    ...         for s, r in zip("xyz", row)]
    >>> result = friedman(pd.DataFrame(rows, columns=["assessor", "sample", "score"]))
    >>> round(result.chi_square, 3), round(result.p, 4)
    (4.667, 0.1944)
    """
    share_of("alpha", alpha)
    wide, attribute, warnings = one_answer_each(table, attribute, **column_names)
    ranks = complete_ranks(wide)
    j, k = ranks.shape
    sums = ranks.sum(axis=0)
    ties = sum(
        float((counts**3 - counts).sum())
        for counts in (np.unique(row, return_counts=True)[1] for row in ranks)
    )
    correction = 1 - ties / (j * k * (k**2 - 1))
    if correction <= 1e-12:
        raise NotEstimable("ranks.all_tied")
    statistic = (12 * float((sums**2).sum()) / (j * k * (k + 1)) - 3 * j * (k + 1)) / correction
    statistic = max(0.0, statistic)
    spare = j * (k - 1) - statistic
    f = (j - 1) * statistic / spare if spare > 1e-9 else inf
    doubled = [[round(2 * rank) for rank in row] for row in ranks]
    chances = rank_sums(doubled, seed=seed)
    observed = round(float(((2 * sums) ** 2).sum()))
    names = [str(name) for name in wide.columns]
    error = sqrt(j * k * (k + 1) / 6 * correction)
    return Ranking(
        attribute=attribute,
        assessors=j,
        samples=k,
        chi_square=statistic,
        df=k - 1,
        p_chi_square=float(chi2.sf(statistic, k - 1)),
        f=f,
        f_df=(k - 1, (j - 1) * (k - 1)),
        p_f=float(f_dist.sf(f, k - 1, (j - 1) * (k - 1))) if isfinite(f) else 0.0,
        p=chances.tail(chances.squares, observed),
        method="random orders" if chances.draws else "exact",
        draws=chances.draws,
        seed=seed,
        w=statistic / (j * (k - 1)),
        alpha=alpha,
        rank_sums=_sums(names, sums, j),
        differences=_differences(names, sums, error, chances),
        lsd=float(norm.ppf(1 - alpha / 2)) * error,
        critical_range=_critical_range(chances, alpha),
        hsd=float(studentized_range.ppf(1 - alpha, k, np.inf)) * sqrt(j * k * (k + 1) / 12),
        warnings=warnings,
    )


def _sums(names: list[str], sums: Floats, n: int) -> pd.DataFrame:
    table = pd.DataFrame({"sample": names, "rank_sum": sums, "mean_rank": sums / n})
    return table.sort_values("rank_sum", kind="stable").reset_index(drop=True)


def _differences(names: list[str], sums: Floats, error: float, chances: RankSums) -> pd.DataFrame:
    rows = []
    for a, b in combinations(range(len(names)), 2):
        gap = float(sums[a] - sums[b])
        single = 2 * float(norm.sf(abs(gap) / error))
        family = chances.tail(chances.ranges, round(2 * abs(gap)))
        rows.append((names[a], names[b], gap, single, family))
    return pd.DataFrame(rows, columns=PAIR_COLUMNS)


def _critical_range(chances: RankSums, alpha: float) -> float | None:
    """Return the least range of rank sums whose probability is at most alpha."""
    for value in np.unique(chances.ranges):
        if holds(chances.tail(chances.ranges, int(value)), alpha):
            return float(value) / 2
    return None
