"""How small a page is written, and how few students have none for the wall: both sides."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace

import pandas as pd
import pytest
from kikichoko.panel.school import class_pages, student_pages
from kikichoko.panel.school.class_sessions import Known


@pytest.mark.parametrize(("over", "squeezes"), [(0.0, 1), (0.1, 2)])
def test_a_page_is_written_smaller_where_it_runs_off_the_end(
    monkeypatch: pytest.MonkeyPatch, over: float, squeezes: int
):
    tried = []

    def page(_school: object, _one: object, squeeze: float) -> SimpleNamespace:
        tried.append(squeeze)
        return SimpleNamespace(y=student_pages.BOTTOM + (over if len(tried) == 1 else 0.0))

    monkeypatch.setattr(student_pages, "_page", page)
    student_pages.student_page(None, None)
    assert len(tried) == squeezes


@pytest.mark.parametrize(("students", "made"), [(4, False), (5, True)])
def test_a_page_for_the_wall_takes_five_students(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, students: int, made: bool
):
    page = SimpleNamespace(bytes=lambda *_: b"%PDF")
    monkeypatch.setattr(class_pages, "class_page", lambda *_: page)
    found = SimpleNamespace(students=[f"S{number}" for number in range(students)])
    school = SimpleNamespace(date=None, language=lambda who: "ja" if who == "S4" else "en")
    paths = class_pages.class_sheets(school, found, tmp_path, "A4")
    assert [path.name for path in paths] == (["class.pdf", "class-ja.pdf"] if made else [])


@pytest.mark.parametrize(("follow", "left"), [(6, ["bitterness"]), (7, [])])
def test_why_an_attribute_is_not_to_be_practised_is_said_below_half(follow: int, left: list[str]):
    rows = pd.DataFrame(
        [("bitterness", follow, 14, False), ("acidity", 2, 14, True), ("umami", 0, 14, False)],
        columns=["attribute", "n_follow", "n_students", "shown"],
    )  # acidity stands there with its shift, nobody is judged on umami
    found = SimpleNamespace(by_attribute=rows, parted=["umami"], alike=[])
    assert class_pages.left_out(found) == left


@pytest.mark.parametrize(
    ("state", "card", "is_open"),
    [("open", "", True), ("follows", "", True), ("reversed", "", False),
     ("open", "guessing", False)],
)  # fmt: skip
def test_others_have_too_few_cups_only_where_no_order_is_shown_otherwise(
    state: str, card: str, is_open: bool
):
    one = SimpleNamespace(
        lines=pd.DataFrame({"attribute": ["acidity"], "state": [state]}),
        findings=pd.DataFrame({"attribute": [""], "finding": [card]}),
    )
    rows = pd.DataFrame({"attribute": ["acidity"]})
    found = SimpleNamespace(students={"S1": one}, by_attribute=rows)
    assert class_pages._others_open(found) is is_open


def test_a_margin_is_one_point_where_nobody_says_otherwise():
    assert Known().margin == 1.0
