"""Every pair of bottles in every attribute: how far apart, and how many go along."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from scipy.special import stdtrit

from ...analysis.core.options import ALPHA
from ...analysis.core.wording import fixed, limit
from ..base.words import Sentence, sentence
from ..findings.budget import Budget
from ..findings.differences import with_end
from ..findings.evidence import SCALED, Evidence

FEWEST = 4
"""Assessors from which on a gap that is not shown is named (no source)."""
AGAINST = 4
"""Of so many assessors one may go the other way, where such a gap is named (no source)."""
NAMED = 3
"""So many who go the other way are named."""
CARRIES = 0.25
"""Share of a gap that one assessor carries, from which it is told (no source)."""
KEPT = "overview.gaps"


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """How far one bottle stands above another in one attribute.

    Attributes
    ----------
    attribute, high, low : str
    by, least, most : float
        Mean over assessors in scale points, with the 95 % limits that the table of pairs shows.
    along, against : tuple of str
        Assessors whose own marks go this way, and the other way; who marked both alike in neither.
    n : int
        Assessors who marked both.
    claimed : bool
        Within the budget of the report.
    """

    attribute: str
    high: str
    low: str
    by: float
    least: float
    most: float
    along: tuple[str, ...]
    against: tuple[str, ...]
    n: int
    claimed: bool

    @property
    def clear(self) -> bool:
        """Whether the gap's own interval is clear of 0 and most assessors go along."""
        few_against = len(self.against) * AGAINST <= self.n
        return self.least > 0 and self.n >= FEWEST and few_against

    @property
    def going(self) -> Sentence:
        """How many go along, and who goes the other way."""
        key = "all_go" if len(self.along) == self.n else "some_go"
        if 0 < len(self.against) <= NAMED:
            key = "not_all_go"
        return sentence(f"overview.{key}", k=len(self.along), n=self.n, against=list(self.against))


def size(value: float, *, signed: bool = False) -> str:
    """Write a number of points with one decimal and a true minus; what rounds to 0 has no sign.

    >>> size(1.26), size(-0.04), size(-0.6, signed=True), size(0.04, signed=True)
    ('1.3', '0.0', '−0.6', '0.0')
    """
    return fixed(value, sign=signed)


def end(value: float, *, signed: bool = False) -> str:
    """Write the limit of an interval, never as 0 where it is none.

    >>> end(1.26), end(-0.04, signed=True)
    ('1.3', '−0.04')
    """
    return limit(value, sign=signed)


def limits(values: Sequence[float] | np.ndarray) -> tuple[float, float, float]:
    """Return a mean over assessors with its 95 % t limits; NaN limits of a single one."""
    own = np.asarray(values, float)
    mean = float(own.mean())
    if len(own) < 2:
        return mean, np.nan, np.nan
    half = float(-stdtrit(len(own) - 1, ALPHA / 2) * own.std(ddof=1) / np.sqrt(len(own)))
    return mean, mean - half, mean + half


def clear_of_zero(key: str, apart: np.ndarray, **words: object) -> Sentence | None:
    """Write a mean over assessors with limits and who goes along, if it is clear of 0 by itself."""
    by, least, most = limits(apart)
    if not (least > 0 or most < 0):
        return None
    sizes = {"by": by, "least": least, "most": most}
    words |= {n: (size if n == "by" else end)(value, signed=True) for n, value in sizes.items()}
    return sentence(key, k=int((apart * by > 0).sum()), n=len(apart), **words)


def gaps(evidence: Evidence, budget: Budget) -> list[Gap]:
    """Return every pair of compared bottles in every scaled attribute, higher bottle first."""
    if KEPT not in evidence.kept:
        evidence.kept[KEPT] = _gaps(evidence, budget)
    found: list[Gap] = evidence.kept[KEPT]
    return found


def _gaps(evidence: Evidence, budget: Budget) -> list[Gap]:
    if budget.found is None:
        return []
    table = budget.found.pairs
    table = table[table["kind"].isin(("scale", "balance"))]
    rows = {
        (str(row["about"]), frozenset((str(row["sample_a"]), str(row["sample_b"])))): row
        for row in table.dropna(subset=["difference", "low", "high"]).to_dict("records")
    }
    every = evidence.wide(evidence.attributes(*SCALED))
    made = []
    for name, wide in every.items():
        marks = {one: wide[one].to_numpy(float) for one in evidence.compared if one in wide}
        for first, second in combinations(marks, 2):
            row = rows.get((name, frozenset((first, second))))
            if row is None:
                continue
            turn = row["difference"] < 0
            pair = (str(row["sample_a"]), str(row["sample_b"]))[:: -1 if turn else 1]
            ends = (-row["high"], -row["low"]) if turn else (row["low"], row["high"])
            own = marks[pair[0]] - marks[pair[1]]
            made.append(
                Gap(
                    attribute=name,
                    high=pair[0],
                    low=pair[1],
                    by=abs(float(row["difference"])),
                    least=float(ends[0]),
                    most=float(ends[1]),
                    along=tuple(map(str, wide.index[own > 0])),
                    against=tuple(map(str, wide.index[own < 0])),
                    n=int(np.isfinite(own).sum()),
                    claimed=bool(row["claimed"]),
                )
            )
    return made


def leads(evidence: Evidence, budget: Budget) -> list[Gap]:
    """Return of each attribute that is not claimed the widest gap that stands clear of 0.

    Camps and attributes that are claimed are told elsewhere. Most tastings in which nothing
    differs have such gaps: only a `hint` may stand on the first page.
    """
    claimed = {one.about for one in budget.claimed("scale", "balance")}
    found: dict[str, Gap] = {}
    for one in gaps(evidence, budget):
        if one.attribute in claimed or not one.clear:
            continue
        if one.attribute not in found or one.by > found[one.attribute].by:
            found[one.attribute] = one
    return sorted(found.values(), key=lambda one: -one.least / one.by)


def hints(evidence: Evidence, budget: Budget) -> list[Gap]:
    """Return the leads whose attribute is a hint of the budget, which few null tastings have."""
    held = {one.about for one in budget.hinted("scale", "balance")}
    return [one for one in leads(evidence, budget) if one.attribute in held]


def besides(evidence: Evidence, budget: Budget) -> list[Gap]:
    """Return the further gaps that stand clear of 0 and are neither claimed nor the widest."""
    first = leads(evidence, budget)
    return [
        one for one in gaps(evidence, budget) if one.clear and not one.claimed and one not in first
    ]


def parted(evidence: Evidence, budget: Budget) -> list[Gap]:
    """Return the gaps clear of 0 that are not claimed and that too many go against to be named."""
    return [
        one
        for one in gaps(evidence, budget)
        if one.least > 0 and one.n >= FEWEST and not one.clear and not one.claimed
    ]


def carried(evidence: Evidence, one: Gap) -> tuple[str, float] | None:
    """Return who carries a quarter of a gap or more, and what is left of it without."""
    wide = evidence.wide([one.attribute])[one.attribute]
    own = (wide[one.high] - wide[one.low]).dropna()
    if len(own) < FEWEST:
        return None
    values = own.to_numpy(float)
    left = [float(np.delete(values, place).mean()) for place in range(len(values))]
    least, whole = int(np.argmin(left)), float(values.mean())
    if not whole - left[least] >= CARRIES * whole > 0:
        return None
    return str(own.index[least]), left[least]


def written(evidence: Evidence, one: Gap) -> Sentence:
    """Write a gap with its size, limits, and how many go along."""
    return sentence(
        "overview.gap",
        attribute=with_end(evidence, one.attribute),
        high=one.high,
        low=one.low,
        by=size(one.by),
        least=end(one.least),
        most=end(one.most),
        going=one.going,
    )
