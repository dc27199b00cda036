"""Answers that lie to one side: sweet and dry, and marks that went with a glass's place."""

from __future__ import annotations

from ...analysis.core.options import ALPHA
from ...analysis.core.wording import limit
from ..base.words import sentence
from ..findings.evidence import BALANCE, Evidence
from ..findings.habits import moved_by_place, places, several_orders, without_place
from ..findings.statement import Line, Statement, joined, signed
from .side_by_side import SERVED, people
from .tasters import points, said

SHARE = 0.5
"""Share of all answers from which one side is told, where nobody gave the other (a convention, no
source)."""
FEWEST = 3
"""Bottles that one person finds on one side in one tasting alone, from which it is told."""


def states(evidence: Evidence) -> list[tuple[str, str, int]]:
    """Return who found every bottle on one side in one tasting, and none in the others.

    As assessor, side and tasting.
    """
    table = evidence.rows([BALANCE], everybody=True)
    found = []
    for code in people(evidence):
        own = table[table["assessor"] == code].pivot_table(
            index="replicate", columns="sample", values="score", observed=True
        )
        if own.shape[1] < FEWEST or len(own) < 2 or own.isna().to_numpy().any():
            continue
        for side, sign in (("sweet", 1), ("dry", -1)):
            on_it = sign * own > 0
            every, any_ = on_it.all(axis=1), on_it.any(axis=1)
            if every.sum() == 1 and any_.sum() == 1:
                found.append((code, side, int(own.index[every.to_numpy()][0])))
    return found


def statements(evidence: Evidence) -> list[Statement]:
    """Say whose state it was that time, and where no sheet lies on the other side."""
    made = _places(evidence)
    table = evidence.rows([BALANCE], everybody=True)["score"].dropna()
    if table.empty:
        return made
    made += [
        said("caution", f"state_{side}", (code,), assessor=code, n=tasting)
        for code, side, tasting in states(evidence)
    ]
    for side, k, other in (
        ("sweet", int((table > 0).sum()), int((table < 0).sum())),
        ("dry", int((table < 0).sum()), int((table > 0).sum())),
    ):
        if not other and k >= SHARE * len(table) and len(evidence.products) > 1:
            made.append(said("description", f"all_{side}", (BALANCE,), k=k, of=len(table)))
    return made


def _places(evidence: Evidence) -> list[Statement]:
    """Say which marks went with the place on the tray, and what is left of the widest gap then.

    By the 95 % limits of each for itself: one in twenty lines by luck.
    """
    if len(people(evidence)) == 1 or not several_orders(evidence):
        return []
    looked, clear = moved_by_place(evidence, everybody=True)
    parts: list[Line] = []
    for name, (by, least, most) in clear.items():
        freed = without_place(places(evidence, name, everybody=True), first=False)
        parts.append(
            sentence("few_report.went_place_of", attribute=evidence.name(name), by=signed(by),
                     least=limit(least, sign=True), most=limit(most, sign=True),
                     high=str(freed.idxmax()), low=str(freed.idxmin()),
                     left=points(float(freed.max() - freed.min())))
        )  # fmt: skip
    if not parts:
        return []
    luck = max(round(ALPHA * looked), 1)
    return [said("caution", "went_places", tuple(clear), section=SERVED, listed=joined(parts),
                 n=looked, k=luck)]  # fmt: skip
