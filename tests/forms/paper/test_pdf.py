"""The printed sheet: one side a cup, nothing collides, its identity is read by others."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import cv2
import kikichoko.forms
import numpy as np
import pypdfium2
import pytest
import zxingcpp
from kikichoko.forms.paper import page_parts as layout
from kikichoko.forms.paper import typeset
from kikichoko.forms.paper.pages import identity, lay_out
from kikichoko.forms.paper.sheet_pdf import CORNER_PATTERNS, sheets_pdf, write_sheets

BOTH = pytest.mark.parametrize("paper", ["A4", "Letter"])
LANGUAGES = pytest.mark.parametrize("language", ["en", "ja"])
LABELS = pytest.mark.parametrize("wide", [False, True], ids=["plain", "long labels"])


def test_blocks_of_a_code_are_its_dark_modules_each_once():
    text = "kk1|spring-1|A01|3|A4|0123456789abcdef|7"
    rows = layout.modules(text)
    drawn = np.zeros((len(rows), len(rows)), dtype=int)
    for across, down, wide, high in layout.dark_blocks(text):
        drawn[down : down + high, across : across + wide] += 1
    assert drawn.tolist() == [list(row) for row in rows]
    assert len(layout.dark_blocks(text)) < sum(bytes(row).count(b"\x00\x01") for row in rows)


def rendered(data: bytes, dpi: float) -> list[np.ndarray]:
    document = pypdfium2.PdfDocument(data)
    return [page.render(scale=dpi / 72, grayscale=True).to_numpy() for page in document]


def frames(page: layout.Page) -> list[tuple[str, float, float, float, float]]:
    """Name and extent of everything on a page that must not be printed over."""
    found = []
    for words in page.words:
        long = typeset.width(words.text, words.size, bold=words.bold)
        left = words.x - {"l": 0, "c": long / 2, "r": long}[words.align]
        high = words.size * typeset.POINT
        found.append((words.text, left, words.y - 0.78 * high, left + long, words.y + 0.1 * high))
    for box in page.boxes:
        half = box.size / 2 + 0.3
        name = f"box {box.attribute} {box.value}"
        found.append((name, box.x - half, box.y - half, box.x + half, box.y + half))
    for scale in page.scales:
        ends = (scale.x, scale.y - 1.5, scale.x + scale.length, scale.y + 1.5)
        found.append((f"line {scale.attribute}", *ends))
    for field in page.fields:
        ends = (field.x, field.y, field.x + field.width, field.y + field.height)
        found.append(("words", *ends))
    for x, y in page.corners:
        found.append(("corner", x - 1, y - 1, x + layout.CORNER + 1, y + layout.CORNER + 1))
    x, y, size = page.code_place
    found.append(("QR code", x - 2, y - 2, x + size + 2, y + size + 2))
    return found


@BOTH
@LANGUAGES
@LABELS
def test_nothing_is_printed_over_anything(make_sheet, language: str, paper: str, wide: bool):
    for page in lay_out(make_sheet(language, wide=wide), paper):
        width, height = page.size
        for first, second in combinations(frames(page), 2):
            _, left, top, right, bottom = first
            _, x1, y1, x2, y2 = second
            apart = right <= x1 or x2 <= left or bottom <= y1 or y2 <= top
            assert apart, f"page {page.number}: {first} and {second}"
        for name, left, top, right, bottom in frames(page):
            assert left > 5.9, name
            assert top > 5.9, name
            assert right < width - 5.9, name
            assert bottom < height - 5.9, name


@LANGUAGES
def test_one_side_a_cup(make_sheet, language: str):
    sheet = make_sheet(language)
    pages = lay_out(sheet)
    assert [page.presentation for page in pages] == [None, *sheet.presentations]


@LABELS
def test_every_answer_has_its_place_once(make_sheet, wide: bool):
    sheet = make_sheet(wide=wide)
    pages = lay_out(sheet)
    for presentation in sheet.presentations:
        sides = [page for page in pages if page.presentation == presentation]
        boxes = [box for page in sides for box in page.boxes]
        scales = [scale.attribute for page in sides for scale in page.scales]
        fields = [field.attribute for page in sides for field in page.fields]
        for question in sheet.questions(presentation):
            for attribute in question.attributes:
                mine = [box for box in boxes if box.attribute == attribute]
                match question.kind:
                    case "line":
                        assert scales.count(attribute) == 1
                    case "words":
                        assert fields.count(attribute) == 1
                    case "ticks":
                        assert [box.value for box in mine] == [1]
                    case "choice":
                        assert tuple(box.value for box in mine) == presentation.codes
                    case "ranking":
                        for code in presentation.codes:
                            places = [b.value for b in boxes if b.attribute == f"rank:{code}"]
                            assert places == [1, 2, 3]
                    case _:
                        assert tuple(box.value for box in mine) == question.values


@BOTH
def test_identity_is_read_by_another_reader(make_sheet, paper: str):
    sheet = make_sheet("ja", wide=True)
    pages = lay_out(sheet, paper)
    pictures = rendered(sheets_pdf([sheet], paper), 200)
    assert len(pictures) == len(pages)
    for page, picture in zip(pages, pictures, strict=True):
        (code,) = zxingcpp.read_barcodes(picture)
        assert code.text == identity(sheet, page)
        assert code.text.split("|")[1:5] == ["spring-24", "A07", str(page.number), paper]


def test_corner_marks_are_those_of_the_published_dictionary():
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    for number, pattern in enumerate(CORNER_PATTERNS):
        image = cv2.aruco.generateImageMarker(dictionary, number, 6)
        cells = image[1:5, 1:5] // 255
        assert ["".join(map(str, row)) for row in cells] == list(pattern)


def test_a_line_is_as_long_as_the_sheet_says(make_sheet):
    """Measured on the printed page: 80 mm within a tenth."""
    sheet = make_sheet()
    page = lay_out(sheet)[2]
    dpi = 600
    picture = rendered(sheets_pdf([sheet]), dpi)[2]
    for scale in page.scales:
        row = picture[round((scale.y - 1.0) / 25.4 * dpi)] < 128
        middle = scale.x + scale.length / 2
        dark = [x for x in np.flatnonzero(row) / dpi * 25.4 if abs(x - middle) < 41.5]
        assert max(dark) - min(dark) == pytest.approx(80.35, abs=0.1)  # with the strokes' width
    assert "80 mm" in " ".join(words.text for words in page.words)


def test_the_same_sheets_give_the_same_bytes(make_sheet, tmp_path: Path):
    first = write_sheets([make_sheet()], tmp_path / "a.pdf").read_bytes()
    assert write_sheets([make_sheet()], tmp_path / "b.pdf").read_bytes() == first
    assert sheets_pdf([make_sheet(assessor="A08")]) != first


def test_the_file_tells_nothing_of_itself(make_sheet):
    document = pypdfium2.PdfDocument(sheets_pdf([make_sheet()]))
    told = {name: value for name, value in document.get_metadata_dict().items() if value}
    assert told == {"Producer": "kikichoko", "CreationDate": "D:20261125000000Z"}


def test_text_can_be_searched(make_sheet):
    document = pypdfium2.PdfDocument(sheets_pdf([make_sheet("ja")]))
    text = document[2].get_textpage().get_text_bounded()
    for expected in ("483", "甘味", "印のない行は 0 とします。", "A07"):
        assert expected in text


def test_several_assessors_in_one_file(make_sheet):
    sheets = [make_sheet("en", assessor="A1"), make_sheet("ja", assessor="A2")]
    assert len(rendered(sheets_pdf(sheets), 20)) == sum(len(lay_out(s)) for s in sheets)


def test_printed_on_both_sides_each_sheet_begins_on_a_leaf_of_its_own(make_sheet):
    sheets = [make_sheet(assessor=f"A{number}") for number in (1, 2, 3)]
    sheets[1] = replace(sheets[1], presentations=sheets[1].presentations[:2])
    sides = [len(lay_out(sheet)) for sheet in sheets]
    assert {own % 2 for own in sides} == {0, 1}
    document = pypdfium2.PdfDocument(sheets_pdf(sheets, both_sides=True))
    texts = [page.get_textpage().get_text_bounded() for page in document]
    fronts = [place for place, text in enumerate(texts) if "Before you taste" in text]
    assert [place % 2 for place in fronts] == [0, 0, 0]
    empty = [place for place, text in enumerate(texts) if text.strip() == "This side stays empty."]
    assert len(texts) == sum(sides) + len(empty)
    # One after each odd sheet but the last, which nothing follows.
    assert len(empty) == sum(own % 2 for own in sides[:-1])
    assert all(place + 1 in fronts for place in empty)


def test_wrong_paper_and_no_sheet_are_refused(make_sheet):
    with pytest.raises(ValueError, match="A4, Letter"):
        sheets_pdf([make_sheet()], "B5")
    with pytest.raises(ValueError, match="no sheet"):
        sheets_pdf([])


def test_every_character_of_the_catalogues_is_in_both_faces():
    words = Path(kikichoko.forms.__file__).parent / "words"
    for path in words.rglob("*.toml"):
        for text in tomllib.loads(path.read_text("utf-8")).values():
            for bold in (False, True):
                table, _ = typeset._advances(bold)
                lacking = {letter for letter in text if ord(letter) not in table}
                assert not lacking, path


def test_paper_words_are_complete_in_japanese():
    words = Path(kikichoko.forms.__file__).parent / "words"
    english, japanese = (
        tomllib.loads((words / language / "paper.toml").read_text("utf-8"))
        for language in ("en", "ja")
    )
    assert set(english) == set(japanese)


def test_breaking_text():
    assert typeset.wrap("a little too sweet", 16.0, 7.5) == ["a little too", "sweet"]
    broken = typeset.wrap("あいう、えお。", 9.5, 8.5)  # three characters wide
    assert "".join(broken) == "あいう、えお。"
    assert not any(line[0] in "、。" for line in broken)
    lines, size = typeset.fit("x" * 400, 30, 9, lines=1)
    assert "".join(lines) == "x" * 400
    assert size == 6.5


def test_a_sheet_explains_the_marks_that_it_asks_for_and_no_others(make_sheet):
    """A test of difference asks for a circle; nothing on it is a line or a square."""
    sheet = make_sheet(wide=True)
    (cups,) = [one for one in sheet.presentations if len(one.codes) > 1]
    test = replace(sheet, presentations=(replace(cups, asked=("odd",)),))
    for made, lines in ((sheet, True), (test, False)):
        first, *_, last = lay_out(made)
        told = " ".join(words.text for words in first.words)
        assert ("A line:" in told) is lines
        assert ("Squares:" in told) is lines
        assert ("Scribble over" in told) is lines
        assert "Circles:" in told
        foot = " ".join(words.text for words in last.words)
        assert "A tick or a cross" in foot
        assert "One upright stroke" not in foot
    scored = " ".join(words.text for words in lay_out(sheet)[2].words)
    assert "One upright stroke across a line (80 mm). A tick or a cross" in scored
