"""The smallest difference that the report's own rule finds, not that of a lonely test."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from ..power.power_of_tests import ratio_for
from .claim_members import MEASURED
from .studentized_range import range_reached


def smallest_difference(
    se: float, df: float, samples: int, *, level: float, power: float = 0.80
) -> float:
    """Return the difference of two bottles that is claimed with probability `power`.

    Parameters
    ----------
    se : float
        Standard error of the difference, scale points.
    df : float
        Its degrees of freedom.
    samples : int
        Bottles compared.
    level : float
        p that the question needs, its weight counted in.
    power : float

    Notes
    -----
    A pair is claimed at the first step where its t reaches the studentized
    range's point over the root of 2; the others lie between the two.

    Examples
    --------
    >>> round(smallest_difference(0.5, 16, 3, level=0.05), 2)
    1.73
    """
    critical = range_reached(level, samples, df) / np.sqrt(2)
    return float(ratio_for(power, df, critical)) * se


def detectable_table(
    table: pd.DataFrame,
    pairs: pd.DataFrame,
    *,
    level: float,
    weights: tuple[Mapping[str, float], float],
    alpha: float,
    power: float,
) -> pd.DataFrame:
    """Return ``kind, about, unnamed, named, alone`` for every scale that was tested.

    Naming one question takes from the others: with weight w instead of v the
    level of weight 1 falls by ``1 / (1 + (w - v) level / alpha)``.
    """
    rows = []
    own, named = weights
    for line in table[table["tested"] & table["kind"].isin(MEASURED)].to_dict("records"):
        mine = pairs[(pairs["kind"] == line["kind"]) & (pairs["about"] == line["about"])]
        df, samples = float(line["df"]), int(line["samples"])
        gap = (mine["high"] - mine["low"]) / 2 / float(stdtrit(df, 0.975))
        se = float(np.sqrt((gap**2).mean()))
        weight = own[line["kind"]]
        held = float(line["weight"])
        plain = level * (1 + (held - weight) * level / alpha)
        raised = plain / (1 + (named - weight) * plain / alpha)
        rows.append(
            {
                "kind": line["kind"],
                "about": line["about"],
                "unnamed": smallest_difference(
                    se, df, samples, level=min(weight * plain, 0.5), power=power
                ),
                "named": smallest_difference(
                    se, df, samples, level=min(named * raised, 0.5), power=power
                ),
                "alone": smallest_difference(se, df, 2, level=alpha, power=power),
            }
        )
    return pd.DataFrame(rows, columns=["kind", "about", "unnamed", "named", "alone"])
