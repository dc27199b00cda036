"""What the pages of one session show; the folder is read anew for each."""

from __future__ import annotations

import csv
import datetime as dt
import hashlib
import io
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ...forms.answers.told_together import numbered, told_together
from ..base.errors import PanelError
from ..base.problems import Problem
from ..base.toml_text import toml_of
from ..base.whole_files import write_text
from ..base.words import reader
from ..handouts.server_files import SERVER, bottle_table, cautions, dose_lines, with_named
from ..open_flight.named_returns import receiving
from ..plan.codes_before import codes_used
from ..plan.open_plan import OpenPlan
from ..plan.plan_file import load_open, numbers
from ..plan.planning import make
from ..returns.closed_flights import closed
from ..returns.forgotten_rows import TABLE
from ..returns.session_status import status
from ..returns.store import Store
from ..session.care import care
from ..session.conditions import how_many
from ..session.session import Session
from ..session.session_folder import SETTINGS, examine, load
from ..session.setting_lines import Given, Place, with_settings
from ..session.template_files import template
from .flight_page import flight_lines, flight_part, named_list, named_out
from .page_names import by_pages
from .page_writer import PageOf
from .setting_fields import SettingField, given_of, setting_fields, untold, values_of
from .shelf import REPORTED
from .typed_tables import CHOICES, MORE, Row, Typed, as_csv, at_cells, read_typed, typed_rows

CARDS = TABLE / "cards.pdf"
"""The cards with assessors' links, in a session's folder."""


class ChangedError(Exception):
    """A file is no longer what the page was made from."""


@dataclass(frozen=True, slots=True)
class Kept:
    """What was typed and not saved, to be shown again."""

    text: str = ""
    rows: tuple[Row, ...] = ()


def planned(place: Path) -> int:
    """Return the number of the plan that holds, 0 for none."""
    return max(numbers(place), default=0)


def faults(place: Path) -> int:
    """Count the faults of a session's files."""
    return len(examine(place)[1])


def settings_page(page: PageOf, place: Path, kept: Kept) -> str:
    """Write the page of the settings."""
    text = (place / SETTINGS).read_text("utf-8-sig", errors="replace")
    try:
        content = toml_of(text)
    except ValueError:
        content = {}
    fields = setting_fields(page.language, held=content) if content else []
    _, found = examine(place)
    tables = ("bottles", "assessors")
    return page.write(
        "settings",
        page.say("step_settings"),
        locked=planned(place),
        fields=fields,
        values=values_of(fields, content),
        text=kept.text or text,
        state=_state(text),
        faults=[
            one.to(page.language) for one in found if not str(one.place).startswith(tables)
        ],
    )  # fmt: skip


def at_first(fields: Iterable[SettingField]) -> dict[str, str]:
    """Return what stands in the fields of a new session: its template's, and the day."""
    content = toml_of(template()[SETTINGS].decode())
    return values_of(fields, content) | {"date": dt.datetime.now().astimezone().date().isoformat()}


def change_settings(place: Path, given: Mapping[Place, Given]) -> None:
    """Write settings of a new session as they were typed."""
    text = (place / SETTINGS).read_text("utf-8")
    write_text(place / SETTINGS, with_settings(text, given))


def save_settings(place: Path, form: dict[str, str]) -> bool:
    """Save settings as they were typed.

    Returns
    -------
    bool
        Whether all that was typed is kept: nothing is of a time in the mouth that is not wanted.

    Raises
    ------
    ChangedError
        If the file is no longer what the page was made from.
    ValueError
        If a line of the file cannot be found for sure.
    """
    text = (place / SETTINGS).read_text("utf-8-sig", errors="replace")
    if form.get("state") != _state(text):
        raise ChangedError
    if form.get("how") == "whole":
        write_text(place / SETTINGS, form.get("text", "").replace("\r\n", "\n"))
        return True
    content = toml_of(text)
    fields = setting_fields(reader(), held=content)
    write_text(place / SETTINGS, with_settings(text, given_of(fields, form)))
    return not untold(fields, form, content)


def _state(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def table_page(page: PageOf, place: Path, stem: str, kept: Kept) -> str:
    """Write the page of the bottles or of the people, each fault at its cell."""
    table = read_typed(place, stem)
    session, found = examine(place)
    problems: Iterable[Problem] = [*found, *(session.cautions if session else ())]
    cells, others = at_cells(table, problems, page.language)
    rows = list(kept.rows or table.rows)
    if not (planned(place) or table.fixed):
        number = max((number for number, _ in rows), default=1)
        blank = tuple(_at_first(stem, name) for name, _ in table.columns)
        rows += [(number + more, blank) for more in range(1, MORE + 1)]
    return page.write(
        "table",
        page.say(f"step_{stem}"),
        table=table,
        rows=rows,
        choices=CHOICES[stem],
        labels=dict(table.columns),
        faults={} if kept.rows else cells,
        others=others,
        wrong=[
            (f"c{number}-{_column(table, name)}", f"{name}, {page.say('line')} {number}: {one}")
            for (number, name), texts in cells.items()
            for one in texts
            if not kept.rows
        ],
        locked=planned(place),
        explained=_explained(stem),
    )


def _column(table: Typed, name: str) -> int:
    return next(place for place, (own, _) in enumerate(table.columns) if own == name)


def _at_first(stem: str, column: str) -> str:
    """Return what a new line has at first: what an empty cell means."""
    usual = {"use": "sample", "role": "trained", "language": "en", "tastes": "yes"}
    return usual.get(column, "") if column in CHOICES[stem] else ""


def _explained(stem: str) -> str:
    """Return what a new session's guide says of the columns."""
    text = template()["READ_ME.txt"].decode().replace("\r\n", "\n")
    parts = text.split("\n\n")
    return next((part for part in parts if part.startswith(f"{stem}.csv\n")), "")


def save_table(place: Path, stem: str, form: dict[str, str]) -> None:
    """Save a table as it was typed.

    Raises
    ------
    ChangedError
        If the file is no longer what the page was made from.
    """
    table = read_typed(place, stem)
    if table.fixed or planned(place) or form.get("state") != table.state:
        raise ChangedError
    write_text(place / table.file, as_csv(table, typed_rows(table, form)))


def kept_rows(place: Path, stem: str, form: dict[str, str]) -> Kept:
    """Return what was typed into a table, to be shown again."""
    return Kept(rows=typed_rows(read_typed(place, stem), form))


def plan_page(page: PageOf, place: Path) -> str:
    """Write what a plan would take; nothing is written, and no code of it is kept."""
    language = page.language
    session, found = examine(place)
    shown: dict[str, Any] = {"planned": planned(place), "trouble": []}
    if session is None:
        shown["trouble"] = [one.to(language) for one in found]
        return page.write("plan", page.say("step_plan"), **shown)
    try:
        drawn = make(session, used=codes_used(place))
    except PanelError as refusal:
        told = by_pages(refusal.sentence.to(language), place, language)
        shown["trouble"] = told.splitlines()
        return page.write("plan", page.say("step_plan"), **shown)
    pours = with_named(drawn.pours, session)
    counted = page.say(
        "counted",
        assessors=len(drawn.assessors),
        bottles=how_many(session.bottles),
        replicates=session.settings.serving.replicates,
        cups=len(pours),
    )
    return page.write(
        "plan",
        page.say("step_plan"),
        cautions=[one.to(language) for one in session.cautions],
        takes=[
            counted,
            *(note.to(language) for note in drawn.notes),
            *dose_lines(pours, drawn.assessors, session, language),
        ],
        bottles=bottle_table(drawn.pours, session, language),
        careful=cautions(session, language),
        **shown,
    )


def handed_out(place: Path) -> dict[tuple[str, str], Path]:
    """Return what may be taken from the pages of sheets, by part and name.

    No bottle is in it before the open flight, where there is one, is open.
    """
    found = {
        ("sheets", one.name): one
        for one in sorted((place / "sheets").glob("*"))
        if one.suffix in (".pdf", ".xlsx") and one.is_file() and not one.is_symlink()
    }
    for name in ("cup_labels.pdf", "orders.csv"):
        one = place / "plan" / name
        if one.is_file() and not one.is_symlink():
            found["plan", name] = one
    cards = place / CARDS
    if cards.is_file() and not cards.is_symlink():
        found["table", cards.name] = cards
    return found | named_out(place)


def sheets_page(page: PageOf, place: Path, server_link: str) -> str:
    """Write the page of sheets, labels, and the server's link."""
    have = handed_out(place)
    first = {("sheets", "all-sheets.pdf"): "all_sheets", ("plan", "cup_labels.pdf"): "labels",
             ("plan", "orders.csv"): "orders"}  # fmt: skip
    made = any(part == "sheets" for part, _ in have)
    listed = [(page.say(first[key]), *key) for key in first if key in have]
    listed += [("", *key) for key in have if key not in first and key[0] == "sheets"]
    return page.write(
        "sheets",
        page.say("step_sheets"),
        planned=planned(place),
        files=listed if made else [],
        named=named_list(page, place),
        closed=closed(place) is not None,
        server_link=server_link,
    )


def returns_page(page: PageOf, place: Path) -> str:
    """Write where the session stands, and where returned files are dropped."""
    shown: dict[str, Any] = {"state": None, "trouble": ""}
    if planned(place):
        try:
            shown["state"] = _standing(page, place)
        except PanelError as refusal:
            shown["trouble"] = by_pages(refusal.sentence.to(page.language), place, page.language)
    return page.write("returns", page.say("step_returns"), **shown)


def _standing(page: PageOf, place: Path) -> dict[str, Any]:
    """Say where a session stands; once names were told, the blind part and the open flight."""
    language = page.language
    session = load(place)
    plan = load_open(session)
    with Store(place, reading=True) as store:
        blind = status(session, plan, store)
    with receiving(session, plan, reading=True) as (asked, store):
        state = status(session, asked, store)
    bare = blind.text(language).splitlines()
    needs = set(blind.needs(language))
    return {
        "lines": [
            by_pages(line.strip(), place, language) for line in bare[1:] if line not in needs
        ],
        "named": flight_lines(page, session, plan),
        "marks": page.say("marks_left", n=state.marks) if state.marks else "",
        "faults": [
            (numbered(*numbers), what)
            for numbers, what in told_together(state.faults.items(), language)
        ],
        "care": care(session.bottles, language, named=False),
    }


def open_page(page: PageOf, place: Path) -> str:
    """Write what is there before the key is opened, and the report after it."""
    number = planned(place)
    lines: list[str] = []
    flight = None
    if number:
        session = load(place)
        plan = load_open(session)
        flight = flight_part(page, session, plan)
        lines = _before_opening(page, session, plan)
    report = place / REPORTED.parent
    extras = [name for name in ("tables.xlsx", "results.json") if (report / name).is_file()]
    return page.write(
        "open",
        page.say("step_open"),
        planned=number,
        lines=lines,
        flight=flight,
        reported=(place / REPORTED).is_file(),
        extras=extras,
    )


def _before_opening(page: PageOf, session: Session, plan: OpenPlan) -> list[str]:
    with Store(session.folder, reading=True) as store:
        absent = list(status(session, plan, store).out)
    with receiving(session, plan, reading=True) as (asked, store):
        state = status(session, asked, store)
    out = [page.say("still_out", n=len(absent), out=absent)] if absent else []
    waiting = len(state.faults) + state.marks
    return [*out, *([page.say("still_waiting", n=waiting)] if waiting else [])]


def server_tables(place: Path) -> tuple[list[list[str]], str, list[str]]:
    """Return the pour list, the server's text, and the names of the files to print."""
    server = place / SERVER
    text = (server / "pour_list.csv").read_text("utf-8-sig")
    rows = list(csv.reader(io.StringIO(text)))
    names = [one for one in ("pour_list.pdf", "bottle_labels.pdf") if (server / one).is_file()]
    return rows, (server / "serving.txt").read_text("utf-8"), names


def tasters(place: Path) -> list[str]:
    """Return the codes of whoever has a sheet, spare ones aside."""
    return [one.code for one in load_open(load(place)).assessors if not one.spare]


def bottles_of(place: Path) -> list[str]:
    """Return the names of the bottles of a session."""
    return [one.name for one in load(place).bottles]
