"""Feedback on paper: one page for each student, encouraging, concrete and true.

What is said stands in `kikichoko.analysis.teaching.student_result`; here it is laid out: what
went well, what to work on with the reference to taste, the chart, then counts and limits.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from ...analysis.core.wording import fixed, limit
from ...forms.paper.page_parts import Words
from ...forms.paper.typeset import fit
from ..base.whole_files import write_bytes
from ..base.words import say
from ..session.reference_solutions import serving
from .feedback_parts import (
    BESIDE,
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
    scale,
)
from .free_marks import own_words_of, own_words_said
from .spoken import all_spoken, spoken

if TYPE_CHECKING:
    from ...analysis.teaching.class_result import Teaching
    from ...analysis.teaching.student_result import Student
    from ...analysis.teaching.without_expert import Taster
    from .class_sessions import School


TEXT = 9.5
"""Size of what a page says, in pt; the caution about alcohol is no smaller."""
SQUEEZES = (1.0, 0.94, 0.88, 0.82, 0.76)
SPREAD = ("reversed", "guessing")
"""What is told of the whole card in the row of each attribute that alone is not yet to be told."""
OF_ORDER = {"follows", "reversed", "guessing", "alike", "parted", "same", "open"}
"""What is told of the order of the bottles; the rest is of level, width and scatter."""
CODE = re.compile(r"[A-Za-z]{1,3}[-_ ]?[0-9]{1,4}")
"""What may stand in a file name; anything else may be a person's name, and is numbered."""


def file_names(students: Sequence[str], kind: str = "feedback") -> dict[str, str]:
    """Return the file of each student: by code, or numbered where codes may be names."""
    ordered = sorted(students)
    coded = all(CODE.fullmatch(code) for code in ordered)
    return {
        code: f"{kind}-{code if coded else f'{place:02d}'}.pdf"
        for place, code in enumerate(ordered, start=1)
    }


def student_sheets(school: School, result: Teaching, out: Path, paper: str) -> list[Path]:
    """Write one page for each student, each in that student's language."""
    written = []
    for code, name in file_names(list(result.students)).items():
        path = out / name
        page = student_page(school, result.students[code])
        write_bytes(path, page.bytes(paper, school.date, school.language(code)))
        written.append(path)
    return written


def student_page(school: School, one: Student) -> Paper:
    """Describe the page of one student, in smaller letters if it has much to say."""
    return fitted(lambda squeeze: _page(school, one, squeeze))


def fitted(made: Callable[[float], Paper]) -> Paper:
    """Return the page in the largest letters that fit, or in the smallest."""
    for squeeze in SQUEEZES:
        page = made(squeeze)
        if page.y <= BOTTOM:
            break
    return page


def opened(school: School, one: Student | Taster, squeeze: float, language: str) -> Paper:
    """Begin a person's page: whose it is, from which sessions, what it rests on."""
    page = Paper(squeeze)
    page.text(say("feedback.title", language, student=one.student), 17, bold=True)
    sessions = say("feedback.between", language).join(
        school.session_name(session, language) for session in one.sessions
    )
    n = len(one.sessions)
    title = school.title_of(one.sessions, language)
    about = say("feedback.about", language, title=title, sessions=sessions, n=n)
    page.text(about, 8.5, grey=0.35)
    for text in all_spoken(school, one.about(), language):
        page.text(text, 9)
    own = school.brewed.get(one.student, ())
    if own:
        page.text(say("feedback.brewed", language, bottles=list(own), n=len(own)), 9)
    if school.waiting.get(one.student):
        page.text(say("feedback.waiting", language, n=school.waiting[one.student]), 9)
    page.y += 1.5
    page.rule()
    return page


def _page(school: School, one: Student, squeeze: float) -> Paper:
    language = school.language(one.student)
    page = opened(school, one, squeeze, language)
    if school.practised.get(one.student):
        page.heading(say("feedback.practised", language))
        points(page, all_spoken(school, school.practised[one.student], language))
    page.heading(say("feedback.well", language))
    points(page, all_spoken(school, one.went_well(), language))
    page.heading(say("feedback.practise", language))
    points(page, _practise(school, one, language), numbered=len(one.to_work_on()) > 1)
    _chart(page, school, one, language)
    _course(page, school, one, language)
    _faults(page, school, one, language)
    _words_found(page, school, one, language)
    _own_words(page, school, one, language)
    unsaid = all_spoken(school, one.cannot_say(), language)
    if unsaid:
        page.heading(say("feedback.unsaid", language))
        points(page, unsaid, size=8.5)
    page.y = max(page.y + 2, 0)
    page.rule()
    page.y += 0.5
    foot(page, "feedback.foot", language)
    return page


def foot(page: Paper, key: str, language: str, caution: str = "feedback.caution") -> None:
    """Write what the page is in small type, and the caution about alcohol as large as its text."""
    page.text(say(key, language), 7, grey=0.35)
    page.y += 0.5
    page.text(say(caution, language), TEXT)


def points(
    page: Paper, texts: Sequence[str], *, size: float = TEXT, numbered: bool = False
) -> None:
    """Write one text below the other, each behind a dot or its number."""
    for place, text in enumerate(texts, start=1):
        page.text((f"{place}. " if numbered else "· ") + text, size)
        page.y += 0.5


def _practise(school: School, one: Student, language: str) -> list[str]:
    """Write what to work on, each with the solution that shows it, where there is one."""
    said = []
    for attribute, sentence in one.to_work_on():
        text = spoken(school, sentence, language)
        known = serving(attribute)
        if known:
            best = known[0]
            text += say("feedback.gap", language) + say(
                "feedback.reference",
                language,
                amount=f"{best.amount:g} {best.unit}",
                compound=best.said("compound", language),
                base=say(f"references.base_{best.base}", language),
            )
        said.append(text)
    return said


def _chart(page: Paper, school: School, one: Student, language: str) -> None:
    rows = [row for row in one.lines.to_dict("records") if np.isfinite(row["bias"])]
    if not rows:
        return
    page.heading(say("feedback.near", language))
    _distance(page, one, language)
    high = min(4.8, 76 / len(rows)) * page.squeeze
    first = {name for name, _ in one.to_work_on()}
    chart_heading(page, language)
    states = {_state(one, row) for row in rows}
    page.put(say(f"feedback.{'order' if states <= OF_ORDER else 'order_or'}", language), BESIDE, 7,
             grey=0.35)  # fmt: skip
    top = page.y + 1.2
    bottom = top + high * len(rows)
    page.draw(band(top, bottom, min(one.margin, REACH) * UNIT))
    for place, row in enumerate(rows):
        y = top + high * (place + 0.5)
        name = str(row["attribute"])
        (label, *_), size = fit(school.name(name, language), CHART[0] - LEFT - 2, 8.5, lines=1)
        page.words.append(Words(LEFT, y + 1.0, label, size, name in first))
        if row["state"] != "parted":
            page.draw(_mark(row, y))
        state = say(f"feedback.state_{_state(one, row)}", language)
        (state, *_), size = fit(state, RIGHT - BESIDE, 8, lines=1)
        page.words.append(Words(BESIDE, y + 1.0, state, size))
    page.y = bottom
    scale(page, language)
    levels = _levels(school, one, rows, language)
    if levels:
        page.text(levels, 8.5)
        page.y += 0.6
    note = say("feedback.chart_note", language, margin=f"{one.margin:g}")
    if first & {str(row["attribute"]) for row in rows}:
        note += say("feedback.chart_bold", language)
    if any(_beyond(row) for row in rows if row["state"] != "parted"):
        note += say("feedback.chart_edge", language)
    if one.distance["rmse"] is not None:
        note += say("feedback.gap", language) + say("feedback.distance_note", language)
    page.text(note + _card_noted(one, language), 7, grey=0.35)


def _levels(school: School, one: Student, rows: Sequence[Mapping[Any, Any]], language: str) -> str:
    """Say where the whole line lies to one side of the expert, and nothing else says so."""
    levels = one.findings[one.findings["finding"].isin(["high", "low"])]
    told = set(levels["attribute"])
    if "" in told:
        return ""
    said = []
    for row in rows:
        low, high = float(row["bias_low"]), float(row["bias_high"])
        name = str(row["attribute"])
        if row["state"] == "parted" or name in told or not (low > 0 or high < 0):
            continue
        ends = sorted((abs(low), abs(high)))
        said.append(
            say(f"feedback.level_{'high' if low > 0 else 'low'}", language,
                attribute=school.name(name, language).lower(),
                low=limit(ends[0]), high=limit(ends[1]))
        )  # fmt: skip
    if not said:
        return ""
    return say("feedback.levels", language, names=say("feedback.between", language).join(said))


def _card_noted(one: Student, language: str) -> str:
    """Say below the chart what is found over the whole card, where single attributes stay open."""
    card = one.findings.loc[one.findings["attribute"] == "", "finding"].tolist()
    kinds = [kind for kind in card if kind not in SPREAD]
    if not kinds or "open" not in one.lines["state"].tolist():
        return ""
    kinds += ["follows"] if one.follows_whole else []
    states = [say(f"feedback.state_{kind}", language) for kind in kinds]
    names = say("feedback.between", language).join(states)
    return say("feedback.gap", language) + say("feedback.chart_card", language, names=names)


def _state(one: Student, row: Mapping[Any, Any]) -> str:
    """Say of an attribute what the whole card says, where it alone is not yet to be told."""
    whole = one.findings.loc[one.findings["attribute"] == "", "finding"].tolist()
    told = [kind for kind in whole if kind in SPREAD]
    return str(told[0] if told and row["state"] == "open" else row["state"])


def _distance(page: Paper, one: Student, language: str) -> None:
    far = one.distance
    if far["rmse"] is None:
        return
    known = far["low"] is not None
    key = "feedback.distance" if known else "feedback.distance_alone"
    ends = {name: far[name] for name in ("rmse", "low", "high")}
    values = {name: fixed(value) for name, value in ends.items() if value is not None}
    text = say(key, language, **values)
    if far["ceiling"] is not None:
        text += say("feedback.gap", language)
        text += say("feedback.ceiling", language, ceiling=fixed(far["ceiling"]))
    page.text(text, 8.5)
    page.y += 0.6


def _beyond(row: Mapping[Any, Any]) -> bool:
    """Tell whether a difference or an end of its line lies beyond the edge of the chart."""
    ends = [float(row[name]) for name in ("bias", "bias_low", "bias_high")]
    return any(np.isfinite(end) and abs(end) > REACH for end in ends)


def _mark(row: Mapping[Any, Any], y: float) -> Callable[[Any], None]:
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


def _course(page: Paper, school: School, one: Student, language: str) -> None:
    """Draw the distance session by session, from three on; say whether a change is shown."""
    texts = all_spoken(school, one.course_said(), language)
    if not texts:
        return
    page.heading(say("feedback.progress", language))
    rows = one.progress.to_dict("records")
    top = max(float(np.nanmax([row["high"], row["rmse"]])) for row in rows)
    left, right = LEFT + 60, LEFT + 126
    for row in rows:
        page.y += 4.2 * page.squeeze
        page.put(school.session_name(str(row["session"]), language), LEFT, 8)
        ends = [float(row[name]) / top * (right - left) for name in ("low", "rmse", "high")]
        page.draw(_span(left, ends, page.y - 1.0))
        page.put(say("feedback.points", language, points=fixed(row["rmse"])), right + 4, 8)
    page.y += 0.6
    if one.courses:
        texts = texts[1:]  # the first stands at the top already
    page.y += 3.6 * page.squeeze
    page.put("0", left, 7, align="c", grey=0.35)
    page.put(fixed(top), right, 7, align="c", grey=0.35)
    page.put(say("feedback.progress_axis", language), right + 4, 7, grey=0.35)
    page.y += 1.4
    for text in texts:
        page.text(text, 8.5)


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


def _faults(page: Paper, school: School, one: Student, language: str) -> None:
    texts = all_spoken(school, one.plainly(), language)
    if not texts:
        return
    page.heading(say("feedback.counts", language))
    for text in texts:
        page.text("· " + text, 8.5)


def _words_found(page: Paper, school: School, one: Student, language: str) -> None:
    """List the expert's words with counts; a list that is empty is left out."""
    if one.words is None:
        return
    used = one.words.to_dict("records")

    def name(row: Mapping[Any, Any]) -> str:
        return school.name(str(row["word"]), language).lower()

    shares = [
        say("feedback.word_share", language, word=name(row), n=row["found"],
            of=row["found"] + row["missed"])
        for row in used
        if row["found"]
    ]  # fmt: skip
    missed = [name(row) for row in used if row["missed"] and not row["found"]]
    new = [name(row) for row in used if row["invented"]]
    lists = {"found": shares, "missed": missed[:9], "invented": new[:9]}
    if not any(lists.values()):
        return
    page.heading(say("feedback.words", language))
    between = say("feedback.between", language)
    for key, names in lists.items():
        if names:
            page.text(say(f"feedback.words_{key}", language, names=between.join(names)), 8.5)


def _own_words(page: Paper, school: School, one: Student, language: str) -> None:
    """Set the student's own words beside the expert's, near misses as near."""
    own = own_words_of(school, one.student)
    if own is None:
        return
    page.heading(say("feedback.own_words", language))
    for text in own_words_said(school, own, language):
        page.text(text, 8.5)
