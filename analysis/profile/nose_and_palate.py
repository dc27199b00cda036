"""Does the palate keep what the nose promised?

Smell before the sip and flavour in the mouth are scored on the same scale.
For each sample the paired difference, palate minus nose, is taken within each
assessor, so that how an assessor uses the scale cancels out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Unpack

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from ..core.errors import NotEstimable, OptionError
from ..core.result import Interval, Result, copies, each_row
from ..core.tidy_table import LongColumns, Tidy, as_tidy
from ..core.wording import short, stated_percent
from ..core.words import Sentence

_TINY = 1e-9


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class PalateAgainstNose(Result):
    """Palate minus nose of each sample.

    Attributes
    ----------
    nose, palate : str
        The two attributes.
    table : DataFrame
        ``sample, n, nose, palate, difference, se, df, low, high, verdict``; one
        row a sample, `n` assessors who scored both. `verdict` is kept, more,
        less or open; alike, without limits, where all put them equally far apart.
    tolerance : float
        Scale points within which the palate counts as keeping the promise.
    level : float
    """

    nose: str
    palate: str
    table: pd.DataFrame
    tolerance: float
    level: float
    method: str = "paired t over assessors, replicates averaged"

    def interval(self, sample: str) -> Interval:
        """Return the interval of the difference of one sample."""
        row = self.table[self.table["sample"] == sample].iloc[0]
        return Interval(float(row["low"]), float(row["high"]), self.level)

    def sentences(self) -> tuple[Sentence, ...]:
        """Say for each sample what the palate did with the promise."""
        return each_row(
            self.table,
            lambda row: Sentence.of(
                f"promise.{row.verdict}",
                sample=row.sample,
                by=short(abs(row.difference)),
                low=short(row.low),
                high=short(row.high),
                level=stated_percent(self.level),
                tolerance=short(self.tolerance),
                n=row.n,
            ),
        )

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return the differences."""
        return copies(**{"promise.heading": self.table})


def palate_against_nose(
    table: Tidy | pd.DataFrame,
    nose: str = "aroma_intensity",
    palate: str = "flavour_intensity",
    *,
    tolerance: float = 1.0,
    level: float = 0.95,
    **column_names: Unpack[LongColumns],
) -> PalateAgainstNose:
    """Compare the intensity in the mouth with the intensity of the smell.

    Parameters
    ----------
    table : Tidy or DataFrame
        A tidy table that holds both attributes on one scale.
    nose, palate : str
        The two attributes.
    tolerance : float
        Scale points; the promise counts as kept when the whole interval lies
        within ± this (two one-sided tests at (1 − level) / 2 each, which is
        stricter than the usual 90 % interval). Common practice, no source.
    level : float
        Confidence level, between 0 and 1.
    **column_names : str
        What the columns of a DataFrame are called, as in `tidy`.

    Returns
    -------
    PalateAgainstNose

    Raises
    ------
    OptionError
        If an attribute is not in the table, or an argument is out of range.
    NotEstimable
        If no sample was scored on both by at least two assessors.

    Notes
    -----
    The difference is tested by the paired t of Student (1908), one pair an
    assessor; replicates are averaged first, for they are not more assessors.

    Examples
    --------
    >>> rows = [("A", "x", 6, 4), ("B", "x", 7, 5), ("C", "x", 5, 4)]
    >>> wide = pd.DataFrame(rows, columns=["assessor", "sample", "nose", "palate"])
    >>> found = palate_against_nose(wide, "nose", "palate", scores=["nose", "palate"])
    >>> print(str(found.sentences()[0])[:79])
    x promises more than it keeps: the palate is 1.67 points weaker than the nose (
    >>> [round(limit, 2) for limit in found.interval("x")[:2]]
    [-3.1, -0.23]
    """
    if tolerance <= 0 or not 0 < level < 1:
        raise OptionError("promise.range")
    checked = as_tidy(table, **column_names)
    absent = [name for name in (nose, palate) if name not in checked.attributes]
    if absent:
        raise OptionError("promise.absent", names=absent, have=checked.attributes)
    both = checked.data[checked.data["attribute"].isin([nose, palate])]
    means = both.pivot_table(
        index=["sample", "assessor"], columns="attribute", values="score", aggfunc="mean"
    ).dropna()
    rows = []
    for sample, part in means.groupby(level="sample"):
        differences = (part[palate] - part[nose]).to_numpy(float)
        n = len(differences)
        if n < 2:
            continue
        middle = float(differences.mean())
        se = float(differences.std(ddof=1)) / np.sqrt(n)
        # Assessors who all put them equally far apart leave no error to judge by.
        reach = float(stdtrit(n - 1, (1 + level) / 2)) * se if se > _TINY else np.nan
        low, high = middle - reach, middle + reach
        rows.append(
            {
                "sample": str(sample),
                "n": n,
                "nose": float(part[nose].mean()),
                "palate": float(part[palate].mean()),
                "difference": middle,
                "se": se,
                "df": n - 1,
                "low": low,
                "high": high,
                "verdict": _verdict(low, high, tolerance),
            }
        )
    if not rows:
        raise NotEstimable("promise.nobody", nose=nose, palate=palate)
    return PalateAgainstNose(
        nose=nose, palate=palate, table=pd.DataFrame(rows), tolerance=tolerance, level=level
    )


def _verdict(low: float, high: float, tolerance: float) -> str:
    """Name what the interval allows to say; "alike" without one."""
    if np.isnan(low):
        return "alike"
    if -tolerance <= low and high <= tolerance:
        return "kept"
    if high < 0:
        return "less"
    return "more" if low > 0 else "open"
