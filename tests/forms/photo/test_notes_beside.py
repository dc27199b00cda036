"""Writing at no question is told; a session forgets it when somebody passed the page as right."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import cv2
import numpy as np
import pytest
from kikichoko.forms.paper.page_parts import Box, Field, Scale
from kikichoko.forms.photo.find_sheets import PX
from kikichoko.forms.photo.mark_rules import TOO_BENT
from kikichoko.forms.photo.notes_beside import NOTED, noted
from kikichoko.forms.photo.photo_reader import _gather, pages_in

BOX = Box(code="427", attribute="fruity", value=1.0, x=20.0, y=20.0, size=4.0, role="tick")
SCALE = Scale(code="427", attribute="sweet", x=20.0, y=40.0, length=30.0, low=0.0, high=10.0)
FRAME = Field(code="427", attribute="words", x=20.0, y=50.0, width=30.0, height=8.0)
PAGE = SimpleNamespace(
    boxes=(BOX,), scales=(SCALE,), fields=(FRAME,), code_place=(70.0, 8.0, 10.0), corners=((8, 8),)
)


def drawn(*strokes, dark: float = 0.9, wide: int = 3, printed=()) -> float:
    """Draw strokes in millimetres on a page of 90 by 70; return how much is noted."""
    plane = np.zeros((420, 540), np.float32)
    for one in strokes:
        ends = [tuple(round(v * PX) for v in end) for end in one]
        cv2.line(plane, *ends, dark, wide)
    hidden = np.zeros(plane.shape, bool)
    for column in printed:
        hidden[:, round(column * PX) : round(column * PX) + 6] = True
    return noted(plane, hidden, PAGE)


@pytest.mark.parametrize(
    ("strokes", "told"),
    [
        ([((60, 30), (71.0, 30))], 11.5),
        ([((60, 30), (64, 30)), ((60, 33), (64, 33))], 9.3),
        ([((60, 30), (60.7, 30))], 0.0),  # a speck
        ([((22.6, 20), (40, 20))], 0.0),  # begins at the box
        ([((23.6, 20), (40, 20))], 16.9),
        ([((40, 36.8), (60, 30))], 0.0),  # at the line
        ([((40, 36.0), (60, 30))], 21.9),
        ([((30, 57), (30, 66))], 0.0),  # a tail out of the frame for words
        ([((2, 30), (2, 60))], 0.0),  # the edge of the table
        ([((70, 12), (80, 12))], 0.0),  # in the code
    ],
)
def test_ink_is_noted_that_begins_at_no_question(strokes, told: float):
    assert drawn(*strokes) == pytest.approx(told, abs=0.6)


def test_stains_are_paler_and_edges_of_print_thinner_than_a_pen():
    stroke = ((60, 30), (80, 30))
    assert drawn(stroke, dark=0.29) == 0.0
    assert drawn(stroke, dark=0.31) > NOTED
    assert drawn(stroke, wide=1) == 0.0
    assert drawn(stroke, wide=2) > NOTED


def test_print_cuts_no_stroke_in_pieces():
    assert drawn(((60, 30), (80, 30)), printed=(62, 64, 66, 68)) > 19.0


def test_writing_is_told_with_its_page(printed, simulator, tmp_path: Path):
    """SH11 to SH14: an arrow, "swapped", another code or name; the marks are taken as they are."""
    sheet, pages = printed
    page, picture = pages[2]
    key = next(iter(page.boxes))
    hand = simulator.Hand(np.random.default_rng(1), tool="black pen", box="tick")
    paper = simulator.fill_in(page, picture, hand, {(key.code, key.attribute): key.value})
    path = tmp_path / "page.png"
    cv2.imwrite(str(path), (paper.picture * 255).astype(np.uint8))
    (read,) = pages_in(path, {sheet.assessor: sheet}, [], set())
    assert read.ink.noted == 0.0, "a page with a tick alone bears no note"

    def told(much: float, bend: float) -> list[tuple[str, str]]:
        seen = replace(read, ink=replace(read.ink, noted=much), flat=replace(read.flat, bend=bend))
        reading = _gather({(sheet.assessor, sheet.fingerprint, page.number): seen}, {}, [])
        assert len(reading.answers) > 0
        return [(one.file, one.assessor) for one in reading.faults if one.kind == "photo_note"]

    assert told(NOTED, 0.0) == told(NOTED, TOO_BENT) == [("page.png", sheet.assessor)]
    assert told(NOTED - 0.1, 0.0) == told(NOTED, TOO_BENT + 0.01) == []
