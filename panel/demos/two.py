"""Two people, one of them the maker, three fractions of one tank, twice.

The case that the short report is for. Everything goes through the files that people use;
the answers are simulated from the truth stated in ``demo_sessions/two/truth.toml``.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ...forms.questions.question_types import Kind, Question
from ...forms.questions.sheet import Sheet
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

NAME = "two"
STEPS = 5


def run(folder: Path, tick: Callable[[], None], *, language: str = "en") -> Demonstration:
    """Run the whole job in a new folder; `tick` is called after each of `STEPS` steps."""
    write_session(NAME, folder)
    if language != "en":
        settings = folder / "session.toml"
        text = settings.read_text("utf-8").replace('language = "en"', f'language = "{language}"')
        settings.write_text(text, "utf-8")
    session, plan, open_plan = handed_out(folder, NAME, tick=tick)
    returned = _fill(session, plan, truth(NAME))
    tick()
    return reported(session, open_plan, returned, tick)


def _fill(session: Session, plan: Plan, known: dict[str, Any]) -> list[Path]:
    """Fill both workbooks as the invented people would."""
    import numpy as np

    returned = []
    for sheet in plan.sheets:
        rng = np.random.default_rng([known["seed"], *sheet.assessor.encode()])
        target = session.folder / INBOX / f"{sheet.assessor}.xlsx"
        empty = session.folder / "sheets" / f"{sheet.assessor}.xlsx"
        fill_workbook(sheet, empty, target, _answers(session, plan, sheet, known, rng))
        returned.append(target)
    return returned


def _answers(
    session: Session, plan: Plan, sheet: Sheet, known: dict[str, Any], rng: np.random.Generator
) -> dict[tuple[str, str], float | str]:
    """Draw one assessor's answers from the stated truth."""
    inside = {pour.code: pour.bottle for pour in plan.pours if pour.assessor == sheet.assessor}
    order = [bottle.name for bottle in session.samples]
    return {
        (presentation.name, attribute): value
        for presentation in sheet.presentations
        for question in sheet.questions(presentation)
        for attribute in question.attributes
        if (value := _answer(known, sheet.assessor, question, attribute,
                             order.index(inside[presentation.name]), rng)) is not None
    }  # fmt: skip


def _answer(  # noqa: PLR0917
    known: dict[str, Any],
    assessor: str,
    question: Question,
    attribute: str,
    place: int,
    rng: np.random.Generator,
) -> float | None:
    option = attribute.partition(":")[2]
    noise = normal(rng, known["spread"]["noise"])
    match question.kind:
        case Kind.LINE if attribute == "quality":
            return line_score(known["quality"][assessor][place] + noise, 0, 10)
        case Kind.LINE:
            means = known["differ"].get(attribute)
            if means is None:
                return None
            value = means[place] + known["level"][assessor] + noise
            return line_score(value, question.low, question.high)
        case Kind.BALANCE:
            own = known["balance"]
            mean = list(own.values())[place] + normal(rng, own["noise"])
            return float(min(max(round(mean), -2), 2))
        case Kind.TICKS:
            chance = known["words"][assessor].get(option, [0.0, 0.0, 0.0])[place]
            return float(rng.random() < chance)
        case Kind.FAULTS:
            return float(known["faults"].get(assessor, {}).get(option, [0, 0, 0])[place])
        case _:
            return None
