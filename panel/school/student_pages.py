"""Feedback on paper: one page for each student, encouraging and concrete."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from ...analysis.core.wording import percent
from ...forms.paper.page_parts import Words
from ...forms.paper.typeset import fit
from ..base.whole_files import write_bytes
from ..base.words import say
from ..session.reference_solutions import serving
from .feedback_parts import (
    BOTTOM,
    CHART,
    LEFT,
    MIDDLE,
    REACH,
    RIGHT,
    UNIT,
    Paper,
    band,
    chart_heading,
)

if TYPE_CHECKING:
    from ...analysis.teaching.against_expert import Teaching
    from ...analysis.teaching.student_result import Student
    from .class_sessions import School


SQUEEZES = (1.0, 0.94, 0.88, 0.82, 0.76)


def student_sheets(school: School, result: Teaching, out: Path, paper: str) -> list[Path]:
    """Write one page for each student: ``feedback-CODE.pdf``."""
    written = []
    for code, one in sorted(result.students.items()):
        path = out / f"feedback-{code}.pdf"
        write_bytes(path, student_page(school, one).bytes(paper, school.date, "en"))
        written.append(path)
    return written


def student_page(school: School, one: Student) -> Paper:
    """Describe the page of one student, in smaller letters if it has much to say."""
    page = _page(school, one, SQUEEZES[0])
    for squeeze in SQUEEZES[1:]:
        if page.y <= BOTTOM:
            break
        page = _page(school, one, squeeze)
    return page


def _page(school: School, one: Student, squeeze: float) -> Paper:
    page = Paper(squeeze)
    page.text(say("feedback.title", student=one.student), 17, bold=True)
    sessions = ", ".join(one.progress["session"].astype(str))
    page.text(say("feedback.about", title=school.title, sessions=sessions), 8.5, grey=0.35)
    page.y += 1.5
    page.rule()
    page.heading(say("feedback.near"))
    _distance(page, one)
    _chart(page, school, one)
    _two_columns(page, school, one)
    _words_found(page, school, one)
    _faults(page, school, one)
    _progress(page, one)
    page.y = max(page.y + 2, 0)
    page.rule()
    page.y += 0.5
    page.text(say("feedback.foot"), 7, grey=0.35)
    return page


def _distance(page: Paper, one: Student) -> None:
    far = one.distance
    if far["rmse"] is None:
        page.text(say("feedback.nothing"))
        return
    known = far["low"] is not None
    key = "feedback.distance" if known else "feedback.distance_alone"
    values = {name: f"{far[name]:.1f}" for name in ("rmse", "low", "high") if far[name] is not None}
    text = say(key, "en", **values)
    if far["ceiling"] is not None:
        text += " " + say("feedback.ceiling", "en", ceiling=f"{far['ceiling']:.1f}")
    page.text(text, 9)
    page.y += 1.2


def _chart(page: Paper, school: School, one: Student) -> None:
    rows = [row for row in one.lines.to_dict("records") if np.isfinite(row["bias"])]
    high = min(5.2, 88 / max(len(rows), 1))
    reasons = dict(one.to_practise(most=99))
    first = {name for name, _ in one.to_practise()}
    near = set(one.near())
    chart_heading(page)
    top = page.y + 1.2
    bottom = top + high * len(rows)
    margin = min(one.margin, REACH) * UNIT

    page.draw(band(top, bottom, margin))
    for place, row in enumerate(rows):
        y = top + high * (place + 0.5)
        name = str(row["attribute"])
        (label, *_), size = fit(school.name(name), CHART[0] - LEFT - 2, 8.5, lines=1)
        page.words.append(Words(LEFT, y + 1.0, label, size))
        page.draw(_mark(row, y))
        state = f"feedback.state_{reasons.get(name) or ('near' if name in near else 'open')}"
        page.words.append(Words(CHART[1] + 3, y + 1.0, say(state), 8, name in first))
    page.y = bottom + 0.5
    page.text(say("feedback.chart_note"), 7, grey=0.35)


def _mark(row: dict[Any, Any], y: float) -> Callable[[Any], None]:
    low, high = (np.clip(row[f"bias_{end}"], -REACH, REACH) * UNIT for end in ("low", "high"))
    at = float(np.clip(row["bias"], -REACH, REACH) * UNIT)

    def shape(pdf: Any) -> None:
        pdf.set_draw_color(0)
        pdf.set_fill_color(0)
        pdf.set_line_width(0.45)
        if np.isfinite(low) and np.isfinite(high):
            pdf.line(MIDDLE + float(low), y, MIDDLE + float(high), y)
        pdf.circle(x=MIDDLE + at, y=y, radius=1.05, style="F")

    return shape


def _two_columns(page: Paper, school: School, one: Student) -> None:
    page.y += 0.5
    start = page.y
    half = (RIGHT - LEFT) / 2
    page.heading(say("feedback.well"))
    for text in _well(school, one):
        page.text("· " + text, 9, room=half - 6)
        page.y += 0.5
    end = page.y
    page.y = start
    page.y += 3.2
    page.text(say("feedback.practise"), 11, x=LEFT + half, bold=True)
    page.y += 0.8
    for text in _practise(school, one):
        page.text("· " + text, 9, x=LEFT + half)
        page.y += 0.5
    page.y = max(page.y, end)


def _well(school: School, one: Student) -> list[str]:
    said = []
    near = [school.name(name).lower() for name in one.near()]
    if near:
        said.append(say("feedback.well_near", names=", ".join(near[:6])))
    if one.change is not None and one.change["high"] < 1:
        said.append(say("feedback.well_nearer"))
    if one.repeat is not None and one.repeat["p"] <= 1 - one.level:
        said.append(say("feedback.well_repeat"))
    found = one.detection
    if found is not None and found["named_right"]:
        said.append(say("feedback.well_fault", n=found["named_right"], of=found["n_spiked"]))
    if found is not None and found["n_clean"] and not found["false_alarms"]:
        said.append(say("feedback.well_clean"))
    agreed = one.word_agreement
    if agreed is not None and agreed["found"]:
        said.append(say("feedback.well_words", n=agreed["found"]))
    return said[:5] or [say("feedback.well_start")]


def _practise(school: School, one: Student) -> list[str]:
    said = []
    for name, reason in one.to_practise():
        text = say(f"feedback.do_{reason}", name=school.name(name))
        known = serving(name)
        if known:
            best = known[0]
            text += " " + say(
                "feedback.reference",
                amount=f"{best.amount:g} {best.unit}",
                compound=best.compound,
                base=say(f"references.base_{best.base}"),
            )
        said.append(text)
    if one.faults is not None and len(said) < 4:
        missed = one.faults[one.faults["outcome"].isin(["missed", "wrong"])]
        faults = list(dict.fromkeys(missed["truth"]))[: 4 - len(said)]
        said += [
            say("feedback.do_fault", name=_first_up(school.name(str(fault)))) for fault in faults
        ]
    return said or [say("feedback.do_more")]


def _first_up(text: str) -> str:
    return text[:1].upper() + text[1:]


def _words_found(page: Paper, school: School, one: Student) -> None:
    if one.words is None or one.word_agreement is None:
        return
    page.heading(say("feedback.words"))
    used = one.words.to_dict("records")
    found = [
        say(
            "feedback.word_share",
            word=school.name(str(row["word"])).lower(),
            n=row["found"],
            of=row["found"] + row["missed"],
        )
        for row in used
        if row["found"]
    ]
    missed = [row["word"] for row in used if row["missed"] and not row["found"]]
    new = [row["word"] for row in used if row["invented"]]
    page.text(say("feedback.words_found", names=", ".join(found) or "–"), 9)
    for key, words in (("missed", missed), ("invented", new)):
        names = ", ".join(school.name(str(word)).lower() for word in words[:9])
        page.text(say(f"feedback.words_{key}", names=names or "–"), 9)
    kappa = one.word_agreement["kappa"]
    if kappa is not None:
        low, high = one.word_agreement["kappa_low"], one.word_agreement["kappa_high"]
        key = "feedback.kappa" if low is not None else "feedback.kappa_alone"
        page.text(
            say(key, kappa=f"{kappa:.2f}", low=f"{low or 0:.2f}", high=f"{high or 0:.2f}"),
            7.5, grey=0.35,
        )  # fmt: skip


def _faults(page: Paper, school: School, one: Student) -> None:
    if one.faults is None or not len(one.faults):
        return
    page.heading(say("feedback.faults"))
    spiked = one.faults[one.faults["truth"] != ""]
    lines = []
    for (sample, truth), mine in spiked.groupby(["sample", "truth"], sort=True):
        named = [school.name(str(x)).lower() for names in mine["named"] for x in names]
        lines.append(
            say(
                "feedback.fault_line",
                sample=sample,
                truth=school.name(str(truth)).lower(),
                right=int((mine["outcome"] == "right").sum()),
                n=len(mine),
                named=", ".join(dict.fromkeys(named)) or say("feedback.no_fault"),
            )
        )
    for line in lines:
        page.text("· " + line, 9)
    if one.detection is not None:
        found = one.detection
        high = found["d_prime_high"]
        page.text(
            say(
                "feedback.detection",
                hits=found["hits"],
                n=found["n_spiked"],
                alarms=found["false_alarms"],
                clean=found["n_clean"],
                low=f"{found['d_prime_low']:.1f}",
                high=f"{high:.1f}" if np.isfinite(high) else say("feedback.no_limit"),
            ),
            8, grey=0.25,
        )  # fmt: skip


def _progress(page: Paper, one: Student) -> None:
    if len(one.progress) < 2:
        return
    page.heading(say("feedback.progress"))
    rows = one.progress.to_dict("records")
    top = max(float(np.nanmax([row["high"], row["rmse"]])) for row in rows)
    left, right = LEFT + 62, LEFT + 130
    for row in rows:
        page.y += 4.6
        page.put(str(row["session"]), LEFT, 8)
        y = page.y - 1.0
        ends = [float(row[name]) / top * (right - left) for name in ("low", "rmse", "high")]
        page.draw(_span(left, ends, y))
        text = say("feedback.points", points=f"{row['rmse']:.1f}")
        page.put(text, right + 4, 8)
    if one.change is not None:
        key = (
            "nearer" if one.change["high"] < 1 else ("farther" if one.change["low"] > 1 else "open")
        )
        ends_ = {name: percent(one.change[name]) for name in ("ratio", "low", "high")}
        page.y += 0.6
        page.text(say(f"feedback.change_{key}", "en", **ends_), 8.5)


def _span(left: float, ends: Sequence[float], y: float) -> Callable[[Any], None]:
    low, middle, high = ends

    def shape(pdf: Any) -> None:
        pdf.set_draw_color(0)
        pdf.set_fill_color(0)
        pdf.set_line_width(0.45)
        if np.isfinite(low) and np.isfinite(high):
            pdf.line(left + low, y, left + high, y)
        pdf.circle(x=left + middle, y=y, radius=1.05, style="F")

    return shape
