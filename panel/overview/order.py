"""Overall quality: the order with its sizes, who has another favourite, taste and the maker."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.special import stdtrit

from ...analysis.core.options import ALPHA
from ..base.words import Sentence, sentence
from ..findings.budget import Budget
from ..findings.camps import of_bottle
from ..findings.evidence import QUALITY, Evidence
from ..findings.statement import Line, Statement, joined
from .gaps import Gap, end, gaps, limits, size
from .told import QUALITY_, SURE, said

if TYPE_CHECKING:
    import pandas as pd

LEANS = 0.5
"""Points by which the maker's favourite stands further out than for the others (no source); that
the maker leans is told only beyond what one more person of the others' kind would show."""
SHOWN = 3
"""Steps down from the first bottle; of more, the widest and the narrowest alone are told."""
GROUP = 3
"""Consumers, and others, from whom on their means are set beside each other (no source)."""
ALIKE = 0.25
"""Points in quality below which no order is told (no source)."""
BETWEEN = 0.2
"""Share of the scale that nobody's mean of a bottle's quality lies in, with people on either side
and neither side as wide, from which it is told; that camps stand there takes more."""
SIDE = 3
"""People on either side of such a gap, and on whom an order without somebody rests, at least."""
FEWEST = 4
"""Assessors from whom on an order without somebody is told."""


def marks(evidence: Evidence, *, everybody: bool = False, controls: bool = False) -> pd.DataFrame:
    """Return quality, a row an assessor and a column a bottle; empty where it was not asked."""
    import pandas as pd

    rows = evidence.rows([QUALITY], everybody=everybody, controls=controls)
    if rows.empty:
        return pd.DataFrame()
    wide = rows.pivot_table(index="assessor", columns="sample", values="score", observed=True)
    return wide[[name for name in evidence.samples if name in wide]]


def statements(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say the order, who parts from it and why it may be, and where the maker leans."""
    wide = marks(evidence)
    if len(evidence.compared) < 2 or wide.shape[1] < 2 or len(wide) < 2:
        return []
    own = [one for one in gaps(evidence, budget) if one.attribute == QUALITY and one.n > 1]
    made = [_order(evidence, budget, own)] if own else []
    made += (
        _favourites(evidence, wide) if max((one.by for one in own), default=0.0) >= ALIKE else []
    )
    return [
        *made,
        *_nobody_between(evidence, wide),
        *_groups(evidence, wide),
        *_expert(evidence, wide),
        *_styles(evidence, own),
        *_without_foes(evidence, wide),
        *_maker(evidence),
    ]


def _order(evidence: Evidence, budget: Budget, own: list[Gap]) -> Statement:
    """Write the bottles from the highest mean to the lowest, and each step down from the first."""
    means = evidence.means[QUALITY].dropna()
    means = means[[name for name in means.index if name in evidence.compared]]
    means = means.sort_values(ascending=False, kind="stable")
    listed = [
        sentence("findings.pair_value", name=str(name), value=size(float(mean)))
        for name, mean in means.items()
    ]
    shown = any(one.claimed for one in own)
    hinted = any(one.about == QUALITY for one in budget.hinted("scale"))
    parted = any(of_bottle(evidence, name) == [QUALITY] for name in evidence.products)
    key = "order_shown" if shown else "order_hint" if hinted else "order_open"
    key = "order_camps" if parted else key
    if max(one.by for one in own) < ALIKE and not parted:
        key = "order_alike"
    top = str(means.index[0])
    steps = sorted((one for one in own if top in (one.high, one.low)), key=lambda one: -one.by)
    rest = [one for one in own if one not in steps] if len(means) == 3 else []
    if len(steps) > SHOWN:  # the last, and the one that comes next
        steps = [steps[0], steps[-1]]
    return said(
        key, SURE, (QUALITY, *map(str, means.index)), listed=listed,
        steps=joined([_step(one) for one in (*steps, *rest)]),
    )  # fmt: skip


def _step(one: Gap) -> Sentence:
    return sentence(
        "overview.step", high=one.high, low=one.low, by=size(one.by), least=end(one.least),
        most=end(one.most), going=one.going,
    )  # fmt: skip


def _favourites(evidence: Evidence, wide: pd.DataFrame) -> list[Statement]:
    """Name those who put another bottle first than the panel's mean does."""
    whole = wide[[name for name in wide if name in evidence.compared]].dropna()
    if whole.shape[1] < 2 or len(whole) < 2:
        return []
    top = str(whole.mean().idxmax())
    others: dict[str, list[str]] = {}
    ties = []
    for code, row in whole.iterrows():
        first = [str(name) for name in row.index[row == row.max()]]
        if first == [top]:
            continue
        if len(first) > 1:
            ties.append(str(code))
        else:
            others.setdefault(first[0], []).append(str(code))
    n, k = len(whole), len(whole) - len(ties) - sum(map(len, others.values()))
    of = len(evidence.counted)
    seen = "_seen" if n < of else ""  # who has not marked every bottle has no first
    if k == n:
        return [said(f"first_for_all{seen}", SURE, (QUALITY, top), bottle=top, n=n, of=of)]
    listed: list[Line] = [
        sentence("overview.puts_first", who=who, bottle=name, n=len(who))
        for name, who in others.items()
    ]
    if ties:
        listed.append(sentence("overview.ties", who=ties, n=len(ties)))
    return [
        said(f"first_for{seen}", SURE, (QUALITY, top), bottle=top, k=k, n=n, of=of,
             listed=joined(listed))
    ]  # fmt: skip


def _expert(evidence: Evidence, wide: pd.DataFrame) -> list[Statement]:
    """Set the marks of the only expert beside the means of the others."""
    whole = wide[[name for name in wide if name in evidence.compared]]
    experts = [code for code, role in evidence.roles.items() if role == "expert"]
    if len(experts) != 1 or experts[0] not in whole.index or len(whole) - 1 < GROUP:
        return []
    own = whole.loc[experts[0]].dropna().to_dict()
    rest = whole.drop(experts[0]).mean().to_dict()
    if len({*own.values(), *rest.values()}) == 1:
        return []
    listed = [
        sentence("overview.beside_others", bottle=str(name), own=size(float(mark)),
                 others=size(float(rest[name])))
        for name, mark in own.items()
    ]  # fmt: skip
    return [said("expert", QUALITY_, (experts[0], QUALITY), expert=experts[0], listed=listed)]


def _groups(evidence: Evidence, wide: pd.DataFrame) -> list[Statement]:
    """Set the widest gap in quality of consumers beside that of all others who count."""
    whole = wide[[name for name in wide if name in evidence.compared]].dropna()
    ours = [code for code in whole.index if evidence.roles[str(code)] == "consumer"]
    if min(len(ours), len(whole) - len(ours)) < GROUP:
        return []
    high, low = str(whole.mean().idxmax()), str(whole.mean().idxmin())
    gap = whole[high] - whole[low]
    two = gap[ours], gap.drop(ours)
    values = {
        f"{what}{number}": (size if what == "by" else end)(value, signed=True)
        for number, own in enumerate(two)
        for what, value in zip(("by", "least", "most"), limits(own.to_numpy(float)), strict=True)
    }
    return [
        said("groups", QUALITY_, (QUALITY, high, low), high=high, low=low, n=len(two[0]),
             others=len(two[1]), **values)
    ]  # fmt: skip


def _styles(evidence: Evidence, own: list[Gap]) -> list[Statement]:
    """Say whose quality is partly taste, and whether it goes the way of the others alone."""
    made = []
    wide = marks(evidence)
    for style in ("dislikes", "likes"):
        who = sorted(one.code for one in evidence.people if one.style == style)
        who = [code for code in who if code in evidence.counted]
        listed = []
        for code in who:
            k, n = _along_others(wide, own, code)
            listed.append(sentence("overview.goes_along", assessor=code, k=k, n=n))
        if who:
            place = SURE if style == "dislikes" else QUALITY_
            made.append(
                said(f"style_{style}", place, tuple(who), kind="caution", who=who, n=len(who),
                     listed=listed)
            )  # fmt: skip
    return made


def _nobody_between(evidence: Evidence, wide: pd.DataFrame) -> list[Statement]:
    """Say of a bottle's quality that some mark it high, others low, and nobody between.

    Where camps are shown the findings say so, and more.
    """
    question = evidence.question(QUALITY)
    parts: list[Line] = []
    about: list[str] = []
    for name in [one for one in evidence.compared if one in wide]:
        own = wide[name].dropna().sort_values(kind="stable")
        if len(own) < 2 * SIDE or of_bottle(evidence, name) == [QUALITY]:
            continue
        steps = np.diff(own.to_numpy(float))
        place = int(steps.argmax()) + 1
        low, high = own.iloc[:place], own.iloc[place:]
        gap = float(steps.max())
        wider = max(float(side.max() - side.min()) for side in (low, high))
        if min(len(low), len(high)) < SIDE or wider >= gap:
            continue
        if gap / (question.high - question.low) < BETWEEN:
            continue
        about.append(name)
        parts.append(
            sentence("overview.between_of", bottle=name,
                     above=[code for code in evidence.roles if code in high],
                     high=size(float(high.min())), low=size(float(low.max())), n=len(low))
        )  # fmt: skip
    return [said("between", QUALITY_, (QUALITY, *about), listed=joined(parts))] if parts else []


def _without_foes(evidence: Evidence, wide: pd.DataFrame) -> list[Statement]:
    """Write the order in quality without those who declared not to like the style."""
    who = [one.code for one in evidence.people if one.style == "dislikes"]
    who = [code for code in who if code in wide.index]
    whole = wide[[name for name in wide if name in evidence.compared]].dropna()
    rest = whole[~whole.index.isin(who)]
    if not set(who) & set(whole.index) or len(rest) < SIDE or len(whole) < FEWEST:
        return []
    means = rest.mean().sort_values(ascending=False, kind="stable")
    before, after = (
        [str(name) for name in own.index[np.isclose(own, own.max())]]
        for own in (whole.mean(), means)
    )
    listed = [sentence("findings.pair_value", name=str(name), value=size(float(mean)))
              for name, mean in means.items()]  # fmt: skip
    key = "order_without_same" if before == after else "order_without"
    return [said(key, QUALITY_, (*who, QUALITY), who=who, listed=listed, n=len(rest),
                 before=before, after=after, m=len(after))]  # fmt: skip


def _along_others(wide: pd.DataFrame, own: list[Gap], code: str) -> tuple[int, int]:
    """Count the pairs in which somebody goes the way of the mean of all others, and all pairs.

    A pair that somebody marks alike goes no way; where the others' mean is 0 there is none to go.
    """
    k = n = 0
    for one in own:
        gap = (wide[one.high] - wide[one.low]).dropna()
        if code not in gap.index or len(gap) < 2:
            continue
        theirs = round(float(gap.drop(code).mean()), 9)
        n += bool(theirs)
        k += float(gap[code]) * theirs > 0
    return k, n


def _maker(evidence: Evidence) -> list[Statement]:
    """Set the maker's favourite beside what the others make of the same bottle."""
    if not evidence.maker_apart:
        return []
    wide = marks(evidence, everybody=True)[evidence.products].dropna()
    others = wide[~wide.index.isin(evidence.makers)]
    made = []
    for code in [one for one in evidence.makers if one in wide.index and len(others) > 1]:
        top = str(wide.loc[code].idxmax())
        lead = wide[top] - wide.drop(columns=top).mean(axis=1)
        theirs, least, most = limits(lead[others.index].to_numpy(float))
        mine = float(lead[code])
        key = "maker_apart" if mine > 0 >= theirs else "maker_alike"
        if theirs > 0 and mine - theirs >= LEANS:
            far = mine - theirs > _one_more(lead[others.index].to_numpy(float), wide.shape[1])
            key = "maker_leans" if far else "maker_more"
        first, first_with = str(others.mean().idxmax()), str(_with(wide, others, code).idxmax())
        if first != first_with and key in ("maker_leans", "maker_more"):
            key += "_first"
        made.append(
            said(key, QUALITY_, (code, top, QUALITY), maker=code, bottle=top,
                 by=size(mine, signed=True), theirs=size(theirs, signed=True),
                 least=end(least, signed=True), most=end(most, signed=True), n=len(others),
                 first=first, first_with=first_with)
        )  # fmt: skip
    return [*made, *_above_controls(evidence)]


def _with(wide: pd.DataFrame, others: pd.DataFrame, code: str) -> pd.Series:
    """Return the means of the bottles with one maker among the others."""
    return wide.loc[[*others.index, code]].mean()


def _one_more(values: np.ndarray, bottles: int) -> float:
    """Return how far above a mean one more person's favourite among so many bottles may stand.

    Upper 95 % prediction limit, shared by the bottles of which the favourite is the furthest.
    """
    n = len(values)
    point = float(-stdtrit(n - 1, ALPHA / bottles))
    return point * float(values.std(ddof=1)) * float(np.sqrt(1 + 1 / n))


def _above_controls(evidence: Evidence) -> list[Statement]:
    """Set the maker's own bottles above a sound control of another house beside the others'."""
    sound = [one.name for one in evidence.bottles if one.control == "clean"]
    wide = marks(evidence, everybody=True, controls=True)
    sound = [name for name in sound if name in wide]
    if not sound:
        return []
    lead = (wide[evidence.products].mean(axis=1) - wide[sound].mean(axis=1)).dropna()
    others = lead[~lead.index.isin(evidence.makers)]
    if len(others) < 2:
        return []
    theirs, least, most = limits(others.to_numpy(float))
    return [
        said("maker_controls", QUALITY_, (code, *sound, QUALITY), maker=code, controls=sound,
             by=size(float(lead[code]), signed=True), theirs=size(theirs, signed=True),
             least=end(least, signed=True), most=end(most, signed=True), n=len(others))
        for code in evidence.makers
        if code in lead.index
    ]  # fmt: skip
