"""Habits of marking: levels of one's own, students beside the expert, a scale turned round."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from ...analysis.core.p_values import holds
from ...analysis.core.wording import fixed
from ...forms.questions.question_types import Kind
from ..base.words import sentence
from .budget import Budget
from .evidence import Evidence, once
from .statement import Statement, joined, signed

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt
    import pandas as pd

APART = 0.2
"""Share of the scale between the lowest and the highest level from which it is told
(a convention, no source)."""
ORDER = 0.001
"""p of the others' order of the bottles below which it is told who runs against it."""
_LISTED = 4
"""Attributes whose gaps are told without an assessor."""


def statements(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Tell levels that lie far apart, and each student beside the expert."""
    return [*_levels(evidence), *_students(evidence, budget)]


@once
def levels(evidence: Evidence) -> pd.Series:
    """Return how far each assessor marks above the mean of all, over lines and products.

    Returns
    -------
    Series
        By assessor, as a share of the scale's length; empty without a line scale.
    """
    import pandas as pd

    names = evidence.attributes(Kind.LINE, Kind.CATEGORY)
    rows = evidence.rows(names, everybody=True)
    cells = rows.groupby(["attribute", "sample", "assessor"])["score"].mean()
    if cells.empty:
        return pd.Series(dtype=float)
    span = {name: evidence.question(name).high - evidence.question(name).low for name in names}
    apart = cells - cells.groupby(level=["attribute", "sample"]).transform("mean")
    apart /= pd.Series(apart.index.get_level_values("attribute").map(span), index=apart.index)
    return apart.groupby(level="assessor").mean().sort_values(kind="stable")


def _levels(evidence: Evidence) -> list[Statement]:
    found = levels(evidence)
    if len(found) < 2 or found.iloc[-1] - found.iloc[0] < APART:
        return []
    names = evidence.attributes(Kind.LINE, Kind.CATEGORY)
    spans = [evidence.question(name).high - evidence.question(name).low for name in names]
    span = spans[0] if len(set(spans)) == 1 else None
    low, high = str(found.index[0]), str(found.index[-1])
    gap = float(found.iloc[-1] - found.iloc[0])
    by = fixed(gap * span) if span else fixed(100 * gap, 0)
    return [
        _said("levels" if span else "levels_share", "trust", (low, high), low=low, high=high, by=by)
    ]


def _said(key: str, section: str, about: Sequence[str], **values: object) -> Statement:
    return Statement(
        kind="description",
        about=tuple(about),
        sentence=sentence(f"findings.{key}", **values),
        section=section,
    )


def _students(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Set each student's level and claimed pairs beside those of the expert."""
    experts = [code for code, role in evidence.roles.items() if role == "expert"]
    students = [code for code, role in evidence.roles.items() if role == "student"]
    found = levels(evidence)
    names = evidence.attributes(Kind.LINE, Kind.CATEGORY)
    spans = {evidence.question(name).high - evidence.question(name).low for name in names}
    if students and not experts:
        return [_said("students_alone", "each", students)]
    if not students or len(spans) != 1 or found.empty:
        return []
    base = found[found.index.isin(experts)].mean()
    listed = [
        sentence("findings.pair_value", name=one, value=signed((found[one] - base) * min(spans)))
        for one in students
        if one in found.index
    ]
    who = experts[0] if len(experts) == 1 else sentence("findings.experts_mean", n=len(experts))
    said = [_said("students_level", "each", students, expert=who, listed=listed)]
    same = _same_way(evidence, budget, [*experts, *students])
    if same:
        most = max(n for _, n in same.values())
        counts = [
            sentence("findings.pair_value", name=one, value=f"{k}" if n == most else f"{k}/{n}")
            for one, (k, n) in same.items()
        ]
        said.append(_said("students_way", "each", students, n=most, counts=counts))
    return [*said, _said("students_note", "each", students, n=len(experts))]


def _same_way(
    evidence: Evidence, budget: Budget, people: Sequence[str]
) -> dict[str, tuple[int, int]]:
    """Count of each person the claimed pairs that his or her own marks put the same way round."""
    judged = budget.claimed("scale", "balance")
    pairs = [(one.about, *pair) for one in judged for pair in one.pairs]
    rows = evidence.rows([name for name, _, _ in pairs], everybody=True)
    own = rows.groupby(["assessor", "attribute", "sample"])["score"].mean().to_dict()
    found = {}
    for one in people:
        gaps = [
            own[one, name, high] - own[one, name, low]
            for name, high, low in pairs
            if (one, name, high) in own and (one, name, low) in own
        ]
        if gaps:
            found[one] = (sum(gap > 0 for gap in gaps), len(gaps))
    return found


def against(evidence: Evidence, code: str, hints: pd.DataFrame) -> list[Statement]:
    """Hint at attributes in which one runs against the others, where these have an order.

    `hints` has the columns ``attribute``, ``p`` and ``p_adjusted``.
    """
    kept = [
        name
        for name, wide in evidence.wide([str(name) for name in hints["attribute"]]).items()
        if code in wide.index and in_order(wide.drop(code).dropna())
    ]
    if not kept:
        return []
    hint = _said(
        "against",
        "each",
        (code, *kept),
        assessor=code,
        attributes=[evidence.name(name) for name in kept],
    )
    surest = hints[hints["attribute"].isin(kept)].sort_values("p").iloc[0]
    hint = replace(
        hint,
        kind="hint",
        p=float(surest["p"]),
        p_adjusted=float(surest["p_adjusted"]),
        family="assessor",
    )
    rest = without(evidence, [code], kept)
    return [hint, *([rest] if rest is not None else [])]


def in_order(cells: npt.ArrayLike, p: float = ORDER) -> bool:
    """Tell whether assessors (rows) put the bottles in one order: F against their disagreement."""
    from scipy.special import fdtrc

    marks = np.asarray(cells, dtype=float)
    i, j = marks.shape
    if i < 2 or j < 2:
        return False
    means = marks.mean(axis=0)
    rest = marks - marks.mean(axis=1, keepdims=True) - means + means.mean()
    error = float((rest**2).sum()) / ((i - 1) * (j - 1))
    between = i * float(means.var(ddof=1))
    return error > 0 and holds(float(fdtrc(j - 1, (i - 1) * (j - 1), between / error)), p)


def without(
    evidence: Evidence, codes: Sequence[str], only: Sequence[str] = (), *, key: str = ""
) -> Statement | None:
    """Describe the widest gaps without assessors whose marks run the other way round.

    `only` names the attributes in which they do; empty for the whole card. `key` names the
    sentence where it is something else that sets them apart.
    """
    names = list(only) or evidence.attributes(Kind.LINE, Kind.CATEGORY)
    found = []
    for name, wide in evidence.wide(names).items():
        rest = wide[~wide.index.isin(list(codes))]
        if len(rest) == len(wide) or len(rest) < 2:
            continue
        high, low = str(rest.mean().idxmax()), str(rest.mean().idxmin())
        gaps = [float((part[high] - part[low]).mean()) for part in (rest, wide)]
        found.append((gaps[0], gaps[1], name, high, low))
    if not found:
        return None
    told = sorted(found, reverse=True)[:_LISTED]
    listed = [
        sentence(
            "findings.gap_without",
            attribute=evidence.name(name),
            without=fixed(gap),
            counted=fixed(all_of_them),
            high=high,
            low=low,
        )
        for gap, all_of_them, name, high, low in told
    ]
    return _said(
        key or ("without_in" if only else "without"),
        "differ",
        [*codes, *(name for *_, name, _, _ in told)],
        n=len(codes),
        who=list(codes),
        attributes=[evidence.name(name) for name in only],
        listed=joined(listed),
    )
