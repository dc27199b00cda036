"""Answers on sweet and dry that lie to one side: of one tasting of one person, or of all sheets."""

from __future__ import annotations

from ..findings.evidence import BALANCE, Evidence
from ..findings.statement import Statement
from .side_by_side import people
from .tasters import said

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
    table = evidence.rows([BALANCE], everybody=True)["score"].dropna()
    if table.empty:
        return []
    made = [
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
