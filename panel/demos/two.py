"""Two people, one of them the maker, three fractions of one tank, twice, and once with names.

The case that the short report is for, with an open flight at its end. Everything goes
through the files that people use; the answers are simulated from the truth stated in
``demo_sessions/two/truth.toml``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ...forms.questions.question_types import Kind, Question
from ...forms.questions.sheet import Sheet
from ..base.words import reader
from ..handouts.sheet_files import SHEETS
from ..open_flight.flight import load_flight
from ..open_flight.named_returns import receiving, take_in_named
from ..open_flight.named_sheets import SHEETS as NAMED_SHEETS
from ..open_flight.named_sheets import write_named
from ..open_flight.unblinding import unblind
from ..plan.open_plan import OpenPlan
from ..returns.store import Store
from ..returns.taking_in import Taken, take_in
from ..session.session import Session
from ._tools import (
    INBOX,
    TASTED,
    Demonstration,
    dated,
    fill_workbook,
    handed_out,
    line_score,
    normal,
    reported,
    secret_of,
    truth,
    write_session,
)

if TYPE_CHECKING:
    import numpy as np

NAME = "two"
STEPS = 7


def run(folder: Path, tick: Callable[[], None], *, language: str = "") -> Demonstration:
    """Run the whole job in a new folder; `tick` is called after each of `STEPS` steps."""
    language = language or reader()
    write_session(NAME, folder, language)
    session, plan, open_plan = handed_out(folder, NAME, tick=tick)
    known = truth(NAME, language)
    inside = {(pour.assessor, pour.code): pour.bottle for pour in plan.pours}
    returned = _fill(session, plan.sheets, known, inside)
    tick()
    with dated(session, TASTED), Store(folder) as store:
        taken = take_in(open_plan, store, returned)
        unblind(session, open_plan, store, secret=secret_of(NAME))
    tick()
    with dated(session, TASTED):
        told = _named(session, open_plan, known)
    tick()
    outcome = reported(session, open_plan, [], tick)
    faults = [fault.message(language) for fault in (*taken.faults, *told.faults)]
    return replace(outcome, taken=taken.added + told.added, faults=faults)


def _named(session: Session, plan: OpenPlan, known: dict[str, Any]) -> Taken:
    """Write the named sheets, fill them and read them."""
    flight = load_flight(session, plan)
    for _ in write_named(session, flight, "A4"):
        pass
    inside = {(pour.assessor, pour.code): pour.code for pour in flight.pours}
    returned = _fill(session, flight.own_sheets.values(), known, inside)
    with receiving(session, plan) as (asked, store):
        return take_in_named(session, asked, store, returned)


def _fill(
    session: Session,
    sheets: Iterable[Sheet],
    known: dict[str, Any],
    inside: dict[tuple[str, str], str],
) -> list[Path]:
    """Fill workbooks as the invented people would; `inside` tells what is in each cup."""
    import numpy as np

    returned = []
    for sheet in sheets:
        folder = session.folder / (NAMED_SHEETS if sheet.named else SHEETS)
        rng = np.random.default_rng([known["seed"], *sheet.assessor.encode(), *[1] * sheet.named])
        target = session.folder / INBOX / f"{sheet.assessor}{'-named' * sheet.named}.xlsx"
        answers = _answers(session, sheet, known, inside, rng)
        fill_workbook(sheet, folder / f"{sheet.assessor}.xlsx", target, answers)
        returned.append(target)
    return returned


def _answers(
    session: Session,
    sheet: Sheet,
    known: dict[str, Any],
    inside: dict[tuple[str, str], str],
    rng: np.random.Generator,
) -> dict[tuple[str, str], float | str]:
    """Draw one assessor's answers from the stated truth."""
    order = [bottle.name for bottle in session.samples]
    moved = known["named_quality"][sheet.assessor] if sheet.named else [0.0] * len(order)
    found: dict[tuple[str, str], float | str] = {}
    for shown in sheet.presentations:
        place = order.index(inside[sheet.assessor, shown.name])
        for question in sheet.questions(shown):
            for attribute in question.attributes:
                value = _answer(known, sheet.assessor, question, attribute, place, rng)
                if value is not None and attribute == "quality":
                    value = line_score(value + moved[place], question.low, question.high)
                if value is not None:
                    found[shown.name, attribute] = value
    return found


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
