"""A question is believed where its own print is seen; a printed line is followed where it runs."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace

import cv2
import numpy as np
import pytest
from kikichoko.forms.paper.page_parts import Box, Scale
from kikichoko.forms.photo.mark_ink import _line
from kikichoko.forms.photo.own_print import around_line, course, lost
from kikichoko.forms.photo.photo_reader import read_photo

BOX = Box(code="427", attribute="fruity", value=1.0, x=20.0, y=20.0, size=4.0, role="one")
PAGE = SimpleNamespace(boxes=(BOX,), scales=())
PRINT = np.zeros((240, 240), np.float32)
PRINT[110:130, 110:130] = 1.0  # as wide as high, around the middle of the box


@pytest.mark.parametrize(("columns", "astray"), [(5, False), (6, True)])
def test_three_quarters_of_its_print_must_be_seen(columns: int, astray: bool):
    """Of twenty columns of print so many are covered by something as light as paper."""
    seen = PRINT * 0.9
    seen[:, 130 - columns : 130] = 0.0
    expected = {("427", "fruity")} if astray else set()
    assert lost(seen, PRINT, PAGE, bent=False) == expected


@pytest.mark.parametrize(
    ("aside", "bent", "astray"), [(3, False, False), (9, False, True), (5, True, False)]
)
def test_print_may_lie_half_a_millimetre_aside(aside: int, bent: bool, astray: bool):
    assert bool(lost(np.roll(PRINT, aside, axis=1), PRINT, PAGE, bent=bent)) is astray


def test_ink_hides_no_print():
    assert lost(np.ones_like(PRINT), PRINT, PAGE, bent=False) == set()


def test_a_line_is_followed_past_a_stroke_across_it():
    """A line that sinks by 3 pixels over its length, and an upright stroke through it."""
    scale = Scale(code="427", attribute="sweet", x=10.0, y=20.0, length=80.0, low=0.0, high=10.0)
    dark = np.zeros((240, 600), np.float32)
    columns = np.arange(600)
    wanted = 3 * (columns - 60) / 480
    rows = np.floor(120.5 + wanted).astype(int)
    dark[rows - 1, columns] = dark[rows + 1, columns] = 0.4
    dark[rows, columns] = 0.9
    dark[100:140, 300:303] = 0.9
    found = course(dark, scale)
    assert np.abs(found - wanted)[60:540].max() < 0.9


@pytest.mark.parametrize(
    ("aside", "bent", "marks"),
    [(0, True, 1), (2, True, 1), (3, True, 1), (6, True, 3), (3, False, 3)],
)
def test_the_ends_of_a_line_are_found_again_on_bent_paper(aside: int, bent: bool, marks: int):
    """A line with end ticks and a word at each end, which lies aside; one stroke across it."""
    scale = Scale(code="427", attribute="sweet", x=10.0, y=20.0, length=80.0, low=0.0, high=10.0)
    printed = np.zeros((240, 600), np.float32)
    printed[119:121, 60:540] = 1.0
    for end in (60, 538):
        printed[111:129, end : end + 2] = 1.0
    for start in (66, 500):
        for letter in range(start, start + 30, 6):
            printed[128:144, letter : letter + 2] = 1.0
    dark = np.roll(printed, aside, axis=1)
    dark[104:136, 80:84] = 0.9
    hidden = cv2.dilate(printed, np.ones((3, 3), np.uint8)) > 0
    around = around_line(dark, printed, hidden, scale, bent)
    found = [one for one in _line(around, scale, 0.02, 0.55) if one.crosses]
    assert len(found) == marks
    assert min(abs(one.x - 82 / 6) for one in found) < 0.2


def test_a_covered_line_and_a_stroke_beside_a_box_are_asked_about(
    printed, simulator, tmp_path: Path
):
    """A slip of paper lies on a line; a short stroke begins beside a box that is not ticked."""
    sheet, pages = printed
    page, blank = pages[2]
    picture = blank.copy()
    dot = simulator.INK_DPI / 25.4
    scale = page.scales[0]
    top, bottom = round((scale.y - 3) * dot), round((scale.y + 3) * dot)
    picture[top:bottom, round((scale.x - 3) * dot) : round((scale.x + scale.length) * dot)] = 1.0
    box = next(one for one in page.boxes if one.role == "tick")
    end = box.x - box.size / 2 - 1.1
    row = round(box.y * dot)
    picture[row - 3 : row + 3, round((end - 5) * dot) : round(end * dot)] = 0.1
    cv2.imwrite(str(tmp_path / "page.png"), (picture * 255).astype(np.uint8))
    reading = read_photo(tmp_path / "page.png", {sheet.assessor: sheet})
    asked = {(one.attribute, one.reason) for one in reading.uncertain}
    assert asked == {(scale.attribute, "astray"), (box.attribute, "near")}
