"""Before anything is printed: what do the faces on paper lack, and where does it stand?

Names of bottles, the heading and own questions are printed; a character without a form
would be missing from them, and two names could look alike.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from ...forms.paper.typeset import lacking, named
from ..base.errors import FolderFault
from ..base.problems import Problem, cell, line_of, listed, problem
from ..base.records import read_rows
from ..base.words import Sentence
from ..session.bottles import KNOWN
from ..session.session_folder import SETTINGS

if TYPE_CHECKING:
    from ..plan.open_plan import OpenPlan
    from ..session.session import Session

_SERVED_IN = ("vessel", "appearance_vessel")
_UNPRINTED = ("key", "synonyms", "explanation")  # of own words and questions


def refuse_lacking(session: Session, plan: OpenPlan | None = None) -> None:
    """Refuse a session of which not all can be printed.

    Parameters
    ----------
    session : Session
    plan : OpenPlan, optional
        What is printed where a plan was made already.

    Raises
    ------
    FolderFault
        With every character that lacks, its field, file, row and column.
    """
    faults = lacking_letters(session)
    if plan is not None and not faults:
        faults = list(_of_plan(session, plan))
    if faults:
        raise FolderFault("folder.refused", n=len(faults), listed=listed(faults))


def lacking_letters(session: Session, key: str = "no_letter") -> list[Problem]:
    """Tell where in a session folder characters stand that the faces lack; `key` says so."""
    return [*_of_settings(session, key), *_of_bottles(session, key)]


def _of_settings(session: Session, key: str) -> Iterator[Problem]:
    text = (session.folder / SETTINGS).read_text("utf-8-sig")
    content = session.settings.model_dump(mode="json", include={"title", "questions", "test"})
    serving = session.settings.serving
    content["serving"] = {name: getattr(serving, name) for name in _SERVED_IN}
    for field, written in _texts(content, ""):
        if found := lacking(written):
            yield _problem(_line(text, found[0]), field, written, found, key)


def _of_bottles(session: Session, key: str) -> Iterator[Problem]:
    table, _ = read_rows(session.folder, "bottles", ("bottle",), KNOWN, further=True)
    for number, row in table.rows:
        written = row.get("bottle", "")
        if found := lacking(written):
            yield _problem(cell(table.file, number, "bottle"), "bottle", written, found, key)


def _of_plan(session: Session, plan: OpenPlan) -> Iterator[Problem]:
    """Look at what was planned, where the folder was corrected since."""
    told = [("bottle", bottle.name) for bottle in session.bottles]
    for sheet in plan.sheets.values():
        asked = ((f"questions.{one.key}", one.label.to(sheet.language)) for one in sheet.scorecard)
        told += [("title", sheet.title), *asked]
    for field, written in dict.fromkeys(told):
        if found := lacking(written):
            yield _problem("plan/plan.json", field, written, found, "no_letter_planned")


def _problem(
    place: str | Sentence, field: str, written: str, found: tuple[str, ...], key: str
) -> Problem:
    letters = list(map(named, found))
    return problem(place, key, field=field, found=written, letters=letters)


def _texts(value: Any, field: str) -> Iterator[tuple[str, str]]:
    """Go through nested settings; give each text with its name."""
    if isinstance(value, str):
        yield field, value
    elif isinstance(value, dict):
        for name, inner in value.items():
            if name not in _UNPRINTED:
                yield from _texts(inner, f"{field}.{name}" if field else name)
    elif isinstance(value, list):
        for inner in value:
            yield from _texts(inner, field)


def _line(text: str, letter: str) -> str | Sentence:
    """Name the line in which a character stands first; comments do not count."""
    for number, line in enumerate(text.splitlines(), start=1):
        if letter in line and not line.lstrip().startswith("#"):
            return line_of(SETTINGS, number)
    return SETTINGS
