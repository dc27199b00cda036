"""The published sweet–dry index as a stated prior, beside what the data say alone."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.stats import norm
from scipy.stats import t as student

from ..chemistry import taste_indices as indices
from ..chemistry.density_scales import MODULUS
from ..core.result import Result, copies
from ..core.wording import percent, stated_percent
from ..core.words import Sentence
from .mixed_slopes import Slopes

TRUST = 0.5
"""Standard deviation of the prior, as a share of the published slope: true slopes between
nothing and twice the published one are all thought possible."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class SlopesWithIndex(Result):
    """Slopes by the published index, by the data, and by both.

    Attributes
    ----------
    attribute : str
    per_index : float
        Points of the panel's scale taken for one point of the index.
    trust : float
        See `TRUST`.
    slopes : DataFrame
        ``predictor, published, prior_sd, data, data_low, data_high, both,
        both_low, both_high, weight``; `weight` is the share of the data in `both`.
    level : float
    """

    attribute: str
    per_index: float
    trust: float
    slopes: pd.DataFrame
    level: float

    def sentences(self) -> tuple[Sentence, ...]:
        """Set the two answers side by side."""
        said = [
            Sentence.of(
                "prior.assumed",
                attribute=self.attribute,
                per_index=self.per_index,
                trust=stated_percent(self.trust),
            )
        ]
        said += [
            Sentence.of(
                "prior.beside",
                attribute=self.attribute,
                name=Sentence.of(f"chemistry.name_{row['predictor']}"),
                **{str(n): float(row[n]) for n in row if n not in {"predictor", "weight"}},
                weight=percent(float(row["weight"])),
            )
            for row in self.slopes.to_dict("records")
        ]
        return tuple(said)

    def tables(self) -> dict[str, pd.DataFrame]:
        """Return the slopes."""
        return copies(**{"prior.heading": self.slopes})


def with_index(
    attribute: str,
    fitted: Slopes,
    per_index: float,
    *,
    trust: float = TRUST,
    level: float = 0.95,
) -> SlopesWithIndex:
    """Combine estimated slopes with those of the sweet–dry index of 1974.

    Parameters
    ----------
    attribute : str
    fitted : Slopes
        With ``meter_value`` and ``acidity`` among its predictors.
    per_index : float
        Points of the panel's scale for one point of the index; negative for dryness.
    trust : float
        Standard deviation of the prior as a share of the published slope.
    level : float

    Notes
    -----
    Normal prior times normal likelihood, precisions added; the likelihood is
    widened so that its interval is that of Student's t. Other predictors keep a
    flat prior. The published slopes at meter value N are
    −193593/(1443 + N)² and −1.16 points of the index.
    """
    names = list(fitted.predictors)
    p = len(names)
    at = float(fitted.centre[names.index("meter_value")])
    published = {
        "meter_value": -indices.SWEET_NUMERATOR / (MODULUS + at) ** 2 * per_index,
        "acidity": indices.SWEET_PER_ACID * per_index,
    }
    z = norm.ppf((1 + level) / 2)
    widen = student.ppf((1 + level) / 2, fitted.df) / z
    cov = fitted.cov[:p, :p] * np.outer(widen, widen)
    precision = np.linalg.inv(cov)
    mean = np.array([published.get(name, 0.0) for name in names])
    known = np.array([name in published for name in names])
    ours = np.zeros((p, p))
    ours[known, known] = 1 / (trust * mean[known]) ** 2
    both_cov = np.linalg.inv(precision + ours)
    both = both_cov @ (precision @ fitted.slopes + ours @ mean)
    low, high = fitted.interval(level)
    half = z * np.sqrt(np.diag(both_cov))
    rows = pd.DataFrame(
        {
            "predictor": names,
            "published": mean,
            "prior_sd": np.abs(trust * mean),
            "data": fitted.slopes,
            "data_low": low,
            "data_high": high,
            "both": both,
            "both_low": both - half,
            "both_high": both + half,
            "weight": 1 - np.diag(both_cov @ ours),
        }
    )
    return SlopesWithIndex(
        attribute=attribute,
        per_index=per_index,
        trust=trust,
        slopes=rows[known].reset_index(drop=True),
        level=level,
    )
