"""What a report may claim, as tables of cells: a row an assessor, a column a bottle."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from ..core.errors import OptionError
from ..core.options import one_of
from ..core.ratings_matrix import Floats
from ..core.tidy_table import Tidy

WEIGHTS = {"scale": 1.0, "balance": 1.0, "gap": 1.0, "word": 3.0, "fault": 0.3, "overall": 5.0}
NAMED_WEIGHTS = (10.0, 7.5, 5.0)
"""The weight of each question named beforehand, where there are one, two or three."""
MEASURED = ("scale", "balance", "gap")
NAMED_KINDS = (*WEIGHTS, "majority", "maker")


@dataclass(frozen=True, slots=True, kw_only=True)
class Named:
    """A question that was named before the tasting.

    Attributes
    ----------
    kind : str
        scale, balance, gap, word, fault or overall; or majority (is one bottle
        too sweet or too dry for most?) or maker (does the maker stand apart?).
    about : str
        The attribute; for majority the balance's attribute; for gap, overall
        and for a maker's shift in any attribute it may be empty.
    pair : tuple of two str, optional
        Only these two bottles are in question, for scale, balance, gap, word, fault.
    sample : str
        The bottle, for majority.
    """

    kind: str
    about: str = ""
    pair: tuple[str, str] | None = None
    sample: str = ""

    def __post_init__(self) -> None:
        one_of("kind", self.kind, NAMED_KINDS)
        if self.pair is not None and (
            self.kind in {"overall", "majority", "maker"} or len(set(self.pair)) != 2
        ):
            raise OptionError("claims.bad_pair", kind=self.kind, pair=list(self.pair))


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Member:
    """One question whether the bottles differ.

    Attributes
    ----------
    kind, about : str
    cells : ndarray, shape (assessors, bottles)
        Means over replicates; nan where there is none.
    floor : float
        Variance of a cell that comes from writing whole steps.
    weight : float
    named : bool
    pair : tuple of two int, optional
        Columns, if only two bottles are in question.
    """

    kind: str
    about: str
    cells: Floats
    floor: float
    weight: float
    named: bool = False
    pair: tuple[int, int] | None = None


def step_of(scores: Floats) -> float:
    """Return the smallest step between two scores that occur; 0 if there is one score only.

    Examples
    --------
    >>> step_of(np.array([3.0, 4.5, 6.0, 3.0]))
    1.5
    """
    gaps = np.diff(np.unique(np.round(scores, 6)))
    return float(gaps.min()) if gaps.size else 0.0


def members(
    checked: Tidy,
    *,
    of_kind: Mapping[str, Sequence[str]],
    gap: tuple[str, str] | None,
    assessors: Sequence[str],
    samples: Sequence[str],
    named: Sequence[Named],
) -> list[Member]:
    """Return the questions of a session, without the overall one."""
    data = checked.data[checked.data["assessor"].isin(assessors)]
    weight = NAMED_WEIGHTS[max(len(named), 1) - 1]
    asked = {(one.kind, one.about) for one in named if one.pair is None}
    wide = {
        str(name): _Wide(part, assessors, samples)
        for name, part in data.groupby("attribute", sort=False)
    }
    nothing = np.full((len(assessors), len(samples)), np.nan)
    found = []
    for kind in ("scale", "balance", "word", "fault"):
        for about in of_kind.get(kind, ()):
            own = wide.get(about)
            cells, floor = (nothing, 0.0) if own is None else own.cells(kind)
            chosen = (kind, about) in asked
            found.append(
                Member(
                    kind=kind,
                    about=about,
                    cells=cells,
                    floor=floor,
                    weight=weight if chosen else WEIGHTS[kind],
                    named=chosen,
                )
            )
    if gap is not None and set(gap) <= set(wide):
        chosen = any(one.kind == "gap" and one.pair is None for one in named)
        (palate, palate_floor), (nose, nose_floor) = (wide[name].cells("gap") for name in gap)
        found.append(
            Member(
                kind="gap",
                about=f"{gap[0]}-{gap[1]}",
                cells=palate - nose,
                floor=palate_floor + nose_floor,
                weight=weight if chosen else WEIGHTS["gap"],
                named=chosen,
            )
        )
    return found + _pairs(found, samples, named, weight)


def _pairs(
    found: Sequence[Member], samples: Sequence[str], named: Sequence[Named], weight: float
) -> list[Member]:
    """Return the questions about two bottles only."""
    more = []
    for one in named:
        if one.pair is None:
            continue
        for name in one.pair:
            one_of("pair", name, samples)
        for member in found:
            if member.kind == one.kind and one.about in ("", member.about):
                first, second = (list(samples).index(name) for name in one.pair)
                more.append(
                    Member(
                        kind=member.kind,
                        about=member.about,
                        cells=member.cells,
                        floor=member.floor,
                        weight=weight,
                        named=True,
                        pair=(first, second),
                    )
                )
    return more


class _Wide:
    """The answers to one question, by cell."""

    def __init__(
        self, part: pd.DataFrame, assessors: Sequence[str], samples: Sequence[str]
    ) -> None:
        self.scores = part["score"].to_numpy(float)
        rows = pd.Index(assessors).get_indexer(pd.Index(part["assessor"]))
        columns = pd.Index(samples).get_indexer(pd.Index(part["sample"]))
        kept = (rows >= 0) & (columns >= 0)
        self.scores, self.at = self.scores[kept], (rows[kept], columns[kept])
        self.count = np.zeros((len(assessors), len(samples)))
        np.add.at(self.count, self.at, 1.0)

    def cells(self, kind: str) -> tuple[Floats, float]:
        """Return the means (for faults: noted in any replicate) and their rounding variance."""
        total = np.zeros(self.count.shape)
        if kind == "fault":
            np.maximum.at(total, self.at, (self.scores > 0).astype(float))
            means = total
        else:
            np.add.at(total, self.at, self.scores)
            means = total / np.maximum(self.count, 1)
        filled = self.count > 0
        floor = 0.0
        if kind in MEASURED and filled.any():
            floor = step_of(self.scores) ** 2 / 12 * float((1 / self.count[filled]).mean())
        return np.where(filled, means, np.nan), floor
