"""The class on one page for the wall: one ring a student, nobody named."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from ...forms.paper.page_parts import Words
from ...forms.paper.typeset import fit
from ..base.whole_files import write_bytes
from ..base.words import say
from .feedback_parts import CHART, LEFT, MIDDLE, REACH, UNIT, Paper, band, chart_heading

if TYPE_CHECKING:
    from ...analysis.teaching.against_expert import Teaching
    from .class_sessions import School


def class_sheet(school: School, result: Teaching, out: Path, paper: str) -> Path:
    """Write the page for the wall, ``class.pdf``; no name and no code stands on it."""
    path = out / "class.pdf"
    write_bytes(path, class_page(school, result).bytes(paper, school.date, "en"))
    return path


def class_page(school: School, result: Teaching) -> Paper:
    """Describe the class page: one dot a student, nobody named."""
    page = Paper()
    page.text(say("feedback.class_title"), 17, bold=True)
    about = say("feedback.class_about", title=school.title, n=len(result.students))
    page.text(about, 8.5, grey=0.35)
    page.y += 1.5
    page.rule()
    page.heading(say("feedback.class_near", n=result.margin, margin=f"{result.margin:g}"))
    _dots(page, school, result)
    page.heading(say("feedback.class_together"))
    for text in _together(school, result):
        page.text("· " + text, 9)
        page.y += 0.4
    if len(result.by_bottle):
        page.heading(say("feedback.faults"))
        ordered = result.by_bottle.sort_values(["sample", "session"], kind="stable")
        for row in ordered.to_dict("records"):
            key = "feedback.class_spiked" if row["truth"] else "feedback.class_clean"
            values = {str(name): value for name, value in row.items()}
            values["truth"] = school.name(str(row["truth"])).lower()
            page.text("· " + say(key, "en", **values), 8.5)
    page.y += 2
    page.rule()
    page.y += 0.5
    page.text(say("feedback.class_foot"), 7, grey=0.35)
    return page


def _dots(page: Paper, school: School, result: Teaching) -> None:
    rows = result.by_attribute.to_dict("records")
    high = min(6.0, 110 / max(len(rows), 1))
    margin = min(result.margin, REACH) * UNIT
    chart_heading(page)
    page.put(say("feedback.class_within"), CHART[1] + 3, 7, grey=0.35)
    top = page.y + 1.2
    bottom = top + high * len(rows)

    page.draw(band(top, bottom, margin))
    for place, row in enumerate(rows):
        y = top + high * (place + 0.5)
        name = str(row["attribute"])
        (label, *_), size = fit(school.name(name), CHART[0] - LEFT - 2, 8.5, lines=1)
        page.words.append(Words(LEFT, y + 1.0, label, size))
        values = sorted(
            float(one.lines.loc[one.lines["attribute"] == name, "bias"].iloc[0])
            for one in result.students.values()
        )
        page.draw(_rings([value for value in values if np.isfinite(value)], y))
        text = say("feedback.class_count", n=row["n_within"], of=row["n_students"])
        page.words.append(Words(CHART[1] + 3, y + 1.0, text, 8))
    page.y = bottom + 0.5
    page.text(say("feedback.class_note"), 7, grey=0.35)


def _rings(values: Iterable[float], y: float) -> Callable[[Any], None]:
    places = [MIDDLE + float(np.clip(value, -REACH, REACH)) * UNIT for value in values]

    def shape(pdf: Any) -> None:
        pdf.set_draw_color(0)
        pdf.set_line_width(0.35)
        for x in places:
            pdf.circle(x=x, y=y, radius=1.05, style="D")

    return shape


def _together(school: School, result: Teaching) -> list[str]:
    said = []
    for row in result.by_attribute.to_dict("records"):
        off = row["bias_low"] > 0 or row["bias_high"] < 0
        if off and abs(row["bias_mean"]) >= result.margin / 2:
            way = "above" if row["bias_mean"] > 0 else "below"
            name = school.name(str(row["attribute"]))
            points = f"{abs(row['bias_mean']):.1f}"
            said.append(say(f"feedback.class_{way}", name=name, points=points))
    words = result.by_word.sort_values("missed_by", ascending=False, kind="stable")
    missed = [
        school.name(str(row["word"])).lower()
        for row in words.to_dict("records")
        if row["missed_by"] >= len(result.students) / 2
    ][:5]
    if missed:
        said.append(say("feedback.class_missed", names=", ".join(missed)))
    return said or [say("feedback.class_fine")]
