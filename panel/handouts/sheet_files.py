"""Writing the sheets of a session: paper, spreadsheets, labels and the pour list."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from ...analysis.core.words import Sentence
from ...forms.paper.code_labels import BOTTLE, CUP, Label, write_labels, write_table
from ...forms.paper.page_parts import Page
from ...forms.paper.pages import lay_out
from ...forms.paper.sheet_pdf import pages_pdf
from ...forms.questions.sheet import Sheet
from ...forms.spreadsheets.workbook_writer import write_sheet
from ..base.private_files import close
from ..base.session_log import read_log
from ..base.whole_files import MADE, note_made, whole_file, whole_folder
from ..base.words import say
from ..plan.key_file import key_content, pours_with_key
from ..plan.open_plan import OpenPlan
from ..plan.pours import Plan, Pour
from ..plan.sealing import fingerprint
from ..plan.since_planning import with_planned_bottles
from ..session.care import care_label
from ..session.session import Session
from .server_files import (
    PLAN,
    SERVER,
    alone_lines,
    bottle_table,
    cautions,
    dose_lines,
    fill_rules,
    open_flight_lines,
    pour_table,
    with_named,
)

SHEETS = Path("sheets")


def write_for_assessors(
    session: Session, plan: OpenPlan, paper: str, *, both_sides: bool = True
) -> Iterator[Path]:
    """Write each assessor's sheet as PDF and XLSX, and one PDF with all of them to print.

    These files know codes and questions only. They take their place together, at the end. In
    the PDF with all, each sheet begins on a leaf of its own if `both_sides` are printed.
    """
    folder = session.folder / SHEETS
    names: list[str] = []
    pages: list[tuple[Sheet, Page]] = []
    with whole_folder(folder) as aside:
        for code, sheet in plan.sheets.items():
            names += [f"{code}.pdf", f"{code}.xlsx"]
            own = [(sheet, page) for page in lay_out(sheet, paper)]
            pages += own
            (aside / names[-2]).write_bytes(pages_pdf(own))
            write_sheet(sheet, aside / names[-1])
        names.append("all-sheets.pdf")
        (aside / names[-1]).write_bytes(pages_pdf(pages, both_sides=both_sides))
    yield from (folder / name for name in names)


def write_for_server(session: Session, plan: OpenPlan, paper: str) -> Iterator[Path]:
    """Write labels for cups and bottles, and the pour list, as PDF.

    Cup labels carry codes only; what names a bottle goes below ``plan/server``.
    """
    settings = session.settings
    session = with_planned_bottles(session, plan)
    language, date = settings.language, settings.date.isoformat()
    pours = pours_with_key(session, plan)
    folder = session.folder / PLAN
    made = [folder / "cup_labels.pdf"]
    warned = {bottle.name: care_label(bottle, language) for bottle in session.bottles}
    # On a cup the warning would tell which it is, unless it is the same on all.
    (alike,) = set(warned.values()) if len(set(warned.values())) == 1 else ("",)
    alone = settings.serving.alone and len(plan.assessors) == 1
    own = settings.serving.own_codes and not alone
    with whole_file(made[-1]) as aside:
        write_labels(
            _cup_labels(pours, alike, per_assessor=own),
            aside,
            date=date,
            paper=paper,
            size=CUP,
            language=language,
            note=_of_session(session, plan),
        )
    yield made[-1]
    bottles = [
        Label(
            big=name,
            above=warned.get(name, ""),
            below=say("plan.on_bottle", language, ml=ml, cups=cups),
        )
        for name, cups, ml, *_ in bottle_table(pours, session, language)[1:]
    ]
    made.append(session.folder / SERVER / "bottle_labels.pdf")
    with whole_file(made[-1]) as aside:
        write_labels(
            bottles,
            aside,
            date=date,
            paper=paper,
            size=BOTTLE,
            language=language,
            note=_of_session(session, plan),
        )
    yield made[-1]
    heading, *rows = pour_table(pours, session.bottles, language)
    starts = [place for place, row in enumerate(rows) if place and row[0] != rows[place - 1][0]]
    alcohol = dose_lines(with_named(pours, session), plan.assessors, session, language)
    log = read_log(session.folder)
    seals = []
    if plan.sealed and log.head:
        marks = {"mark": fingerprint(plan.sealed), "n": len(log.entries),
                 "head": fingerprint(log.head)}  # fmt: skip
        seals = [say("plan.sealed_note", language, number=plan.number, **marks)]
    made.append(session.folder / SERVER / "pour_list.pdf")
    with whole_file(made[-1]) as aside:
        write_table(
            say("plan.heading_pour", language),
            heading,
            rows,
            aside,
            date=date,
            paper=paper,
            notes=[
                *(alone_lines(session, language) or [say("plan.who_cuts", language)]),
                *cautions(session, language),
                *fill_rules(pours, session, language),
                *alcohol,
                *open_flight_lines(session, language),
                *seals,
            ],
            language=language,
            breaks=starts,
        )
    note_made(folder, made[:1])
    note_made(session.folder / SERVER, made[1:])
    for path in (*made[1:], session.folder / SERVER / MADE):
        close(path)
    yield made[-1]


def _of_session(session: Session, plan: OpenPlan) -> str:
    """Say which session and plan a page of labels is of: last week's look alike."""
    settings = session.settings
    told = say("plan.label_page", settings.language, number=plan.number)
    return f"{settings.name} · {settings.date.isoformat()} · {told}"


def as_served(session: Session, plan: OpenPlan) -> Plan:
    """Return a plan as it is served now, with late changes and the key, for the server's tables."""
    notes = key_content(session, plan)["notes"]
    return Plan(
        session=plan.session,
        number=plan.number,
        secret=b"",
        assessors=plan.assessors,
        pours=pours_with_key(session, plan),
        sheets=tuple(plan.own_sheets.values()),
        notes=tuple(Sentence.brought_back(note) for note in notes),
    )


def _cup_labels(pours: tuple[Pour, ...], below: str, *, per_assessor: bool) -> list[Label]:
    """One label a cup, in the order of codes, which tells nothing about what is in the cups."""
    return [
        Label(big=pour.code, above=pour.assessor if per_assessor else "", below=below)
        for pour in sorted(pours, key=lambda pour: (pour.code, pour.assessor))
    ]
