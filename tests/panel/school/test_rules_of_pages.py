"""How small a page is written, and how few students have none for the wall: both sides."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace

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


def test_a_margin_is_one_point_where_nobody_says_otherwise():
    assert Known().margin == 1.0
