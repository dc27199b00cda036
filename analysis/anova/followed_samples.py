"""Bottles served again and again: do they differ for good, and do they change between sessions?"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from ..core.errors import NotEstimable
from ..core.tidy_table import tidy
from ..inference.adjusted_p import adjust
from .change_between_sessions import EFFECT
from .whole_table import anova

MOST = 20
"""Sessions, the last ones, that stand in one model: each adds its own terms."""


def followed_samples(cells: pd.DataFrame, sessions: Sequence[str]) -> pd.DataFrame:
    """Put samples that stood in two sessions at least into one model, sessions random.

    Parameters
    ----------
    cells : DataFrame
        ``attribute, session, sample, assessor, score``.
    sessions : sequence of str
        In order; the last `MOST` are taken.

    Returns
    -------
    DataFrame
        ``attribute, samples, sessions, F, df_num, df_den, p, p_adjusted`` (sessions in
        general; Holm), ``change_sd`` (standard deviation of sample x session, nan if it could
        not be told), ``change_F, change_p, change_p_adjusted`` (these sessions). Empty where
        no two samples were followed.
    """
    last = [str(name) for name in sessions][-MOST:]
    names = ["attribute", "session", "sample", "assessor"]
    rows = cells.loc[cells["session"].isin(last), [*names, "score"]]
    rows = rows.astype(dict.fromkeys(names, str))
    seen = rows.groupby(["attribute", "sample"])["session"].transform("nunique")
    rows = rows[seen > 1]
    if not len(rows) or rows["sample"].nunique() < 2:
        return pd.DataFrame()
    try:
        found = anova(tidy(rows), sessions="random")
    except NotEstimable:
        return pd.DataFrame()
    made = []
    for name, one in found.attributes.items():
        change = one.effects.get(EFFECT)
        made.append(
            {
                "attribute": name,
                "samples": len(one.samples),
                "sessions": rows.loc[rows["attribute"] == name, "session"].nunique(),
                "F": one.sample.F,
                "df_num": one.sample.df_num,
                "df_den": one.sample.df_den,
                "p": one.sample.p,
                "change_sd": float(np.sqrt(one.components.get(EFFECT, np.nan))),
                "change_F": np.nan if change is None else change.F,
                "change_p": np.nan if change is None else change.p,
            }
        )
    table = pd.DataFrame(made)
    table.insert(7, "p_adjusted", adjust(table["p"].to_numpy(), "holm"))
    tested = table["change_p"].notna()
    table["change_p_adjusted"] = np.nan
    table.loc[tested, "change_p_adjusted"] = adjust(table.loc[tested, "change_p"], "holm")
    return table
