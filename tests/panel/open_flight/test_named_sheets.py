"""Named sheets come back as workbook and as photo (O10, O11, O32)."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from kikichoko.forms.paper.pages import lay_out
from kikichoko.forms.photo.photo_reader import read_photo
from kikichoko.forms.questions.scorecard import default_scorecard
from kikichoko.forms.questions.sheet import Presentation, Sheet, Sheets
from kikichoko.forms.spreadsheets.workbook_reader import read_workbook
from kikichoko.forms.spreadsheets.workbook_writer import write_sheet
from kikichoko.panel.demos._tools import fill_workbook

NAMES = (
    "free-run",
    "press-end / cloudy [raw], bottled 19 March, tank 9",
    "press-end / cloudy [raw], bottled 19 March, tank 8",
    "中取り 生原酒 令和七年 仕込み九号",
    "O'Hara: 50 %?*",
)
SHORT = ("sweetness", "acidity", "quality")


def sheet_in(language: str, asked: tuple[str, ...] = ()) -> Sheet:
    card = default_scorecard()
    shown = tuple(
        Presentation(number=place, flight=1, codes=(name,), asked=asked or card.keys)
        for place, name in enumerate(NAMES, start=1)
    )
    return Sheet(
        session="named-1", title="Three fractions", assessor="M1", language=language,
        date="2026-03-21", presentations=shown, scorecard=card, notes=("note_named",), plan=1,
        named=True,
    )  # fmt: skip


@pytest.mark.parametrize("language", ["en", "ja"])
def test_a_workbook_with_names_comes_back(tmp_path, language):
    sheet = sheet_in(language, SHORT)
    write_sheet(sheet, tmp_path / "empty.xlsx")
    answers = {(name, "quality"): float(place) for place, name in enumerate(NAMES)}
    answers |= {(name, key): 5.0 for name in NAMES for key in SHORT[:2]}
    fill_workbook(sheet, tmp_path / "empty.xlsx", tmp_path / "M1.xlsx", answers)
    reading = read_workbook(tmp_path / "M1.xlsx", {"M1": sheet})
    assert reading.faults == ()
    assert {(one.code, one.attribute): one.value for one in reading.answers} == answers


def test_a_worksheet_with_another_name_is_told(tmp_path):
    from openpyxl import load_workbook

    sheet = sheet_in("en", SHORT)
    write_sheet(sheet, tmp_path / "M1.xlsx")
    book = load_workbook(tmp_path / "M1.xlsx")
    book.worksheets[1]["B3"] = "press-end"
    book.save(tmp_path / "M1.xlsx")
    reading = read_workbook(tmp_path / "M1.xlsx", {"M1": sheet})
    assert ("changed_code", "free-run") in {(one.kind, one.code) for one in reading.faults}


@pytest.mark.parametrize("language", ["en", "ja"])
@pytest.mark.parametrize("asked", [(), SHORT])
def test_names_stand_whole_on_every_page(language, asked):
    """Two names that differ at their end alone must not be cut to look alike."""
    for paper in ("A4", "Letter"):
        pages = lay_out(sheet_in(language, asked), paper)
        for name in NAMES:
            letters = name.replace(" ", "")
            on = [
                page.number
                for page in pages
                if letters in "".join(words.text for words in page.words).replace(" ", "")
            ]
            assert len(on) >= 2, (paper, name)  # the cover, and the page of its questions


def test_a_photo_of_a_named_sheet_is_read_and_told_apart(simulator, tmp_path):
    sheet = sheet_in("en", SHORT)
    blind = replace(
        sheet,
        named=False,
        presentations=tuple(
            replace(one, codes=(str(417 + one.number),)) for one in sheet.presentations
        ),
    )
    page, picture = simulator.printed(sheet)[1]
    answers = {(shown.name, "quality"): 2.0 + shown.number for shown in page.presentations}
    rng = np.random.default_rng(3)
    hand = simulator.Hand(rng, tool="black pen", box="tick", line="upright", correct=0)
    paper = simulator.fill_in(page, picture, hand, answers)
    path = tmp_path / "named.jpg"
    path.write_bytes(simulator.Camera(rng, dpi=150, turn=2, tilt=0.02).jpeg(paper.picture))
    reading = read_photo(path, Sheets({"M1": sheet}, [blind]))
    read = {(one.code, one.attribute): one.value for one in reading.answers}
    assert read == {key: pytest.approx(value, abs=0.19) for key, value in answers.items()}
    # where no open flight was opened, the page is of no sheet that was printed
    (refused,) = read_photo(path, {"M1": blind}).faults
    assert refused.kind == "other_plan"
