"""Hidden duplicates: one bottle under two codes, which tells how far the panel repeats itself."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ...forms.questions.question_types import Kind
from ..base.words import sentence
from .evidence import Evidence, once
from .statement import Statement

if TYPE_CHECKING:
    import pandas as pd

RISK = 0.01
"""Chance at most that a duplicate is called set apart from its twin, over all attributes."""
RANK_SET_APART, RANK_ALIKE = 11, 51


@once
def gaps(evidence: Evidence) -> pd.DataFrame:
    """Return each duplicate's gap to its twin: within assessors, over the panel.

    Returns
    -------
    DataFrame
        ``sample, twin, attribute, n, mean, low, high, apart, p``: scale points; 95 %
        t interval over assessors; `apart` is the mean size of one assessor's own gap.
    """
    import pandas as pd
    from scipy import stats

    names = evidence.attributes(Kind.LINE, Kind.CATEGORY)
    every = evidence.wide(names, controls=True)
    made = []
    for bottle in evidence.bottles:
        if not bottle.twin:
            continue
        for name, wide in every.items():
            if not {bottle.name, bottle.twin} <= set(wide.columns):
                continue
            gap = (wide[bottle.name] - wide[bottle.twin]).dropna().to_numpy(float)
            n = len(gap)
            if not n:
                continue
            se = gap.std(ddof=1) / np.sqrt(n) if n > 1 else np.nan
            half = stats.t.isf(0.025, n - 1) * se if n > 1 else np.nan
            mean = float(gap.mean())
            p = 2 * stats.t.sf(abs(mean) / se, n - 1) if n > 1 and se > 0 else np.nan
            made.append(
                (bottle.name, bottle.twin, name, n, mean, mean - half, mean + half,
                 float(np.abs(gap).mean()), float(p))
            )  # fmt: skip
    columns = ["sample", "twin", "attribute", "n", "mean", "low", "high", "apart", "p"]
    return pd.DataFrame(made, columns=columns)


def statements(evidence: Evidence) -> list[Statement]:
    """Say how alike each duplicate and its twin were marked, and whether they were set apart."""
    said = []
    for (sample, twin), own in gaps(evidence).groupby(["sample", "twin"], sort=False):
        widest = own.sort_values("mean", key=abs, kind="stable").iloc[-1]
        apart = own[own["p"] <= RISK / len(own)]
        single = own["n"].max() < 2
        values = {
            "sample": str(sample),
            "twin": str(twin),
            "n": len(own),
            "apart": f"{own['apart'].mean():.1f}",
            "attribute": evidence.name(str(widest["attribute"])),
            "gap": f"{widest['mean']:+.1f}",
            "low": f"{widest['low']:.1f}",
            "high": f"{widest['high']:.1f}",
            "attributes": [evidence.name(str(name)) for name in apart["attribute"]],
        }
        key = "twin_apart" if len(apart) else "twin_single" if single else "twin"
        if key == "twin" and values["low"] == values["high"]:
            key = "twin_same"
        said.append(
            Statement(
                kind="caution" if len(apart) else "description",
                about=(str(sample), str(twin)),
                sentence=sentence(f"findings.{key}", **values),
                section="trust",
                rank=RANK_SET_APART if len(apart) else RANK_ALIKE,
            )
        )
    return said
