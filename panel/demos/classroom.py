"""A brewing school: one expert, fourteen students, two sessions, pages to take home.

Both session folders go through the files that people use: planned, sheets
written, two workbooks filled and the rest typed from paper, read, and the
class compared. Answers are simulated from ``demo_sessions/classroom/truth.toml``.
"""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ...forms.questions.question_types import Kind
from ...forms.questions.sheet import Sheet
from ..base.words import reader
from ..plan.pours import Plan
from ..returns.store import Store
from ..returns.taking_in import take_in
from ..school.class_pages import class_sheets
from ..school.class_sessions import FILE, compare, from_folders
from ..school.student_pages import student_sheets
from ..session.session import Session
from ._tools import (
    INBOX,
    READ,
    Demonstration,
    dated,
    fill_workbook,
    handed_out,
    line_score,
    normal,
    spoken_file,
    spoken_name,
    truth,
    write_session,
)

if TYPE_CHECKING:
    import numpy as np

NAME = "classroom"
PARTS = ("first", "second")
STEPS = 8
BASE = {"light": 0, "rich": 1, "sharp": 2}
Answers = dict[tuple[str, str], float | str]


def run(folder: Path, tick: Callable[[], None], *, seed: int | None = None) -> Demonstration:
    """Run both sessions in a new folder and write the pages."""
    import numpy as np

    known = truth(NAME)
    rng = np.random.default_rng(known["seed"] if seed is None else seed)
    taken, faults = 0, []
    for part in PARTS:
        inside = folder / part
        write_session(f"{NAME}/{part}", inside)
        (inside / FILE).write_bytes(spoken_file(f"{NAME}/{part}", FILE, reader()))
        session, plan, open_plan = handed_out(inside, NAME, part, tick=tick)
        returned = _fill(session, plan, known, part, rng)
        with dated(session, READ), Store(inside) as store:
            got = take_in(open_plan, store, returned)
        taken += got.added
        faults += [fault.message(session.settings.language) for fault in got.faults]
        tick()
    school = from_folders([folder / part for part in PARTS])
    result = compare(school)
    tick()
    out = folder / "teaching"
    out.mkdir(parents=True, exist_ok=True)
    pages = student_sheets(school, result, out, "A4")
    wall = class_sheets(school, result, out, "A4")
    page = (wall or pages)[0]
    spoken = json.dumps(result.to_dict(), ensure_ascii=False, indent=1, allow_nan=False)
    (out / "teaching.json").write_text(spoken, "utf-8")
    tick()
    return Demonstration(folder=folder, report=page, taken=taken, faults=faults)


def _fill(
    session: Session, plan: Plan, known: dict[str, Any], part: str, rng: np.random.Generator
) -> list[Path]:
    """Fill the first two sheets as workbooks and type the others into one table."""
    typed: list[tuple[object, ...]] = []
    returned = []
    for place, sheet in enumerate(plan.sheets):
        answers = _simulate(session, plan, sheet, known, part=part, rng=rng)
        if place < 2:
            target = session.folder / INBOX / f"{sheet.assessor}.xlsx"
            fill_workbook(sheet, session.folder / "sheets" / target.name, target, answers)
            returned.append(target)
            continue
        for (code, attribute), value in answers.items():
            if value != 0 or sheet.scorecard.owner(attribute).kind is not Kind.TICKS:
                typed.append((sheet.assessor, code, attribute, value))
    target = session.folder / INBOX / "typed-from-paper.csv"
    target.parent.mkdir(parents=True, exist_ok=True)
    with target.open("w", encoding="utf-8", newline="") as out:
        rows = csv.writer(out)
        rows.writerow(["assessor", "code", "attribute", "score"])
        rows.writerows(typed)
    return [*returned, target]


def _simulate(
    session: Session,
    plan: Plan,
    sheet: Sheet,
    known: dict[str, Any],
    *,
    part: str,
    rng: np.random.Generator,
) -> Answers:
    """Draw one person's answers from the stated truth."""
    bases = {spoken_name(name): place for name, place in BASE.items()}
    inside = {pour.code: pour.bottle for pour in plan.pours if pour.assessor == sheet.assessor}
    expert = sheet.assessor.startswith("E")
    own = known["own"].get(sheet.assessor, "")
    spread = known["spread"]
    factor = 0.0 if expert else spread[part]
    levels: dict[str, float] = {}
    views: dict[tuple[str, int], float] = {}
    answers: Answers = {}
    for presentation in sheet.presentations:
        code, bottle = presentation.name, inside[presentation.name]
        base = bases[bottle.split()[0]]
        for question in sheet.questions(presentation):
            for attribute in question.attributes:
                option = attribute.partition(":")[2]
                match question.kind:
                    case Kind.LINE:
                        mean = known["lines"][attribute][base]
                        if own == "narrow":
                            mean = 5 + 0.4 * (mean - 5)
                        if own == "high" and attribute in ("sweetness", "cloying"):
                            mean += 2.5
                        mean += levels.setdefault(attribute, factor * normal(rng, spread["level"]))
                        mean += views.setdefault(
                            (attribute, base), factor * normal(rng, spread["view"])
                        )
                        noise = spread["expert_noise"] if expert else factor * spread["noise"]
                        value = mean + normal(rng, noise)
                        answers[code, attribute] = line_score(value, question.low, question.high)
                    case Kind.TICKS:
                        chance = _word_chance(known["words"], option, base, expert=expert)
                        answers[code, attribute] = float(rng.random() < chance)
                    case Kind.FAULTS:
                        answers[code, attribute] = 0.0
                    case _:
                        pass
        fault = _fault(session, bottle, known["faults"], own, expert=expert, part=part, rng=rng)
        if fault:
            answers[code, f"fault:{fault}"] = float(1 + int(rng.integers(0, 2)))
    return answers


def _word_chance(words: dict[str, Any], option: str, base: int, *, expert: bool) -> float:
    if option not in words:
        return 0.0 if expert else float(words["invented"])
    chance = float(words[option][base])
    return chance if expert else max(chance * float(words["found"]), float(words["invented"]))


def _fault(
    session: Session,
    bottle: str,
    faults: dict[str, Any],
    own: str,
    *,
    expert: bool,
    part: str,
    rng: np.random.Generator,
) -> str:
    """Return the fault that somebody names in a cup, or ""."""
    control = session.bottle(bottle).control
    truth_of = "" if control == "clean" else control
    right = faults["expert"] if expert else faults[part]
    other, alarm = (0.0, 0.0) if expert else (faults["other"], faults["false_alarm"])
    if own == "blunt":
        right, other = 0.0, 0.0
    if own == "sharp":
        right, other, alarm = 1.0, 0.0, 0.0
    drawn = float(rng.random())
    if truth_of:
        return truth_of if drawn < right else ("solvent" if drawn < right + other else "")
    return "vinegar" if drawn < alarm else ""
