"""The smallest difference that the report's own rule finds, not that of a lonely test."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.optimize import brentq
from scipy.special import chdtri, ndtr, ndtri, roots_legendre, stdtrit

from ..core.errors import OptionError
from ..core.options import share_of, whole
from ..power.power_of_tests import ScorePlan, ratio_for
from .claim_members import LIMITS, MEASURED, NAMED_WEIGHTS, OTHERS_SHARE
from .closed_pairs import THREE, spread_reached
from .studentized_range import range_reached

_NODES, _WEIGHTS = roots_legendre(48)
_AT, _SHARE = (_NODES + 1) / 2, _WEIGHTS / 2
"""Places between 0 and 1 and their weights, for a mean over a distribution's tails."""


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
    range's point over the root of 2; the others lie between the two. Of three
    bottles F over all and the pair's t have both to reach their points; the
    third lies midway, which is where F sees least.

    Examples
    --------
    >>> round(smallest_difference(0.5, 16, 4, level=0.05), 2)
    1.88
    """
    return _smallest_ratio(df, samples, level, power) * se


@lru_cache(maxsize=256)
def _smallest_ratio(df: float, samples: int, level: float, power: float) -> float:
    """Return the difference in standard errors; many questions share all that it rests on."""
    if samples == THREE:
        high = 1.0
        while _power_of_three(high, df, level) < power:
            high *= 2
        return float(brentq(lambda own: _power_of_three(own, df, level) - power, 0, high))
    critical = range_reached(level, samples, df) / np.sqrt(2)
    return float(ratio_for(power, df, critical))


def _power_of_three(ratio: float, df: float, level: float) -> float:
    """Return the chance that F over three bottles and the t of their widest pair both suffice.

    With s the error found over the true one, T the pair's difference and U the
    third bottle's distance from midway, both in standard errors: T^2 + U^2 has to
    reach 2 F s^2, and T the point of t times s.
    """
    return float(_SHARE @ ndtr(ratio - _reach_of_three(df, level)) @ _SHARE)


@lru_cache(maxsize=8)
def _reach_of_three(df: float, level: float) -> npt.NDArray[np.float64]:
    """Return what T has to reach, a row for each s and a column for each U."""
    error = np.sqrt(chdtri(df, _AT) / df)[:, None]
    whole = spread_reached(level, 2, df) * error**2 - ndtri(_AT) ** 2
    least = stdtrit(df, 1 - level / 2) * error
    return np.asarray(np.maximum(np.sqrt(np.maximum(whole, 0.0)), least))


def planned(
    plan: ScorePlan,
    *,
    scales: int = 20,
    words: int = 20,
    named: int = 1,
    alpha: float = 0.05,
    power: float = 0.80,
) -> pd.DataFrame:
    """Return what the report's own rule will find, before anything is tasted.

    Parameters
    ----------
    plan : ScorePlan
        Assessors, bottles, replicates and variances; its own level and
        comparison are not used.
    scales, words : int
        Questions on the sheet: scales with balance and gap, and words.
    named : int
        How many questions are named beforehand, 1 to 3.
    alpha : float
        The error budget of the report.
    power : float

    Returns
    -------
    DataFrame
        ``question, level, difference``, one row for a question that was not
        named, one that was, and a report of that pair alone; scale points.

    Notes
    -----
    Cautious: a word is counted as half a scale. Simulated sessions of 2 to 12
    assessors with 20 scales and 20 words reached levels of 0.0014 to 0.0037
    for a scale; this formula says 0.0015.

    Examples
    --------
    >>> plan = ScorePlan(samples=3, assessors=6, replicates=2, interaction=0.16, residual=0.64)
    >>> planned(plan)["difference"].round(1).tolist()
    [2.5, 1.9, 1.2]
    """
    main = share_of("alpha", alpha) * (1 - OTHERS_SHARE)
    if named > len(NAMED_WEIGHTS):
        raise OptionError("claims.too_many", n=named)
    weight = NAMED_WEIGHTS[whole("named", named) - 1]
    total = scales + words / 2
    levels = {
        "unnamed": main / total,
        "named": weight * main / (total + named * (weight - 1)),
        "alone": alpha,
    }
    rows = [
        (
            question,
            level,
            smallest_difference(
                plan.se,
                plan.df_den,
                2 if question == "alone" else plan.samples,
                level=min(level, alpha),
                power=power,
            ),
        )
        for question, level in levels.items()
    ]
    return pd.DataFrame(rows, columns=["question", "level", "difference"])


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
        gap = (mine["high"] - mine["low"]) / 2 / float(stdtrit(df, (1 + LIMITS) / 2))
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
