"""Ranking with holes: every assessor ranks only some of the samples.

When each sample is ranked equally often, in flights of equal size, Durbin's
test applies; Skillings and Mack's takes any pattern of holes and agrees with
it there. The p value is exact while the orders within flights can be counted,
else from random orders.

References
----------
Durbin (1951); Conover, Practical Nonparametric Statistics (1999) section 5.10
(T1, its F form T2, and the comparison of pairs). Skillings & Mack (1981),
Technometrics 23:171-177.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations
from math import inf, isfinite, nan, sqrt
from typing import TYPE_CHECKING, Unpack

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.stats import chi2, norm, rankdata
from scipy.stats import f as f_dist
from scipy.stats import t as t_dist

from ..core.errors import NotEstimable
from ..core.options import share_of
from ..core.plotted import Plotted
from ..core.result import copies
from ..core.tidy_table import Columns, Tidy
from ..core.wording import p_words, short
from ..core.words import FALLBACK, Sentence
from .exact_rank_sums import block_sums
from .rank_table import PAIR_COLUMNS, SEED, one_answer_each, verdict_said

if TYPE_CHECKING:
    from matplotlib.figure import Figure

Floats = npt.NDArray[np.float64]
_SLACK = 1e-7


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class BlockRanking(Plotted):
    """Outcome of a ranking with holes.

    Attributes
    ----------
    attribute : str
    assessors, samples : int
        Assessors with two ranked samples or more; samples.
    balanced : bool
        Whether flights and repetitions are equal and Durbin's test applies.
    sm, df, p_chi_square : float
        Skillings and Mack's statistic and its chi-square p.
    t1, t2, t2_df, p_t2 : float
        Durbin's statistic and its F form; nan when not balanced.
    p : float
        The p value to read: exact, or from random orders.
    method : str
        ``"exact"`` or ``"random orders"``.
    draws, seed : int
    alpha : float
    sums : DataFrame
        ``sample, times, rank_sum, adjusted_sum, mean_rank``: adjusted sums are centred
        and weighted for flights of different size.
    differences : DataFrame
        ``sample, other, difference, p_comparisonwise, p_familywise``: of
        adjusted sums, in standard errors; p as in `ranks.Ranking`.
    lsd : float
        Conover's least significant difference of rank sums, comparison-wise;
        nan when not balanced.
    left_out : tuple of str
        Assessors who ranked one sample only.
    """

    attribute: str
    assessors: int
    samples: int
    balanced: bool
    sm: float
    df: int
    p_chi_square: float
    t1: float
    t2: float
    t2_df: tuple[int, int]
    p_t2: float
    p: float
    method: str
    draws: int
    seed: int
    alpha: float
    sums: pd.DataFrame
    differences: pd.DataFrame
    lsd: float
    left_out: tuple[str, ...]

    def sentences(self) -> tuple[Sentence, ...]:
        """Say whether the samples differ in rank, and which pairs do."""
        first = Sentence.of(
            "rank_blocks.counted",
            attribute=self.attribute,
            assessors=Sentence.of("common.assessors", n=self.assessors),
            samples=Sentence.of("common.samples", n=self.samples),
            test=Sentence.of("rank_blocks.durbin" if self.balanced else "rank_blocks.sm"),
            value=short(self.t1 if self.balanced else self.sm),
            df=self.df,
            p=p_words(self.p),
            how=Sentence.of(f"ranks.{self.method.replace(' ', '_')}", n=self.draws, seed=self.seed),
        )
        return (first, *verdict_said(self.p, self.differences, self.alpha))

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return adjusted sums and differences."""
        return copies(
            **{"rank_blocks.table_sums": self.sums, "rank_blocks.table_pairs": self.differences}
        )

    def figure(self, *, language: str = FALLBACK, narrow: bool = False) -> Figure:
        """Draw the adjusted rank sums."""
        from .rank_sums_figure import draw_rank_sums

        table = self.sums[["sample", "adjusted_sum"]].set_axis(["sample", "rank_sum"], axis=1)
        return draw_rank_sums(table, None, 0.0, adjusted=True, language=language, narrow=narrow)


def rank_blocks(
    table: Tidy | pd.DataFrame,
    attribute: str | None = None,
    *,
    alpha: float = 0.05,
    seed: int = SEED,
    **column_names: Unpack[Columns],
) -> BlockRanking:
    """Test whether samples differ in rank when assessors ranked some of them only.

    Parameters
    ----------
    table : Tidy or DataFrame
        A tidy table; scores are turned into ranks within the assessor.
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
    BlockRanking

    Raises
    ------
    NotEstimable
        With fewer than two assessors who ranked two samples, or when samples
        fall into groups that no assessor compared.
    """
    share_of("alpha", alpha)
    wide, attribute, warnings = one_answer_each(table, attribute, **column_names)
    ranked = wide.notna().sum(axis=1)
    left_out = tuple(str(name) for name in wide.index[ranked < 2])
    wide = wide[ranked >= 2]
    if len(wide) < 2:
        raise NotEstimable("rank_blocks.too_few")
    wide = wide.loc[:, wide.notna().any()]
    names = [str(name) for name in wide.columns]
    k = len(names)
    filled = wide.notna().to_numpy()
    covariance = _covariance(filled)
    df = int(np.linalg.matrix_rank(covariance))
    if df < k - 1:
        raise NotEstimable("rank_blocks.apart", groups=_groups(filled, names))
    inverse: Floats = np.linalg.pinv(covariance).astype(np.float64)
    scores = wide.to_numpy(float)
    blocks = []
    plain = np.zeros(k)
    adjusted = np.zeros(k)
    for row, has in zip(scores, filled, strict=True):
        columns = np.flatnonzero(has)
        ranks = np.asarray(rankdata(row[columns]), dtype=float)
        weights = sqrt(12 / (len(columns) + 1)) * (ranks - (len(columns) + 1) / 2)
        plain[columns] += ranks
        adjusted[columns] += weights
        blocks.append((columns.tolist(), weights))
    statistic = float(adjusted @ inverse @ adjusted)
    ways, draws = block_sums(blocks, k, seed=seed)
    values = np.einsum("ij,jk,ik->i", ways, inverse, ways)
    times = filled.sum(axis=0)
    balanced = len(set(filled.sum(axis=1))) == 1 and _even(filled)
    t1, t2, t2_df, p_t2, lsd = _durbin(scores, filled, plain, alpha) if balanced else _NONE
    mean_rank = plain / times
    return BlockRanking(
        attribute=attribute,
        assessors=len(wide),
        samples=k,
        balanced=balanced,
        sm=statistic,
        df=df,
        p_chi_square=float(chi2.sf(statistic, df)),
        t1=t1,
        t2=t2,
        t2_df=t2_df,
        p_t2=p_t2,
        p=_tail(values, statistic, draws),
        method="random orders" if draws else "exact",
        draws=draws,
        seed=seed,
        alpha=alpha,
        sums=pd.DataFrame(
            {
                "sample": names,
                "times": times,
                "rank_sum": plain,
                "adjusted_sum": adjusted,
                "mean_rank": mean_rank,
            }
        ).sort_values("adjusted_sum", kind="stable", ignore_index=True),
        differences=_differences(names, adjusted, inverse, ways, draws),
        lsd=lsd,
        left_out=left_out,
        warnings=(
            *warnings,
            *((Sentence.of("rank_blocks.left_out", who=list(left_out)),) if left_out else ()),
        ),
    )


_NONE = (nan, nan, (0, 0), nan, nan)


def _covariance(filled: npt.NDArray[np.bool_]) -> Floats:
    """Return the covariance of the adjusted sums: minus the flights that two samples share."""
    together = filled.astype(float).T @ filled.astype(float)
    np.fill_diagonal(together, 0.0)
    covariance: Floats = np.diag(together.sum(axis=1)) - together
    return covariance


def _even(filled: npt.NDArray[np.bool_]) -> bool:
    """Tell whether each sample and each pair of samples come equally often."""
    together = filled.astype(int).T @ filled.astype(int)
    off = together[~np.eye(len(together), dtype=bool)]
    return len(set(np.diag(together))) == 1 and len(set(off)) == 1


def _groups(filled: npt.NDArray[np.bool_], names: list[str]) -> str:
    from scipy.sparse.csgraph import connected_components

    together = filled.astype(int).T @ filled.astype(int)
    _, label = connected_components(together)
    parts = [
        " ".join(name for name, at in zip(names, label, strict=True) if at == group)
        for group in sorted(set(label))
    ]
    return " | ".join(parts)


def _durbin(
    scores: Floats, filled: npt.NDArray[np.bool_], sums: Floats, alpha: float
) -> tuple[float, float, tuple[int, int], float, float]:
    """Return T1, T2, its degrees of freedom, its p, and Conover's LSD of rank sums."""
    b, t = filled.shape
    k = int(filled[0].sum())
    r = b * k // t
    squares = sum(
        float((np.asarray(rankdata(row[has])) ** 2).sum())
        for row, has in zip(scores, filled, strict=True)
    )
    level = b * k * (k + 1) ** 2 / 4
    if squares - level <= 1e-12:
        raise NotEstimable("ranks.all_tied")
    t1 = (t - 1) * (float((sums**2).sum()) - r * level) / (squares - level)
    df = (t - 1, b * k - b - t + 1)
    spare = b * (k - 1) - t1
    t2 = (t1 / (t - 1)) / (spare / df[1]) if spare > 1e-9 else inf
    p = float(f_dist.sf(t2, *df)) if isfinite(t2) else 0.0
    spread = (squares - level) * 2 * r / df[1] * max(0.0, 1 - t1 / (b * (k - 1)))
    return t1, t2, df, p, float(t_dist.ppf(1 - alpha / 2, df[1])) * sqrt(spread)


def _tail(values: Floats, observed: float, draws: int) -> float:
    extreme = int((values >= observed - _SLACK).sum())
    return (extreme + 1) / (draws + 1) if draws else extreme / len(values)


def _differences(
    names: list[str], sums: Floats, inverse: Floats, ways: Floats, draws: int
) -> pd.DataFrame:
    """Compare all pairs in standard errors, singly and the largest of them at once."""
    pairs = list(combinations(range(len(names)), 2))
    contrast = np.zeros((len(pairs), len(names)))
    for i, (a, b) in enumerate(pairs):
        contrast[i, a], contrast[i, b] = 1, -1
    error = np.sqrt(np.einsum("ij,jk,ik->i", contrast, inverse, contrast))
    to_z = (contrast @ inverse) / error[:, None]
    z = to_z @ sums
    largest = np.abs(ways @ to_z.T).max(axis=1)
    rows = [
        (
            names[a],
            names[b],
            float(value),
            2 * float(norm.sf(abs(value))),
            _tail(largest, abs(float(value)), draws),
        )
        for (a, b), value in zip(pairs, z, strict=True)
    ]
    return pd.DataFrame(rows, columns=PAIR_COLUMNS)
