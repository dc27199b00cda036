"""From a tidy table to the cells, columns and random terms of a mixed model.

All attributes share one list of cells (who, what, and where wanted: in which
session, at which position, after what); a score that an attribute lacks is a
hole in it. What can be estimated is decided attribute by attribute.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import numpy.typing as npt
import pandas as pd

from ..core.errors import OptionError
from ..core.tidy_table import Tidy
from ..core.words import Sentence
from .block_layout import Array, CellSums, RandomTerm, Whole
from .order_effects import Effect, Order, carry_over_columns, position_columns, session_columns


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Design:
    """Cells of all attributes, and what of the table they hold.

    Attributes
    ----------
    attributes, assessors, samples, sessions : tuple of str
    assessor, sample, session : integer array, shape (cells,)
        Level of each cell; `session` is all 0 where sessions are pooled.
    cells : CellSums
        Scores of the attributes.
    filled : array, shape (attributes, assessors, samples)
        Number of scores.
    effects : tuple of Effect
        Fixed columns besides the samples: position, carry-over, sessions.
    factors : DataFrame
        Level of each factor, one row a sample; no column without factors.
    dropped : DataFrame
        Rows of the table that were not used, with ``reason``.
    """

    attributes: tuple[str, ...]
    assessors: tuple[str, ...]
    samples: tuple[str, ...]
    sessions: tuple[str, ...]
    assessor: Whole
    sample: Whole
    session: Whole
    cells: CellSums
    filled: Array
    effects: tuple[Effect, ...]
    factors: pd.DataFrame
    dropped: pd.DataFrame

    def term(self, name: str) -> RandomTerm:
        """Return a random term by its name, such as ``"assessor:sample"``.

        Raises
        ------
        OptionError
            If a part of the name is neither assessor, sample, session nor a factor.
        """
        known: dict[str, Whole] = {
            "assessor": self.assessor,
            "sample": self.sample,
            "session": self.session,
        }
        for factor in self.factors:
            codes = np.unique(self.factors[factor], return_inverse=True)[1].astype(np.int64)
            known[str(factor)] = codes[self.sample]
        codes = np.zeros(len(self.sample), dtype=np.int64)
        for part in name.split(":"):
            if part not in known:
                raise OptionError("anova.unknown_term", term=name, part=part, known=sorted(known))
            codes = codes * (int(known[part].max()) + 1) + known[part]
        return RandomTerm(name, np.unique(codes, return_inverse=True)[1].astype(np.int64))

    def factor_sets(self) -> list[tuple[str, ...]]:
        """Return the sets of factors that make effects: each alone, each pair, and so on."""
        names = [str(name) for name in self.factors]
        return [chosen for size in range(1, len(names) + 1) for chosen in combinations(names, size)]


def _codes(values: pd.Series) -> tuple[Whole, tuple[str, ...]]:
    """Return the column as numbers of its sorted names."""
    codes, names = pd.factorize(values, sort=True)
    return codes.astype(np.int64), tuple(str(name) for name in names)


def design(
    table: Tidy,
    *,
    attributes: list[str],
    factors: pd.DataFrame,
    sessions: str,
    position: str | None,
    carry_over: bool,
) -> Design:
    """Gather the scores of a tidy table into cells.

    Parameters
    ----------
    table : Tidy
    attributes : list of str
        Attributes wanted, all of them in the table.
    factors : DataFrame
        From `factor_table`.
    sessions : {'pooled', 'fixed', 'random'}
    position : {None, 'linear', 'each'}
    carry_over : bool
    """
    data, dropped = table.data, [table.dropped]
    if attributes != table.attributes:
        data = data[data["attribute"].isin(attributes)]
    if position is not None or carry_over:
        lost = data["position"].isna()
        if lost.all():
            raise OptionError("anova.no_positions")
        if lost.any():
            dropped.append(data[lost].assign(reason="no position"))
            data = data[~lost]
    attribute = pd.Index(attributes).get_indexer(pd.Index(data["attribute"]))
    assessor, assessors = _codes(data["assessor"])
    sample, samples = _codes(data["sample"])
    session, session_names = _codes(data["session"])
    session_kept = np.zeros_like(session) if sessions == "pooled" else session
    order = Order.of(data, table.dropped, samples) if position or carry_over else None
    keys: list[npt.NDArray[np.int64]] = [assessor, sample, session_kept]
    if order is not None:
        keys += [
            order.position if position else 0 * sample,
            order.before if carry_over else 0 * sample,
        ]
    sizes = [int(key.max()) + 1 for key in keys]
    flat = np.ravel_multi_index(keys, sizes)
    if len(keys) == 3 and sizes[2] == 1:
        present = np.arange(sizes[0] * sizes[1])
        cell = flat
    else:
        present, cell = np.unique(flat, return_inverse=True)
    levels = np.unravel_index(present, sizes)
    a, n = len(attributes), len(present)
    score = data["score"].to_numpy(float)
    place = attribute * n + cell
    counts = np.bincount(place, minlength=a * n).astype(float)
    sums = np.bincount(place, score, minlength=a * n)
    means = sums / np.maximum(counts, 1)
    within = np.bincount(attribute, (score - means[place]) ** 2, minlength=a).astype(float)
    filled = np.bincount(
        np.ravel_multi_index((attribute, assessor, sample), (a, sizes[0], sizes[1])),
        minlength=a * sizes[0] * sizes[1],
    )
    effects: list[Effect] = []
    if order is not None and position is not None:
        if np.ptp(levels[3]) == 0:
            raise OptionError("anova.one_place", place=int(levels[3][0]))
        effects.append(position_columns(levels[3], position))
    if order is not None and carry_over:
        effects.append(carry_over_columns(levels[4], samples))
    if sessions == "fixed" and len(session_names) > 1:
        effects.append(session_columns(levels[2], session_names))
    return Design(
        attributes=tuple(attributes),
        assessors=assessors,
        samples=samples,
        sessions=session_names,
        assessor=levels[0],
        sample=levels[1],
        session=levels[2],
        cells=CellSums(counts.reshape(a, n), means.reshape(a, n), within),
        filled=filled.reshape(a, sizes[0], sizes[1]).astype(float),
        effects=tuple(effects),
        factors=factors.loc[list(samples)] if len(factors.columns) else factors,
        dropped=pd.concat([part for part in dropped if len(part)] or [table.dropped]),
    )


def factor_table(
    factors: pd.DataFrame | Mapping[str, Mapping[str, object]] | None, samples: list[str]
) -> pd.DataFrame:
    """Bring the factorial structure of the samples into one row a sample.

    Parameters
    ----------
    factors : DataFrame or mapping, optional
        A DataFrame with the samples as its index or in a column ``sample``,
        one column a factor; or a mapping of each sample to its levels, such
        as ``{"A": {"fraction": "clear", "pasteurised": "no"}, ...}``.
    samples : list of str
        Samples of the table.

    Raises
    ------
    OptionError
        If a sample has no level of a factor, or a factor has one level only.
    """
    if factors is None:
        return pd.DataFrame(index=pd.Index(samples, dtype=str))
    if isinstance(factors, pd.DataFrame):
        found = factors.set_index("sample") if "sample" in factors else factors
    else:
        found = pd.DataFrame.from_dict(
            {str(k): dict(v) for k, v in factors.items()}, orient="index"
        )
    found = found.copy()
    found.index = found.index.map(str)
    found.columns = found.columns.map(str)
    taken = {"assessor", "sample", "session", "residual"} & set(found.columns)
    if taken:
        raise OptionError("anova.factor_name", names=sorted(taken))
    absent = [name for name in samples if name not in found.index]
    if absent:
        raise OptionError("anova.factor_absent", samples=absent)
    if found.index.has_duplicates:
        raise OptionError("anova.factor_twice", samples=list(found.index[found.index.duplicated()]))
    found = found.loc[samples]
    for name in found:
        if found[name].isna().any():
            holes = list(found.index[found[name].isna()])
            raise OptionError("anova.factor_level", factor=name, samples=holes)
        if found[name].nunique() < 2:
            raise OptionError("anova.factor_constant", factor=name, level=found[name].iloc[0])
    return found.astype(str)


def faults(plan: Design) -> dict[str, Sentence]:
    """Say for which attributes samples cannot be compared, and why."""
    refused: dict[str, Sentence] = {}
    filled = plan.filled
    totals = filled.sum(axis=(1, 2))
    cells = plan.cells
    centre = (cells.counts * cells.means).sum(axis=1) / np.maximum(totals, 1)
    between = (cells.counts * (cells.means - centre[:, None]) ** 2).sum(axis=1)
    varies = between + cells.within > 1e-20 * np.maximum(1.0, centre**2) * totals
    linked = _linked(filled)
    for a, attribute in enumerate(plan.attributes):
        who = filled[a].sum(axis=1) > 0
        what = filled[a].sum(axis=0) > 0
        if not totals[a]:
            refused[attribute] = Sentence.of("anova.no_scores", attribute=attribute)
        elif what.sum() < 2:
            name = plan.samples[int(np.argmax(what))]
            refused[attribute] = Sentence.of("anova.one_sample", attribute=attribute, sample=name)
        elif who.sum() < 2:
            name = plan.assessors[int(np.argmax(who))]
            refused[attribute] = Sentence.of(
                "anova.one_assessor", attribute=attribute, assessor=name
            )
        elif not varies[a]:
            refused[attribute] = Sentence.of(
                "anova.constant", attribute=attribute, score=f"{centre[a]:g}"
            )
        elif not linked[a][np.ix_(what, what)].all():
            first = linked[a][int(np.argmax(what))] & what
            refused[attribute] = Sentence.of(
                "anova.not_linked",
                attribute=attribute,
                one=[name for name, kept in zip(plan.samples, first, strict=True) if kept],
                other=[
                    name
                    for name, kept, kept_first in zip(plan.samples, what, first, strict=True)
                    if kept and not kept_first
                ],
            )
    return refused


def _linked(filled: Array) -> npt.NDArray[np.bool_]:
    """Tell which samples are compared by a chain of assessors, shape (a, samples, samples)."""
    who = (filled > 0).astype(float)
    reach: npt.NDArray[np.bool_] = who.swapaxes(1, 2) @ who > 0
    for _ in range(max(1, int(np.ceil(np.log2(max(2, filled.shape[2])))))):
        reach = reach.astype(float) @ reach.astype(float) > 0
    return reach
