"""A full table of answers as arrays, for comparing assessors on the same ground."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..core.ratings_matrix import Floats, complete_block


class FullBlock(NamedTuple):
    """A full table of answers: every assessor tasted every sample for every attribute.

    Attributes
    ----------
    y : array, shape (A attributes, I assessors, J samples)
        Cell means.
    k : array, shape (A,)
        Replicates (harmonic mean).
    who, what : arrays of int, shape (N,)
        Assessor and sample of each pour.
    score : array, shape (A, N)
        Answers, nan where a repeat was not scored.
    position : array, shape (N,)
        Place in the serving order, centred within assessor and session; nan if unknown.
    """

    y: Floats
    k: Floats
    who: NDArray[np.intp]
    what: NDArray[np.intp]
    score: Floats
    position: Floats


def block_of(data: pd.DataFrame, attributes: list[str]) -> tuple[FullBlock, list[str], list[str]]:
    """Build the full block of tidy rows, dropping samples or assessors with holes.

    Returns
    -------
    block : FullBlock
    assessors, samples : lists of str
        Who and what is in it.
    """
    rows = data[data["attribute"].isin(attributes)]
    whole = None
    for name in attributes:
        counted = rows[rows["attribute"] == name].pivot_table(
            index="assessor", columns="sample", values="score", aggfunc="count"
        )
        counted = counted.reindex(
            index=sorted(rows["assessor"].unique()), columns=sorted(rows["sample"].unique())
        )
        whole = counted if whole is None else whole + counted
    assert whole is not None  # noqa: S101 - the caller gives at least one attribute
    people, things = complete_block(whole.to_numpy(float))
    assessors = [str(x) for x in whole.index[people]]
    samples = [str(x) for x in whole.columns[things]]
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
    k = i * j / (1 / np.maximum(counts, 1)).sum(axis=1)
    empty = FullBlock(np.empty((a, i, j)), k, who, what, score, centred)
    return with_scores(empty, score), assessors, samples


def with_scores(block: FullBlock, score: Floats) -> FullBlock:
    """Return the block with cell means of `score`."""
    a, i, j = block.y.shape
    y = np.empty_like(block.y)
    flat = block.who * j + block.what
    for attribute in range(a):
        seen = ~np.isnan(score[attribute])
        n = np.bincount(flat[seen], minlength=i * j)
        total = np.bincount(flat[seen], weights=score[attribute][seen], minlength=i * j)
        y[attribute] = (total / n).reshape(i, j)
    return block._replace(y=y, score=score)


def answers_by(block: FullBlock, people: list[int]) -> NDArray[np.bool_]:
    """Mark the answers of these assessors."""
    wanted = np.zeros(block.y.shape[1], dtype=bool)
    wanted[people] = True
    return np.asarray(wanted[block.who])
