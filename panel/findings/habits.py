"""Habits of marking: levels, students beside the expert, a turned scale, places on the tray."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import stdtrit

from ...analysis.core.options import ALPHA
from ...analysis.core.p_values import holds
from ...analysis.core.wording import fixed, limit
from ...forms.questions.question_types import Kind
from ..base.words import sentence
from ..session.roster import brewed_by
from ..session.roster import without_own as leave_out
from .budget import Budget
from .design import orders
from .evidence import SCALED, Evidence, once
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
CLASS = 3
"""Students from whom on their distances from the expert, and from each other, are told."""
TRAYS, GLASSES, DF = 4, 2, 8
"""Trays in more than one order, of more glasses than so many, and degrees of freedom left, from
which on it is looked at what a glass's place on the tray did (no source)."""
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
    evidence, own = without_own(evidence, students)
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
    said = _own_brews(own)
    said.append(_said("students_level", "each", students, expert=who, listed=listed))
    same = _same_way(evidence, budget, [*experts, *students])
    if same:
        most = max(n for _, n in same.values())
        counts = [
            sentence("findings.pair_value", name=one, value=f"{k}" if n == most else f"{k}/{n}")
            for one, (k, n) in same.items()
        ]
        said.append(_said("students_way", "each", students, n=most, counts=counts))
    said.append(_said("students_note", "each", students, n=len(experts)))
    return said + _far_from_expert(evidence, names, experts, students)


def without_own(
    evidence: Evidence, students: Sequence[str]
) -> tuple[Evidence, dict[str, list[str]]]:
    """Leave out what students marked of bottles that they brewed; return also whose and which."""
    own = brewed_by([evidence.bottle(name) for name in evidence.products], students)
    if not own:
        return evidence, own
    return replace(evidence, scores=leave_out(evidence.scores, own)), own


def _own_brews(own: dict[str, list[str]]) -> list[Statement]:
    """Say who brewed which bottle, and that these marks are no distance from anybody."""
    if not own:
        return []
    listed = [
        sentence("findings.students_own_of", who=code, bottles=names) for code, names in own.items()
    ]
    about = (*own, *dict.fromkeys(name for names in own.values() for name in names))
    return [_said("students_own", "each", about, n=len(own), listed=joined(listed))]


def distances(evidence: Evidence, names: Sequence[str]) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return everybody's mean of each bottle in each attribute, and how far each two lie apart.

    The distance of two people is the mean of the absolute differences over all that both marked.
    """
    import pandas as pd

    rows = evidence.rows(names, everybody=True)
    rows = rows.astype({"assessor": str, "sample": str, "attribute": str})
    wide = rows.pivot_table(index=["attribute", "sample"], columns="assessor", values="score")
    apart = pd.DataFrame(
        {one: wide.sub(wide[one], axis=0).abs().mean() for one in wide}, index=wide.columns
    )
    return wide, apart


def _far_from_expert(
    evidence: Evidence, names: Sequence[str], experts: Sequence[str], students: Sequence[str]
) -> list[Statement]:
    """Say how far each student lies from the only expert, and where the students as a group do."""
    wide, apart = distances(evidence, names)
    own = [one for one in students if one in wide]
    if len(experts) != 1 or experts[0] not in wide or len(own) < CLASS:
        return []
    expert = experts[0]
    far = apart.loc[own, expert].dropna()
    among = apart.loc[own, own].to_numpy(float)
    pairs = among[np.triu_indices(len(own), 1)]
    listed = [sentence("findings.pair_value", name=one, value=fixed(far[one])) for one in far.index]
    said = [
        _said("students_far", "each", (expert, *own), expert=expert, listed=listed,
              mean=fixed(float(far.mean())), pairs=fixed(float(np.nanmean(pairs))))
    ]  # fmt: skip
    both = wide[[expert]].assign(others=wide[own].mean(axis=1)).dropna()
    both -= both.groupby(level="attribute").transform("mean")
    squares = float((both[expert] ** 2).sum())
    if squares > 0 and float((both["others"] ** 2).sum()) > 0:
        along = float((both[expert] * both["others"]).sum())
        r = along / (squares * float((both["others"] ** 2).sum())) ** 0.5
        said.append(
            _said("students_mean", "each", (expert, *own), expert=expert, n=len(own),
                  r=fixed(r, 2), slope=fixed(along / squares, 2))
        )  # fmt: skip
    return said + _where_they_leave(evidence, wide, expert, own)


def _where_they_leave(
    evidence: Evidence, wide: pd.DataFrame, expert: str, students: Sequence[str]
) -> list[Statement]:
    """Name the attributes whose level the students, clear of zero by t, hold off the expert's."""
    parts, about, looked = [], [], 0
    for name, own in wide.groupby(level="attribute"):
        off = own[list(students)].sub(own[expert], axis=0).mean().dropna().to_numpy(float)
        if len(off) < CLASS:
            continue
        looked += 1
        mean, error = float(off.mean()), float(off.std(ddof=1)) / len(off) ** 0.5
        half = float(-stdtrit(len(off) - 1, ALPHA / 2)) * error
        if abs(mean) > half:
            about.append(str(name))
            ends = tuple(limit(mean + side * half, sign=True) for side in (-1, 1))
            told = sentence("findings.students_off_of", attribute=evidence.name(str(name)),
                            by=signed(mean), least=ends[0], most=ends[1])  # fmt: skip
            parts.append((-abs(mean), told))
    if not parts:
        return []
    widest = [one for _, one in sorted(parts, key=lambda part: part[0])[:_LISTED]]
    return [
        _said("students_off", "each", (expert, *about), expert=expert, listed=joined(widest),
              n=looked, k=max(round(ALPHA * looked), 1))
    ]  # fmt: skip


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


def several_orders(evidence: Evidence) -> bool:
    """Tell whether trays of three glasses or more, enough of them, had more than one order."""
    every = [order for order in orders(evidence) if len(order) > GLASSES]
    return len(every) >= TRAYS and len(set(every)) > 1


def places(evidence: Evidence, name: str, *, everybody: bool = False) -> pd.DataFrame:
    """Return an attribute's marks of those who count, with the place of each glass on its tray.

    Controls are glasses too: they take a place, and have no row.
    """
    own = evidence.rows([name], everybody=everybody).dropna(subset=["position", "score"])
    own = own.merge(_glasses(evidence), on=_GLASS).astype({"assessor": str, "sample": str})
    return own[own["sample"].isin(evidence.compared)]


_GLASS = ["assessor", "replicate", "position"]


@once
def _glasses(evidence: Evidence) -> pd.DataFrame:
    """Return the place of each glass on its tray."""
    cups = evidence.scores[_GLASS].dropna().drop_duplicates()
    trays = cups.groupby(["assessor", "replicate"], observed=True)["position"]
    return cups.assign(place=trays.rank(method="dense").astype(float))


def by_place(rows: pd.DataFrame, *, first: bool = False) -> tuple[float, float, float] | None:
    """Return how much a mark moves by one place, or in first glasses, with its 95 % limits.

    Least squares with an effect of each bottle and assessor; of each assessor's bottle where they
    came again, so that what one person thinks of one bottle is not taken for its place.
    """
    import pandas as pd

    if rows.empty:
        return None
    cells = [rows["assessor"], rows["sample"]]
    if len(set(rows["replicate"])) > 1:
        cells = [rows["assessor"] + "\t" + rows["sample"]]
    own = [pd.get_dummies(one).to_numpy(float) for one in cells]
    moved = (rows["place"] == 1) if first else rows["place"]
    design = np.column_stack([*own, moved.to_numpy(float)])
    rest = np.column_stack(own)
    rank = int(np.linalg.matrix_rank(design))
    df = len(rows) - rank
    if df < DF or rank == np.linalg.matrix_rank(rest):
        return None
    given = rows["score"].to_numpy(float)
    found = np.linalg.lstsq(design, given, rcond=None)[0]
    left = given - design @ found
    error = float(np.sqrt(np.linalg.pinv(design.T @ design)[-1, -1] * (left @ left) / df))
    half = float(-stdtrit(df, ALPHA / 2)) * error
    by = float(found[-1])
    return by, by - half, by + half


def moved_by_place(
    evidence: Evidence, *, everybody: bool = False
) -> tuple[int, dict[str, tuple[float, float, float]]]:
    """Return how many attributes were looked at, and what a place does where clear of zero.

    Each by its own 95 % limits: about one in twenty by luck.
    """
    looked, clear = 0, {}
    for name in evidence.attributes(*SCALED):
        found = by_place(places(evidence, name, everybody=everybody))
        if found is None:
            continue
        looked += 1
        if found[1] > 0 or found[2] < 0:
            clear[name] = found
    return looked, clear


def without_place(rows: pd.DataFrame, *, first: bool) -> pd.Series:
    """Return the bottles' means with what first glasses, or places, do taken off each mark."""
    by = by_place(rows, first=first)
    moved = (rows["place"] == 1) if first else rows["place"] - rows["place"].mean()
    freed = rows["score"] - (by[0] if by else 0.0) * moved
    return freed.groupby(rows["sample"]).mean()
