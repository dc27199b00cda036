"""Is a bottle too sweet or too dry for most? Exact counts over assessors.

An assessor counts for a side if more than half of his or her own answers about
the bottle are on it; replicates are not averaged, for one "much too sweet" and
one "a little too dry" are not "a little too sweet".
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pandas as pd
from scipy.special import bdtrc

from ..inference.proportions import clopper_pearson, upper_limit

SIDES = ("too_dry", "just_right", "too_sweet")
_COUNTED = ("n", *SIDES, "undecided")
_SAID = ("side", "unanimous", "at_least", "p")


def counts_by_side(
    table: pd.DataFrame, samples: Sequence[str], level: float = 0.95
) -> pd.DataFrame:
    """Count assessors on each side of just right, bottle by bottle.

    Parameters
    ----------
    table : DataFrame
        Columns ``assessor, sample, score``: below 0 too dry, 0 just right,
        above 0 too sweet; one row an answer.
    samples : sequence of str
        The bottles, in the order wanted.
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
        too sweet against half of the assessors).

    Notes
    -----
    Assessors who said just right count against both sides. ``p`` is twice the
    binomial tail of k of n at one half: dry and sweet are two questions.
    """
    rows = []
    for sample in samples:
        own = table[table["sample"] == sample]
        if own.empty:
            continue
        rows.append({"sample": sample, **_count(own, level)})
    columns = [*_COUNTED, *(f"{side}_{end}" for side in SIDES for end in ("low", "high")), *_SAID]
    return pd.DataFrame(rows, columns=["sample", *columns])


def _count(own: pd.DataFrame, level: float) -> dict[str, object]:
    sides = np.sign(own["score"].to_numpy(float))
    votes = pd.DataFrame({"assessor": own["assessor"].to_numpy(), "side": sides})
    answers = pd.crosstab(votes["assessor"], votes["side"], normalize="index")
    shares = answers.reindex(columns=[-1.0, 0.0, 1.0], fill_value=0.0)
    counted = (shares.to_numpy() > 0.5).sum(axis=0)
    n = len(shares)
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
