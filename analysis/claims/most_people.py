"""Is a bottle too sweet or too dry for most? Exact counts over assessors.

An assessor counts for a side if more than half of his or her own answers about
the bottle are on it; replicates are not averaged, for one "much too sweet" and
one "a little too dry" are not "a little too sweet".
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import bdtrc

from ..inference.proportions import clopper_pearson, upper_limit
from .cell_table import CellTable

SIDES = ("too_dry", "just_right", "too_sweet")
COLUMNS = [
    "sample", "attribute", "n", *SIDES, "undecided",
    *(f"{side}_{end}" for side in SIDES for end in ("low", "high")),
    "side", "unanimous", "at_least", "p",
]  # fmt: skip


def counts_by_side(
    table: CellTable, attribute: str, assessors: Sequence[str], level: float = 0.95
) -> pd.DataFrame:
    """Count assessors on each side of just right, bottle by bottle.

    Parameters
    ----------
    table : CellTable
    attribute : str
        Answers below 0 are too dry, 0 just right, above 0 too sweet.
    assessors : sequence of str
        Who counts.
    level : float
        Confidence level of the limits.

    Returns
    -------
    DataFrame
        ``sample, attribute, n, too_dry, just_right, too_sweet, undecided``
        (assessors whose own answers have no majority), for each side
        ``_low, _high`` (Clopper-Pearson), ``side`` (the side with more than
        half of the assessors, or ""), ``unanimous``, ``at_least`` (one-sided
        lower limit of the share of such people on that side; nan without a
        side) and ``p`` (exact two-sided sign test of the larger of too dry and
        too sweet against half of the assessors). A bottle without answers has
        no row.

    Notes
    -----
    Assessors who said just right count against both sides. ``p`` is twice the
    binomial tail of k of n at one half: dry and sweet are two questions.
    """
    chosen = np.isin(table.assessors, list(assessors))
    sides = np.stack(table.sides(attribute), axis=-1)[chosen]
    answered = sides.sum(axis=-1)
    counted = (sides > answered[..., None] / 2).sum(axis=0)
    people = (answered > 0).sum(axis=0)
    rows = [
        {"sample": sample, "attribute": attribute, **_row(k, int(n), level)}
        for sample, k, n in zip(table.samples, counted, people, strict=True)
        if n > 0
    ]
    return pd.DataFrame(rows, columns=COLUMNS)


def _row(counted: npt.NDArray[np.int_], n: int, level: float) -> dict[str, object]:
    row: dict[str, object] = {"n": n}
    row |= {name: int(k) for name, k in zip(SIDES, counted, strict=True)}
    row["undecided"] = n - int(counted.sum())
    low, high = clopper_pearson(counted, n, level)
    for place, name in enumerate(SIDES):
        row[f"{name}_low"], row[f"{name}_high"] = float(low[place]), float(high[place])
    most = int(counted.argmax())
    leads = counted[most] > n / 2
    row["side"] = SIDES[most] if leads else ""
    row["unanimous"] = bool(counted[most] == n)
    row["at_least"] = 1 - float(upper_limit(n - counted[most], n, level)) if leads else math.nan
    row["p"] = min(1.0, 2 * binomial_tail(int(max(counted[0], counted[2])), n))
    return row


def binomial_tail(k: int, n: int) -> float:
    """Return the chance of `k` or more of `n` at one half.

    Examples
    --------
    >>> binomial_tail(5, 5)
    0.03125
    """
    return float(bdtrc(k - 1, n, 0.5)) if k > 0 else 1.0


def smallest_panel(p: float) -> int:
    """Return how many assessors, all on one side, make `p`: fewer can never carry the claim.

    Examples
    --------
    >>> smallest_panel(0.05 / 3), smallest_panel(0.005 / 3)
    (7, 11)
    """
    return max(1, math.ceil(math.log2(2 / p) - 1e-9))
