"""How many assessors used a word for a sample: the assessor counts, not the tick.

An assessor who ticked 'apple' in both replicates of a bottle is one assessor.
Every share stands with its exact interval: three of three allows that three
drinkers in ten would not say it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Unpack

import numpy as np
import numpy.typing as npt
import pandas as pd

from ..core.errors import NotEstimable, OptionError
from ..core.options import one_of, share_of
from ..core.result import Result, copies, each_row
from ..core.tidy_table import LongColumns, Tidy, as_tidy
from ..core.words import Sentence
from ..inference.proportions import clopper_pearson

RULES = ("half", "any", "all")
_LISTED = 8


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Citations(Result):
    """Citation frequencies with the assessor as the unit.

    Attributes
    ----------
    table : DataFrame
        Columns ``attribute, sample, k, n, share, low, high``: k of the n
        assessors who judged the sample used the word; Clopper-Pearson limits.
    ticks : DataFrame
        Columns ``attribute, assessor, sample, tick`` (0 or 1): one row an
        assessor, word and sample, replicates joined by `rule`.
    attributes, samples, assessors : tuple of str
        Words in their order of appearance; the others sorted.
    replicates : int
        The largest number of replicates that were joined.
    rule : str
        "half": a word counts for an assessor who used it in at least half of
        the replicates of the sample; "any": in at least one; "all": in all.
    level : float
        Confidence level of the limits.
    unanswered : int
        Rows without an answer, left out.
    """

    table: pd.DataFrame
    ticks: pd.DataFrame
    attributes: tuple[str, ...]
    samples: tuple[str, ...]
    assessors: tuple[str, ...]
    replicates: int
    rule: str
    level: float
    unanswered: int
    method: str = "k of n assessors, Clopper-Pearson"

    def matrix(self, attribute: str) -> pd.DataFrame:
        """Return assessors in rows, samples in columns: 1 used, 0 not, nan not judged."""
        rows = self.ticks[self.ticks["attribute"] == attribute]
        wide = rows.pivot_table(index="assessor", columns="sample", values="tick")
        return wide.reindex(index=list(self.assessors), columns=list(self.samples)).astype(float)

    def counts(self) -> pd.DataFrame:
        """Return samples in rows, words in columns: how many assessors used the word."""
        wide = self.table.pivot_table(index="sample", columns="attribute", values="k")
        wide = wide.reindex(index=list(self.samples), columns=list(self.attributes))
        return wide.fillna(0).astype(int)

    def shares(self) -> pd.DataFrame:
        """Return samples in rows, words in columns: the share of assessors, nan if not judged."""
        wide = self.table.pivot_table(index="sample", columns="attribute", values="share")
        return wide.reindex(index=list(self.samples), columns=list(self.attributes))

    def sentences(self) -> tuple[Sentence, ...]:
        """Name the words most used per sample."""
        said = []
        for sample in self.samples:
            rows = self.table[(self.table["sample"] == sample) & (self.table["k"] > 0)]
            top = rows.sort_values("k", ascending=False, kind="stable").head(_LISTED)
            key = "citations.sample" if len(top) else "citations.no_word"
            listed = each_row(
                top,
                lambda row: Sentence.of(
                    "citations.word", attribute=row.attribute, k=row.k, of=row.n
                ),
            )
            said.append(Sentence.of(key, sample=sample, listed=listed))
        return tuple(said)

    def tables(self) -> Mapping[str, pd.DataFrame]:
        """Return the table of shares with limits."""
        return copies(**{"citations.heading": self.table})


def citations(
    table: Tidy | pd.DataFrame,
    *,
    attributes: Sequence[str] | None = None,
    level: float = 0.95,
    rule: str = "half",
    only_ticks: bool = False,
    **column_names: Unpack[LongColumns],
) -> Citations:
    """Count the assessors who used each word for each sample.

    Parameters
    ----------
    table : Tidy or DataFrame
        Scores 0 and 1; other attributes are left aside unless named.
    attributes : sequence of str, optional
        The words; by default every attribute that has no score but 0 and 1.
    level : float
        Confidence level of the limits.
    rule : {'half', 'any', 'all'}
        How the replicates of one assessor are joined, see `Citations.rule`.
    only_ticks : bool
        Set it when the table lists ticks only: then a word without a row was
        not used by an assessor who judged the sample (has any row for it).
    **column_names : str
        What the columns of a DataFrame are called, as in `tidy`.

    Returns
    -------
    Citations

    Raises
    ------
    NotEstimable
        If there is no attribute of ticks, or no 0 in the whole table (then it
        lists ticks only, and says nothing of who was asked).
    OptionError
        For a named attribute that is not in the table or has scores other
        than 0 and 1.

    Examples
    --------
    >>> rows = [("T1", "A", 1), ("T2", "A", 1), ("T3", "A", 0)]
    >>> frame = pd.DataFrame(rows, columns=["assessor", "sample", "score"])
    >>> frame["attribute"] = "apple"
    >>> print(citations(frame).sentences()[0])
    A: apple (2 of 3).
    """
    checked = as_tidy(table, **column_names)
    one_of("rule", rule, RULES)
    share_of("level", level)
    data = checked.data
    scores = data.groupby("attribute", sort=False)["score"]
    binary = {str(name): bool(one.isin((0, 1)).all()) for name, one in scores}
    if attributes is None:
        attributes = [name for name, is_tick in binary.items() if is_tick]
    for name in attributes:
        if name not in binary:
            raise OptionError("citations.no_attribute", name=name, have=list(binary))
        if not binary[name]:
            raise OptionError("citations.not_ticks", name=name)
    if not attributes:
        raise NotEstimable("citations.no_ticks")
    everybody = data[["session", "assessor", "sample", "replicate"]].drop_duplicates()
    data = data[data["attribute"].isin(attributes)]
    if only_ticks:
        data = _filled(data, everybody, list(attributes))
    elif not (data["score"] == 0).any():
        raise NotEstimable("citations.only_ticks")
    ticks, replicates = _joined(data, list(attributes), rule)
    counted = _counted(ticks, list(attributes), level)
    return Citations(
        table=counted,
        ticks=ticks,
        attributes=tuple(attributes),
        samples=tuple(sorted(ticks["sample"].unique())),
        assessors=tuple(sorted(ticks["assessor"].unique())),
        replicates=replicates,
        rule=rule,
        level=level,
        unanswered=int(checked.dropped["attribute"].isin(attributes).sum()),
        warnings=_careful(ticks, replicates, rule),
    )


def _filled(data: pd.DataFrame, judged: pd.DataFrame, attributes: list[str]) -> pd.DataFrame:
    """Write 0 for every word that an assessor did not list for a sample judged."""
    full = judged.merge(pd.DataFrame({"attribute": attributes}), how="cross")
    keys = ["session", "assessor", "sample", "replicate", "attribute"]
    merged = full.merge(data[[*keys, "score"]], on=keys, how="left")
    return merged.assign(score=merged["score"].fillna(0.0))


def _joined(data: pd.DataFrame, attributes: list[str], rule: str) -> tuple[pd.DataFrame, int]:
    """Join the replicates of an assessor into one tick."""
    grouped = data.groupby(["attribute", "assessor", "sample"], sort=False)["score"]
    used = grouped.agg(["mean", "max", "min", "size"]).reset_index()
    tick = {"half": used["mean"] >= 0.5, "any": used["max"] == 1, "all": used["min"] == 1}[rule]
    used["tick"] = tick.astype(int)
    rank = {name: place for place, name in enumerate(attributes)}
    used = used.sort_values(
        ["attribute", "assessor", "sample"],
        key=lambda column: column.map(rank) if column.name == "attribute" else column,
        kind="stable",
    )
    columns = ["attribute", "assessor", "sample", "tick"]
    return used[columns].reset_index(drop=True), int(used["size"].max())


def _counted(ticks: pd.DataFrame, attributes: list[str], level: float) -> pd.DataFrame:
    grouped = ticks.groupby(["attribute", "sample"], sort=True)["tick"]
    table = grouped.agg(k="sum", n="size").reset_index()
    rank = {name: place for place, name in enumerate(attributes)}
    table = table.sort_values("attribute", key=lambda names: names.map(rank), kind="stable")
    low, high = clopper_pearson(table["k"], table["n"], level)
    share = table["k"] / table["n"]
    return table.assign(share=share, low=low, high=high).reset_index(drop=True)


def _careful(ticks: pd.DataFrame, replicates: int, rule: str) -> tuple[Sentence, ...]:
    found = []
    if replicates > 1:
        found.append(Sentence.of(f"citations.joined_{rule}", n=replicates))
    judged = ticks.groupby(["assessor", "sample"]).ngroups
    whole = ticks["assessor"].nunique() * ticks["sample"].nunique()
    if judged < whole:
        found.append(Sentence.of("citations.gaps", n=whole - judged, of=whole))
    return tuple(found)


def cube_of(citations_of: Citations) -> npt.NDArray[np.float64]:
    """Return the ticks as an array of shape (assessors, samples, words), nan where not judged."""
    ticks = citations_of.ticks
    names = (citations_of.assessors, citations_of.samples, citations_of.attributes)
    cube = np.full([len(part) for part in names], np.nan)
    at = tuple(
        pd.Index(part).get_indexer(pd.Index(ticks[column]))
        for part, column in zip(names, ("assessor", "sample", "attribute"), strict=True)
    )
    cube[at] = ticks["tick"]
    return cube
