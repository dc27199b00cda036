"""What does knowing the bottle do to the scores?

The same bottles are scored blind and once more with their names told. For each assessor
and bottle the difference, named minus blind, is taken within the assessor, so that how an
assessor uses the scale cancels out; blind replicates are averaged first.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Unpack

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import stdtrit

from ...rounding import rounded
from ..core.errors import NotEstimable, OptionError
from ..core.options import share_of
from ..core.result import Interval, Result, copies, each_row
from ..core.tidy_table import LongColumns, Tidy, as_tidy
from ..core.wording import short, stated_percent
from ..core.words import Sentence

Floats = npt.NDArray[np.float64]
Whole = npt.NDArray[np.intp]
_TINY = 1e-9
_TWO = 2


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class OpenAgainstBlind(Result):
    """Named minus blind, by attribute and group of assessors.

    Attributes
    ----------
    table : DataFrame
        ``group, attribute, unit, assessors, bottles, pairs, n, difference, sd, df, low, high``.
        `unit` is what the limits are over: ``bottles`` for one assessor, whose pairs are
        bottles; ``assessors`` for more, each by the mean of their own bottles. `n` counts
        those units, `pairs` all assessors × bottles. Limits are missing where `n` is 1 or
        all units moved alike.
    pairs : DataFrame
        ``assessor, sample, attribute, blind, named, difference``; one row an assessor × bottle
        scored both ways.
    blind_only : tuple of str
        Assessors of the groups without any pair.
    unpaired : int
        Cells (assessor × bottle × attribute) that were scored one way only.
    level : float
    """

    table: pd.DataFrame
    pairs: pd.DataFrame
    blind_only: tuple[str, ...]
    unpaired: int
    level: float
    method: str = "paired t over assessors (over bottles for one), blind replicates averaged"

    def interval(self, group: str, attribute: str) -> Interval:
        """Return the limits of one group in one attribute."""
        own = self.table[
            (self.table["group"] == group) & (self.table["attribute"] == attribute)
        ].iloc[0]
        return Interval(float(own["low"]), float(own["high"]), self.level)

    def sentences(self) -> tuple[Sentence, ...]:
        """Say for each group and attribute how far the scores moved."""
        return each_row(self.table, lambda row: moved_by(row, self.level))

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return the differences, and the pairs that they are made of."""
        return copies(**{"named_scores.heading": self.table, "named_scores.pairs": self.pairs})


def moved_by(row: Any, level: float) -> Sentence:
    """Say how far one group moved in one attribute; `row` is a row of the table."""
    unit = "bottles" if row.unit == "bottles" else "people"
    limited = not np.isnan(row.low)
    key = f"moved_{unit}" if limited else "moved_once" if row.n == 1 else f"alike_{unit}"
    return Sentence.of(
        f"named_scores.{key}",
        group=row.group,
        attribute=row.attribute,
        by=rounded(row.difference, "+.1f"),
        low=short(row.low),
        high=short(row.high),
        level=stated_percent(level),
        n=row.n,
    )


def open_against_blind(
    blind: Tidy | pd.DataFrame,
    named: Tidy | pd.DataFrame,
    groups: Mapping[str, Sequence[str]],
    *,
    level: float = 0.95,
    **column_names: Unpack[LongColumns],
) -> OpenAgainstBlind:
    """Compare scores given with the names told with the same assessors' blind scores.

    Parameters
    ----------
    blind, named : Tidy or DataFrame
        Tidy tables of the same attributes, assessors and samples; points of the scale.
    groups : mapping of str to sequence of str
        Assessors of each group; one assessor may be in several.
    level : float
        Confidence level, between 0 and 1.
    **column_names : str
        What the columns of a DataFrame are called, as in `tidy`.

    Returns
    -------
    OpenAgainstBlind
        A group without any pair has no row.

    Raises
    ------
    OptionError
        If the level is out of range, or there is no group.
    NotEstimable
        If no assessor of the groups scored a sample both ways.

    Notes
    -----
    Limits are those of Student's paired t (Student 1908). Pairs of one person are not
    independent of each other for a statement about people, so that a group is judged by its
    members' means; for one person the bottles are the units, and the limits are of that
    person. In a balanced table these are the limits of the mixed model with random assessors.
    The named scores came later than the blind ones: what moved them besides the name (order,
    second thoughts, warmer cups) is in the difference.

    References
    ----------
    Student (1908), The probable error of a mean, Biometrika 6:1-25.

    Examples
    --------
    >>> rows = [("M", "x", 6, 7), ("M", "y", 5, 7), ("M", "z", 5, 9)]
    >>> wide = pd.DataFrame(rows, columns=["assessor", "sample", "blind", "named"])
    >>> blind, named = (
    ...     wide[["assessor", "sample"]].assign(attribute="quality", score=wide[name])
    ...     for name in ("blind", "named")
    ... )
    >>> found = open_against_blind(blind, named, {"maker": ["M"]})
    >>> print(found.sentences()[0])
    maker: quality +2.3 with the name told (95 % limits -1.46 to 6.13, over 3 bottles)
    """
    share_of("level", level)
    if not groups:
        raise OptionError("named_scores.no_group")
    before, after = as_tidy(blind, **column_names), as_tidy(named, **column_names)
    cells = pd.DataFrame({"blind": _cells(before), "named": _cells(after)})
    members = dict.fromkeys(one for codes in groups.values() for one in codes)
    cells = cells[cells.index.get_level_values("assessor").isin(members)]
    whole = cells.dropna()
    if whole.empty:
        raise NotEstimable("named_scores.nobody")
    pairs = whole.reset_index()
    pairs["difference"] = pairs["named"] - pairs["blind"]
    asked = list(dict.fromkeys(before.attributes))
    rows = [
        {"group": group, "attribute": asked[place]} | row
        for group, codes in groups.items()
        for place, row in _rows(pairs[pairs["assessor"].isin(codes)], asked, level)
    ]
    there = set(pairs["assessor"])
    return OpenAgainstBlind(
        table=pd.DataFrame(rows),
        pairs=pairs[["assessor", "sample", "attribute", "blind", "named", "difference"]],
        blind_only=tuple(one for one in members if one not in there),
        unpaired=int(
            cells[cells.index.get_level_values("assessor").isin(there)].isna().any(axis=1).sum()
        ),
        level=level,
    )


def _cells(table: Tidy) -> pd.Series:
    """Return the mean score of each assessor, sample and attribute, over replicates."""
    data = table.data.astype(dict.fromkeys(("assessor", "sample", "attribute"), str))
    return data.groupby(["assessor", "sample", "attribute"], sort=False)["score"].mean()


def _rows(
    pairs: pd.DataFrame, asked: Sequence[str], level: float
) -> Iterator[tuple[int, dict[str, object]]]:
    """Yield the place of each attribute in which a group has pairs, and its mean difference."""
    if pairs.empty:
        return
    place = pd.Index(asked).get_indexer(pd.Index(pairs["attribute"]))
    order = np.argsort(place, kind="stable")
    places, starts = np.unique(place[order], return_index=True)
    people, bottles = (
        np.split(pd.factorize(pairs[name])[0][order], starts[1:]) for name in ("assessor", "sample")
    )
    differences = np.split(pairs["difference"].to_numpy(float)[order], starts[1:])
    for at, who, which, moved in zip(places.tolist(), people, bottles, differences, strict=True):
        yield at, _row(who, which, moved, level)


def _row(people: Whole, bottles: Whole, differences: Floats, level: float) -> dict[str, object]:
    """Return the mean difference of a group in one attribute, with its limits."""
    scored = np.bincount(people)
    there = scored > 0
    means = np.bincount(people, differences)[there] / scored[there]
    alone = len(means) == 1
    units = differences if alone else means
    n = len(units)
    middle = float(units.mean())
    sd = float(units.std(ddof=1)) if n >= _TWO else np.nan
    # Units that all moved alike leave no error to judge by.
    t = float(stdtrit(n - 1, (1 + level) / 2)) if sd > _TINY else np.nan
    reach = t * sd / np.sqrt(n)
    return {
        "unit": "bottles" if alone else "assessors",
        "assessors": len(means),
        "bottles": len(set(bottles.tolist())),
        "pairs": len(differences),
        "n": n,
        "difference": middle,
        "sd": sd,
        "df": n - 1,
        "low": middle - reach,
        "high": middle + reach,
    }
