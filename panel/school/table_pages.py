"""Pages for a class without an expert: each beside the others, and what few cells there are."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from ..base.whole_files import write_bytes
from ..base.words import say
from .feedback_parts import BOTTOM, Paper
from .spoken import all_spoken, spoken
from .student_pages import SQUEEZES, file_names

if TYPE_CHECKING:
    from ...analysis.teaching.without_expert import BesideTable, Taster
    from .class_sessions import School

CELLS = 60
"""Cells that are shown back at most on a page."""


def table_sheets(school: School, result: BesideTable, out: Path, paper: str) -> list[Path]:
    """Write one page for each taster, each in that taster's language."""
    written = []
    for code, name in file_names(list(result.students)).items():
        page = _fitted(school, result.students[code])
        path = out / name
        write_bytes(path, page.bytes(paper, school.date, school.language(code)))
        written.append(path)
    return written


def _fitted(school: School, one: Taster) -> Paper:
    for squeeze in SQUEEZES:
        page = _page(school, one, squeeze)
        if page.y <= BOTTOM:
            break
    return page


def _page(school: School, one: Taster, squeeze: float) -> Paper:
    page = Paper(squeeze)
    language = school.language(one.student)
    page.text(say("feedback.title", language, student=one.student), 17, bold=True)
    sessions = say("feedback.between", language).join(one.sessions)
    n = len(one.sessions)
    about = say("feedback.about", language, title=school.title, sessions=sessions, n=n)
    page.text(about, 8.5, grey=0.35)
    for text in all_spoken(school, one.about(), language):
        page.text(text, 9)
    page.y += 1.5
    page.rule()
    _part(page, say("feedback.well", language), all_spoken(school, one.went_well(), language))
    work = [spoken(school, text, language) for _, text in one.to_work_on()]
    _part(page, say("feedback.practise", language), work)
    unsaid = all_spoken(school, one.cannot_say(), language)
    _part(page, say("feedback.table_cups", language), unsaid)
    if one.few:
        rows = one.written.head(CELLS).to_dict("records")
        between = say("feedback.gap", language)
        cells = [
            between.join([str(row["session"]), str(row["sample"]),
                          school.name(str(row["attribute"]), language), f"{row['score']:g}"])
            for row in rows
        ]  # fmt: skip
        _part(page, say("feedback.table_written", language), cells)
    page.y += 2
    page.rule()
    page.y += 0.5
    page.text(say("feedback.table_foot", language), 7, grey=0.35)
    return page


def _part(page: Paper, head: str, texts: Sequence[str]) -> None:
    if not texts:
        return
    page.heading(head)
    for text in texts:
        page.text("· " + text, 9.5)
        page.y += 0.5
