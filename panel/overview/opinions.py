"""Quality from tasting to tasting: whether firsts hold, whom they rest on, what goes with it."""

from __future__ import annotations

from collections.abc import Set as AbstractSet
from typing import TYPE_CHECKING

import numpy as np

from ...rounding import half_up
from ..base.words import sentence
from ..findings import tainted
from ..findings.budget import Budget
from ..findings.evidence import QUALITY, Evidence
from ..findings.statement import Statement, joined
from .gaps import CARRIES, FEWEST, end, gaps, leads, limits, size
from .left_out import checks_of_means
from .order import ALIKE, marks
from .sizes import told_leads
from .told import DIFFER, QUALITY_, said

if TYPE_CHECKING:
    import pandas as pd

RESTS = 0.25
"""Points of a first bottle's lead over the others, and a quarter of it at least, that go with one
assessor where the first place is said to be by less without that one (no source)."""
OUT = 0.05
"""Risk, over all assessors of a panel, of saying that a first place rests much on somebody whose
mark stands out by chance alone (t of the deleted residual, one-sided, Bonferroni)."""
EQUAL = 1e-9
"""Means of quality nearer than this are one."""
THREE = 3
"""Sound bottles, at least, of which one is set against the mean of the others; two are a pair."""
TIMES = ("first", "second", "third", "fourth")
"""Tastings that are told by their number."""


def statements(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say whether firsts hold, whom the first place rests on, how a lead stood each time."""
    if len(evidence.compared) < 2 or len(evidence.counted) < FEWEST:
        return []
    return [
        *_firsts(evidence),
        *first_place(evidence, budget),
        *_liked(evidence, budget),
        *_each_time(evidence, budget),
    ]


def _firsts(evidence: Evidence) -> list[Statement]:
    """Name who puts one and the same bottle first, alone, in every tasting."""
    rows = evidence.rows([QUALITY])
    rows = rows[rows["sample"].isin(evidence.compared)]
    if evidence.replicates < 2 or rows.empty:
        return []
    cells = rows.pivot_table(index=["assessor", "replicate"], columns="sample", values="score",
                             observed=True)  # fmt: skip
    cells = cells.dropna() if len(cells.columns) == len(evidence.compared) else cells[:0]
    same, people = [], 0
    for code, own in cells.groupby(level=0):
        if len(own) < 2:
            continue
        people += 1
        firsts = {
            tuple(map(str, row.index[row == row.max()])) for _, row in own.droplevel(0).iterrows()
        }
        if len(firsts) == 1 and len(next(iter(firsts))) == 1:
            ((top,),) = firsts
            same.append(sentence("overview.firsts_of", who=str(code), bottle=top))
    if people < FEWEST:
        return []
    key = "firsts_hold" if same else "firsts_none"
    about = (QUALITY,)
    chance = people / len(evidence.compared) ** (evidence.replicates - 1)
    return [said(key, QUALITY_, about, listed=same, k=len(same), n=people, chance=size(chance))]


def first_place(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say where a first place in quality that is not shown turns on, or is less without, one."""
    own = [one for one in gaps(evidence, budget) if one.attribute == QUALITY and one.n > 1]
    if max((one.by for one in own), default=0.0) < ALIKE or any(one.claimed for one in own):
        return []
    wide = marks(evidence)
    wide = wide[[name for name in wide if name in evidence.compared]].dropna()
    if len(wide) < FEWEST or wide.shape[1] < 2:
        return []
    means = wide.mean()
    top = str(means.idxmax())
    if (means == means.max()).sum() > 1:  # then no bottle comes first
        return []
    return [*_another_first(wide, top), *_moved(wide, top, _far_above(evidence, top, len(wide)))]


def _far_above(evidence: Evidence, top: str, n: int) -> set[str]:
    """Return who marks a bottle's quality further above what all marks let expect than chance does.

    By chance anybody does in `OUT` of panels at most; where nothing is left to judge by, nobody.
    """
    cells = checks_of_means(evidence).cells
    own = cells[(cells["attribute"] == QUALITY) & (cells["sample"] == top)]
    own = own[(own["studentised"] > 0) & (own["p"] / 2 * n <= OUT)]
    return {str(code) for code in own["assessor"]}


def _another_first(wide: pd.DataFrame, top: str) -> list[Statement]:
    """Name everybody without whom another bottle comes first, alone or beside it."""
    turned: dict[tuple[str, ...], list[str]] = {}
    for code in map(str, wide.index):
        means = wide.drop(code).mean()
        first = tuple(map(str, means.index[np.isclose(means, means.max(), rtol=0, atol=EQUAL)]))
        if first != (top,):
            turned.setdefault(first, []).append(code)
    if not turned:
        return []
    second = wide.mean().drop(top)
    listed = [
        sentence(f"overview.first_without_{'any' if len(who) > 1 else 'one'}", who=who,
                 first=sentence(f"overview.first_{'level' if len(first) > 1 else 'alone'}",
                                bottles=list(first)))
        for first, who in turned.items()
    ]  # fmt: skip
    about = (top, *(code for own in turned.values() for code in own), QUALITY)
    return [
        said("first_turns", QUALITY_, about, bottle=top, second=str(second.idxmax()),
             by=end(float(wide[top].mean() - second.max())), listed=joined(listed))
    ]  # fmt: skip


def _moved(wide: pd.DataFrame, top: str, far: AbstractSet[str]) -> list[Statement]:
    """Name everybody without whom the first bottle's lead over the others is plainly smaller.

    It rests much on those of them alone who are `far` above; of others it is said that this is not
    shown: chance alone does as much.
    """
    lead = wide[top] - wide.drop(columns=top).mean(axis=1)
    whole = float(lead.mean())
    least = max(CARRIES * whole, RESTS)
    left = {str(code): float(lead.drop(code).mean()) for code in lead.index}
    found = {code: by for code, by in left.items() if half_up(whole - by, 6) >= half_up(least, 6)}
    if whole <= 0 or not found:
        return []
    listed = [
        sentence("overview.first_rests_of", who=code, own=size(float(lead[code]), signed=True),
                 left=size(by, signed=True))
        for code, by in found.items()
    ]  # fmt: skip
    who = [code for code in found if code in far]
    return [
        said("first_rests" if who else "first_less", QUALITY_, (top, *found, QUALITY), bottle=top,
             by=size(whole), who=who, listed=joined(listed))
    ]  # fmt: skip


def _liked(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Set beside what is told of a bottle whether it is liked more or less than the others."""
    faulty = tainted.held(evidence)
    wide = marks(evidence)
    wide = wide[[one for one in wide if one in evidence.compared and one not in faulty]].dropna()
    if len(wide) < FEWEST or wide.shape[1] < THREE:
        return []
    tops: dict[str, list[str]] = {}
    told = [one for one in gaps(evidence, budget) if one.claimed] or leads(evidence, budget)[:1]
    for one in told:
        mean = evidence.means[one.attribute].dropna()
        if one.attribute == QUALITY or str(mean.idxmax()) != one.high or one.high not in wide:
            continue
        names = tops.setdefault(one.high, [])
        if one.attribute not in names:
            names.append(one.attribute)
    parts = []
    for name, names in tops.items():
        by, least, most = limits((wide[name] - wide.drop(columns=name).mean(axis=1)).to_numpy())
        parts.append(
            sentence("overview.liked_of", bottle=name, n=len(names),
                     attributes=[evidence.name(one) for one in names], by=size(by, signed=True),
                     least=end(least, signed=True), most=end(most, signed=True))
        )  # fmt: skip
    if not parts:
        return []
    return [said("liked", QUALITY_, (QUALITY, *tops), listed=joined(parts))]


def _each_time(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say of the surest lead how many went along in each tasting, and that it was picked."""
    found = told_leads(evidence, budget)
    if not 2 <= evidence.replicates <= len(TIMES) or not found or budget.claimed("scale"):
        return []
    one = found[0]
    rows = evidence.rows([one.attribute])
    rows = rows[rows["sample"].isin(evidence.compared)]
    cells = rows.pivot_table(index=["replicate", "assessor"], columns="sample", values="score",
                             observed=True)  # fmt: skip
    if one.high not in cells or cells.shape[1] < 2:
        return []
    lead = (cells[one.high] - cells.drop(columns=one.high).mean(axis=1, skipna=False)).dropna()
    listed = []
    for number, (_, own) in enumerate(lead.groupby(level=0)):
        against = [str(code) for code in own.droplevel(0).index[own.to_numpy() < 0]]
        key = "each_time_not" if 0 < len(against) <= 3 else "each_time_of"
        listed.append(
            sentence(f"overview.{key}", time=sentence(f"overview.time_{TIMES[number]}"),
                     k=int((own > 0).sum()), n=len(own), against=against)
        )  # fmt: skip
    if len(listed) < 2:
        return []
    looked = len({each.attribute for each in gaps(evidence, budget)})
    return [
        said("each_time", DIFFER, (one.attribute, one.high), attribute=evidence.name(one.attribute),
             bottle=one.high, by=size(float(lead.groupby(level=1).mean().mean())),
             listed=joined(listed), n=looked)
    ]  # fmt: skip
