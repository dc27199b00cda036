"""The reference bottle over the sessions: its means, and whether the panel drifts on it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.stats import f as fisher
from scipy.stats import t as student

from ..core.p_values import holds
from ..inference.adjusted_p import adjust

Array = npt.NDArray[np.float64]
SWEEPS = 200


@dataclass(frozen=True, slots=True, eq=False)
class ReferenceFit:
    """Sessions' means of the reference with assessors taken off."""

    sessions: list[str]
    means: Array
    se: Array
    f: float
    df_num: int
    df_den: int
    p: float
    between: float


def reference_fit(rows: pd.DataFrame) -> ReferenceFit:
    """Fit session + assessor by turns; exact when it settles, and linear in the rows."""
    session, names = pd.factorize(rows["session"].astype(str))
    person, people = pd.factorize(rows["assessor"].astype(str))
    y = rows["score"].to_numpy(np.float64)
    per_session, per_person = np.bincount(session), np.bincount(person)
    own = np.zeros(len(people))
    means = np.zeros(len(names))
    for _ in range(SWEEPS):
        means = np.bincount(session, y - own[person]) / per_session
        new = np.bincount(person, y - means[session]) / per_person
        settled = float(np.abs(new - own).max()) < 1e-10 * (1 + float(np.abs(y).max()))
        own = new
        if settled:
            break
    means = means + own[person].mean()
    own = own - own[person].mean()
    sse = float(((y - means[session] - own[person]) ** 2).sum())
    alone = np.bincount(person, y) / per_person
    sse_without = float(((y - alone[person]) ** 2).sum())
    df_num = len(names) - 1
    df_den = len(y) - len(names) - len(people) + 1
    s2 = sse / df_den if df_den > 0 else np.nan
    f = (sse_without - sse) / df_num / s2 if s2 > 0 else np.nan
    se = np.sqrt(s2 / per_session)
    size = len(y) / len(names)
    return ReferenceFit(
        sessions=[str(name) for name in names],
        means=means,
        se=se,
        f=float(f),
        df_num=df_num,
        df_den=df_den,
        p=float(fisher.sf(f, df_num, df_den)) if df_den > 0 else np.nan,
        between=float(np.sqrt(max((f - 1) * s2 / size, 0.0))) if s2 > 0 else np.nan,
    )


def line_through(
    months: Array, values: Array, level: float
) -> tuple[float, float, float, float, float]:
    """Return slope per month, limits, df and p of a line through session means."""
    away = months - months.mean()
    size = float(away @ away)
    if size <= 0:
        return np.nan, np.nan, np.nan, np.nan, np.nan
    slope = float(away @ values) / size
    df = len(values) - 2
    if df < 1:
        return slope, -np.inf, np.inf, 0.0, np.nan
    rest = values - values.mean() - slope * away
    se = float(np.sqrt(rest @ rest / df / size))
    half = float(student.ppf((1 + level) / 2, df)) * se
    p = float(2 * student.sf(abs(slope) / se, df)) if se > 0 else float(slope == 0)
    return slope, slope - half, slope + half, float(df), p


def drift_of(fits: Mapping[str, ReferenceFit], months: pd.Series, level: float) -> pd.DataFrame:
    """Return for each attribute whether the panel drifts on the reference, after Holm."""
    rows = []
    for attribute, fitted in fits.items():
        at = months.loc[fitted.sessions].to_numpy(np.float64)
        slope, low, high, *_ = line_through(at, fitted.means, level)
        rows.append(
            {
                "attribute": attribute,
                "sessions": len(fitted.sessions),
                "sd_between": fitted.between,
                "f": fitted.f,
                "df_num": fitted.df_num,
                "df_den": fitted.df_den,
                "p": fitted.p,
                "per_month": slope,
                "low": low,
                "high": high,
            }
        )
    table = pd.DataFrame(rows)
    if len(table):
        table["p_adjusted"] = adjust(table["p"].to_numpy(), "holm")
        table["drifts"] = holds(table["p_adjusted"], 1 - level)
    return table
