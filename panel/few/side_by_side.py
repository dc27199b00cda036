"""The sheets of a few assessors side by side: shared orders, and where they part."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from ..findings.evidence import SCALED, Evidence, once

if TYPE_CHECKING:
    import pandas as pd

SHEETS, SURE, SERVED, BOTTLES = "sheets", "sure", "asked", "decide"
"""Sections of the page that several files write into."""
MOST_COUNTED = 3
"""Assessors whose marks count, up to whom the sheets are laid side by side."""
MOST_PEOPLE = 4
"""People in all, up to whom they are."""
ALIKE = 1e-9
"""Means of marks closer than this are the same."""


def is_few(evidence: Evidence) -> bool:
    """Tell whether a session is one of few assessors: two bottles or more, marks to compare."""
    return (
        len(evidence.counted) <= MOST_COUNTED
        and len(evidence.people) <= MOST_PEOPLE
        and len(evidence.products) > 1
        and bool(evidence.attributes(*SCALED))
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One attribute on everybody's sheet.

    Attributes
    ----------
    attribute : str
    marks : DataFrame
        Mean mark of each assessor (rows) for each bottle (columns); makers too.
    """

    attribute: str
    marks: pd.DataFrame

    @property
    def whole(self) -> bool:
        """Whether everybody marked every bottle."""
        return not bool(self.marks.isna().to_numpy().any())

    @property
    def order(self) -> list[str]:
        """The bottles from the highest down, where everybody has this order without a tie."""
        if not self.whole:
            return []
        found = {tuple(row.sort_values(ascending=False).index) for _, row in self.marks.iterrows()}
        values = np.sort(self.marks.to_numpy(float), axis=1)
        strict = bool((np.diff(values, axis=1) > ALIKE).all())
        return [str(name) for name in found.pop()] if strict and len(found) == 1 else []

    def end(self, sign: int) -> str:
        """Return the bottle that everybody puts alone at the upper (1) or lower (-1) end."""
        if not self.whole:
            return ""
        values = sign * self.marks
        tops = {str(row.idxmax()) for _, row in values.iterrows()}
        sorted_ = np.sort(values.to_numpy(float), axis=1)
        alone = bool((sorted_[:, -1] - sorted_[:, -2] > ALIKE).all())
        return tops.pop() if alone and len(tops) == 1 else ""

    def from_others(self, bottle: str) -> pd.Series:
        """Return how far each assessor puts a bottle above the mean of the others."""
        return self.marks[bottle] - self.marks.drop(columns=bottle).mean(axis=1)

    @property
    def agreed(self) -> list[tuple[str, str]]:
        """The pairs of bottles, higher first, that everybody puts in the same order."""
        found = []
        for a, b in combinations([str(name) for name in self.marks.columns], 2):
            gap = self.marks[a] - self.marks[b]
            if (gap > ALIKE).all():
                found.append((a, b))
            elif (gap < -ALIKE).all():
                found.append((b, a))
        return found

    @property
    def parted(self) -> list[tuple[str, str]]:
        """The pairs of bottles that two assessors put in opposite orders."""
        found = []
        for a, b in combinations([str(name) for name in self.marks.columns], 2):
            gap = self.marks[a] - self.marks[b]
            if (gap > ALIKE).any() and (gap < -ALIKE).any():
                found.append((a, b))
        return found

    @property
    def flat(self) -> list[str]:
        """The assessors who gave every bottle the same mark."""
        spread = self.marks.max(axis=1) - self.marks.min(axis=1)
        full = self.marks.notna().all(axis=1)
        return [str(code) for code in self.marks.index if full[code] and spread[code] <= ALIKE]

    @property
    def equal_steps(self) -> bool:
        """Whether several assessors set the bottles exactly equally far apart."""
        if len(self.marks) < 2 or not self.whole:
            return False
        centred = self.marks.sub(self.marks.mean(axis=1), axis=0).to_numpy(float)
        same = bool((np.ptp(centred, axis=0) <= ALIKE).all())
        return same and bool(np.ptp(centred, axis=1).max() > ALIKE)

    @property
    def equal_pairs(self) -> list[tuple[str, str]]:
        """The pairs that three or more assessors set exactly equally far apart, one way."""
        if len(self.marks) <= 2 or not self.whole:
            return []
        gaps = {pair: self.marks[pair[0]] - self.marks[pair[1]] for pair in self.agreed}
        return [pair for pair, gap in gaps.items() if float(np.ptp(gap.to_numpy(float))) <= ALIKE]


@once
def rows(evidence: Evidence) -> list[Row]:
    """Return every scaled attribute that somebody marked, in the scorecard's order."""
    names = evidence.attributes(*SCALED)
    table = evidence.rows(names, everybody=True)
    means = table.groupby(["attribute", "assessor", "sample"], observed=True)["score"].mean()
    found = []
    for name in names:
        if name not in means.index.get_level_values("attribute"):
            continue
        wide = means[name].unstack("sample")  # noqa: PD010 - a Series has no pivot_table
        wide = wide.reindex(index=people(evidence), columns=evidence.products)
        wide = wide.dropna(how="all").dropna(axis="columns", how="all")
        if wide.shape[1] > 1:
            found.append(Row(attribute=name, marks=wide))
    return found


def people(evidence: Evidence) -> list[str]:
    """Return everybody who answered, in the order of the roster."""
    return list(evidence.roles)


def shared(evidence: Evidence, bottle: str, sign: int) -> list[Row]:
    """Return the attributes in which everybody puts a bottle alone at one end."""
    return [row for row in rows(evidence) if row.end(sign) == bottle]


def repeats(evidence: Evidence) -> Iterator[tuple[str, float, float, int]]:
    """Give of each assessor mean, largest and number of gaps between tastings of one bottle."""
    table = evidence.rows([row.attribute for row in rows(evidence)], everybody=True)
    cells = table.groupby(["assessor", "attribute", "sample"], observed=True)["score"]
    gaps = (cells.max() - cells.min())[cells.count() > 1]
    for code in people(evidence):
        if code in gaps.index.get_level_values("assessor"):
            own = gaps[code]
            yield code, float(own.mean()), float(own.max()), len(own)


def beyond_own_scatter(evidence: Evidence) -> Iterator[tuple[str, float, int]]:
    """Give of each assessor what two bottles must lie apart to pass that assessor's own scatter.

    In points between means of all tastings, at 95 % by Student's t for one pair named beforehand;
    with the degrees of freedom of the scatter, pooled over all attributes and bottles.
    """
    from scipy.special import stdtrit

    table = evidence.rows([row.attribute for row in rows(evidence)], everybody=True)
    cells = table.groupby(["assessor", "attribute", "sample"], observed=True)["score"]
    found = cells.agg(["var", "count"]).query("count > 1").assign(df=lambda own: own["count"] - 1)
    found["squares"] = found["var"] * found["df"]
    sums = found.groupby("assessor", observed=True)[["squares", "df"]].sum()
    for code in people(evidence):
        if code in sums.index:
            squares, df = float(sums["squares"][code]), int(sums["df"][code])
            reach = float(stdtrit(df, 0.975)) * np.sqrt(squares / df * 2 / evidence.replicates)
            yield code, float(reach), df
