"""Intraclass correlations: the share of the variance of a score that comes from the samples.

Six coefficients answer six questions. *One-way* (1): every sample has other
assessors. *Absolute* (A): assessors are a draw from a population, and a
difference in level counts as disagreement. *Consistency* (C): a difference in
level does not count. Each for a *single* assessor's score and for the *mean*
of the panel.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray
from scipy.special import fdtri

from ...rounding import rounded
from ..core.errors import NotEstimable
from ..core.ratings_matrix import Floats, check_level, matrix, refuse_constant
from ..core.result import Interval, Result
from ..core.wording import short, stated_percent
from ..core.words import Sentence
from ..mixed_model.block_layout import CellSums, RandomTerm
from ..mixed_model.reml import fit

NAMES = ("ICC(1,1)", "ICC(A,1)", "ICC(C,1)", "ICC(1,k)", "ICC(A,k)", "ICC(C,k)")
_SHROUT_FLEISS = ("ICC(1,1)", "ICC(2,1)", "ICC(3,1)", "ICC(1,k)", "ICC(2,k)", "ICC(3,k)")


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class IntraclassCorrelations(Result):
    """Intraclass correlations of one attribute.

    Attributes
    ----------
    table : DataFrame
        ``coefficient, shrout_fleiss, estimate, low, high, df1, df2``, one row
        per coefficient: six for a full table, four (A and C) with holes. The
        limits hold the estimate; both are nan where the scores leave no error
        to judge by (then `warnings` say so). An estimate can be below 0; that
        of a panel mean is -infinity where the samples' means do not differ.
    mean_squares : dict
        ``samples`` (BMS), ``within`` (WMS, nan with holes), ``assessors``
        (JMS), ``error`` (EMS).
    components : dict
        Variances of ``sample, assessor, residual`` in squared scale points;
        a negative one is set to 0 and told in `warnings`.
    n_samples, n_assessors, n_ratings : int
    k : float
        Assessors behind a panel mean (their harmonic mean per sample, with holes).
    level : float
        Confidence level of the limits.
    method : str
        ``"mean squares"`` or ``"REML"``.
    """

    table: pd.DataFrame
    mean_squares: dict[str, float]
    components: dict[str, float]
    n_samples: int
    n_assessors: int
    n_ratings: int
    k: float
    level: float
    method: str

    def interval(self, coefficient: str) -> Interval:
        """Return the confidence limits of one coefficient, e.g. ``"ICC(A,1)"``."""
        row = self.table[self.table["coefficient"] == coefficient]
        return Interval(float(row["low"].iloc[0]), float(row["high"].iloc[0]), self.level)

    def estimate(self, coefficient: str) -> float:
        """Return one coefficient, e.g. ``"ICC(A,1)"``."""
        row = self.table[self.table["coefficient"] == coefficient]
        return float(row["estimate"].iloc[0])

    def sentences(self) -> tuple[Sentence, ...]:
        """Say the single score's and the panel mean's coefficient."""
        return (
            self._spoken("icc_single", "ICC(A,1)"),
            self._spoken("icc_mean", "ICC(C,k)", k=rounded(self.k, ".3g")),
        )

    def tables(self) -> dict[str, pd.DataFrame]:
        """Return the coefficients."""
        return {"agreement.heading_icc": self.table.copy()}

    def _spoken(self, key: str, name: str, **more: str) -> Sentence:
        limits, estimate = self.interval(name), self.estimate(name)
        said = {"estimate": short(estimate), **more}
        if not np.isfinite(estimate):
            return Sentence.of(f"agreement.{key}_none", **more)
        if np.isnan(limits.low):
            return Sentence.of(f"agreement.{key}_alone", **said)
        low = short(max(limits.low, 0.0)) if estimate >= 0 else short(limits.low)
        said |= {"low": low, "high": short(limits.high), "level": stated_percent(self.level)}
        return Sentence.of(f"agreement.{key}", **said)


def icc(
    ratings: ArrayLike | pd.DataFrame, *, level: float = 0.95, method: str | None = None
) -> IntraclassCorrelations:
    """Compute the intraclass correlations of a table of ratings.

    Parameters
    ----------
    ratings : array or DataFrame, shape (n samples, k assessors)
        nan where an assessor did not score a sample.
    level : float
        Confidence level of the limits, 0 to 1.
    method : {"mean squares", "REML"}, optional
        By default mean squares for a full table, REML with holes.

    Returns
    -------
    IntraclassCorrelations

    Raises
    ------
    NotEstimable
        For fewer than two samples or assessors, when all ratings are equal,
        or when every assessor gave all samples the same score: there is no
        variation to agree on.

    Notes
    -----
    Full table: mean squares of the two-way table; exact F limits for the
    one-way and the consistency coefficients, Satterthwaite's approximation
    for the absolute one [1]_ [2]_, kept within -1/(k - 1) and 1, which no
    correlation of k scores can leave. With holes: REML estimates of the crossed
    variance components by `analysis.mixed_model.reml`, as in the analysis of
    variance, so that no sample or assessor is dropped; limits by the same
    formulas from the adjusted mean squares, with the mean number of ratings
    per sample and assessor that their expectations contain, widened to hold
    the estimate if need be. They are approximate. Where level and sample
    explain every score (often with few scores in whole steps), no limits are
    given: an error of 0 would make them as narrow as the estimate.

    References
    ----------
    .. [1] Shrout & Fleiss (1979), Psychol. Bull. 86, 420-428.
    .. [2] McGraw & Wong (1996), Psychol. Methods 1, 30-46.

    Examples
    --------
    The table of Shrout & Fleiss, six targets and four judges; printed there:
    .17 .29 .71 .44 .62 .91.

    >>> judges = [9, 6, 8, 7, 10, 6], [2, 1, 4, 1, 5, 2], [5, 3, 6, 2, 6, 4], [8, 2, 8, 6, 9, 7]
    >>> [float(round(value, 2)) for value in icc(np.transpose(judges)).table["estimate"]]
    [0.17, 0.29, 0.71, 0.44, 0.62, 0.91]
    """
    check_level(level)
    table = matrix(ratings)
    refuse_constant(table)
    holes = bool(np.isnan(table).any())
    if holes or method == "REML":
        return _with_holes(table, level)
    return _full(table, level)


def _full(table: Floats, level: float) -> IntraclassCorrelations:
    n, k = table.shape
    grand = table.mean()
    ms_b = _nothing(k * ((table.mean(axis=1) - grand) ** 2).sum() / (n - 1), table)
    ms_j = n * ((table.mean(axis=0) - grand) ** 2).sum() / (k - 1)
    ss_w = ((table - table.mean(axis=1, keepdims=True)) ** 2).sum()
    ms_w = ss_w / (n * (k - 1))
    ms_e = _nothing((ss_w - (k - 1) * ms_j) / ((n - 1) * (k - 1)), table)
    _refuse_samples_alike(ms_b, ms_e)
    variances = {
        "sample": (ms_b - ms_e) / k,
        "assessor": (ms_j - ms_e) / n,
        "residual": ms_e,
    }
    absolute = _within(
        _share(ms_b - ms_e, ms_b + (k - 1) * ms_e + k * (ms_j - ms_e) / n), -1 / (k - 1)
    )
    single = [
        _share(ms_b - ms_w, ms_b + (k - 1) * ms_w),
        absolute,
        _share(ms_b - ms_e, ms_b + (k - 1) * ms_e),
    ]
    mean = [_stepped(value, k) for value in single]
    one_way = _f_limits(ms_b, ms_w, k, n - 1, n * (k - 1), level)
    absolute_limits, v = _absolute_limits(ms_b, ms_j, ms_e, n, k, absolute, level)
    consistent = _f_limits(ms_b, ms_e, k, n - 1, (n - 1) * (k - 1), level)
    limits = [one_way, absolute_limits, consistent]
    limits += [(_stepped(low, k), _stepped(high, k)) for low, high in limits]
    df2 = [n * (k - 1), v, (n - 1) * (k - 1)] * 2
    return IntraclassCorrelations(
        table=_coefficients([*single, *mean], limits, n - 1, df2),
        mean_squares={"samples": ms_b, "within": ms_w, "assessors": ms_j, "error": ms_e},
        components={name: max(value, 0.0) for name, value in variances.items()},
        n_samples=n,
        n_assessors=k,
        n_ratings=n * k,
        k=float(k),
        level=level,
        method="mean squares",
        warnings=(
            *(
                Sentence.of(f"agreement.negative_{name}")
                for name, value in variances.items()
                if value < 0
            ),
            *_no_error(ms_e),
        ),
    )


def _nothing(square: float, table: Floats) -> float:
    """Take for 0 a mean square that is no more than the rounding of sums of scores."""
    size = float(np.nanmax(np.abs(table))) ** 2
    return 0.0 if square <= 1e-20 * size else float(square)


def _refuse_samples_alike(ms_b: float, ms_e: float) -> None:
    """Refuse where every assessor gave all samples the same score."""
    if ms_b == ms_e == 0:
        raise NotEstimable("agreement.samples_alike")


def _no_error(ms_e: float) -> tuple[Sentence, ...]:
    return (Sentence.of("agreement.no_limits"),) if ms_e == 0 else ()


def _within(value: float, least: float) -> float:
    """Keep a single score's coefficient where a correlation of k scores can be."""
    return min(max(value, least), 1.0)


def _share(part: float, whole: float) -> float:
    """Divide; where there is no whole, say how far below 0 it would be: all the way."""
    if whole <= 0:
        return 0.0 if part == 0 else -np.inf
    return float(part / whole)


def _stepped(single: float, k: float) -> float:
    """Step a single score's coefficient up to the mean of `k` (Spearman and Brown)."""
    below = 1 + (k - 1) * single
    return k * single / below if np.isnan(below) or below > 1e-12 else -np.inf


def _coefficients(
    estimates: list[float], limits: list[tuple[float, float]], df1: int, df2: list[float]
) -> pd.DataFrame:
    """Make the table: limits hold their estimate, and there are none where they have no width."""
    # With holes there is no one-way coefficient.
    kept = [place for place in range(6) if len(estimates) == 6 or place % 3]
    low, high = np.array(limits).T
    wide = (high > low) & np.isfinite(high)
    return pd.DataFrame(
        {
            "coefficient": [NAMES[place] for place in kept],
            "shrout_fleiss": [_SHROUT_FLEISS[place] for place in kept],
            "estimate": estimates,
            "low": np.where(wide, np.fmin(low, estimates), np.nan),
            "high": np.where(wide, np.fmax(high, estimates), np.nan),
            "df1": df1,
            "df2": df2,
        }
    )


def _f_limits(  # noqa: PLR0917 - the formula's letters
    above: float, below: float, k: float, df1: float, df2: float, level: float
) -> tuple[float, float]:
    """Return exact limits of ``(F - 1) / (F + k - 1)`` from the F ratio of two mean squares."""
    if below <= 0:
        return float("nan"), float("nan")
    ratio = above / below
    tail = (1 + level) / 2
    low = ratio / fdtri(df1, df2, tail)
    high = ratio * fdtri(df2, df1, tail)
    return float((low - 1) / (low + k - 1)), float((high - 1) / (high + k - 1))


def _absolute_limits(  # noqa: PLR0917 - the formula's letters
    ms_b: float, ms_j: float, ms_e: float, n: float, k: float, r: float, level: float
) -> tuple[tuple[float, float], float]:
    """Return limits of the absolute coefficient and the df of its error term.

    McGraw & Wong 1996, table 7, row ICC(A,1): Satterthwaite.
    """
    if ms_e <= 0 or r >= 1:
        return (float("nan"), float("nan")), float("nan")
    a = k * r / (n * (1 - r))
    b = 1 + k * r * (n - 1) / (n * (1 - r))
    df_e = (n - 1) * (k - 1)
    below = (a * ms_j) ** 2 / (k - 1) + (b * ms_e) ** 2 / df_e
    v = (a * ms_j + b * ms_e) ** 2 / below if below > 0 else df_e
    tail = (1 + level) / 2
    f_low = float(fdtri(n - 1, v, tail))
    f_high = float(fdtri(v, n - 1, tail))
    error = k * ms_j + (k * n - k - n) * ms_e
    # With hardly any df of error the quantiles overflow; the limits then take their limit.
    low = (
        _share(n * (ms_b - f_low * ms_e), f_low * error + n * ms_b)
        if np.isfinite(f_low)
        else _share(-n * ms_e, error)
    )
    high = (
        _share(n * (f_high * ms_b - ms_e), error + n * f_high * ms_b)
        if np.isfinite(f_high)
        else 1.0
    )
    least = -1 / (k - 1)
    return (_within(low, least), _within(high, least)), float(v)


def _with_holes(table: Floats, level: float) -> IntraclassCorrelations:
    n, k_all = table.shape
    row, column = np.nonzero(~np.isnan(table))
    y = table[row, column]
    if y.size - (n + k_all - 1) < 1:
        raise NotEstimable("agreement.too_sparse", n=y.size, samples=n, assessors=k_all)
    z_row, z_column = np.eye(n)[row], np.eye(k_all)[column]
    ms_b, df_b, k0 = _adjusted(y, z_row, z_column)
    ms_j, df_j, n0 = _adjusted(y, z_column, z_row)
    if df_b < n - 1 or df_j < k_all - 1:
        raise NotEstimable("agreement.not_connected")
    both = np.hstack([z_row, z_column])
    fitted = both @ np.linalg.lstsq(both, y, rcond=None)[0]
    df_e = y.size - np.linalg.matrix_rank(both)
    ms_b = _nothing(ms_b, table)
    ms_e = _nothing(float(((y - fitted) ** 2).sum() / df_e), table)
    _refuse_samples_alike(ms_b, ms_e)
    variances = _reml(y, row, column) if ms_e > 0 else (ms_b / k0, ms_j / n0, 0.0)
    k = n / (1 / np.bincount(row, minlength=n)).sum()
    sample, assessor, residual = variances
    total = sample + assessor + residual
    single = [sample / total, sample / (sample + residual) if sample + residual > 0 else 0.0]
    mean = [_stepped(value, k) for value in single]
    absolute, v = _absolute_limits(ms_b, ms_j, ms_e, n0, k0, single[0], level)
    consistent = _f_limits(ms_b, ms_e, k0, df_b, df_e, level)
    limits = [absolute, consistent]
    limits += [(_stepped(low, k), _stepped(high, k)) for low, high in limits]
    scale = max(total, np.finfo(float).tiny)
    notes = [Sentence.of("agreement.icc_holes", n=int(np.isnan(table).sum()))]
    names = ("sample", "assessor", "residual")
    notes += [
        Sentence.of(f"agreement.negative_{name}")
        for name, value in zip(names, variances, strict=True)
        if value / scale < 1e-8 and (name != "residual" or ms_e > 0)
    ]
    notes += _no_error(ms_e)
    return IntraclassCorrelations(
        table=_coefficients([*single, *mean], limits, df_b, [v, df_e] * 2),
        mean_squares={
            "samples": ms_b,
            "within": float("nan"),
            "assessors": ms_j,
            "error": ms_e,
        },
        components=dict(zip(names, variances, strict=True)),
        n_samples=n,
        n_assessors=k_all,
        n_ratings=y.size,
        k=float(k),
        level=level,
        method="REML",
        warnings=tuple(notes),
    )


def _adjusted(y: Floats, wanted: Floats, other: Floats) -> tuple[float, int, float]:
    """Return mean square of one factor adjusted for the other, its df, and ratings per level.

    The last is the coefficient of the factor's variance in the expectation
    of that mean square (Henderson's third method).
    """
    basis = np.linalg.qr(other)[0]
    free = wanted - basis @ (basis.T @ wanted)
    u, size, _ = np.linalg.svd(free, full_matrices=False)
    kept = size > 1e-9 * size.max()
    df = int(kept.sum())
    return float(((u[:, kept].T @ y) ** 2).sum() / df), df, float((size[kept] ** 2).sum() / df)


def _reml(y: Floats, row: NDArray[np.intp], column: NDArray[np.intp]) -> tuple[float, float, float]:
    """Estimate sample, assessor and residual variance by REML (crossed, mean only)."""
    terms = [
        RandomTerm("sample", row.astype(np.int64)),
        RandomTerm("assessor", column.astype(np.int64)),
    ]
    cells = CellSums(np.ones((1, y.size)), y[None], np.zeros(1))
    found = fit(np.ones((y.size, 1)), terms, cells)
    theta = dict(zip(found.names, found.theta[0], strict=True))
    if not found.converged[0]:
        raise NotEstimable("agreement.not_settled")
    return float(theta["sample"]), float(theta["assessor"]), float(theta["residual"])
