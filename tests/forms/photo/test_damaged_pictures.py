"""Spoiled bytes of a photo put no answer in unasked; good photos are read as before.

How far that goes over many pictures and seeds is measured in docs/paper.md.
"""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
from kikichoko.forms.photo.damage import SHARE, STEP, decoding_fault, torn
from kikichoko.forms.photo.photo_reader import read_photo
from PIL import Image


@pytest.fixture(scope="module")
def shot(printed, simulator) -> bytes:
    """Photograph one filled page."""
    rng = np.random.default_rng(5)
    page, picture = printed[1][1]
    hand = simulator.Hand(rng, tool="black pen", box="tick", line="upright", correct=0)
    paper = simulator.fill_in(page, picture, hand)
    return simulator.Camera(rng, dpi=120).jpeg(paper.picture)


def spoil(data: bytes, seed: int) -> bytes:
    """Write forty random bytes over the middle of a file, as a bad card does."""
    at = len(data) // 2
    return data[:at] + np.random.default_rng(seed).bytes(40) + data[at + 40 :]


def read(data: bytes, printed, path: Path):
    path.write_bytes(data)
    reading = read_photo(path, {printed[0].assessor: printed[0]})
    return {one.attribute: one.value for one in reading.answers}, reading


def test_a_spoiled_photo_is_asked_about(shot, printed, tmp_path: Path):
    good, first = read(shot, printed, tmp_path / "good.jpg")
    assert len(good) > 20
    assert "photo_damaged" not in {fault.kind for fault in first.faults}
    noticed = next(s for s in range(9) if decoding_fault(spoil(shot, s)))
    found, reading = read(spoil(shot, noticed), printed, tmp_path / "spoiled.jpg")
    assert found == {}
    assert "photo_damaged" in {fault.kind for fault in reading.faults}
    unnoticed = next((s for s in range(60) if not decoding_fault(spoil(shot, s))), None)
    assert unnoticed is not None, "no seed passes the decoder: look for another"
    found, reading = read(spoil(shot, unnoticed), printed, tmp_path / "other.jpg")
    asked = {one.attribute for one in reading.uncertain}
    assert all(value == good.get(name) for name, value in found.items() if name not in asked)


def test_a_page_that_turns_lighter_halfway_is_asked_about(shot, printed, tmp_path: Path):
    """What spoiled bytes do that no decoder can notice: the rest of the page is lighter."""
    picture = cv2.imdecode(np.frombuffer(shot, np.uint8), cv2.IMREAD_GRAYSCALE)
    middle = picture.shape[0] // 2 // 8 * 8 + 40  # between two lines of text
    picture[middle:] = np.clip(picture[middle:].astype(int) + 12, 0, 255)
    _, data = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, 92])
    found, reading = read(data.tobytes(), printed, tmp_path / "torn.jpg")
    assert found == {}
    assert {one.reason for one in reading.uncertain} >= {"damaged"}


def test_the_damage_of_a_scan_inside_a_pdf_is_noticed(shot, printed, tmp_path: Path):
    path = tmp_path / "scan.pdf"
    Image.open(_written(tmp_path / "page.jpg", shot)).save(path, "PDF", quality=90)
    whole = path.read_bytes()
    at = whole.index(b"\xff\xda") + (whole.rindex(b"\xff\xd9") - whole.index(b"\xff\xda")) // 2
    path.write_bytes(whole[:at] + bytes(range(1, 41)) + whole[at + 40 :])
    reading = read_photo(path, {printed[0].assessor: printed[0]})
    assert "photo_damaged" in {fault.kind for fault in reading.faults}
    assert reading.answers == ()


def _written(path: Path, data: bytes) -> Path:
    path.write_bytes(data)
    return path


def test_what_a_strict_decoder_says(shot):
    assert decoding_fault(shot) == ""
    assert decoding_fault(shot + b"more, as telephones append it") == ""
    assert "remature end" in decoding_fault(shot[: len(shot) // 2])


def _paper(rng, size=(600, 960)) -> np.ndarray:
    light = np.linspace(235, 170, size[0])[:, None] + np.linspace(0, 12, size[1])[None, :]
    return light + rng.normal(0, 3, size)


@pytest.mark.parametrize(
    ("jump", "wide", "over", "told"),
    [
        (0.0, 1.0, 1, False),
        (STEP + 3, 1.0, 1, True), (-STEP - 3, 1.0, 1, True),
        (STEP - 1.5, 1.0, 1, False),
        (20.0, SHARE + 0.1, 1, True), (20.0, SHARE - 0.1, 1, False),
        (20.0, 1.0, 24, False),
    ],
)  # fmt: skip
def test_a_jump_of_brightness(jump: float, wide: float, over: int, told: bool):
    """Large or small, along much or little of the width, sudden or soft as a shadow."""
    paper = _paper(np.random.default_rng(2))
    slope = np.clip((np.arange(len(paper)) - 300) / over, 0, 1)[:, None]
    part = round(wide * paper.shape[1])
    end = None if part > 0.3 * paper.shape[1] else 400  # a small patch: low as well as narrow
    paper[:end, :part] += jump * slope[:end]
    picture = np.clip(paper, 0, 255).astype(np.uint8)
    nothing = np.zeros(picture.shape, bool)
    assert torn(picture, nothing) is told
    assert torn(np.ascontiguousarray(picture.T), nothing.T) is told
    assert not torn(picture, ~nothing)


@pytest.mark.parametrize(
    ("soft", "line", "told"),
    [(0, 0, True), (4, 0, False), (0, 12, False), (0, 3, True)],
)
def test_folds_and_edges_of_paper_are_no_jump(soft: int, line: float, told: bool):
    """A fold shades its two sides unlike, over some pixels, or with a dark line along it."""
    paper = _paper(np.random.default_rng(2))
    paper += 20 * np.clip((np.arange(len(paper)) - 300) / max(soft, 1), 0, 1)[:, None]
    paper[297:300] -= line
    picture = np.clip(paper, 0, 255).astype(np.uint8)
    assert torn(picture, np.zeros(picture.shape, bool)) is told


@pytest.mark.parametrize(("noise", "told"), [(3.0, True), (30.0, False)])
def test_a_jump_must_stand_out_of_the_noise(noise: float, told: bool):
    rng = np.random.default_rng(4)
    paper = np.full((600, 960), 150.0) + rng.normal(0, noise, (600, 960))
    paper[300:] += 12
    picture = np.clip(paper, 0, 255).astype(np.uint8)
    assert torn(picture, np.zeros(picture.shape, bool)) is told
