"""Paper in rough hands is read right or put to a person: a page of each worst kind.

`benchmarks/photo_reading.py rough` takes as many pages of every kind as one likes.
"""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
import rough_paper
from kikichoko.forms.photo import find_sheets
from kikichoko.forms.photo.photo_reader import read_photos
from simulator import INK_DPI


@pytest.fixture
def handled(printed, simulator, tmp_path: Path):
    """Handle page `number` in one way; return how it was read."""
    sheet, pages = printed

    def make(condition: str, number: int = 3, seed: int = 6):
        page, picture = pages[number - 1]
        rng = np.random.default_rng(seed)
        made = rough_paper.CONDITIONS[condition](page, picture, rng, tmp_path / "rough")
        reading = read_photos([made.path], [sheet])
        tally = simulator.Tally()
        for paper in made.papers:
            tally.page(paper.marks, paper.page, reading, condition)
        return tally, reading

    return make


@pytest.mark.slow
def test_cockled_paper_is_followed_and_its_code_told(handled, monkeypatch):
    """Its code, which no reader of codes could tell, is set beside those of the session."""
    monkeypatch.setattr(find_sheets.zxingcpp, "read_barcodes", lambda *_, **__: [])
    tally, _ = handled("cockled 0.6")
    assert (tally.refused, tally.wrong) == ([], [])
    assert tally.clear > 40
    assert len(tally.sent) <= 0.2 * tally.clear


@pytest.mark.parametrize("condition", ["rings", "struck"])
def test_rings_and_struck_out_marks_are_no_zeros(handled, condition: str):
    tally, _ = handled(condition)
    assert (tally.refused, tally.wrong) == ([], [])
    assert len(tally.sent) <= 0.25 * tally.clear


def test_light_pencil_on_a_fax_is_all_put_to_a_person(handled):
    """Black and white alone shows pen as well as grey does, and of light pencil crumbs."""
    tally, reading = handled("fax, light pencil")
    assert tally.wrong == []
    assert {one.reason for one in reading.uncertain} >= {"dim"}


def test_two_sheets_side_by_side_are_read_each(printed, simulator, tmp_path: Path):
    sheet, pages = printed
    made = rough_paper.two_sheets([pages[2], pages[3]], np.random.default_rng(4), tmp_path / "two")
    reading = read_photos([made.path], [sheet])
    tally = simulator.Tally()
    for paper in made.papers:
        tally.page(paper.marks, paper.page, reading)
    assert (tally.refused, tally.wrong) == ([], [])
    assert {answer.code for answer in reading.answers} == {"483", "907"}


def test_a_further_sheet_that_is_not_found_whole_is_told(printed, tmp_path: Path):
    """Its upper right mark, by which a sheet is found, lies under something."""
    sheet, pages = printed
    first, second = (pages[number][1].copy() for number in (2, 3))
    high, wide = second.shape
    second[: high // 12, -wide // 12 :] = 1.0
    cv2.imwrite(str(tmp_path / "two.png"), (np.hstack([first, second]) * 255).astype(np.uint8))
    reading = read_photos([tmp_path / "two.png"], [sheet])
    (fault,) = [one for one in reading.faults if one.kind == "photo_more"]
    assert fault.found == "1"


def _ringed_by_a_cup(paper: np.ndarray, x: float, y: float, dark: float) -> np.ndarray:
    """Lay the ring of a cup's foot, 60 mm across, so that it runs through a place."""
    layer = np.zeros_like(paper)
    per_mm = INK_DPI / 25.4
    centre = round((x - 30) * per_mm), round((y + 1.0) * per_mm)
    cv2.circle(layer, centre, round(30 * per_mm), dark, round(1.6 * per_mm), cv2.LINE_AA)
    return paper * (1 - cv2.GaussianBlur(layer, (0, 0), 2))


@pytest.mark.parametrize("dark", [0.28, 0.42])
def test_the_ring_of_a_cups_foot_is_no_tick(printed, simulator, tmp_path: Path, dark: float):
    """It may be as dark as a light pencil: it is told by its length."""
    sheet, pages = printed
    page, picture = pages[2]
    hand = simulator.Hand(np.random.default_rng(3), tool="blue pen", box="tick", correct=0.0)
    boxes = [box for box in page.boxes if box.role == "tick"]
    box = boxes[len(boxes) // 2]
    marked = {(one.code, one.attribute): 1 for one in boxes[:3]}
    paper = simulator.fill_in(page, picture, hand, marked)
    camera = simulator.Camera.scanner(np.random.default_rng(4), 200)
    path = tmp_path / "ring.jpg"
    path.write_bytes(camera.jpeg(_ringed_by_a_cup(paper.picture, box.x, box.y, dark)))
    reading = read_photos([path], [sheet])
    told = {one.reason for one in reading.uncertain if one.attribute == box.attribute}
    assert told == {"faint"}
    assert box.attribute not in {one.attribute for one in reading.answers}
    assert {one.attribute for one in boxes[:3]} <= {
        one.attribute for one in reading.answers if one.value == 1
    }
