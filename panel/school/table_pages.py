"""Pages for a class without an expert: each beside the others, and what few cells there are."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from ..base.whole_files import write_bytes
from ..base.words import say
from .spoken import all_spoken, spoken
from .student_pages import file_names, fitted, foot, opened, points

if TYPE_CHECKING:
    from ...analysis.teaching.without_expert import BesideTable, Taster
    from .class_sessions import School
    from .feedback_parts import Paper

CELLS = 60
"""Cells that are shown back at most on a page."""


def table_sheets(school: School, result: BesideTable, out: Path, paper: str) -> list[Path]:
    """Write one page for each taster, each in that taster's language."""
    written = []
    for code, name in file_names(list(result.students)).items():
        page = taster_page(school, result.students[code])
        path = out / name
        write_bytes(path, page.bytes(paper, school.date, school.language(code)))
        written.append(path)
    return written


def taster_page(school: School, one: Taster) -> Paper:
    """Describe the page of one taster, in smaller letters if it has much to say."""
    return fitted(lambda squeeze: _page(school, one, squeeze))


def _page(school: School, one: Taster, squeeze: float) -> Paper:
    language = school.language(one.student)
    page = opened(school, one, squeeze, language)
    _part(page, say("feedback.well", language), all_spoken(school, one.went_well(), language))
    work = [spoken(school, text, language) for _, text in one.to_work_on()]
    _part(page, say("feedback.practise", language), work)
    unsaid = all_spoken(school, one.cannot_say(), language)
    _part(page, say("feedback.table_cups", language), unsaid)
    if one.few:
        rows = one.written.head(CELLS).to_dict("records")
        between = say("feedback.gap", language)
        cells = [
            between.join([school.session_name(str(row["session"]), language), str(row["sample"]),
                          school.name(str(row["attribute"]), language), f"{row['score']:g}"])
            for row in rows
        ]  # fmt: skip
        _part(page, say("feedback.table_written", language), cells)
    page.y += 2
    page.rule()
    page.y += 0.5
    foot(page, "feedback.table_foot", language)
    return page


def _part(page: Paper, head: str, texts: Sequence[str]) -> None:
    if not texts:
        return
    page.heading(head)
    points(page, texts)
