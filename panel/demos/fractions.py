"""One tank, three fractions, a panel with its maker, and some trouble in the sheets.

Everything goes through the files that people use: the session folder is
planned, sheets are written, workbooks are filled and one table is typed, all
of it is read, two faults are put right by hand, and the report is made. The
answers are simulated from the truth stated in ``demo_sessions/fractions/truth.toml``.
"""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ...forms.questions.question_types import Kind, Question
from ...forms.questions.sheet import Presentation, Sheet
from ..plan.pours import Plan
from ..session.session import Session
from ._tools import (
    INBOX,
    Demonstration,
    fill_workbook,
    handed_out,
    line_score,
    normal,
    reported,
    truth,
    write_session,
)

if TYPE_CHECKING:
    import numpy as np

NAME = "fractions"
STEPS = 5


def run(folder: Path, tick: Callable[[], None], *, seed: int | None = None) -> Demonstration:
    """Run the whole job in a new folder; `tick` is called after each of `STEPS` steps."""
    known = truth(NAME)
    write_session(NAME, folder)
    session, plan, open_plan = handed_out(folder, NAME, tick=tick)
    returned = fill(session, plan, known, seed=known["seed"] if seed is None else seed)
    tick()
    return reported(session, open_plan, returned, tick)


def fill(session: Session, plan: Plan, known: dict[str, Any], *, seed: int) -> list[Path]:
    """Fill the sheets as the invented assessors would; return the files that came back."""
    import numpy as np

    rng = np.random.default_rng(seed)
    returned = []
    for sheet in plan.sheets:
        answers = simulate(session, plan, sheet, known, rng)
        if sheet.spare or sheet.assessor == known["absent"]:
            continue
        if sheet.assessor == known["wrong_code"]:
            target = session.folder / INBOX / f"typed-{sheet.assessor}.csv"
            type_table(sheet, target, answers, misread=True)
        else:
            if sheet.assessor == known["unreadable"]:
                first = next(one.name for one in sheet.presentations if one.counted)
                answers[first, "acidity"] = "6?"
            target = session.folder / INBOX / f"{sheet.assessor}.xlsx"
            empty = session.folder / "sheets" / f"{sheet.assessor}.xlsx"
            fill_workbook(sheet, empty, target, answers)
        returned.append(target)
    return returned


def simulate(
    session: Session, plan: Plan, sheet: Sheet, known: dict[str, Any], rng: np.random.Generator
) -> dict[tuple[str, str], float | str]:
    """Draw one assessor's answers from the stated truth."""
    import numpy as np

    role = next(one.role for one in plan.assessors if one.code == sheet.assessor)
    inside = {pour.code: pour.bottle for pour in plan.pours if pour.assessor == sheet.assessor}
    order = [bottle.name for bottle in session.samples]
    spread = known["spread"]
    noise = spread["noise"] * (spread["student_factor"] if role == "student" else 1)
    level: dict[str, float] = {}
    opinion: dict[tuple[str, str], float] = {}
    noted: dict[tuple[str, str], bool] = {}
    opinions = np.random.default_rng([known["seed"], *sheet.assessor.encode()])
    answers: dict[tuple[str, str], float | str] = {}
    for presentation in sheet.presentations:
        code, bottle = presentation.name, inside[presentation.name]
        place = order.index(bottle) if bottle in order else 1
        for question in sheet.questions(presentation):
            for attribute in question.attributes:
                option = attribute.partition(":")[2]
                match question.kind:
                    case Kind.LINE:
                        own = level.setdefault(attribute, normal(rng, spread["assessor"]))
                        apart = opinion.setdefault(
                            (bottle, attribute), normal(rng, spread["disagreement"])
                        )
                        mean = _mean(known, attribute, place, role) + own + apart
                        value = mean + normal(rng, noise)
                        answers[code, attribute] = line_score(value, question.low, question.high)
                    case Kind.BALANCE:
                        mean = known["balance"].get(bottle, 0.0)
                        value = round(mean + normal(rng, known["balance"]["noise"]))
                        answers[code, attribute] = float(min(max(value, -2), 2))
                    case Kind.CATEGORY:
                        # Opinions have numbers of their own, so that the other draws stay.
                        chances = known["advice"].get(bottle, [0.7, 0.2, 0.1, 0.0])
                        values = [one.value for one in question.options]
                        answers[code, attribute] = float(opinions.choice(values, p=chances))
                    case Kind.TICKS:
                        chance = known["words"].get(option, [0.04] * len(order))[place]
                        answers[code, attribute] = float(rng.random() < chance)
                    case Kind.FAULTS:
                        chance = known["faults"].get(option, [0.0] * len(order))[place]
                        seen = noted.setdefault((bottle, option), bool(rng.random() < chance))
                        strong = round(known["faults"]["severity"] + normal(rng, 0.5))
                        answers[code, attribute] = float(min(max(strong, 1), 3)) if seen else 0.0
                    case _:
                        answers[code, attribute] = _words(known, bottle, presentation, rng)
    return {key: value for key, value in answers.items() if value != ""}


def _mean(known: dict[str, Any], attribute: str, place: int, role: str) -> float:
    apart = known["differ"] | known["expected"]
    mean = apart[attribute][place] if attribute in apart else 0.0
    mean += known["same"].get(attribute, 0.0)
    return float(mean + (known["maker"].get(attribute, 0.0) if role == "maker" else 0.0))


def _words(
    known: dict[str, Any], bottle: str, presentation: Presentation, rng: np.random.Generator
) -> str:
    """Now and then write something, once a bottle."""
    offered = known["free_words"].get(bottle, [])
    if not offered or presentation.flight > 1 or rng.random() < 0.4:
        return ""
    return str(offered[int(rng.integers(len(offered)))])


def type_table(
    sheet: Sheet,
    target: Path,
    answers: dict[tuple[str, str], float | str],
    *,
    misread: bool = False,
) -> None:
    """Type a paper sheet into a table; with `misread`, in a hurry: one code is misread."""
    target.parent.mkdir(parents=True, exist_ok=True)
    last = [one for one in sheet.presentations if one.counted][-1].name
    wrong = str(int(last) + 1 if last[-1] != "9" else int(last) - 1)
    with target.open("w", encoding="utf-8", newline="") as out:
        rows = csv.writer(out)
        rows.writerow(["assessor", "code", "attribute", "score"])
        for (code, attribute), value in answers.items():
            question = sheet.scorecard.owner(attribute)
            if _left_out(question, value):
                continue
            shown = value if isinstance(value, str) else f"{value:g}"
            typed = wrong if misread and code == last else code
            rows.writerow([sheet.assessor, typed, attribute, shown])


def _left_out(question: Question, value: float | str) -> bool:
    """Tell what nobody types: empty boxes."""
    return question.kind is Kind.TICKS and value == 0
