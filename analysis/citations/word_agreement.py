"""Whether assessors mean the same by a word: agreement on ticks.

Two assessors agree trivially on a word that neither ever uses. So agreement
is counted where it matters: of two assessors of whom one used the word for a
sample, how often did the other use it too (specific agreement). Beside it
stands Krippendorff's alpha, which takes off what chance alone would give.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import stdtrit

from ..core.errors import NotEstimable
from ..core.options import share_of
from ..core.result import Result, copies
from ..core.wording import percent
from ..core.words import Sentence
from .citation_counts import Citations, cube_of

Floats = npt.NDArray[np.float64]
Counts = npt.NDArray[np.int64]
FEWEST = 4
"""Assessors from whom on agreement has limits: one at a time is left out."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class WordAgreement(Result):
    """Agreement of the panel on each word.

    Attributes
    ----------
    table : DataFrame
        Columns ``attribute, used, pairs, specific, low, high, alpha``:
        ticks in all; pairs of assessors on a sample of whom at least one
        used the word; the share of agreement among uses,
        ``2 both / (2 both + one)``, with jackknife limits over assessors
        (missing below four assessors); Krippendorff's nominal alpha, missing
        where nobody or everybody used the word.
    n : int
        Assessors.
    level : float
        Confidence level.
    """

    table: pd.DataFrame
    n: int
    level: float
    method: str = "specific agreement, jackknife over assessors; Krippendorff's alpha"

    def sentences(self) -> tuple[Sentence, ...]:
        """Name the words that the panel shares least and most."""
        known = self.table[self.table["pairs"] > 0].sort_values("specific", kind="stable")
        if known.empty:
            return (Sentence.of("words_agree.unused"),)
        least, most = known.iloc[0], known.iloc[-1]
        return (
            Sentence.of(
                "words_agree.range",
                most=most["attribute"],
                most_share=percent(most["specific"]),
                least=least["attribute"],
                least_share=percent(least["specific"]),
            ),
        )

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return the agreement per word."""
        return copies(**{"words_agree.heading": self.table})


def words_agree(counted: Citations, *, level: float = 0.95) -> WordAgreement:
    """Measure how far assessors use each word for the same samples.

    Parameters
    ----------
    counted : Citations
    level : float
        Confidence level of the jackknife limits.

    Returns
    -------
    WordAgreement

    Raises
    ------
    NotEstimable
        With fewer than two assessors.

    References
    ----------
    Fleiss (1975), Biometrics 31:651-659 (specific agreement). Krippendorff
    (2011), Computing Krippendorff's alpha-reliability.
    """
    share_of("level", level)
    n = len(counted.assessors)
    if n < 2:
        raise NotEstimable("words_agree.one_assessor")
    rows = []
    cube = cube_of(counted)
    for at, name in enumerate(counted.attributes):
        marks = cube[:, :, at]
        both, one = _uses(marks)
        specific = 2 * both / (2 * both + one) if both + one else math.nan
        low, high = _jackknife(marks, specific, level)
        rows.append(
            {
                "attribute": name,
                "used": int(np.nansum(marks)),
                "pairs": int(both + one),
                "specific": specific,
                "low": low,
                "high": high,
                "alpha": nominal_alpha(marks),
            }
        )
    careful = (Sentence.of("words_agree.no_limits", n=n),) if n < FEWEST else ()
    return WordAgreement(table=pd.DataFrame(rows), n=n, level=level, warnings=careful)


def _uses(marks: Floats) -> tuple[float, float]:
    """Count pairs of assessors on a sample where both, and where exactly one, used the word."""
    both, one = _pairs_of((marks == 1).sum(axis=0), (~np.isnan(marks)).sum(axis=0))
    return float(both), float(one)


def _pairs_of(used: Counts, judged: Counts) -> tuple[Floats, Floats]:
    """Count the pairs from the uses of each sample and those who judged it (last axis)."""
    used = np.asarray(used, dtype=float)
    return (used * (used - 1) / 2).sum(axis=-1), (used * (judged - used)).sum(axis=-1)


def _jackknife(marks: Floats, whole: float, level: float) -> tuple[float, float]:
    """Return t limits from leaving out one assessor at a time, cut to [0, 1]."""
    n = len(marks)
    if n < FEWEST or math.isnan(whole):
        return math.nan, math.nan
    used, judged = marks == 1, ~np.isnan(marks)
    both, one = _pairs_of(used.sum(axis=0) - used, judged.sum(axis=0) - judged)
    if (both + one == 0).any():
        return math.nan, math.nan
    left = 2 * both / (2 * both + one)
    pseudo = n * whole - (n - 1) * left
    half = float(stdtrit(n - 1, (1 + level) / 2)) * float(np.std(pseudo, ddof=1)) / math.sqrt(n)
    if half == 0:
        return math.nan, math.nan
    return max(0.0, whole - half), min(1.0, whole + half)


def nominal_alpha(marks: Floats) -> float:
    """Return Krippendorff's alpha for 0/1 marks with missing values.

    Parameters
    ----------
    marks : ndarray, shape (assessors, samples)
        nan where not judged.

    Returns
    -------
    float
        nan where all marks are the same: then there is nothing to agree on.
    """
    used = (marks == 1).sum(axis=0).astype(float)
    judged = (~np.isnan(marks)).sum(axis=0).astype(float)
    pairable = judged >= 2
    used, judged = used[pairable], judged[pairable]
    total, ones = judged.sum(), used.sum()
    if total == 0 or ones in (0, total):
        return math.nan
    seen = (2 * used * (judged - used) / (judged - 1)).sum() / total
    expected = 2 * ones * (total - ones) / (total * (total - 1))
    return float(1 - seen / expected)
