"""The layout of a mixed model for `reml`: cells, blocks and their border.

Rows that share all levels are one *cell*; its count, mean and inner sum of
squares are sufficient. Terms nested in one grouping factor (mostly the
assessor) make the covariance of the data block-diagonal; the few levels of
other terms (sessions) border it. Blocks that are equal in all but their
scores are stored once, with the number of their copies, the mean of their
scores and the sum of squares and products around it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.floating[Any]]
Whole = npt.NDArray[np.int64]

_WORTH_SORTING = 24


@dataclass(frozen=True, slots=True, eq=False)
class RandomTerm:
    """A random term: the level of each cell, and the covariates that vary within a level.

    Attributes
    ----------
    name : str
    codes : integer array, shape (cells,)
        Level of each cell, from 0.
    slopes : array, shape (cells, r), optional
        Columns whose coefficients are random and correlated within a level,
        for example a column of ones and one of days. None: a random intercept.
    """

    name: str
    codes: Whole
    slopes: Array | None = None


@dataclass(frozen=True, slots=True, eq=False)
class CellSums:
    """What is sufficient of the scores of many responses.

    Attributes
    ----------
    counts : array, shape (responses, cells)
        Scores in a cell; 0 is a hole.
    means : array, shape (responses, cells)
        Their mean; anything finite where the count is 0.
    within : array, shape (responses,)
        Sum of squares of the scores around their cell's mean.
    """

    counts: Array
    means: Array
    within: Array

    def take(self, which: npt.NDArray[np.intp]) -> CellSums:
        """Return some of the responses."""
        return CellSums(self.counts[which], self.means[which], self.within[which])


@dataclass(frozen=True, slots=True, eq=False)
class BlockedDesign:
    """One design in blocks of equal size; places beyond a block's cells are padding.

    Attributes
    ----------
    names : tuple of str
        The variances: inside blocks first, then of the border, the residual last.
    place : array, shape (blocks, size)
        The cell at each place; -1 is padding.
    columns : array, shape (blocks, size, u + rank)
        Indicators of the border's levels, then the fixed columns.
    inside : tuple of array
        For each variance inside blocks its share of the covariance: shape
        (blocks, size, size), or (blocks, size) when it is diagonal.
    border : array, shape (u, variances of the border)
        1 where a level belongs to a variance.
    rank : int
        Number of fixed columns.
    kind : array, shape (blocks,)
        Equal for blocks that differ in their scores only.
    """

    names: tuple[str, ...]
    place: Whole
    columns: Array
    inside: tuple[Array, ...]
    border: Array
    rank: int
    kind: Whole


@dataclass(frozen=True, slots=True, eq=False)
class Blocks:
    """Scores of some responses laid out by a plan. First axes: responses, stored blocks.

    Attributes
    ----------
    plan : BlockedDesign
    scale, shift : array, shape (a,) and (a, rank)
        The ordinary least-squares fit that was taken off, and the standard
        deviation that the rest was divided by.
    squares : array, shape (a, rank, rank)
        X'X of that fit.
    mask, inverse_count : array, shape (a, g, size)
        1 where there are scores; 1 / count there, 0 elsewhere.
    columns : array, shape (a, g, size, m)
        Columns of the plan and, last, the mean scores.
    inside : tuple of array
        Shares of the covariance, holes set to 0.
    copies : array, shape (a, g)
        Number of blocks that a stored one stands for.
    spread : array, shape (a, g, size, size), optional
        Their sum of squares and products around the mean; None if all stand
        for themselves.
    extra, within, constant, total : array, shape (a,)
        Scores beyond one per cell, their scaled inner sum of squares, the sum
        of log counts, and the number of scores.
    """

    plan: BlockedDesign
    scale: Array
    shift: Array
    squares: Array
    mask: Array
    inverse_count: Array
    columns: Array
    inside: tuple[Array, ...]
    copies: Array
    spread: Array | None
    extra: Array
    within: Array
    constant: Array
    total: Array

    def take(self, which: npt.NDArray[np.intp]) -> Blocks:
        """Return some of the responses."""
        if len(which) == len(self.scale):
            return self
        taken = {}
        for field in fields(self):
            value = getattr(self, field.name)
            if isinstance(value, tuple):
                value = tuple(part[which] for part in value)
            elif isinstance(value, np.ndarray):
                value = value[which]
            taken[field.name] = value
        return Blocks(**taken)


def _nested(inner: Whole, outer: Whole) -> bool:
    """Tell whether every level of `inner` lies in one level of `outer`."""
    first = np.full(int(inner.max()) + 1, -1)
    first[inner] = outer
    return bool((first[inner] == outer).all())


def _grouping(terms: Sequence[RandomTerm], n: int, rank: int) -> tuple[Whole, list[bool]]:
    """Find the factor whose levels make the cheapest blocks, and which terms lie inside."""
    best: tuple[float, Whole, list[bool]] | None = None
    for outer in (*(term.codes for term in terms), np.zeros(n, dtype=np.int64)):
        kept = [_nested(term.codes, outer) for term in terms]
        if any(
            term.slopes is not None and not inside for term, inside in zip(terms, kept, strict=True)
        ):
            continue
        edge = rank + sum(
            int(term.codes.max()) + 1
            for term, inside in zip(terms, kept, strict=True)
            if not inside
        )
        sizes = np.bincount(outer)
        cost = float((sizes > 0).sum() * sizes.max() ** 3.0 + len(terms) ** 2 * edge**3.0)
        if best is None or cost < best[0]:
            best = cost, outer, kept
    assert best is not None  # noqa: S101  (one block holds every term)
    return best[1], best[2]


def arrange(fixed: Array, terms: Sequence[RandomTerm]) -> BlockedDesign:
    """Lay a design out in blocks.

    Parameters
    ----------
    fixed : array, shape (cells, rank)
    terms : sequence of RandomTerm

    Returns
    -------
    BlockedDesign
    """
    n, rank = fixed.shape
    outer, kept = _grouping(terms, n, rank)
    _, outer = np.unique(outer, return_inverse=True)
    sizes = np.bincount(outer)
    order = np.argsort(outer, kind="stable")
    place = np.full((len(sizes), int(sizes.max())), -1)
    place[outer[order], np.arange(n) - np.repeat(np.cumsum(sizes) - sizes, sizes)] = order
    filled = place >= 0

    names: list[str] = []
    inside: list[Array] = []
    edges: list[Array] = []
    edge_names: list[str] = []
    for term, is_inside in zip(terms, kept, strict=True):
        if not is_inside:
            edges.append((term.codes[:, None] == np.unique(term.codes)).astype(float))
            edge_names.append(term.name)
            continue
        codes = np.where(filled, term.codes[place], -1)
        same = (codes[:, :, None] == codes[:, None, :]) & filled[:, :, None] & filled[:, None, :]
        if term.slopes is None:
            names.append(term.name)
            alone = not np.any(same.sum(axis=2) > 1)
            inside.append((filled if alone else same).astype(float))
            continue
        z = np.where(filled[:, :, None], term.slopes[place], 0.0)
        for r in range(z.shape[2]):
            for s in range(r + 1):
                product = z[:, :, None, r] * z[:, None, :, s]
                names.append(f"{term.name}[{r}]" if r == s else f"{term.name}[{s},{r}]")
                inside.append(same * (product if r == s else product + product.swapaxes(1, 2)))
    columns = np.where(filled[:, :, None], np.concatenate([*edges, fixed], axis=1)[place], 0.0)
    border = np.zeros((columns.shape[2] - rank, len(edges)))
    border[
        np.arange(len(border)), np.repeat(np.arange(len(edges)), [e.shape[1] for e in edges])
    ] = 1
    everything = np.concatenate(
        [part.reshape(len(place), -1) for part in (filled, columns, *inside)], axis=1
    )
    kinds: dict[bytes, int] = {}
    kind = [kinds.setdefault(block.tobytes(), len(kinds)) for block in everything + 0.0]
    return BlockedDesign(
        names=(*names, *edge_names, "residual"),
        place=place,
        columns=columns,
        inside=tuple(inside),
        border=border,
        rank=rank,
        kind=np.array(kind),
    )


def lay_out(plan: BlockedDesign, fixed: Array, cells: CellSums) -> Blocks:
    """Lay scores out by a plan: least-squares fit taken off, scaled, equal blocks together.

    Parameters
    ----------
    plan : BlockedDesign
    fixed : array, shape (cells, rank)
    cells : CellSums

    Returns
    -------
    Blocks
    """
    counts = cells.counts
    a, n = counts.shape
    rank = plan.rank
    squares = (counts @ (fixed[:, :, None] * fixed[:, None, :]).reshape(n, -1)).reshape(
        a, rank, rank
    )
    shift = np.linalg.solve(squares, ((counts * cells.means) @ fixed)[..., None])[..., 0]
    rest = np.where(counts > 0, cells.means - shift @ fixed.T, 0.0)
    total = counts.sum(axis=1)
    scale = np.sqrt(((counts * rest**2).sum(axis=1) + cells.within) / (total - rank))
    rest /= scale[:, None]

    placed = np.where(plan.place >= 0, counts[:, plan.place], 0.0)
    scores = np.where(placed > 0, rest[:, plan.place], 0.0)
    block, copies, mean, spread = _together(plan, placed, scores)
    size = plan.place.shape[1]
    placed = np.take_along_axis(placed, block[:, :, None], axis=1) * (copies > 0)[:, :, None]
    mask = (placed > 0).astype(float)
    pairs = mask[..., :, None] * mask[..., None, :]
    columns = np.empty((a, block.shape[1], size, plan.columns.shape[2] + 1))
    columns[..., :-1] = plan.columns[block] * mask[..., None]
    columns[..., -1] = mean * mask
    return Blocks(
        plan=plan,
        scale=scale,
        shift=shift,
        squares=squares,
        mask=mask,
        inverse_count=np.divide(1.0, placed, out=np.zeros_like(placed), where=placed > 0),
        columns=columns,
        inside=tuple(share[block] * (mask if share.ndim == 2 else pairs) for share in plan.inside),
        copies=copies,
        spread=None if spread is None else spread * pairs,
        extra=total - (counts > 0).sum(axis=1),
        within=cells.within / scale**2,
        constant=np.log(np.where(counts > 0, counts, 1.0)).sum(axis=1),
        total=total,
    )


def _together(
    plan: BlockedDesign, counts: Array, scores: Array
) -> tuple[Whole, Array, Array, Array | None]:
    """Find equal blocks of each response; return one of each, copies, mean and spread.

    Counts are read as digits of one whole number, so equality is exact.
    """
    a, g, size = counts.shape
    alone = np.broadcast_to(np.arange(g), (a, g)), np.ones((a, g)), scores, None
    base = int(counts.max()) + 1
    if g < _WORTH_SORTING or (int(plan.kind.max()) + 1) * a * float(base) ** size > 2.0**62:
        return alone
    key = counts.astype(np.int64) @ base ** np.arange(size) + base**size * plan.kind
    key = key + np.arange(a)[:, None] * (base**size * (int(plan.kind.max()) + 1))
    _, first, which, number = np.unique(
        key.ravel(), return_index=True, return_inverse=True, return_counts=True
    )
    owner = first // g
    stored = np.bincount(owner, minlength=a)
    if stored.max() > 0.8 * g:
        return alone
    width = int(stored.max())
    column = np.arange(len(first)) - np.repeat(np.cumsum(stored) - stored, stored)
    flat = scores.reshape(-1, size)
    sums = np.stack([np.bincount(which, flat[:, i]) for i in range(size)], axis=1)
    centred = flat - (sums / number[:, None])[which]
    block = np.zeros((a, width), dtype=np.int64)
    copies, mean = np.zeros((a, width)), np.zeros((a, width, size))
    spread = np.zeros((a, width, size, size))
    block[owner, column] = first % g
    copies[owner, column] = number
    mean[owner, column] = sums / number[:, None]
    for i in range(size):
        for j in range(i + 1):
            products = np.bincount(which, centred[:, i] * centred[:, j])
            spread[owner, column, i, j] = spread[owner, column, j, i] = products
    return block, copies, mean, spread
