"""A care in the PDF: whole unless it takes much of a page, and then parted between its points."""

from __future__ import annotations

import pypdfium2
import pytest
from kikichoko.panel.base.words import sentence
from kikichoko.panel.report.parts import Report, Section, caution, plain
from kikichoko.panel.report.pdf import pdfs

POINT = "Keep it cold and upright, open it slowly over a basin and away from faces, and close it "
"""Two lines and more of a care."""


def pages(before: int, points: int) -> list[str]:
    """Return the text of each page of a chapter with so many lines before a care."""
    cares = [f"first{n} {POINT * 2}last{n}." for n in range(points)]
    blocks = (plain(*[f"Told {n}." for n in range(before)]), caution(*cares))
    section = Section(key="asked", title=sentence("report.asked"), blocks=blocks)
    report = Report(
        title="T", subtitle="s", language="en", names=frozenset(), sections=(section,), page=""
    )
    with pypdfium2.PdfDocument(pdfs(report, "mark", "A4")["report.pdf"]) as pdf:
        return [one.get_textpage().get_text_range() for one in pdf]


@pytest.mark.parametrize("before", [38, 42])
def test_a_care_is_kept_whole(before: int):
    assert [one.count("last") for one in pages(before, 7) if "last" in one] == [7]


def test_a_long_care_is_parted_between_its_points():
    told = [one for one in pages(30, 24) if "last" in one]
    assert len(told) > 1
    for one in told:
        assert one.count("irst") == one.count("last") >= 2
