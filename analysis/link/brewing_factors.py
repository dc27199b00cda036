"""Before any comparison of brews: what these batches can tell apart of how they were brewed.

Rice, polishing, yeast or the year are levels, not numbers of a meter: what is asked is whether
they were ever varied apart from one another. Two factors that part the batches in the same way
are one factor with two names. A factor is told apart from the others if, were effects to add,
all its levels could be compared whatever the others do: if the rank of the design falls by all
its degrees of freedom once it is taken away (estimable functions of the linear model; Searle,
Linear Models, 1971, chapter 5, from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from ..core.errors import TableError
from ..core.result import Result, copies
from ..core.words import Sentence

Array = npt.NDArray[np.float64]

KNOWN = (
    "tank", "year", "rice", "polishing", "koji", "koji_share", "yeast", "starter", "mash_days",
    "mash_max_c", "additions", "added_alcohol", "press", "pressed_on", "fraction", "pasteurised",
)  # fmt: skip
"""Factors of brewing that have a name in the catalogue; others are called by their column."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class BatchDesign(Result):
    """What batches can tell apart.

    Attributes
    ----------
    batches : int
        Independent units: rows of one batch count once.
    factors : DataFrame
        ``factor, levels, verdict, together``; `verdict` is one of ``told apart, together, fixed,
        constant, within, unknown``, `together` names the factors that changed with it.
    alike : int
        Batches that share all known factors with another one.
    spare : int
        Batches beyond what the factors and the mean take up.
    """

    batches: int
    factors: pd.DataFrame
    alike: int
    spare: int

    def of(self, *verdicts: str) -> list[str]:
        """Return the factors with some verdicts, in their order."""
        rows = self.factors
        return [str(name) for name in rows.loc[rows["verdict"].isin(verdicts), "factor"]]

    def groups(self) -> list[tuple[str, ...]]:
        """Return the factors that changed together, each group once."""
        found = {
            tuple(sorted((row["factor"], *row["together"]), key=list(self.factors["factor"]).index))
            for row in self.factors.to_dict("records")
            if row["together"]
        }
        return sorted(found, key=lambda group: list(self.factors["factor"]).index(group[0]))

    def sentences(self) -> tuple[Sentence, ...]:
        """Say what varied apart, what changed together, and what is left to judge chance by."""
        if self.batches == 1:
            said = [Sentence.of("brewing.one")]
        else:
            said = [Sentence.of("brewing.batches", n=self.batches)]
            said += [
                Sentence.of("brewing.together", listed=named(group)) for group in self.groups()
            ]
            for verdict in ("told apart", "fixed", "constant"):
                if listed := self.of(verdict):
                    key = f"brewing.{verdict.replace(' ', '_')}"
                    said.append(Sentence.of(key, listed=named(listed)))
            key = "no_spare" if self.spare <= 0 else "spare"
            if self.of("told apart", "together", "fixed"):
                said.append(Sentence.of(f"brewing.{key}", n=self.spare, alike=self.alike))
        if within := self.of("within"):
            said.append(Sentence.of("brewing.within", listed=named(within)))
        if unknown := self.of("unknown"):
            said.append(Sentence.of("brewing.unknown", listed=named(unknown)))
        return tuple(said)

    def tables(self) -> dict[str, pd.DataFrame]:
        """Return the factors with their verdicts."""
        shown = self.factors.drop(columns="together")
        shown["factor"] = self.factors["factor"].map(factor_name)
        shown["verdict"] = self.factors["verdict"].map(_verdict)
        return copies(**{"brewing.heading": shown})


def batch_design(
    batches: pd.DataFrame, factors: Sequence[str], *, batch: str = "batch"
) -> BatchDesign:
    """Tell which factors of brewing these batches can tell apart.

    Parameters
    ----------
    batches : DataFrame
        One row a batch, or several where its bottles differ; an empty cell says that a level is
        not known.
    factors : sequence of str
        Columns, each value a level; numbers too.
    batch : str
        Column that names the batch.

    Raises
    ------
    TableError
        For a missing column, and for a table without rows.

    Examples
    --------
    >>> table = pd.DataFrame({"batch": list("abcd"), "yeast": list("xyxy"), "rice": list("ppqq"),
    ...                       "year": [1, 1, 2, 2]})
    >>> found = batch_design(table, ["year", "rice", "yeast"])
    >>> found.of("told apart"), found.groups(), found.spare
    (['yeast'], [('year', 'rice')], 1)
    """
    have = [str(name) for name in batches.columns]
    faults = [
        Sentence.of("table.no_column", column=name, have=have)
        for name in (batch, *factors)
        if name not in batches
    ]
    if faults or batches.empty:
        raise TableError(tuple(faults) or (Sentence.of("brewing.empty"),))
    levels = {name: _levels(batches[name]) for name in factors}
    units = batches[batch].astype(str).to_numpy()
    first = [int(np.flatnonzero(units == one)[0]) for one in dict.fromkeys(units)]
    verdicts: dict[str, str] = {}
    parts: dict[str, tuple[int, ...]] = {}
    for name, own in levels.items():
        if any(len(set(own[units == one])) > 1 for one in dict.fromkeys(units)):
            verdicts[name] = "within"
        elif (own == "").any():
            verdicts[name] = "unknown"
        elif len(set(own)) == 1:
            verdicts[name] = "constant"
        else:
            parts[name] = _numbered(own[first])
    together = {
        name: tuple(other for other in parts if other != name and parts[other] == own)
        for name, own in parts.items()
    }
    distinct = list(dict.fromkeys(parts.values()))
    whole = _rank(distinct, len(first))
    for name, part in parts.items():
        without = _rank([one for one in distinct if one != part], len(first))
        apart = whole - without == max(part)
        verdicts[name] = "together" if together[name] else "told apart" if apart else "fixed"
    recipes = list(zip(*parts.values(), strict=True)) if parts else []
    return BatchDesign(
        batches=len(first),
        factors=pd.DataFrame(
            {
                "factor": list(factors),
                "levels": [len(set(levels[name]) - {""}) for name in factors],
                "verdict": [verdicts[name] for name in factors],
                "together": [together.get(name, ()) for name in factors],
            }
        ),
        alike=sum(recipes.count(one) > 1 for one in recipes),
        spare=len(first) - whole,
    )


def _levels(column: pd.Series) -> npt.NDArray[np.object_]:
    cells = ["" if cell is None or cell != cell else str(cell).strip() for cell in column]  # noqa: PLR0124 - NaN
    return np.array([*cells, None], dtype=object)[:-1]


def _numbered(levels: npt.NDArray[np.object_]) -> tuple[int, ...]:
    """Return the levels as numbers in the order of their coming: equal partitions are equal."""
    numbers = {level: place for place, level in enumerate(dict.fromkeys(levels))}
    return tuple(numbers[level] for level in levels)


def _rank(parts: Sequence[tuple[int, ...]], batches: int) -> int:
    """Return the rank of a mean and the levels of all parts."""
    columns: list[Array] = [np.ones(batches)]
    for part in parts:
        columns += [
            np.array([float(one == level) for one in part]) for level in range(1, max(part) + 1)
        ]
    return int(np.linalg.matrix_rank(np.column_stack(columns)))


def _verdict(verdict: str) -> Sentence:
    return Sentence.of(f"brewing.verdict_{verdict.replace(' ', '_')}")


def named(factors: Sequence[str]) -> list[Sentence | str]:
    """Name factors as the reader's language does."""
    return [factor_name(name) for name in factors]


def factor_name(name: str) -> Sentence | str:
    """Return the plain name of a factor of brewing that is known by its column."""
    return Sentence.of(f"brewing.factor_{name}") if name in KNOWN else name
