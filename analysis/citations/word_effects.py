"""What goes with being liked: a word's lift, and the drop when something is not just right.

Both compare scores given together with a mark to scores given without it. That
is an association in this session, not a cause. Where assessors judged several
samples, each is compared with himself, so that a generous assessor who ticks
much does not make words look good.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import stdtr, stdtrit

from ..core.errors import OptionError
from ..core.options import share_of, whole
from ..core.result import Result, copies, each_row
from ..core.tidy_table import Tidy, tidy
from ..core.wording import p_words, short
from ..core.words import Sentence
from .citation_counts import Citations

Floats = npt.NDArray[np.float64]
_FEWEST_SELVES = 3


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class MeanDifference:
    """A mean difference with t limits.

    Attributes
    ----------
    difference, low, high, df, p : float
        p is two-sided; nan where there is no spread to judge by.
    within : int
        Assessors compared with themselves; 0 for two groups of assessors.
    """

    difference: float
    low: float
    high: float
    df: float
    p: float
    within: int


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class TermEffects(Result):
    """A score with and without each word.

    Attributes
    ----------
    target : str
        The score: liking or quality.
    table : DataFrame
        Columns ``attribute, n_with, n_without, mean_with, mean_without,
        difference, low, high, df, p, within, refused``. n counts pairs of
        assessor and sample; refused rows have a side that is too small and no
        difference.
    fewest : int
        What a side must at least have.
    level : float
    """

    target: str
    table: pd.DataFrame
    fewest: int
    level: float
    method: str = "mean difference within assessors, t; Welch where each judged one sample"

    def sentences(self) -> tuple[Sentence, ...]:
        """Say which words go with higher and lower scores."""
        clear = self.table[(self.table["low"] > 0) | (self.table["high"] < 0)]
        said = each_row(
            clear,
            lambda row: Sentence.of(
                "penalty.lift" if row.difference > 0 else "penalty.loss",
                attribute=row.attribute,
                target=self.target,
                by=short(abs(row.difference)),
                low=short(row.low),
                high=short(row.high),
                p=p_words(row.p),
            ),
        )
        refused = [str(name) for name in self.table.loc[self.table["refused"], "attribute"]]
        if len(clear):
            said = (*said, Sentence.of("penalty.not_cause"))
        elif len(refused) < len(self.table):
            said = (Sentence.of("penalty.none", target=self.target),)
        if refused:
            few = Sentence.of("penalty.refused", listed=refused, fewest=self.fewest)
            said = (*said, few)
        return said

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return the differences."""
        return copies(**{"penalty.heading": self.table})


def term_effects(
    counted: Citations,
    table: Tidy | pd.DataFrame,
    target: str,
    *,
    level: float = 0.95,
    fewest: int = 5,
) -> TermEffects:
    """Compare a score where a word was used with the score where it was not.

    Parameters
    ----------
    counted : Citations
        The ticks.
    table : Tidy or DataFrame
        The table that holds the score; replicates are averaged.
    target : str
        The scored attribute.
    level : float
        Confidence level.
    fewest : int
        A side with fewer pairs of assessor and sample is refused.

    Returns
    -------
    TermEffects

    Raises
    ------
    OptionError
        If the table has no such attribute.
    """
    fewest = whole("fewest", fewest, 2)
    scores = _means(table, target)
    rows = []
    for name in counted.attributes:
        ticks = counted.ticks[counted.ticks["attribute"] == name]
        both = ticks.merge(scores, on=["assessor", "sample"])
        used = both["tick"] == 1
        found = _compare(both[used], both[~used], level, fewest)
        rows.append(
            {
                "attribute": name,
                "n_with": int(used.sum()),
                "n_without": int((~used).sum()),
                "mean_with": both.loc[used, "score"].mean(),
                "mean_without": both.loc[~used, "score"].mean(),
                **_columns(found),
            }
        )
    return TermEffects(target=target, table=pd.DataFrame(rows), fewest=fewest, level=level)


def _means(table: Tidy | pd.DataFrame, attribute: str) -> pd.DataFrame:
    """Average the replicates of one attribute."""
    checked = table if isinstance(table, Tidy) else tidy(table)
    if attribute not in checked.attributes:
        raise OptionError("citations.no_attribute", name=attribute, have=checked.attributes)
    scores = checked.of(attribute)[["assessor", "sample", "score"]]
    return scores.groupby(["assessor", "sample"], as_index=False).mean()


def _compare(
    first: pd.DataFrame, second: pd.DataFrame, level: float, fewest: int
) -> MeanDifference | None:
    """Compare two sets of scores; None where a side is too small."""
    share_of("level", level)
    if min(len(first), len(second)) < fewest:
        return None
    everybody = pd.concat([first["assessor"], second["assessor"]])
    if not everybody.duplicated().any():
        return welch(first["score"].to_numpy(float), second["score"].to_numpy(float), level)
    means = [side.groupby("assessor")["score"].mean() for side in (first, second)]
    selves = (means[0] - means[1]).dropna().to_numpy(float)
    if len(selves) < _FEWEST_SELVES:
        return None
    return _one_sample(selves, level)


def _one_sample(values: Floats, level: float) -> MeanDifference:
    n = len(values)
    return _t(float(values.mean()), float(values.std(ddof=1)) / math.sqrt(n), n - 1, level, n)


def welch(first: Floats, second: Floats, level: float = 0.95) -> MeanDifference:
    """Compare two groups of different assessors by Welch's t.

    Parameters
    ----------
    first, second : ndarray
        Two or more scores each.
    level : float
        Confidence level.

    References
    ----------
    Welch (1947), Biometrika 34:28-35.

    Examples
    --------
    >>> found = welch(np.array([7.0, 8, 9, 6, 7, 8]), np.array([6.0, 5, 4, 3, 7, 5]))
    >>> found.difference, round(found.p, 6)
    (2.5, 0.006707)
    """
    a = float(first.var(ddof=1)) / len(first)
    b = float(second.var(ddof=1)) / len(second)
    below = a**2 / (len(first) - 1) + b**2 / (len(second) - 1)
    df = (a + b) ** 2 / below if below else len(first) + len(second) - 2.0
    return _t(float(first.mean() - second.mean()), math.sqrt(a + b), df, level, 0)


def _t(difference: float, se: float, df: float, level: float, within: int) -> MeanDifference:
    if se == 0:
        return MeanDifference(
            difference=difference, low=math.nan, high=math.nan, df=df, p=math.nan, within=within
        )
    half = float(stdtrit(df, (1 + level) / 2)) * se
    p = 2 * float(stdtr(df, -abs(difference) / se))
    return MeanDifference(
        difference=difference,
        low=difference - half,
        high=difference + half,
        df=df,
        p=p,
        within=within,
    )


def _columns(found: MeanDifference | None) -> dict[str, Any]:
    names = ("difference", "low", "high", "df", "p", "within")
    if found is None:
        return {**dict.fromkeys(names[:-1], math.nan), "within": 0, "refused": True}
    return {**{name: getattr(found, name) for name in names}, "refused": False}
