"""Kendall's W: do the assessors rank the samples alike? Ties allowed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike
from scipy.special import chdtrc, stdtrit

from ..core.ratings_matrix import Floats, check_level, complete_block, matrix, refuse_constant
from ..core.result import Interval, Result
from ..core.wording import p_words, short, stated_percent
from ..core.words import Sentence


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Concordance(Result):
    """Kendall's coefficient of concordance.

    Attributes
    ----------
    w : float
        Corrected for ties, 0 (no common order) to 1 (the same order).
    w_uncorrected : float
        Without the correction.
    mean_spearman : float
        Mean rank correlation over pairs of assessors.
    chi2, df, p_chi2 : float
        The large-panel test.
    p : float
        By permutation within assessors, `permutations` random ones from `seed`.
    p_error : float
        Monte-Carlo standard error of `p`.
    interval : Interval or None
        Limits of W from the jackknife over assessors; None for two assessors.
    n_samples, n_assessors : int
    dropped_samples, dropped_assessors : int
        Left out because of holes.
    """

    w: float
    w_uncorrected: float
    mean_spearman: float
    chi2: float
    df: int
    p_chi2: float
    p: float
    p_error: float
    permutations: int
    seed: int
    interval: Interval | None
    n_samples: int
    n_assessors: int
    dropped_samples: int
    dropped_assessors: int

    def sentences(self) -> tuple[Sentence, ...]:
        """Say W, its limits and the permutation p."""
        values = {"w": short(self.w), "p": p_words(self.p), "seed": self.seed}
        if self.interval is None:
            return (Sentence.of("agreement.w_two", **values),)
        low, high, level = self.interval
        limits = {"low": short(low), "high": short(high), "level": stated_percent(level)}
        return (Sentence.of("agreement.w", **values, **limits),)


def kendall_w(
    ratings: ArrayLike | pd.DataFrame,
    *,
    level: float = 0.95,
    permutations: int = 9999,
    seed: int = 1,
) -> Concordance:
    """Compute Kendall's W with ties.

    Parameters
    ----------
    ratings : array or DataFrame, shape (n samples, m assessors)
        Scores or ranks; higher or lower makes no difference. With holes the
        largest block without a hole is used and the rest is counted as dropped.
    level : float
        Confidence level.
    permutations, seed : int
        Random orders for the p value and their seed; 0 for no p value.

    Raises
    ------
    NotEstimable
        For fewer than two samples or assessors, or when every assessor ties
        all samples.

    Notes
    -----
    ``W = 12 S / (m**2 (n**3 - n) - m sum(t**3 - t))`` [1]_. Limits: the mean
    rank correlation of assessor pairs is jackknifed over assessors (t limits
    with m - 1 df) and brought to W by ``W = ((m - 1) r + 1) / m``, an
    identity without ties and close with them. An assessor who ties all
    samples counts in W and is left out of the pair correlations.

    References
    ----------
    .. [1] Kendall & Gibbons (1990), Rank Correlation Methods, chapter 6.

    Examples
    --------
    >>> result = kendall_w([[1, 1, 2], [2, 3, 1], [3, 2, 3]])
    >>> round(result.w, 4)
    0.4444
    """
    check_level(level)
    table = matrix(ratings)
    refuse_constant(table)
    rows, columns = complete_block(table)
    block = matrix(table[rows][:, columns])
    ranks = pd.DataFrame(block).rank().to_numpy()
    n, m = ranks.shape
    ties = sum(
        float((counts.astype(float) ** 3 - counts).sum())
        for counts in (np.unique(column, return_counts=True)[1] for column in ranks.T)
    )
    largest = m**2 * (n**3 - n) - m * ties
    if largest == 0:
        refuse_constant(np.zeros((n, m)))
    s = _s(ranks)
    w = 12 * s / largest
    generator = np.random.default_rng(seed)
    reached = 0
    for _ in range(permutations):
        reached += _s(generator.permuted(ranks, axis=0)) >= s - 1e-9
    p = (reached + 1) / (permutations + 1) if permutations else float("nan")
    mean_r, limits = _jackknife(ranks, level)
    return Concordance(
        w=w,
        w_uncorrected=12 * s / (m**2 * (n**3 - n)),
        mean_spearman=mean_r,
        chi2=m * (n - 1) * w,
        df=n - 1,
        p_chi2=float(chdtrc(n - 1, m * (n - 1) * w)),
        p=p,
        p_error=float(np.sqrt(p * (1 - p) / max(permutations, 1))),
        permutations=permutations,
        seed=seed,
        interval=limits,
        n_samples=n,
        n_assessors=m,
        dropped_samples=int((~rows).sum()),
        dropped_assessors=int((~columns).sum()),
        warnings=(Sentence.of("agreement.w_holes", n=int((~rows).sum() + (~columns).sum())),)
        if np.isnan(table).any()
        else (),
    )


def _s(ranks: Floats) -> float:
    """Return the sum of squared deviations of the samples' rank sums."""
    total = ranks.sum(axis=1)
    return float(((total - total.mean()) ** 2).sum())


def _jackknife(ranks: Floats, level: float) -> tuple[float, Interval | None]:
    """Return the mean rank correlation and limits of W from leaving assessors out."""
    m = ranks.shape[1]
    moving = ranks[:, np.ptp(ranks, axis=0) > 0]
    count = moving.shape[1]
    if count < 2:
        return float("nan"), None
    r: Floats = np.asarray(np.corrcoef(moving, rowvar=False))
    above = r[np.triu_indices(count, 1)]
    mean = float(above.mean())
    if count < 3:
        return mean, None
    left_out = (r.sum() - 2 * r.sum(axis=0) + 1 - (count - 1)) / ((count - 1) * (count - 2))
    error = np.sqrt((count - 1) / count * ((left_out - left_out.mean()) ** 2).sum())
    half = stdtrit(count - 1, (1 + level) / 2) * error
    low, high = np.clip([mean - half, mean + half], -1 / (m - 1), 1)
    return mean, Interval(((m - 1) * low + 1) / m, ((m - 1) * high + 1) / m, level)
