"""What crossed factors do: each alone, and whether one changes what another does.

Bottles that cross fraction, pasteurising and serving temperature answer more than "do they
differ": each effect is a contrast of the bottles, and is judged against its own disagreement
between assessors (assessor x effect), as the mixed model with random assessors has it: an
effect on which assessors disagree is not excused by one on which they agree.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import combinations, product

import numpy as np
import pandas as pd
from scipy.special import fdtrc, stdtrit

from ..core.errors import OptionError
from ..core.ratings_matrix import Floats
from .cell_table import CellTable
from .claim_members import LIMITS

EFFECTS_WEIGHT = 2.0
"""Weight of all effects of one attribute together, where its difference between bottles has 1."""
FEWEST = 3
"""Assessors with every cup from which on effects are judged."""
COLUMNS = (
    "attribute", "effect", "levels", "n", "estimate", "low", "high", "F", "df_num", "df_den", "p",
)  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class CrossedEffect:
    """One contrast of the samples.

    Attributes
    ----------
    factors : tuple of str
        One, or two of which one changes what the other does.
    levels : tuple of (first, last)
        The levels of each that are set against each other, last less first.
    weights : ndarray, shape (samples,)
    """

    factors: tuple[str, ...]
    levels: tuple[tuple[str, str], ...]
    weights: Floats

    @property
    def name(self) -> str:
        """Its factors, as a model names them."""
        return ":".join(self.factors)


def factor_effects(
    panel: CellTable, factors: pd.DataFrame, attributes: Iterable[str]
) -> pd.DataFrame:
    """Test what each factor does, and each pair of factors together, in some attributes.

    Parameters
    ----------
    panel : CellTable
        Its samples may be more than those of `factors`; those that it lacks are left out.
    factors : DataFrame
        One row a sample, one column a factor; levels as ordered categories, or words or numbers
        in the order of their kind. Every combination once.
    attributes : iterable of str

    Returns
    -------
    DataFrame
        `COLUMNS`, one row an attribute and contrast; see `crossed_effects`. ``estimate`` with
        95 % t limits over the ``n`` assessors who have every cup: last level less first on
        average over all other factors; for two factors, how much larger that is at the last
        level of the second than at its first.

    Raises
    ------
    OptionError
        If samples are not the full cross of the factors.

    Notes
    -----
    With y_i the contrast of assessor i's cells, F = n mean(y)^2 / var(y) on 1 and n - 1 degrees
    of freedom: for factors of two levels the mixed model's mean square of the effect over that
    of assessor x effect. With more levels each is set against the first by itself, so that
    nothing is assumed of how assessors' disagreement goes over the levels (sphericity).
    Scheffe 1959, The Analysis of Variance, ch. 8.
    """
    factors = factors[[str(name) in panel.samples for name in factors.index]]
    asked = crossed_effects(factors)
    rows = []
    places = [panel.samples.index(str(name)) for name in factors.index]
    for attribute in attributes:
        if attribute not in panel:
            continue
        cells = panel.means(attribute)[:, places]
        whole = cells[~np.isnan(cells).any(axis=1)]
        if len(whole) < FEWEST:
            continue
        rows += [
            {"attribute": attribute, "effect": one.name, "levels": one.levels, "n": len(whole)}
            | _tested(
                whole @ one.weights, panel.floor(attribute) * float(one.weights @ one.weights)
            )
            for one in asked
        ]
    return pd.DataFrame(rows, columns=list(COLUMNS))


def crossed_effects(factors: pd.DataFrame) -> list[CrossedEffect]:
    """Return the contrasts of crossed factors: each level against the first, alone and in pairs.

    Raises
    ------
    OptionError
        If samples are not the full cross of the factors.
    """
    names = [str(name) for name in factors]
    levels = {name: _ordered(factors[name]) for name in names}
    code = {name: np.array([levels[name].index(one) for one in factors[name]]) for name in names}
    cross = math.prod(len(own) for own in levels.values())
    cells = set(zip(*(own.tolist() for own in code.values()), strict=True))
    if not len(cells) == len(factors) == cross:
        raise OptionError("claims.not_crossed", factors=names)
    found = []
    for size in (1, 2):
        for chosen in combinations(names, size):
            share = math.prod(len(levels[name]) for name in chosen) / len(factors)
            for last in product(*(range(1, len(levels[name])) for name in chosen)):
                steps = [
                    (code[name] == at).astype(float) - (code[name] == 0)
                    for name, at in zip(chosen, last, strict=True)
                ]
                ends = tuple(
                    (str(levels[name][0]), str(levels[name][at]))
                    for name, at in zip(chosen, last, strict=True)
                )
                weights = np.prod(steps, axis=0) * share
                found.append(CrossedEffect(factors=chosen, levels=ends, weights=weights))
    return found


def _ordered(levels: pd.Series) -> list[object]:
    if isinstance(levels.dtype, pd.CategoricalDtype):
        return [one for one in levels.cat.categories if (levels == one).any()]
    return sorted(levels.unique())


def _tested(own: Floats, floor: float) -> dict[str, object]:
    """Test the mean of assessors' contrasts against how far they differ."""
    n = len(own)
    se = math.sqrt(max(float(own.var(ddof=1)), floor, 1e-12) / n)
    estimate = float(own.mean())
    half = float(stdtrit(n - 1, (1 + LIMITS) / 2)) * se
    ratio = (estimate / se) ** 2
    return {
        "estimate": estimate,
        "low": estimate - half,
        "high": estimate + half,
        "F": ratio,
        "df_num": 1,
        "df_den": n - 1,
        "p": float(fdtrc(1, n - 1, ratio)),
    }
