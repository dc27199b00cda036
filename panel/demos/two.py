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
from ..handouts.server_files import write as write_server_files
from ..handouts.sheet_files import write_for_assessors, write_for_server
from ..plan.plan_file import load_open, save
from ..plan.planning import make
from ..plan.pours import Plan
from ..report.build import build, open_context
from ..report.files import write
from ..returns.store import Store
from ..returns.taking_in import take_in
from ..session.session import Session
from ..session.session_folder import load
from ._tools import fill_workbook, line_score, normal, secret_of, truth, write_session
from .fractions import INBOX, Demonstration

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
    session = load(folder)
    plan = make(session, secret=secret_of(NAME))
    save(plan, folder)
    write_server_files(plan, session)
    tick()
    open_plan = load_open(session)
    for part in (write_for_assessors, write_for_server):
        for _ in part(session, open_plan, "A4"):
            pass
    tick()
    returned = _fill(session, plan, truth(NAME))
    tick()
    with Store(folder) as store:
        taken = take_in(open_plan, store, returned)
        tick()
        context = open_context(session, open_plan, store, "report")
        written = write(build(context), context)
        tick()
    faults = [fault.message(session.settings.language) for fault in taken.faults]
    return Demonstration(folder=folder, report=written[0], taken=taken.added, faults=faults)


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
