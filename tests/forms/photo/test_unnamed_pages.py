"""A person who says which page it is, is believed only as far as the page shows it.

The cases U02 to U15 are those of tests/outside/attacks/unnamed-pages.md.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from kikichoko.forms.paper.page_parts import code_place
from kikichoko.forms.photo import unnamed_pages as unnamed
from kikichoko.forms.photo.photo_reader import read_named
from kikichoko.forms.photo.picture_files import Unreadable
from kikichoko.forms.photo.unnamed_pages import identify, unnamed_pages

PX = 8.0


@pytest.fixture(scope="module")
def bare(printed, simulator) -> np.ndarray:
    """Scan an empty page 3 of A07 whose code is hidden."""
    return scan(printed[1][2], simulator)


def scan(printed_page, simulator) -> np.ndarray:
    page, picture = printed_page
    factor = PX * 25.4 / simulator.INK_DPI
    grey = cv2.resize(picture, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA) * 240
    x, y, size = (round(length * PX) for length in code_place(page.paper))
    grey[y : y + size, x : x + size] = 240
    return grey


def saved(path: Path, *pictures: np.ndarray) -> Path:
    from PIL import Image

    first, *more = (Image.fromarray(one.astype(np.uint8)) for one in pictures)
    first.save(path, save_all=bool(more), append_images=more)
    return path


def asked(bare: np.ndarray, path: Path, sheets):
    (one,) = unnamed_pages(saved(path / "page.tif", bare), sheets)
    return one


def refused(one, assessor: str, number: int, sheets) -> str:
    with pytest.raises(Unreadable) as said:
        identify(one, assessor, number, sheets)
    return said.value.kind


def test_what_is_printed_must_agree(printed, bare, tmp_path: Path):
    """U01, U02, U05, U14, U15."""
    sheet, _ = printed
    other = replace(sheet, assessor="A01")
    sheets = {"A07": sheet, "A01": other}
    one = asked(bare, tmp_path, sheets)
    assert one.place == ""
    assert one.picture().startswith(b"\xff\xd8")
    named = identify(one, "A07", 3, sheets)
    assert (named.assessor, named.page, named.paper) == ("A07", 3, "A4")
    turned = asked(bare[::-1, ::-1], tmp_path, sheets)
    assert identify(turned, "A07", 3, sheets) == named
    assert refused(one, "A01", 3, sheets) == "which_differs"
    assert refused(one, "A07", 40, sheets) == refused(one, "A07", 0, sheets) == "which_no_page"
    assert refused(one, "B1", 3, sheets) == "which_no_page"
    next_year = {"A07": replace(sheet, session="spring-25", date="2027-11-25")}
    assert refused(one, "A07", 3, next_year) == "which_differs"


def test_a_hidden_head_is_not_taken_on_trust(printed, bare, tmp_path: Path):
    """U06; and a light shadow upon it does no harm."""
    sheet, _ = printed
    for name, light, told in (("thumb", 0.0, False), ("shadow", 0.7, True)):
        covered = bare.copy()
        part = np.s_[round(8 * PX) : round(30 * PX), round(20 * PX) : round(110 * PX)]
        covered[part] = 110 + light * (covered[part] - 110)
        folder = tmp_path / name
        folder.mkdir()
        one = asked(covered, folder, {"A07": sheet})
        if told:
            assert identify(one, "A07", 3, {"A07": sheet}).page == 3
        else:
            assert refused(one, "A07", 3, {"A07": sheet}) == "which_differs"


@pytest.mark.parametrize(("share", "told"), [(0.35, True), (0.65, False)])
def test_no_other_page_may_agree_as_well(printed, simulator, share, told, tmp_path: Path):
    """Page 3 with a share of page 4's ink: of two pages, the one that is seen more."""
    sheet, pages = printed
    mixed = [scan(pages[number], simulator)[: round(34 * PX)] for number in (2, 3)]
    picture = scan(pages[2], simulator)
    picture[: round(34 * PX)] = (1 - share) * mixed[0] + share * mixed[1]
    one = asked(picture, tmp_path, {"A07": sheet})
    if told:
        assert identify(one, "A07", 3, {"A07": sheet}).page == 3
    else:
        assert refused(one, "A07", 3, {"A07": sheet}) == "which_differs"


@pytest.mark.parametrize("case", [(0.8, 0.15, True), (0.799, 0.15, False), (0.8, 0.149, False)])
def test_how_well_head_and_foot_must_agree(printed, bare, monkeypatch, case, tmp_path: Path):
    """Each piece of the words by 0.8, and by 0.15 nearer than where another page differs."""
    sheet, _ = printed
    like, apart, told = case
    one = asked(bare, tmp_path, {"A07": sheet})
    monkeypatch.setattr(unnamed, "_like", lambda *_: like)
    monkeypatch.setattr(unnamed, "_nearer", lambda *_: apart)
    if told:
        assert identify(one, "A07", 3, {"A07": sheet}).page == 3
    else:
        assert refused(one, "A07", 3, {"A07": sheet}) == "which_differs"


def test_only_a_picture_without_a_code_is_asked(printed, bare, simulator, tmp_path: Path):
    """U07, U11, U12: of three pages of a file the second; the cover; two in one picture."""
    sheet, pages = printed
    sheets = {"A07": sheet}
    factor = PX * 25.4 / simulator.INK_DPI
    good = cv2.resize(pages[3][1], None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA) * 240
    (one,) = unnamed_pages(saved(tmp_path / "three.tif", good, bare, good), sheets)
    assert (one.number, one.place) == (2, "picture 2")
    cover = asked(scan(pages[0], simulator), tmp_path, sheets)
    named = identify(cover, "A07", 1, sheets)
    reading = read_named(tmp_path / "page.tif", 1, named, sheets, "cover.jpg")
    assert (reading.answers, reading.faults, reading.uncertain) == ((), (), ())
    both = saved(tmp_path / "both.png", np.hstack([good, bare]))
    assert list(unnamed_pages(both, sheets)) == []
