"""Once against twice heated, by triangle; and a similarity session that is too small.

Two session folders go through the files that people use: planned, sheets
written, workbooks filled, read, reported. The answers are simulated from the
truth stated in ``demo_sessions/difference/truth.toml``.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..plan.pours import Plan
from ._tools import (
    INBOX,
    Demonstration,
    fill_workbook,
    handed_out,
    refuse_filled,
    reported,
    truth,
    write_session,
)

if TYPE_CHECKING:
    import numpy as np

    from ...forms.questions.sheet import Sheet

NAME = "difference"
SESSIONS = ("triangle", "similarity")
STEPS = 10


def run(folder: Path, tick: Callable[[], None], *, seed: int | None = None) -> Demonstration:
    """Run both sessions below a new folder; `tick` is called after each of `STEPS` steps.

    Raises
    ------
    InputRefused
        If the folder holds files already.
    """
    refuse_filled(folder)
    known = truth(NAME)
    outcomes = [
        _one(folder / part, part, known, tick, known["seed"] if seed is None else seed)
        for part in SESSIONS
    ]
    return Demonstration(
        folder=folder,
        report=outcomes[0].report,
        taken=sum(one.taken for one in outcomes),
        faults=[fault for one in outcomes for fault in one.faults],
    )


def _one(
    folder: Path, part: str, known: dict[str, Any], tick: Callable[[], None], seed: int
) -> Demonstration:
    """Take one session through all its files."""
    import numpy as np

    write_session(f"{NAME}/{part}", folder)
    session, plan, open_plan = handed_out(folder, NAME, part, tick=tick)
    rng = np.random.default_rng(seed)
    returned = []
    for sheet in plan.sheets:
        answers = simulate(plan, sheet, known, part, rng)
        if sheet.spare:
            continue
        target = folder / INBOX / f"{sheet.assessor}.xlsx"
        fill_workbook(sheet, folder / "sheets" / f"{sheet.assessor}.xlsx", target, answers)
        returned.append(target)
    tick()
    return reported(session, open_plan, returned, tick)


def simulate(
    plan: Plan, sheet: Sheet, known: dict[str, Any], part: str, rng: np.random.Generator
) -> dict[tuple[str, str], float | str]:
    """Draw one assessor's answer: who can tell names the odd cup, the others guess."""
    role = next(one.role for one in plan.assessors if one.code == sheet.assessor)
    inside = {pour.code: pour.bottle for pour in plan.pours if pour.assessor == sheet.assessor}
    answers: dict[tuple[str, str], float | str] = {}
    for shown in sheet.presentations:
        bottles = [inside[code] for code in shown.codes]
        odd = next(code for code in shown.codes if bottles.count(inside[code]) == 1)
        tells = rng.random() < known[part][role]
        answers[shown.name, "odd"] = odd if tells else str(rng.choice(shown.codes))
        words = known["words"]["told" if tells else "guessed"]
        said = str(words[int(rng.integers(len(words)))])
        if said:
            answers[shown.name, "words"] = said
    return answers
