"""What the demonstrations share: session folders, simulated scores, filled sheets."""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Mapping
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ...forms.answers.answer_values import listed
from ...forms.questions.question_types import Kind, Question
from ...forms.questions.sheet import Sheet
from ...forms.spreadsheets.workbook_page import KEYS, page_name
from ..base.errors import InputRefused

if TYPE_CHECKING:
    import numpy as np

Filled = Mapping[tuple[str, str], float | str]
"""From code and attribute to what the assessor means."""
SCENARIOS = "kikichoko.panel.demo_sessions"


def scenario_file(scenario: str, name: str) -> bytes:
    """Return a file of a scenario."""
    return files(SCENARIOS).joinpath(scenario).joinpath(name).read_bytes()


def truth(scenario: str) -> dict[str, Any]:
    """Return the stated truth that a scenario is simulated from."""
    return tomllib.loads(scenario_file(scenario, "truth.toml").decode("utf-8"))


def secret_of(*scenario: str) -> bytes:
    """Return the fixed secret of an invented session, so that a demonstration repeats itself.

    It is known to everybody who has the program: no session folder can ask for it.
    """
    return hashlib.sha256(" ".join(("kikichoko demonstration", *scenario)).encode()).digest()


def write_session(scenario: str, folder: Path) -> None:
    """Write the session folder of a scenario.

    Raises
    ------
    InputRefused
        If the folder holds files already.
    """
    if folder.exists() and any(folder.iterdir()):
        raise InputRefused("folder.exists", folder=folder)
    folder.mkdir(parents=True, exist_ok=True)
    for name in ("session.toml", "bottles.csv", "assessors.csv"):
        (folder / name).write_bytes(scenario_file(scenario, name))


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
