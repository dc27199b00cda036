"""Equivalence of two means: near enough, by a margin that was stated beforehand.

"No significant difference" is no proof of sameness: a small noisy study never
finds any. Two one-sided tests turn the burden round: equivalence is claimed
only if the difference is shown to lie above ``-margin`` *and* below
``+margin``; that is, if its 90 % interval (for level 0.05) lies inside.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import stdtr, stdtrit

from ..core.errors import NotEstimable, OptionError
from ..core.options import at_least, share_of
from ..core.p_values import holds
from ..core.result import Interval, Result, copies
from ..core.wording import p_words, short, stated_percent
from ..core.words import Sentence


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Equivalence(Result):
    """Two one-sided tests of a difference against stated margins.

    Attributes
    ----------
    difference : float
        Mean difference, first less second, in scale points.
    se, df : float
        Its standard error and degrees of freedom.
    low_margin, high_margin : float
        The differences that would matter, in scale points.
    alpha : float
        Level of each one-sided test.
    t_low, t_high : float
        Statistics against the low and the high margin.
    p : float
        The larger of the two one-sided p values: equivalence is shown if it is
        at most `alpha`.
    interval : Interval
        Limits of the difference at level ``1 - 2 * alpha``; inside the margins
        exactly if equivalence is shown.
    interval_usual : Interval
        Limits at level ``1 - alpha``.
    p_difference : float
        Two-sided p of the ordinary test against no difference.
    n : tuple of int
        Numbers of the groups, or of pairs.
    verdict : {'equivalent', 'different', 'both', 'open'}
        Both: differs from zero, yet by less than the margin.
    """

    difference: float
    se: float
    df: float
    low_margin: float
    high_margin: float
    alpha: float
    t_low: float
    t_high: float
    p: float
    interval: Interval
    interval_usual: Interval
    p_difference: float
    n: tuple[int, ...]
    verdict: str
    method: str

    def sentences(self) -> tuple[Sentence, ...]:
        """Say which of the four outcomes it is, with the interval that decides."""
        return (
            Sentence.of(
                f"equivalence.{self.verdict}",
                difference=short(self.difference),
                low=short(self.interval.low),
                high=short(self.interval.high),
                level=stated_percent(self.interval.level),
                low_margin=short(self.low_margin),
                high_margin=short(self.high_margin),
                p=p_words(self.p),
                p_difference=p_words(self.p_difference),
            ),
        )

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return both one-sided tests."""
        rows = [
            ("low", self.low_margin, self.t_low, self.df, float(stdtr(self.df, -self.t_low))),
            ("high", self.high_margin, self.t_high, self.df, float(stdtr(self.df, self.t_high))),
        ]
        table = pd.DataFrame(rows, columns=["side", "margin", "t", "df", "p"])
        return copies(**{"equivalence.table": table})


def equivalence(
    difference: float,
    se: float,
    df: float,
    *,
    margin: float | tuple[float, float],
    alpha: float = 0.05,
    n: tuple[int, ...] = (),
    method: str = "two one-sided t tests",
) -> Equivalence:
    """Test a difference with its standard error for equivalence.

    The general form: take difference, standard error and degrees of freedom from
    any model, for example a mixed analysis of variance.

    Parameters
    ----------
    difference, se, df : float
        Estimate, standard error (above 0), degrees of freedom (above 0).
    margin : float or pair of float
        The difference that would matter, in the same units: one number above 0
        for both sides, or ``(low, high)`` with ``low < high``. State it before
        looking at the scores.
    alpha : float
        Level of each one-sided test, below 0.5.
    n : tuple of int
        Numbers behind the difference, for the record.
    method : str
        Name of the method, for the record.

    Returns
    -------
    Equivalence

    Raises
    ------
    OptionError
        If an argument is out of its range.

    References
    ----------
    Schuirmann (1987), J. Pharmacokinet. Biopharm. 15:657-680; Lakens (2017), Soc.
    Psychol. Personal. Sci. 8:355-362.

    Examples
    --------
    >>> equivalence(0.1, 0.2, 13, margin=0.5).verdict
    'equivalent'
    """
    at_least("se", se, strictly=True)
    at_least("df", df, strictly=True)
    if share_of("alpha", alpha) >= 0.5:
        raise OptionError("equivalence.alpha", alpha=alpha)
    low_margin, high_margin = _margins(margin)
    t_low, t_high = (difference - low_margin) / se, (difference - high_margin) / se
    p = max(float(stdtr(df, -t_low)), float(stdtr(df, t_high)))
    p_difference = 2 * float(stdtr(df, -abs(difference) / se))
    half, half_usual = (float(stdtrit(df, 1 - tail)) * se for tail in (alpha, alpha / 2))
    near, apart = holds(p, alpha), holds(p_difference, alpha)
    verdict = {
        (True, True): "both",
        (True, False): "equivalent",
        (False, True): "different",
        (False, False): "open",
    }[near, apart]
    return Equivalence(
        difference=float(difference),
        se=float(se),
        df=float(df),
        low_margin=low_margin,
        high_margin=high_margin,
        alpha=alpha,
        t_low=t_low,
        t_high=t_high,
        p=p,
        interval=Interval(difference - half, difference + half, 1 - 2 * alpha),
        interval_usual=Interval(difference - half_usual, difference + half_usual, 1 - alpha),
        p_difference=p_difference,
        n=n,
        verdict=verdict,
        method=method,
    )


def equivalence_paired(
    first: npt.ArrayLike,
    second: npt.ArrayLike | None = None,
    *,
    margin: float | tuple[float, float],
    alpha: float = 0.05,
) -> Equivalence:
    """Test paired scores, or differences, for equivalence.

    Parameters
    ----------
    first, second : array_like of float, shape (n,)
        Scores that belong together row by row, for example student and expert on
        the same bottles; without `second`, `first` holds the differences. Pairs
        with a missing score are left out, counted in `n` and told in a warning.
    margin, alpha
        See `equivalence`.

    Returns
    -------
    Equivalence

    Raises
    ------
    OptionError
        If the arrays do not match, or an argument is out of its range.
    NotEstimable
        With fewer than two pairs, or if all differences are the same.
    """
    gap = np.asarray(first, dtype=float)
    if second is not None:
        other = np.asarray(second, dtype=float)
        if gap.shape != other.shape:
            raise OptionError("equivalence.shapes", first=gap.size, second=other.size)
        gap = gap - other
    kept = gap[~np.isnan(gap)]
    if kept.size < 2:
        raise NotEstimable("equivalence.few_pairs", n=kept.size)
    sd = float(kept.std(ddof=1))
    if sd <= 1e-12 * max(float(np.abs(kept).max()), 1e-300):
        raise NotEstimable("equivalence.same", n=kept.size, difference=short(float(kept[0])))
    result = equivalence(
        float(kept.mean()),
        sd / float(np.sqrt(kept.size)),
        kept.size - 1,
        margin=margin,
        alpha=alpha,
        n=(int(kept.size),),
        method="two one-sided paired t tests",
    )
    return _told(result, gap.size - kept.size)


def _margins(margin: float | tuple[float, float]) -> tuple[float, float]:
    if isinstance(margin, tuple):
        low, high = (float(value) for value in margin)
        if not low < high:
            raise OptionError("equivalence.margins", low=low, high=high)
        return low, high
    size = at_least("margin", margin, strictly=True)
    return -size, size


def _told(result: Equivalence, missing: int) -> Equivalence:
    """Add the warning about scores left out."""
    from dataclasses import replace

    if not missing:
        return result
    return replace(result, warnings=(Sentence.of("equivalence.missing", n=int(missing)),))
