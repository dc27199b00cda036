"""What the demonstrations share: session folders, plans, filled sheets, reports."""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Callable, Mapping
from contextlib import AbstractContextManager
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ...forms.answers.answer_values import listed
from ...forms.questions.question_types import Kind, Question
from ...forms.questions.sheet import Sheet
from ...forms.spreadsheets.workbook_page import KEYS, page_name
from ..base.clock import clock_at
from ..base.errors import InputRefused
from ..base.words import FALLBACK, reader
from ..handouts.server_files import write as write_server_files
from ..handouts.sheet_files import write_for_assessors, write_for_server
from ..plan.open_plan import OpenPlan
from ..plan.plan_file import load_open, save
from ..plan.planning import make
from ..plan.pours import Plan
from ..report.build import build, open_context
from ..report.files import write
from ..returns.store import Store
from ..returns.taking_in import take_in
from ..session.session import Session
from ..session.session_folder import load

if TYPE_CHECKING:
    import numpy as np

Filled = Mapping[tuple[str, str], float | str]
"""From code and attribute to what the assessor means."""
SCENARIOS = "kikichoko.panel.demo_sessions"
PLANNED, TASTED, READ = (-1, 15), (0, 19), (1, 10)
"""Days after the tasting, and the hour in UTC, at which a scenario plans, tastes and reads."""
INBOX = Path("inbox")
TANKS = "tanks.csv"
"""A brewery's own table of its tanks: its headings too are in the language of the house."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Demonstration:
    """What a demonstration made.

    Attributes
    ----------
    folder : Path
        The session folder.
    report : Path
    taken : int
        Answers that went in.
    faults : list of str
        What needed a person, in words.
    """

    folder: Path
    report: Path
    taken: int
    faults: list[str]


def scenario_file(scenario: str, name: str) -> bytes:
    """Return a file of a scenario."""
    return files(SCENARIOS).joinpath(scenario).joinpath(name).read_bytes()


def truth(scenario: str, language: str = "") -> dict[str, Any]:
    """Return the stated truth that a scenario is simulated from."""
    known = tomllib.loads(scenario_file(scenario, "truth.toml").decode("utf-8"))
    words = _words(language)
    found: dict[str, Any] = _renamed(known, words["bottles"] | words["texts"])
    return found


def _words(language: str) -> dict[str, dict[str, str]]:
    """Return what stands for bottles and texts of the scenarios in a language, or the reader's."""
    source = files(SCENARIOS).joinpath(f"words_{language or reader()}.toml")
    nothing: dict[str, dict[str, str]] = {"bottles": {}, "tables": {}, "texts": {}}
    return tomllib.loads(source.read_text("utf-8")) if source.is_file() else nothing


def _renamed(value: Any, names: Mapping[str, str]) -> Any:
    """Put the names of bottles in a language for those of the stated truth, keys and values."""
    if isinstance(value, dict):
        return {names.get(key, key): _renamed(one, names) for key, one in value.items()}
    if isinstance(value, list):
        return [_renamed(one, names) for one in value]
    return names.get(value, value) if isinstance(value, str) else value


def spoken_name(bottle: str) -> str:
    """Return the name of a scenario's bottle in the reader's language."""
    return _words("")["bottles"].get(bottle, bottle)


def dated(session: Session, when: tuple[int, int]) -> AbstractContextManager[None]:
    """Date what is recorded by the scenario: one of `PLANNED`, `TASTED` and `READ`."""
    days, hour = when
    return clock_at(session.settings.date, hour, later=days)


def secret_of(*scenario: str) -> bytes:
    """Return the fixed secret of an invented session, so that a demonstration repeats itself.

    It is known to everybody who has the program: no session folder can ask for it.
    """
    return hashlib.sha256(" ".join(("kikichoko demonstration", *scenario)).encode()).digest()


def refuse_filled(folder: Path) -> None:
    """Refuse a folder that holds files already.

    Raises
    ------
    InputRefused
        If it does.
    """
    if folder.exists() and any(folder.iterdir()):
        raise InputRefused("folder.exists", folder=folder)


def write_session(scenario: str, folder: Path, language: str = "") -> None:
    """Write the session folder of a scenario, in `language` or the reader's.

    Raises
    ------
    InputRefused
        If the folder holds files already.
    """
    refuse_filled(folder)
    folder.mkdir(parents=True, exist_ok=True)
    for name in ("session.toml", "bottles.csv", "assessors.csv"):
        (folder / name).write_bytes(spoken_file(scenario, name, language or reader()))


def spoken_file(scenario: str, name: str, language: str) -> bytes:
    """Return a file of a scenario in a language: its texts, its bottles, who reads what."""
    content = scenario_file(scenario, name)
    if language == FALLBACK:
        return content
    words, text = _words(language), content.decode("utf-8")
    for old, new in words["texts"].items():
        text = text.replace(f'"{old}"', f'"{new}"')
    if name == "session.toml":
        text = text.replace('language = "en"', f'language = "{language}"')
    elif name == "assessors.csv":
        text = text.replace(",en,", f",{language},")
    elif name.endswith(".toml"):
        for old, new in words["bottles"].items():
            text = text.replace(f'"{old}"', f'"{new}"')
    else:
        cells = words["bottles"] | (words["tables"] if name == TANKS else {})
        rows = [line.split(",") for line in text.splitlines()]
        text = "".join(",".join(cells.get(cell, cell) for cell in row) + "\n" for row in rows)
    return text.encode()


def handed_out(
    folder: Path, *scenario: str, tick: Callable[[], None]
) -> tuple[Session, Plan, OpenPlan]:
    """Plan a session and write what is handed out; `tick` is called after each."""
    session = load(folder)
    plan = make(session, secret=secret_of(*scenario))
    with dated(session, PLANNED):
        save(plan, folder)
    write_server_files(plan, session)
    tick()
    open_plan = load_open(session)
    with dated(session, PLANNED):
        for part in (write_for_assessors, write_for_server):
            for _ in part(session, open_plan, "A4"):
                pass
    tick()
    return session, plan, open_plan


def reported(
    session: Session, open_plan: OpenPlan, returned: list[Path], tick: Callable[[], None]
) -> Demonstration:
    """Read what came back and write the report; `tick` is called after each of the two."""
    with dated(session, READ), Store(session.folder) as store:
        taken = take_in(open_plan, store, returned)
        tick()
        context = open_context(session, open_plan, store, "report")
        written = write(build(context), context)
        tick()
    faults = [fault.message(session.settings.language) for fault in taken.faults]
    return Demonstration(folder=session.folder, report=written[0], taken=taken.added, faults=faults)


def line_score(value: float, low: float, high: float) -> float:
    """Mark a value on a line scale as a person does: within its ends, to the nearest half."""
    return min(max(round(2 * value) / 2, low), high)


def normal(rng: np.random.Generator, sd: float) -> float:
    """Draw from a normal distribution with mean 0."""
    return float(rng.normal(0, sd)) if sd else 0.0


def fill_workbook(sheet: Sheet, path: Path, target: Path, answers: Filled) -> None:
    """Fill a score sheet as a person would: open it, type into the open cells, save it.

    Parameters
    ----------
    sheet : Sheet
    path : Path
        The empty workbook as `kikichoko sheets` wrote it.
    target : Path
        Where the filled one goes.
    answers : mapping
        A number is typed as the word the cell offers where it offers words; text as it is.
    """
    from openpyxl import load_workbook

    book = load_workbook(path)
    for presentation in sheet.presentations:
        page = book[page_name(presentation)]
        places = {
            str(page[f"{key}{row}"].value): f"{answer}{row}"
            for row in range(2, page.max_row + 1)
            for answer, key in KEYS.items()
        }
        for (code, attribute), value in answers.items():
            if code == presentation.name and attribute in places:
                question = sheet.scorecard.owner(attribute)
                page[places[attribute]] = _typed(question, value, sheet.language)
    target.parent.mkdir(parents=True, exist_ok=True)
    book.save(target)


def _typed(question: Question, value: float | str, language: str) -> float | str | None:
    if question.kind is Kind.TICKS and not isinstance(value, str):
        return listed("value.ticks", language)[0] if value else None
    if question.kind in (Kind.CATEGORY, Kind.BALANCE):
        for option in question.options:
            if option.value == value:
                return option.label.to(language)
    return value
