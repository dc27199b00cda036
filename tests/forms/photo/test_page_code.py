"""A code that cannot be read names a page of the session only where it is like no other."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from kikichoko.forms.paper.page_parts import code_place, modules
from kikichoko.forms.photo.page_code import bent_code, corner_points, named_by

ONE, OTHER, FOREIGN = (
    f"kk1|{session}|A01|{page}|A4|c0ffee12|9a3f"
    for session, page in (("tasting-1", 3), ("tasting-1", 4), ("another-9", 7))
)
DOT = 6  # pixels a millimetre


def drawn(code: np.ndarray) -> tuple[np.ndarray, dict[int, np.ndarray]]:
    """Draw a code on a blank page; also return the points of its corner marks."""
    picture = np.full((297 * DOT, 210 * DOT), 255, np.uint8)
    x, y, size = (round(length * DOT) for length in code_place("A4"))
    shown = cv2.resize(255 - 255 * code, (size, size), interpolation=cv2.INTER_NEAREST)
    picture[y : y + size, x : x + size] = shown
    return picture, {number: corner_points("A4", number) * DOT for number in range(4)}


def spoiled(code: np.ndarray, where: np.ndarray, share: float) -> np.ndarray:
    """Turn a share of some of a code's modules over."""
    made = code.copy()
    places = np.random.default_rng(1).permutation(np.flatnonzero(where))
    made.flat[places[: round(share * len(places))]] ^= 1
    return made


@pytest.mark.parametrize(("share", "told"), [(0.0, True), (0.09, True), (0.11, False)])
def test_nine_tenths_of_the_modules_must_agree(share: float, told: bool):
    code = np.array(modules(ONE), np.uint8)
    found = bent_code(*drawn(spoiled(code, np.ones_like(code), share)), [ONE])
    assert found == (named_by(ONE) if told else None)


@pytest.mark.parametrize(("share", "told"), [(0.23, True), (0.27, False)])
def test_three_quarters_of_what_tells_two_pages_apart_must_agree(share: float, told: bool):
    code = np.array(modules(ONE), np.uint8)
    picture = drawn(spoiled(code, code != np.array(modules(OTHER), np.uint8), share))
    assert bent_code(*picture, [OTHER, ONE]) == (named_by(ONE) if told else None)
    assert bent_code(*picture, [ONE]) == named_by(ONE)


def test_a_page_of_another_session_is_none_of_ours():
    picture = drawn(np.array(modules(FOREIGN), np.uint8))
    assert bent_code(*picture, [ONE, OTHER]) is None
    assert bent_code(*picture, []) is None
