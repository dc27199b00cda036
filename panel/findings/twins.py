"""Hidden duplicates: one bottle under two codes, which tells how far the panel repeats itself."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ...analysis.core.wording import fixed
from ...forms.questions.question_types import Kind
from ..base.words import sentence
from .evidence import Evidence, once
from .statement import Statement, signed

if TYPE_CHECKING:
    import pandas as pd

RISK = 0.01
LOOK, TIMES = 0.2, 2.0
"""Share of the scale that one assessor's two marks lie apart, and times as far as anybody
else's, from which on it is a reason to look (a convention, no source)."""
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
    from scipy.special import stdtr, stdtrit

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
            half = -stdtrit(n - 1, 0.025) * se if n > 1 else np.nan
            mean = float(gap.mean())
            p = 2 * stdtr(n - 1, -abs(mean) / se) if n > 1 and se > 0 else np.nan
            made.append(
                (bottle.name, bottle.twin, name, n, mean, mean - half, mean + half,
                 float(np.abs(gap).mean()), float(p))
            )  # fmt: skip
    columns = ["sample", "twin", "attribute", "n", "mean", "low", "high", "apart", "p"]
    return pd.DataFrame(made, columns=columns)


def _each(evidence: Evidence, sample: str, twin: str) -> Statement | None:
    """Tell who marked the two furthest apart, in what, and how far the others did."""
    names = evidence.attributes(Kind.LINE, Kind.CATEGORY)
    found: list[tuple[float, str, str, float, float, float]] = []
    for name, wide in evidence.wide(names, controls=True).items():
        if not {sample, twin} <= set(wide.columns):
            continue
        both = wide[[twin, sample]].dropna()
        apart = (both[sample] - both[twin]).abs().sort_values(kind="stable")
        if len(apart) < 2:
            continue
        question = evidence.question(name)
        who = str(apart.index[-1])
        span = question.high - question.low
        found.append(
            (float(apart.iloc[-1]) / span, who, name, *both.loc[who].astype(float),
             float(apart.iloc[-2]) / span)
        )  # fmt: skip
    if not found:
        return None
    share, who, name, first, second, next_share = max(found)
    if not share:
        return None
    look = share >= LOOK and share >= TIMES * next_share
    question = evidence.question(name)
    return Statement(
        kind="description",
        about=(who, sample, twin, name),
        sentence=sentence(
            "findings.twin_look" if look else "findings.twin_each",
            assessor=who,
            attribute=evidence.name(name),
            first=fixed(first),
            second=fixed(second),
            most=fixed(next_share * (question.high - question.low)),
        ),
        section="trust",
        rank=RANK_ALIKE + 1 if look else None,
    )


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
            "apart": fixed(own["apart"].mean()),
            "attribute": evidence.name(str(widest["attribute"])),
            "gap": signed(float(widest["mean"])),
            "low": fixed(widest["low"]),
            "high": fixed(widest["high"]),
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
        each = _each(evidence, str(sample), str(twin))
        said += [each] if each is not None else []
    return said
