"""The class on one page for the wall: one ring a student, nobody named."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from ...analysis.teaching.class_summary import SMALLEST
from ...forms.paper.page_parts import Words
from ...forms.paper.typeset import fit
from ..base.whole_files import write_bytes
from ..base.words import say
from .feedback_parts import (
    BESIDE,
    CHART,
    LEFT,
    MIDDLE,
    REACH,
    UNIT,
    Paper,
    band,
    chart_heading,
    scale,
)
from .spoken import all_spoken
from .student_pages import SPREAD, foot

GROUND = ("teaching.experts_parted", "teaching.class_alike", "teaching.class_alike_all",
          "teaching.class_slip")  # fmt: skip
"""What of the experts concerns the class; how near they are to each other does not."""
FEWER = 0.5
"""It is said why an attribute is not among what to practise, where the order of fewer is shown."""

if TYPE_CHECKING:
    from ...analysis.teaching.class_result import Teaching
    from .class_sessions import School


def class_sheets(school: School, result: Teaching, out: Path, paper: str) -> list[Path]:
    """Write the page for the wall, ``class.pdf``; no name and no code stands on it.

    In the language of most students, and once more in each other one (``class-ja.pdf``). No
    page for fewer than `SMALLEST` students: each could be worked out from it.
    """
    if len(result.students) < SMALLEST:
        return []
    read = Counter(school.language(code) for code in sorted(result.students))
    written = []
    for place, (language, _) in enumerate(read.most_common()):
        path = out / (f"class-{language}.pdf" if place else "class.pdf")
        write_bytes(path, class_page(school, result, language).bytes(paper, school.date, language))
        written.append(path)
    return written


def class_page(school: School, result: Teaching, language: str) -> Paper:
    """Describe the class page: one dot a student, nobody named."""
    page = Paper()
    page.text(say("feedback.class_title", language), 17, bold=True)
    sessions = [school.session_name(one, language) for one in result.sessions]
    about = say(
        "feedback.class_about", language, title=school.title_of(result.sessions, language),
        m=len(sessions), sessions=say("feedback.between", language).join(sessions),
        n=len(result.students),
    )  # fmt: skip
    page.text(about, 8.5, grey=0.35)
    if school.waiting:
        n = sum(school.waiting.values())
        page.text(say("feedback.class_waiting", language, n=n), 9)
    page.y += 1.5
    page.rule()
    if len(result.by_attribute):
        margin = f"{result.margin:g}"
        page.heading(say("feedback.class_near", language, n=result.margin, margin=margin))
        _dots(page, school, result, language)
    said = [text for text in result.about_experts() if text.key in GROUND]
    if said:
        page.heading(say("feedback.class_ground", language))
        for text in all_spoken(school, said, language):
            page.text("· " + text, 9)
    page.heading(say("feedback.class_together", language))
    shared = all_spoken(school, result.as_a_class(), language)
    shared = shared or [say("feedback.class_fine", language)]
    for line in [*shared, *_left_out(school, result, language)]:
        page.text("· " + line, 9)
        page.y += 0.4
    controls = all_spoken(school, result.as_a_class_on_controls(), language)
    if controls:
        page.heading(say("feedback.class_controls", language))
        for line in controls:
            page.text("· " + line, 9)
            page.y += 0.4
    page.y += 2
    page.rule()
    page.y += 0.5
    foot(page, "feedback.class_foot", language, "feedback.class_caution")
    return page


def _others_open(result: Teaching, names: Iterable[str] = ()) -> bool:
    """Tell whether whoever is not shown to follow is open: nobody's order is shown otherwise."""
    kept = set(names) or set(result.by_attribute["attribute"])
    for one in result.students.values():
        whole = set(one.findings.loc[one.findings["attribute"] == "", "finding"])
        states = set(one.lines.loc[one.lines["attribute"].isin(kept), "state"])
        if whole & set(SPREAD) or states & {*SPREAD, "same", "alike", "parted"}:
            return False
    return True


def left_out(result: Teaching) -> list[str]:
    """Return attributes of which the order of fewer than `FEWER` is shown, and nothing shared."""
    rows = result.by_attribute
    told = rows["attribute"].isin([*result.parted, *result.alike]) | rows["shown"]
    low = rows["n_follow"] < FEWER * rows["n_students"]
    return [str(name) for name in rows.loc[low & ~told, "attribute"]]


def _left_out(school: School, result: Teaching, language: str) -> list[str]:
    """Say why attributes that few are shown to follow on do not stand among what to practise."""
    names = left_out(result)
    if not names:
        return []
    said = say("feedback.between", language).join(
        school.name(name, language).lower() for name in names
    )
    key = "class_left_out" if _others_open(result, names) else "class_left_out_mixed"
    return [say(f"feedback.{key}", language, names=said)]


def _dots(page: Paper, school: School, result: Teaching, language: str) -> None:
    rows = result.by_attribute.to_dict("records")
    high = min(6.0, 110 / max(len(rows), 1))
    margin = min(result.margin, REACH) * UNIT
    chart_heading(page, language)
    page.put(say("feedback.class_within", language), BESIDE, 7, grey=0.35)
    top = page.y + 1.2
    bottom = top + high * len(rows)

    page.draw(band(top, bottom, margin))
    for place, row in enumerate(rows):
        y = top + high * (place + 0.5)
        name = str(row["attribute"])
        (label, *_), size = fit(school.name(name, language), CHART[0] - LEFT - 2, 8.5, lines=1)
        page.words.append(Words(LEFT, y + 1.0, label, size))
        values = sorted(
            float(one.lines.loc[one.lines["attribute"] == name, "bias"].iloc[0])
            for one in result.students.values()
        )
        page.draw(_rings([value for value in values if np.isfinite(value)], y))
        text = say("feedback.class_count", language, n=row["n_follow"], of=row["n_students"])
        page.words.append(Words(BESIDE, y + 1.0, text, 8))
    page.y = bottom
    scale(page, language)
    note = say("feedback.class_note", language) + say("feedback.gap", language)
    note += say(f"feedback.class_order{'' if _others_open(result) else '_mixed'}", language)
    if any(row["n_students"] < len(result.students) for row in rows):
        note += say("feedback.gap", language) + say("feedback.class_open", language)
    page.text(note, 7, grey=0.35)


def _rings(values: Iterable[float], y: float) -> Callable[[Any], None]:
    places = [MIDDLE + float(np.clip(value, -REACH, REACH)) * UNIT for value in values]

    def shape(pdf: Any) -> None:
        pdf.set_draw_color(0)
        pdf.set_line_width(0.35)
        for x in places:
            pdf.circle(x=x, y=y, radius=1.05, style="D")

    return shape
