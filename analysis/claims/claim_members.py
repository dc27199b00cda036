"""What a report may claim, as tables of cells: a row an assessor, a column a bottle."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ..core.errors import OptionError
from ..core.options import one_of
from ..core.ratings_matrix import Floats
from .cell_table import CellTable

WEIGHTS = {"scale": 1.0, "balance": 1.0, "gap": 1.0, "word": 3.0, "fault": 0.3, "overall": 5.0}
NAMED_WEIGHTS = (10.0, 7.5, 5.0)
"""The weight of each question named beforehand, where there are one, two or three."""
OTHERS_SHARE = 0.1
"""Share of the budget for what is not about differences between bottles."""
LIMITS = 0.95
"""Confidence level of the limits beside a difference that is told, claimed or not."""
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
        The attribute; for majority the balance's attribute; for a gap its two
        attributes as "palate-nose"; for every gap, overall and for a maker's shift in
        any attribute it may be empty.
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


def gap_name(more: str, less: str) -> str:
    """Name the question how far one attribute lies above another.

    >>> gap_name("palate", "nose")
    'palate-nose'
    """
    return f"{more}-{less}"


def members(
    table: CellTable,
    *,
    of_kind: Mapping[str, Sequence[str]],
    gaps: Sequence[tuple[str, str]],
    named: Sequence[Named],
) -> list[Member]:
    """Return the questions of a session, without the overall one."""
    weight = NAMED_WEIGHTS[max(len(named), 1) - 1]
    asked = {(one.kind, one.about) for one in named if one.pair is None}
    nothing = np.full((len(table.assessors), len(table.samples)), np.nan)
    found = []
    for kind in ("scale", "balance", "word", "fault"):
        for about in of_kind.get(kind, ()):
            cells, floor = nothing, 0.0
            if about in table:
                cells = table.noted(about) if kind == "fault" else table.means(about)
                floor = table.floor(about) if kind in MEASURED else 0.0
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
    for more, less in gaps:
        if {more, less} <= set(table.attributes):
            about = gap_name(more, less)
            chosen = bool({("gap", about), ("gap", "")} & asked)
            found.append(
                Member(
                    kind="gap",
                    about=about,
                    cells=table.means(more) - table.means(less),
                    floor=table.floor(more) + table.floor(less),
                    weight=weight if chosen else WEIGHTS["gap"],
                    named=chosen,
                )
            )
    return found + _pairs(found, table.samples, named, weight)


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
