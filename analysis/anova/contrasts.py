"""Which contrasts of the means each test of the ANOVA asks about, and against which error."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from ..core.errors import NotEstimable
from ..mixed_model.block_layout import Array
from ..mixed_model.mixed_design import Design


def questions(plan: Design, present: tuple[int, ...], columns: int) -> dict[str, Array]:
    """Return the contrasts of each test by name."""
    k = len(present)
    found: dict[str, Array] = {"sample": np.eye(k)[1:] - np.eye(k)[:1]}
    if len(plan.factors.columns):
        found |= factor_contrasts(plan.factors.iloc[list(present)])
    padded = {name: np.pad(weights, ((0, 0), (0, columns - k))) for name, weights in found.items()}
    start = k
    for effect in plan.effects:
        width = effect.columns.shape[1]
        levels = effect.weights[1:] - effect.weights[:1] if width > 1 else np.eye(1)
        padded[effect.name] = np.pad(levels, ((0, 0), (start, columns - start - width)))
        start += width
    return padded


def factor_contrasts(factors: pd.DataFrame) -> dict[str, Array]:
    """Return the contrasts of the factors' effects on equally weighted cell means.

    Raises
    ------
    NotEstimable
        If a combination of levels has no sample.
    """
    names = [str(name) for name in factors]
    codes, levels = [], []
    for name in names:
        unique, inverse = np.unique(factors[name], return_inverse=True)
        codes.append(inverse)
        levels.append(unique)
    sizes = tuple(len(part) for part in levels)
    flat = np.ravel_multi_index(codes, sizes)
    number = np.bincount(flat, minlength=int(np.prod(sizes)))
    if (number == 0).any():
        empty = [
            " × ".join(str(levels[f][i]) for f, i in enumerate(np.unravel_index(cell, sizes)))
            for cell in np.flatnonzero(number == 0)
        ]
        raise NotEstimable("anova.factor_empty", empty=empty)
    average = np.zeros((len(number), len(factors)))
    average[flat, np.arange(len(factors))] = 1 / number[flat]
    found: dict[str, Array] = {}
    for chosen in range(1, 2 ** len(names)):
        weights: Array = np.ones((1, 1))
        for factor, size in enumerate(sizes):
            if chosen >> factor & 1:
                part: Array = np.eye(size)[1:] - np.eye(size)[:1]
            else:
                part = np.full((1, size), 1 / size)
            weights = np.kron(weights, part)
        name = ":".join(n for f, n in enumerate(names) if chosen >> f & 1)
        found[name] = weights @ average
    return dict(sorted(found.items(), key=lambda item: item[0].count(":")))


def error_term(plan: Design, effect: str, variances: Mapping[str, float]) -> str:
    """Name the random term that an effect is judged against."""
    if effect == "sample":
        terms = [name for name in ("assessor:sample", "sample:session") if name in variances]
        return " + ".join(terms) or "residual"
    if any(effect == extra.name for extra in plan.effects):
        wanted = "assessor:session" if effect == "session" else "residual"
    else:
        wanted = f"assessor:{effect}"
        if effect.count(":") + 1 == len(plan.factors.columns) and wanted not in variances:
            wanted = "assessor:sample"
    return wanted if wanted in variances else "residual"
