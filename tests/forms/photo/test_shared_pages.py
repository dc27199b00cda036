"""Pages that several cups share, and pages as they were printed before."""

from __future__ import annotations

import numpy as np
import pytest
from kikichoko.forms.photo.page_view import views
from kikichoko.forms.photo.photo_reader import read_photo, read_photos
from sheet_kinds import sheet_of


def photographed(simulator, tmp_path, page, picture, answers):
    rng = np.random.default_rng(3)
    hand = simulator.Hand(rng, tool="black pen", box="tick", line="upright", correct=0)
    paper = simulator.fill_in(page, picture, hand, answers)
    path = tmp_path / f"{page.number}.jpg"
    path.write_bytes(simulator.Camera(rng, dpi=150, turn=2, tilt=0.02).jpeg(paper.picture))
    return path


def test_cups_that_share_a_side_are_read_each_for_itself(simulator, tmp_path):
    sheet = sheet_of("earlier", "en", cups=4)
    page, picture = simulator.printed(sheet)[-1]
    first, second = (one.name for one in page.presentations)
    answers = {(first, "clarity"): 2.0, (first, "colour"): 7.5, (second, "clarity"): 9.0,
               (second, "colour"): 1.0}  # fmt: skip
    path = photographed(simulator, tmp_path, page, picture, answers)
    reading = read_photo(path, {sheet.assessor: sheet})
    read = {(one.code, one.attribute): one.value for one in reading.answers}
    assert read == {key: pytest.approx(value, abs=0.19) for key, value in answers.items()}
    assert reading.faults == ()
    shown = list(views(path, {sheet.assessor: sheet}))
    assert [view.code for view in shown] == [first, second]
    assert all({spot.attribute for spot in view.spots()} == {"clarity", "colour"} for view in shown)


def test_sets_that_share_a_side_and_one_that_was_left_out(simulator, tmp_path):
    sheet = sheet_of("triangle", "ja", cups=3)
    page, picture = simulator.printed(sheet)[1]
    names = [one.name for one in page.presentations]
    assert len(names) == 3
    answers = {(names[0], "odd"): names[0][:3], (names[2], "odd"): names[2][-3:]}
    path = photographed(simulator, tmp_path, page, picture, answers)
    reading = read_photos([path], {sheet.assessor: sheet})
    assert {(one.code, one.attribute): one.value for one in reading.answers} == answers
    assert [(fault.kind, fault.code) for fault in reading.faults] == [("empty_cup", names[1])]


def test_no_difference_and_the_code_of_a_cup_are_read_from_a_pair(simulator, tmp_path):
    sheet = sheet_of("paired-ties", "en", cups=3)
    page, picture = simulator.printed(sheet)[1]
    names = [one.name for one in page.presentations]
    answers = {
        (name, "stronger"): value for name, value in zip(names, (2.0, 0.0, 1.0), strict=True)
    }
    path = photographed(simulator, tmp_path, page, picture, answers)
    reading = read_photos([path], {sheet.assessor: sheet})
    assert {(one.code, one.attribute): one.value for one in reading.answers} == answers


def test_a_page_of_one_column_from_before_is_read_as_it_was(simulator, tmp_path):
    """As sheets shared pages first, in November 2026."""
    sheet = sheet_of("full", "en", cups=2)
    page, picture = simulator.printed(sheet, earlier=2)[-1]
    (cup,) = page.presentations
    answers = {(cup.name, "clarity"): 6.0, (cup.name, "colour"): 3.0}
    path = photographed(simulator, tmp_path, page, picture, answers)
    reading = read_photo(path, {sheet.assessor: sheet})
    read = {(one.code, one.attribute): one.value for one in reading.answers}
    assert read == {key: pytest.approx(value, abs=0.19) for key, value in answers.items()}


@pytest.mark.parametrize(("kind", "number"), [("earlier", 3), ("triangle", 2)])
def test_pages_printed_before_are_read_as_they_were(simulator, tmp_path, kind, number):
    sheet = sheet_of(kind, "en", cups=2)
    page, picture = simulator.printed(sheet, earlier=True)[number - 1]
    (cup,) = page.presentations
    if kind == "triangle":
        answers = {(cup.name, "odd"): cup.codes[1]}
    else:
        answers = {(cup.name, "sweetness"): 6.0, (cup.name, "aroma:pear"): 1.0}
    path = photographed(simulator, tmp_path, page, picture, answers)
    reading = read_photo(path, {sheet.assessor: sheet})
    read = {(one.code, one.attribute): one.value for one in reading.answers}
    for key, value in answers.items():
        wanted = value if isinstance(value, str) else pytest.approx(value, abs=0.19)
        assert read[key] == wanted
