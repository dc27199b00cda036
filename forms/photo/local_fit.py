"""Following paper that is folded or cockled: where each small piece of print lies.

Pieces of print are looked for round by round, smaller and nearer each time, and a bending
plate is laid through what was found: across and down apart, since a piece of a line says how
high it lies and nothing of how far along.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from .find_sheets import PX
from .picture_files import Plane

Floats = NDArray[np.float64]
_ROUNDS = ((14.0, 3.5, 7.0, 6.0, 10.0), (9.0, 2.0, 5.0, 5.0, 2.0), (6.0, 1.0, 4.0, 4.0, 0.12))
# Millimetres: side of a piece, how far it is looked for, from piece to piece, from knot to knot
# of the plate; and how stiff the plate is.
_LEAST = 0.45  # likeness from which a piece counts
_STRUCTURE = 0.05  # what a piece must vary by, along a direction, to say where it lies in it
_SECOND = 0.08  # a piece that fits elsewhere nearly as well says nothing


@dataclass(frozen=True, slots=True)
class _Pieces:
    """Where pieces stand on the page, by how much they lie beside, how much each way counts."""

    places: Floats
    offsets: Floats
    weights: Floats


def follow(look: Callable[[Plane], Plane], printed: Plane, shift: Plane) -> Plane:
    """Return the shifts that lay small pieces of print where they were printed.

    Parameters
    ----------
    look : callable
        Takes shifts, shape (2, high, wide), in pixels, and gives the darkness of the page
        sampled by them.
    printed : Plane
        Darkness of the blank page.
    shift : Plane
        Shifts to begin with.
    """
    for side, reach, lattice, knots, stiffness in _ROUNDS:
        found = _find(look(shift), printed, side, reach, lattice)
        if len(found.places) < 12:
            return shift
        shift = shift + _plate(found, printed.shape, knots, stiffness)
    return shift


def _find(dark: Plane, printed: Plane, side: float, reach: float, lattice: float) -> _Pieces:
    """Look for pieces of print about their places."""
    size, far, step = (round(length * PX) for length in (side, reach, lattice))
    high, wide = printed.shape
    padded: Any = cv2.copyMakeBorder(dark, far, far, far, far, cv2.BORDER_REPLICATE)
    places, offsets, weights = [], [], []
    for y in range(0, high - size, step):
        for x in range(0, wide - size, step):
            piece = printed[y : y + size, x : x + size]
            if piece.std() < 0.08:
                continue
            structure = np.array([piece.mean(axis=0).std(), piece.mean(axis=1).std()])
            if structure.max() < _STRUCTURE:
                continue
            around = padded[y : y + size + 2 * far, x : x + size + 2 * far]
            match: Any = cv2.matchTemplate(around, piece, cv2.TM_CCOEFF_NORMED)
            _, best, _, (bx, by) = cv2.minMaxLoc(match)
            if best < _LEAST:
                continue
            trusted = np.clip(structure / _STRUCTURE - 0.5, 0, 1) * best
            for axis, (at, count) in enumerate(((bx, match.shape[1]), (by, match.shape[0]))):
                if not 0 < at < count - 1 or _twice(match, bx, by, axis, best):
                    trusted[axis] = 0
            offsets.append((bx - far + peak(match, bx, by, 1), by - far + peak(match, bx, by, 0)))
            places.append((x + size / 2, y + size / 2))
            weights.append(trusted)
    return _Pieces(np.array(places), np.array(offsets), np.array(weights))


def _twice(match: Plane, x: int, y: int, axis: int, best: float) -> bool:
    """Tell whether a piece fits nearly as well a millimetre or more away along one direction."""
    line = match[y, :] if axis == 0 else match[:, x]
    away = np.abs(np.arange(len(line)) - (x, y)[axis]) >= PX
    return bool(away.any() and float(line[away].max()) > best - _SECOND)


def _plate(found: _Pieces, shape: tuple[int, ...], knots: float, stiffness: float) -> Plane:
    """Lay a bending plate through offsets, leaving out pieces that disagree."""
    from scipy import sparse
    from scipy.sparse.linalg import spsolve

    step = knots * PX
    high, wide = shape
    rows, columns = int(np.ceil(high / step)) + 1, int(np.ceil(wide / step)) + 1
    x, y = found.places.T / step
    left, top = x.astype(int), y.astype(int)
    right, below = x - left, y - top
    count = len(x)
    at = np.concatenate([top * columns + left, top * columns + left + 1,
                         (top + 1) * columns + left, (top + 1) * columns + left + 1])  # fmt: skip
    share = np.concatenate([(1 - right) * (1 - below), right * (1 - below),
                            (1 - right) * below, right * below])  # fmt: skip
    design = sparse.csr_matrix(
        (share, (np.tile(np.arange(count), 4), at)), shape=(count, rows * columns)
    )
    bend = _bending(rows, columns) * stiffness
    fields = []
    for axis in (0, 1):
        wanted, trusted = found.offsets[:, axis], found.weights[:, axis]
        weights = trusted.copy()
        solved = np.zeros(rows * columns)
        for _ in range(4):
            weighted = sparse.diags(weights) @ design
            solved = spsolve((design.T @ weighted + bend).tocsc(), weighted.T @ wanted)
            miss = np.abs(wanted - design @ solved)
            held = miss[trusted > 0]
            spread = max(0.3, 1.4826 * float(np.median(held))) if held.size else 1.0
            weights = trusted * np.clip(1 - (miss / (4.7 * spread)) ** 2, 0, None) ** 2
        grid = solved.reshape(rows, columns).astype(np.float32)
        ys, xs = np.mgrid[0:high, 0:wide].astype(np.float32)
        fields.append(
            cv2.remap(grid, xs / np.float32(step), ys / np.float32(step), cv2.INTER_LINEAR,
                      borderMode=cv2.BORDER_REPLICATE)
        )  # fmt: skip
    return np.stack(fields)


def _bending(rows: int, columns: int) -> Any:
    """Return what bending costs: second differences along, down and across, and a trace of all."""
    from scipy import sparse

    def second(count: int) -> Any:
        return sparse.diags([1.0, -2.0, 1.0], [0, 1, 2], shape=(count - 2, count))

    def first(count: int) -> Any:
        return sparse.diags([-1.0, 1.0], [0, 1], shape=(count - 1, count))

    along = sparse.kron(sparse.identity(rows), second(columns))
    down = sparse.kron(second(rows), sparse.identity(columns))
    twist = sparse.kron(first(rows), first(columns))
    return (
        along.T @ along + down.T @ down + 2 * twist.T @ twist
        + 1e-6 * sparse.identity(rows * columns)
    )  # fmt: skip


def peak(match: Plane, x: int, y: int, axis: int) -> float:
    """Refine a best match to a part of a pixel by a parabola through three values."""
    line = match[y, :] if axis == 1 else match[:, x]
    at = x if axis == 1 else y
    if not 0 < at < len(line) - 1:
        return 0.0
    before, here, after = (float(line[at + d]) for d in (-1, 0, 1))
    bend = before - 2 * here + after
    return 0.0 if bend >= -1e-6 else float(np.clip(0.5 * (before - after) / bend, -0.5, 0.5))
