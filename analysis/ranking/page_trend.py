"""An expected order: do the ranks rise as was said beforehand.

When the order of the samples is expected before the session (meter value,
dilution, days in the bottle), Page's test finds it with fewer assessors than a
test against any difference.

References
----------
Page (1963), Journal of the American Statistical Association 58:216-230;
ISO 8587. ``L = sum j R_j``, mean ``J P (P+1)^2 / 4``, variance
``J P^2 (P+1)^2 (P-1) / 144``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import sqrt
from typing import Unpack

import numpy as np
import pandas as pd
from scipy.stats import norm

from ..core.errors import OptionError
from ..core.options import share_of
from ..core.p_values import holds
from ..core.result import Result, copies
from ..core.tidy_table import Columns, Tidy
from ..core.wording import p_words
from ..core.words import Sentence
from .exact_rank_sums import trend_tail
from .rank_table import complete_ranks, one_answer_each


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Trend(Result):
    """Outcome of Page's test.

    Attributes
    ----------
    attribute : str
    order : tuple of str
        Samples in their expected order, the least first.
    assessors : int
    l : float
        Page's L.
    mean, sd, z : float
        Of L without a trend, and L in these units.
    p_normal : float
        One-sided, large sample.
    p : float
        The p value to read: exact up to 8 samples, else `p_normal`.
    method : str
        ``"exact"`` or ``"normal"``.
    alpha : float
    rank_sums : DataFrame
        ``sample, expected, rank_sum, mean_rank``.
    """

    attribute: str
    order: tuple[str, ...]
    assessors: int
    l: float
    mean: float
    sd: float
    z: float
    p_normal: float
    p: float
    method: str
    alpha: float
    rank_sums: pd.DataFrame

    def sentences(self) -> tuple[Sentence, ...]:
        """Say whether the ranks follow the expected order."""
        return (
            Sentence.of(
                "rank_order.shown" if holds(self.p, self.alpha) else "rank_order.not_shown",
                attribute=self.attribute,
                order=" < ".join(self.order),
                assessors=Sentence.of("common.assessors", n=self.assessors),
                l=f"{self.l:g}",
                p=p_words(self.p),
                how=Sentence.of(f"rank_order.{self.method}"),
                alpha=self.alpha,
            ),
        )

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return the rank sums in the expected order."""
        return copies(**{"rank_order.table": self.rank_sums})


def page(
    table: Tidy | pd.DataFrame,
    order: Sequence[str],
    attribute: str | None = None,
    *,
    alpha: float = 0.05,
    **column_names: Unpack[Columns],
) -> Trend:
    """Test whether ranks rise in an order that was expected beforehand.

    Parameters
    ----------
    table : Tidy or DataFrame
        A tidy table, see `ranks.friedman`.
    order : sequence of str
        All samples, the one expected least first. An order chosen after
        looking at the data makes the p value meaningless.
    attribute : str, optional
        May be left out if there is one only.
    alpha : float
        Risk of finding a trend where there is none, one-sided.
    **column_names : str
        What the columns of a DataFrame are called, as in `tidy`.

    Returns
    -------
    Trend

    Raises
    ------
    OptionError
        If `order` does not name every sample once.
    NotEstimable
        With holes, or with fewer than two assessors or samples.

    Examples
    --------
    >>> rows = [(a, s, r) for a, row in enumerate([[1, 2, 3], [1, 3, 2], [1, 2, 3]])
    ...         for s, r in zip("xyz", row)]
    >>> frame = pd.DataFrame(rows, columns=["assessor", "sample", "score"])
    >>> result = page(frame, ["x", "y", "z"])
    >>> result.l, round(result.p, 4)
    (41.0, 0.0324)
    """
    share_of("alpha", alpha)
    wide, attribute, warnings = one_answer_each(table, attribute, **column_names)
    names = [str(name) for name in order]
    if sorted(names) != sorted(str(name) for name in wide.columns):
        raise OptionError("rank_order.bad_order", order=names, have=list(wide.columns))
    ranks = complete_ranks(wide[names])
    j, k = ranks.shape
    sums = ranks.sum(axis=0)
    places = np.arange(1, k + 1)
    value = float(places @ sums)
    mean = j * k * (k + 1) ** 2 / 4
    sd = sqrt(j * k**2 * (k + 1) ** 2 * (k - 1) / 144)
    z = (value - mean) / sd
    exact = trend_tail([[round(2 * r) for r in row] for row in ranks], round(2 * value))
    p_normal = float(norm.sf(z))
    return Trend(
        attribute=attribute,
        order=tuple(names),
        assessors=j,
        l=value,
        mean=mean,
        sd=sd,
        z=z,
        p_normal=p_normal,
        p=p_normal if exact is None else exact,
        method="normal" if exact is None else "exact",
        alpha=alpha,
        rank_sums=pd.DataFrame(
            {"sample": names, "expected": places, "rank_sum": sums, "mean_rank": sums / j}
        ),
        warnings=warnings,
    )
