"""A table of answers as arrays, for comparing assessors on the same ground.

A cell that nobody answered is filled with what the additive model of assessor
and sample expects there (least squares: the fixed point of EM), so that one
blank drops nobody; the tests take its degree of freedom off.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..core.ratings_matrix import Floats, rounding_variance
from ..core.two_way import few_holes, fill_additive


class FullBlock(NamedTuple):
    """A table of answers: assessors, samples and attributes, the few holes filled.

    Attributes
    ----------
    y : array, shape (A attributes, I assessors, J samples)
        Cell means; where there is no answer, what the additive model expects.
    filled : array of bool, shape (A, I, J)
        Where there are answers.
    k : array, shape (A,)
        Replicates (harmonic mean).
    who, what : arrays of int, shape (N,)
        Assessor and sample of each pour.
    score : array, shape (A, N)
        Answers, nan where a repeat was not scored.
    position : array, shape (N,)
        Place in the serving order, centred within assessor and session; nan if unknown.
    rounding : array, shape (A,)
        Variance that writing in steps gives one answer: no scatter is taken below it.
    """

    y: Floats
    k: Floats
    who: NDArray[np.intp]
    what: NDArray[np.intp]
    score: Floats
    position: Floats
    filled: NDArray[np.bool_]
    rounding: Floats

    def holes(self, people: list[int]) -> NDArray[np.int_]:
        """Count the empty cells of some assessors, by attribute."""
        return np.asarray((~self.filled[:, people]).sum(axis=(1, 2)))


def block_of(data: pd.DataFrame, attributes: list[str]) -> tuple[FullBlock, list[str], list[str]]:
    """Build the block of tidy rows.

    An assessor or a sample with more than a third of its cells empty is left
    out, the emptiest first.

    Returns
    -------
    block : FullBlock
    assessors, samples : lists of str
        Who and what is in it.
    """
    rows = data[data["attribute"].isin(attributes)]
    names = sorted(rows["assessor"].unique()), sorted(rows["sample"].unique())
    empty_cells = np.ones((len(attributes), *map(len, names)), dtype=bool)
    empty_cells[
        pd.Index(attributes).get_indexer(pd.Index(rows["attribute"])),
        pd.Index(names[0]).get_indexer(pd.Index(rows["assessor"])),
        pd.Index(names[1]).get_indexer(pd.Index(rows["sample"])),
    ] = False
    people, things = few_holes(empty_cells)
    assessors = [str(x) for x, kept in zip(names[0], people, strict=True) if kept]
    samples = [str(x) for x, kept in zip(names[1], things, strict=True) if kept]
    rows = rows[rows["assessor"].isin(assessors) & rows["sample"].isin(samples)]
    rows = rows.assign(replicate=rows["replicate"].astype("Int64").fillna(1))
    pours = rows.pivot_table(
        index=["assessor", "sample", "session", "replicate"],
        columns="attribute",
        values="score",
        dropna=False,
        observed=True,
    ).dropna(how="all")[attributes]
    place = rows.groupby(["assessor", "sample", "session", "replicate"])["position"].first()
    position = place.astype(float).reindex(pours.index)
    keys = pours.index.to_frame(index=False)
    centred = position.to_numpy() - position.groupby(
        [keys["assessor"].to_numpy(), keys["session"].to_numpy()]
    ).transform("mean").to_numpy(float)
    who = pd.Index(assessors).get_indexer(pd.Index(keys["assessor"]))
    what = pd.Index(samples).get_indexer(pd.Index(keys["sample"]))
    score = pours.to_numpy(float).T
    a, i, j = len(attributes), len(assessors), len(samples)
    counts = np.stack(
        [np.bincount((who * j + what)[~np.isnan(row)], minlength=i * j) for row in score]
    )
    filled = counts > 0
    k = filled.sum(axis=1) / np.where(filled, 1 / np.maximum(counts, 1), 0.0).sum(axis=1)
    shape = (a, i, j)
    filled = filled.reshape(shape)
    rounding = np.array([rounding_variance(row[~np.isnan(row)]) for row in score])
    empty = FullBlock(np.empty(shape), k, who, what, score, centred, filled, rounding)
    return with_scores(empty, score), assessors, samples


def with_scores(block: FullBlock, score: Floats) -> FullBlock:
    """Return the block with cell means of `score`, holes filled."""
    a, i, j = block.y.shape
    y = np.empty_like(block.y)
    flat = block.who * j + block.what
    for attribute in range(a):
        seen = ~np.isnan(score[attribute])
        n = np.bincount(flat[seen], minlength=i * j)
        total = np.bincount(flat[seen], weights=score[attribute][seen], minlength=i * j)
        means = np.divide(total, n, out=np.full(i * j, np.nan), where=n > 0).reshape(i, j)
        y[attribute] = fill_additive(means)
    return block._replace(y=y, score=score)


def answers_by(block: FullBlock, people: list[int]) -> NDArray[np.bool_]:
    """Mark the answers of these assessors."""
    wanted = np.zeros(block.y.shape[1], dtype=bool)
    wanted[people] = True
    return np.asarray(wanted[block.who])
