"""Krippendorff's alpha: agreement for any number of assessors, any scale, with holes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr, ndtri, stdtrit

from ..core.errors import NotEstimable, OptionError
from ..core.ratings_matrix import Floats, check_level, matrix, percent_agreement
from ..core.result import Interval, Result
from ..core.wording import short, stated_percent
from ..core.words import Sentence

LEVELS = ("nominal", "ordinal", "interval", "ratio")
LOWEST = -1.0
"""No alpha lies below: ratings differ within samples at most twice as much as among all."""
FEW = 20
"""Samples below which the limits of alpha are said to be too narrow."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Alpha(Result):
    """Krippendorff's alpha.

    Attributes
    ----------
    alpha : float
        1 full agreement, 0 as by chance, negative for worse than chance.
    measurement : str
        ``nominal``, ``ordinal``, ``interval`` or ``ratio``.
    observed, expected : float
        Disagreement within samples, and among all ratings.
    percent_agreement : float
        Share of equal pairs (0 to 1), not corrected for chance.
    interval : Interval or None
        Bootstrap limits (BCa), samples resampled; None when too few resamples had
        any variation.
    jackknife : Interval or None
        Limits from leaving samples out one by one: nearer to their level with few samples.
    resamples, degenerate, seed : int
        Bootstrap size, how many of them had no variation, and the seed.
    n_samples, n_ratings : int
        Samples with at least two ratings, and the ratings on them.
    dropped : int
        Samples with fewer than two ratings.
    """

    alpha: float
    measurement: str
    observed: float
    expected: float
    percent_agreement: float
    interval: Interval | None
    jackknife: Interval | None
    resamples: int
    degenerate: int
    seed: int
    n_samples: int
    n_ratings: int
    dropped: int

    def sentences(self) -> tuple[Sentence, ...]:
        """Say alpha and its limits."""
        values = {"alpha": short(self.alpha), "measurement": self.measurement}
        if self.interval is None:
            return (Sentence.of("agreement.alpha_alone", **values),)
        low, high, level = self.interval
        limits = {"low": short(low), "high": short(high), "level": stated_percent(level)}
        return (Sentence.of("agreement.alpha", seed=self.seed, **values, **limits),)


def krippendorff_alpha(
    ratings: ArrayLike | pd.DataFrame,
    *,
    measurement: str = "interval",
    level: float = 0.95,
    resamples: int = 2000,
    seed: int = 1,
    sample: ArrayLike | None = None,
) -> Alpha:
    """Compute Krippendorff's alpha.

    Parameters
    ----------
    ratings : array or DataFrame, shape (n samples, m assessors)
        Numbers (codes of categories for ``nominal``); nan where there is none.
    measurement : {"nominal", "ordinal", "interval", "ratio"}
        What a difference between two ratings means. Ordinal takes the order
        of the numbers; ratio needs ratings of 0 or more.
    level : float
        Confidence level.
    resamples, seed : int
        Bootstrap over samples; 0 resamples for no interval.
    sample : array of int, optional
        The sample (0, 1, …) behind each row, where several pours of one sample
        are rows of their own; they are resampled together.

    Raises
    ------
    OptionError
        For another level of measurement, or a negative ratio score.
    NotEstimable
        When no sample has two ratings, or all ratings are equal: no variation
        to agree on.

    Notes
    -----
    ``1 - observed / expected`` disagreement from coincidences within samples
    [1]_. Limits by the bias-corrected and accelerated bootstrap [2]_, its
    quantiles widened as t by n - 1 degrees of freedom, and by the jackknife of
    ``log(1 - alpha)`` with t limits. On simulated scores of five assessors
    (true alpha .5) 95 % limits held the truth in 81, 86 and 92 % of tables
    with 6, 10 and 20 samples for the bootstrap, and in 88, 89 and 93 % for the
    jackknife; a warning is given below twenty samples.

    References
    ----------
    .. [1] Krippendorff (2011), Computing Krippendorff's alpha-reliability.
    .. [2] Efron (1987), J. Am. Stat. Assoc. 82, 171-185.

    Examples
    --------
    >>> rows = [[1, 1, 1], [2, 2, 3], [3, 3, 3], [3, 3, 3], [2, 2, 2], [1, 2, 3]]
    >>> round(krippendorff_alpha(rows, measurement="nominal").alpha, 3)
    0.591
    """
    check_level(level)
    if measurement not in LEVELS:
        raise OptionError("agreement.bad_measurement", found=measurement, allowed=LEVELS)
    given = np.asarray(ratings, dtype=float)
    own = np.arange(len(given)) if sample is None else np.asarray(sample, dtype=np.intp)
    own = own[~np.isnan(given).all(axis=1)] if given.ndim == 2 else own
    table = matrix(given, samples=1)
    paired = (~np.isnan(table)).sum(axis=1) > 1
    units = table[paired]
    if not paired.any():
        raise NotEstimable("agreement.no_pairs")
    counts, values = _counts(units)
    if values.size < 2:
        raise NotEstimable("agreement.no_variation", value=f"{values[0]:g}", n=int(counts.sum()))
    if measurement == "ratio" and values.min() < 0:
        raise OptionError("agreement.ratio_negative", found=f"{values.min():g}")
    point, observed, expected = _alpha(counts, values, measurement)
    item = PourCounts(counts, values, measurement, own[paired])
    draws = bootstrap([item], resamples, seed)[:, 0]
    kept = draws[~np.isnan(draws)]
    left_out = leave_one_out([item])[:, 0]
    distinct = np.unique(own[paired]).size
    notes = [Sentence.of("agreement.few_samples", n=distinct)] if distinct < FEW else []
    return Alpha(
        alpha=point,
        measurement=measurement,
        observed=observed,
        expected=expected,
        percent_agreement=percent_agreement(units),
        interval=bca(kept, point, left_out, level),
        jackknife=jackknife(point, left_out, level),
        resamples=resamples,
        degenerate=int(draws.size - kept.size),
        seed=seed,
        n_samples=distinct,
        n_ratings=int(counts.sum()),
        dropped=int((~paired).sum()),
        warnings=tuple(notes),
    )


class PourCounts(NamedTuple):
    """One attribute for `bootstrap`: counts of each value by pour, and each pour's sample."""

    counts: Floats
    values: Floats
    measurement: str
    sample: NDArray[np.intp]


def counted(ratings: Floats, measurement: str, sample: NDArray[np.intp]) -> PourCounts:
    """Count the values of each pour (rows of `ratings`) that two or more assessors rated."""
    paired = (~np.isnan(ratings)).sum(axis=1) > 1
    counts, values = _counts(ratings[paired])
    return PourCounts(counts, values, measurement, sample[paired])


def estimate(item: PourCounts) -> float:
    """Return alpha of one counted attribute."""
    return _alpha(*item[:3])[0]


def bootstrap(attributes: Sequence[PourCounts], resamples: int, seed: int) -> Floats:
    """Resample samples, the same ones for every attribute, and return the alphas.

    Pours of one sample stay together: they are not independent samples.

    Returns
    -------
    array, shape (resamples, attributes)
        nan where a resample has no variation.
    """
    generator = np.random.default_rng(seed)
    present = _present(attributes)
    drawn = generator.integers(present.size, size=(resamples, present.size))
    weights = np.zeros((resamples, int(present.max(initial=-1)) + 1))
    for weight, chosen in zip(weights, drawn, strict=True):
        np.add.at(weight, present[chosen], 1)
    return _weighted(attributes, weights)


def leave_one_out(attributes: Sequence[PourCounts]) -> Floats:
    """Return the alphas with each sample left out in turn, shape (samples, attributes)."""
    present = _present(attributes)
    weights = np.ones((present.size, int(present.max(initial=-1)) + 1))
    weights[np.arange(present.size), present] = 0
    return _weighted(attributes, weights)


def _present(attributes: Sequence[PourCounts]) -> NDArray[np.intp]:
    return np.unique(np.concatenate([item.sample for item in attributes]))


def _weighted(attributes: Sequence[PourCounts], weights: Floats) -> Floats:
    alphas = np.empty((len(weights), len(attributes)))
    for row, weight in enumerate(weights):
        for column, item in enumerate(attributes):
            alphas[row, column] = _alpha(*item[:3], weight[item.sample])[0]
    return alphas


def jackknife(point: float, left_out: Floats, level: float) -> Interval | None:
    """Return t limits of the jackknife of ``log(1 - alpha)``, the lower one not below `LOWEST`.

    None for fewer than three samples, or when leaving out makes no difference
    (full agreement everywhere): there is no scatter to judge the uncertainty by.
    """
    used = left_out[~np.isnan(left_out)]
    n = used.size
    if n < 3 or np.ptp(used) == 0:
        return None
    whole, parts = np.log(max(1 - point, 1e-6)), np.log(np.maximum(1 - used, 1e-6))
    error = np.sqrt((n - 1) / n * ((parts - parts.mean()) ** 2).sum())
    half = stdtrit(n - 1, (1 + level) / 2) * error
    low, high = float(1 - np.exp(whole + half)), float(1 - np.exp(whole - half))
    return Interval(max(low, LOWEST), high, level)


def bca(draws: Floats, point: float, left_out: Floats, level: float) -> Interval | None:
    """Return bias-corrected and accelerated bootstrap limits.

    Parameters
    ----------
    draws : array
        Bootstrap estimates, none missing.
    point : float
        The estimate.
    left_out : array
        Estimates with one unit left out; nan is passed over.
    level : float

    Returns
    -------
    Interval or None
        None for fewer than 200 draws.
    """
    if draws.size < 200:
        return None
    below = float(np.mean(draws < point) + np.mean(draws == point) / 2)
    bias = ndtri(np.clip(below, 1 / draws.size, 1 - 1 / draws.size))
    jack = left_out[~np.isnan(left_out)]
    pull = jack.mean() - jack if jack.size else np.zeros(1)
    spread = float((pull**2).sum())
    acceleration = float((pull**3).sum()) / (6 * spread**1.5) if spread > 0 else 0.0
    n = left_out.size
    wide = np.sqrt(n / (n - 1)) * stdtrit(n - 1, (1 + level) / 2) if n > 1 else np.inf
    z = bias + np.array([-wide, wide])
    share = ndtr(bias + z / np.maximum(1 - acceleration * z, 0.1))
    low, high = np.quantile(draws, share).tolist()
    return Interval(low, high, level)


def _counts(units: Floats) -> tuple[Floats, Floats]:
    values = np.unique(units[~np.isnan(units)])
    counts = (units[:, :, None] == values).sum(axis=1).astype(float)
    return counts, values


def _alpha(
    counts: Floats, values: Floats, measurement: str, weight: Floats | None = None
) -> tuple[float, float, float]:
    """Return alpha, observed and expected disagreement; nan where nothing is expected."""
    size = counts.sum(axis=1)
    weight = np.ones(len(counts)) if weight is None else weight
    share = np.where(size > 1, weight / np.maximum(size - 1, 1), 0.0)
    total = (weight * (size > 1)) @ counts
    n = total.sum()
    coincidences = (counts * share[:, None]).T @ counts
    coincidences[np.diag_indices(values.size)] -= share @ counts
    distance = _distances(values, total, measurement)
    observed = (coincidences * distance).sum() / n if n else 0.0
    expected = total @ distance @ total / (n * (n - 1)) if n > 1 else 0.0
    if expected <= 0:
        return float("nan"), float(observed), float(expected)
    return float(1 - observed / expected), float(observed), float(expected)


def _distances(values: Floats, total: Floats, measurement: str) -> Floats:
    """Return squared distances between values (Krippendorff 2011, section on metrics)."""
    if measurement == "nominal":
        return 1.0 - np.eye(values.size)
    # Between two ordered values lie all ratings between them and half of their own:
    # that is the distance of their middle ranks.
    place = np.cumsum(total) - total / 2 if measurement == "ordinal" else values
    squared: Floats = np.subtract.outer(place, place) ** 2
    if measurement == "ratio":
        together = np.add.outer(values, values)
        squared = np.divide(squared, together**2, out=np.zeros_like(squared), where=together != 0)
    return squared
