"""Each kind of fault comes from a real file, tells its place, and stops nothing else."""

from __future__ import annotations

import datetime as dt
import io
import re
import zipfile
from dataclasses import replace
from pathlib import Path
from string import Formatter

import numpy as np
import pytest
from kikichoko.forms.answers.answer import REMARK, Fault
from kikichoko.forms.questions.hidden_codes import beneath_question
from kikichoko.forms.questions.question_types import Scorecard
from kikichoko.forms.questions.words import languages, topic
from kikichoko.forms.reading import read_files
from kikichoko.forms.spreadsheets.workbook_page import KEYS
from kikichoko.forms.spreadsheets.workbook_reader import read_workbook
from openpyxl import Workbook, load_workbook
from openpyxl.comments import Comment

GOOD = {("427", "sweetness"): 5.0, ("427", "aroma_intensity"): 4.0}


def values(reading):
    return {(answer.code, answer.attribute): answer.value for answer in reading.answers}


def kinds(reading):
    """Count faults by kind, without answers that are missing around the one in question."""
    return sorted(f.kind for f in reading.faults if f.kind not in ("missing", "empty_cup"))


@pytest.fixture
def typed(tmp_path):
    def make(text: str, name: str = "typed.csv", encoding: str = "utf-8") -> Path:
        path = tmp_path / name
        path.write_bytes(text.encode(encoding))
        return path

    return make


@pytest.fixture(scope="module")
def one_cup(sheets):
    """Serve one cup: a cell is read alike on every worksheet, and there are many to try."""
    return {name: replace(sheet, presentations=sheet.presentations[1:2])
            for name, sheet in sheets.items()}  # fmt: skip


IN_A_CELL = {
    "out_of_range": ("sweetness", 11),
    "not_a_number": ("sweetness", "strong"),
    "ambiguous_number": ("sweetness", "1,500"),
    "unit": ("sweetness", "5 %"),
    "date": ("sweetness", dt.datetime(2026, 5, 3)),  # noqa: DTZ001
    "boolean": ("sweetness", True),
    "error_cell": ("sweetness", "#N/A"),
    "formula": ("sweetness", "=2+3"),
    "not_an_option": ("sweetness_balance", "too sweet"),
    "ambiguous_option": ("sweetness_balance", 2),
    "not_a_tick": ("aroma:pear", "maybe"),
    "cross": ("aroma:pear", "×"),
}


@pytest.mark.parametrize("kind", IN_A_CELL)
def test_a_cell_that_is_no_answer(kind, filled, one_cup):
    attribute, written = IN_A_CELL[kind]
    answers = {**GOOD, ("427", attribute): [written]}
    reading = read_workbook(filled(one_cup["A01"], answers, "A01.xlsx"), one_cup)
    assert kinds(reading) == [kind]
    fault = next(fault for fault in reading.faults if fault.kind == kind)
    assert (fault.file, fault.assessor, fault.code) == ("A01.xlsx", "A01", "427")
    assert fault.attribute == attribute
    assert re.fullmatch(r"1-427![BDF]\d+", fault.place)
    shown = (
        "2026-05-03"
        if kind == "date"
        else str(written).upper()
        if written is True
        else str(written)
    )
    assert fault.found == shown
    assert values(reading)["427", "aroma_intensity"] == 4.0, "the rest goes in"
    assert ("427", attribute) not in values(reading)


@pytest.mark.parametrize(
    ("attribute", "written", "value"),
    [
        ("sweetness", "３，５", 3.5), ("sweetness", " 7 ", 7.0), ("sweetness", "０", 0.0),
        ("aroma:pear", "x", 1.0), ("aroma:pear", "Ｘ", 1.0), ("aroma:pear", "✓", 1.0),
        ("aroma:pear", "○", 1.0), ("aroma:pear", 1, 1.0), ("aroma:pear", "yes", 1.0),
        ("aroma:pear", 0, 0.0), ("aroma:pear", "no", 0.0),
        ("sweetness_balance", "ちょうどよい", 0.0), ("sweetness_balance", "Just Right", 0.0),
        ("sweetness_balance", -1, -1.0), ("sweetness_balance", "+2", 2.0),
        ("grade", 2, 2.0), ("grade", "good", 3.0), ("fault:musty", "２", 2.0),
        ("words", 7, "7"), ("words", "=dry", "=dry"), ("words", "5 %", "5 %"),
    ],
)  # fmt: skip
def test_a_cell_that_is_understood(attribute, written, value, filled, one_cup):
    path = filled(one_cup["A01"], {**GOOD, ("427", attribute): [written]})
    reading = read_workbook(path, one_cup)
    assert kinds(reading) == []
    assert values(reading)["427", attribute] == value


@pytest.mark.parametrize(
    ("attribute", "written", "kind"),
    [
        ("aroma:pear", "x", "cross"), ("aroma:pear", "ｘ", "cross"), ("aroma:pear", "✕", "cross"),
        ("fault:musty", 4, "out_of_range"), ("fault:musty", 1.5, "not_an_option"),
        ("sweetness_balance", 4, "not_an_option"), ("grade", "0", "not_an_option"),
        ("sweetness", dt.time(3, 5), "date"), ("aroma:pear", 2, "not_a_tick"),
        ("sweetness_balance", True, "not_an_option"), ("aroma:pear", True, "boolean"),
        ("aroma:pear", False, "boolean"), ("aroma:pear", "TRUE", "not_a_tick"),
        ("aroma:pear", "o", "not_a_tick"),
    ],
)  # fmt: skip
def test_what_a_japanese_sheet_refuses(attribute, written, kind, filled, one_cup):
    path = filled(one_cup["B02"], {("133", "aroma_intensity"): 4.0, ("133", attribute): [written]})
    assert kinds(read_workbook(path, one_cup)) == [kind]


def test_a_percent_format_is_not_a_number(filled, sheets):
    path = filled(sheets["A01"], GOOD)
    book = load_workbook(path)
    cell = next(c for row in book["1-427"]["D6:D20"] for c in row if c.value == 5)
    cell.value, cell.number_format = 0.05, "0%"
    book.save(path)
    reading = read_workbook(path, sheets)
    assert [(f.kind, f.found) for f in reading.faults if f.attribute == "sweetness"
            and f.code == "427"] == [("unit", "5%")]  # fmt: skip


def test_a_formula_with_a_stored_result_counts_and_keeps_its_formula(sheets):
    path = Path(__file__).parent / "data" / "formulas-A01.xlsx"
    reading = read_workbook(path, sheets)
    found = {answer.attribute: answer for answer in reading.answers if answer.code == "427"}
    assert (found["sweetness"].value, found["sweetness"].written) == (5.0, "=2+3")
    assert [f.attribute for f in reading.faults if f.kind == "error_cell"] == ["aroma_intensity"]


# What is left empty.


def test_missing_answers_are_told_once_a_place(filled, person, sheets):
    answers = person.answers(sheets["A01"])
    for attribute in ("sweetness", "sweetness_balance", "grade"):
        del answers["427", attribute]
    del answers["711-082-903", "odd"]
    reading = read_workbook(filled(sheets["A01"], answers), sheets)
    assert [(f.kind, f.code, f.attribute) for f in reading.faults] == [
        ("missing", "427", "sweetness"), ("missing", "427", "sweetness_balance"),
        ("missing", "427", "grade"), ("missing", "711-082-903", "odd"),
    ]  # fmt: skip
    assert values(reading) == answers


def test_words_and_faults_left_empty_are_none_when_the_cup_was_judged(filled, person, sheets):
    answers = person.answers(sheets["A01"])
    group = [place for place in answers if place[0] == "427" and ":" in place[1]]
    for place in group:
        del answers[place]
    reading = read_workbook(filled(sheets["A01"], answers), sheets)
    assert reading.faults == ()
    assert {values(reading)[place] for place in group} == {0.0}
    assert {a.written for a in reading.answers if (a.code, a.attribute) in group} == {""}


def test_free_words_alone_do_not_mean_that_nothing_was_noticed(filled, person, sheets):
    answers = person.answers(sheets["A01"])
    kept = {place: value for place, value in answers.items() if place[0] != "427"}
    kept["427", "words"] = "spilt it"
    reading = read_workbook(filled(sheets["A01"], kept), sheets)
    assert [(f.kind, f.code, f.expected) for f in reading.faults] == [("empty_cup", "427", "13")]
    assert values(reading) == kept


def test_an_empty_cup_is_told_once(filled, person, sheets):
    answers = {p: v for p, v in person.answers(sheets["A01"]).items() if p[0] != "518"}
    reading = read_workbook(filled(sheets["A01"], answers), sheets)
    assert [(f.kind, f.code) for f in reading.faults] == [("empty_cup", "518")]


def test_an_empty_sheet_is_told_once(filled, sheets):
    reading = read_workbook(filled(sheets["A01"], {("099", "sweetness"): 3.0}), sheets)
    assert [fault.kind for fault in reading.faults] == ["empty_sheet"]
    assert values(reading) == {("099", "sweetness"): 3.0}, "the warm-up is kept"


def test_the_warm_up_may_be_left_empty(filled, person, sheets):
    answers = {p: v for p, v in person.answers(sheets["A01"]).items() if p[0] != "099"}
    assert read_workbook(filled(sheets["A01"], answers), sheets).faults == ()


# Whose sheet, which cup, which worksheet.


def test_another_session(filled, person, sheets):
    other = replace(person.sheet("A01"), session="autumn-2")
    reading = read_workbook(filled(other, GOOD), sheets)
    assert [(f.kind, f.found, f.expected) for f in reading.faults] == [
        ("other_session", "autumn-2", "spring-1")
    ]
    assert reading.answers == ()


def test_another_plan(filled, person, sheets):
    card = person.sheet("A01").scorecard
    other = replace(person.sheet("A01"), scorecard=replace(card, questions=card.questions[1:]))
    reading = read_workbook(filled(other, {}), sheets)
    assert kinds(reading) == ["other_plan"]
    assert sheets["A01"].fingerprint in reading.faults[0].message()


def test_an_unknown_assessor(filled, person, sheets):
    reading = read_workbook(filled(replace(person.sheet("A01"), assessor="Q7"), {}), sheets)
    assert [(f.kind, f.found) for f in reading.faults] == [("unknown_assessor", "Q7")]


def test_a_changed_code(filled, person, sheets):
    answers = person.answers(sheets["A01"])
    path = filled(sheets["A01"], {**answers, ("427", "@code"): 472})
    reading = read_workbook(path, sheets)
    assert [(f.kind, f.found, f.expected) for f in reading.faults] == [
        ("changed_code", "472", "427")
    ]
    assert values(reading) == {p: v for p, v in answers.items() if p[0] != "427"}


@pytest.mark.parametrize("retyped", [427, "427", "４２７", " 427 "])
def test_a_code_typed_again_is_the_same_code(retyped, filled, person, sheets):
    answers = person.answers(sheets["A01"])
    path = filled(sheets["A01"], {**answers, ("427", "@code"): retyped})
    assert values(read_workbook(path, sheets)) == answers


def test_worksheets_taken_out_and_put_in(filled, person, sheets):
    answers = person.answers(sheets["A01"])
    path = filled(sheets["A01"], answers)
    book = load_workbook(path)
    copy = book.copy_worksheet(book["1-427"])
    del book["2-518"]
    book.create_sheet("blank")
    book.save(path)
    reading = read_workbook(path, sheets)
    assert [(f.kind, f.code, f.found) for f in reading.faults] == [
        ("no_worksheet", "518", ""), ("extra_worksheet", "", copy.title),
    ]  # fmt: skip
    assert values(reading) == {p: v for p, v in answers.items() if p[0] != "518"}


def test_what_is_written_beside_the_answers_is_told(filled, person, sheets):
    path = filled(sheets["A01"], person.answers(sheets["A01"]))
    book = load_workbook(path)
    book["1-427"]["L7"] = "smells of cardboard"
    book["1-427"]["A6"] = "Smell"
    book["2-518"]["A1"].comment = Comment("was warm", "")
    book["Start"]["A40"] = 3
    book.save(path)
    reading = read_workbook(path, sheets)
    assert [(f.kind, f.place, f.found) for f in reading.faults] == [
        ("outside", "1-427!A6", "Smell"), ("outside", "1-427!L7", "smells of cardboard"),
        ("outside", "2-518!A1", "was warm"), ("outside", "Start!A40", "3"),
    ]  # fmt: skip


def test_a_note_on_the_cell_of_an_answer_is_a_remark_beside_it(filled, person, sheets):
    """Case C4 and C6 of tests/outside/alone: kept whole, run by nobody, no answer of its own."""
    answers = person.answers(sheets["A01"])
    path = filled(sheets["A01"], answers)
    book = load_workbook(path)
    text = "Yuki:\ncup was <b>warm</b>, =1+1 " + "so " * 200 + "\U0001f376"
    page = book["2-518"]
    where = next(
        f"{cell}{row}"
        for row in range(2, page.max_row + 1)
        for cell, key in KEYS.items()
        if page[f"{key}{row}"].value == "sweetness"
    )
    page[where].comment = Comment(text, "")
    page[where].value = None
    book.save(path)
    reading = read_workbook(path, sheets)
    left = {place: value for place, value in answers.items() if place != ("518", "sweetness")}
    assert values(reading) == {**left, ("518", "sweetness" + REMARK): text}
    assert [(f.kind, f.attribute) for f in reading.faults] == [("missing", "sweetness")]


def test_rows_that_were_sorted_never_answer_another_question(filled, person, sheets, tmp_path):
    """Rows of a cup are shuffled while merged cells stay: right answers or a word, nothing else."""
    answers = person.answers(sheets["A01"])
    with zipfile.ZipFile(filled(sheets["A01"], answers)) as whole:
        parts = {name: whole.read(name) for name in whole.namelist()}
    part = next(name for name in parts if b"@code" in parts[name] and b">427<" in parts[name])
    body = re.compile(rb'<row r="(\d+)".*?</row>', re.DOTALL)
    rows = [found.group() for found in body.finditer(parts[part])]
    told = 0
    for seed in range(6):
        order = [0, 1, 2, *(3 + np.random.default_rng(seed).permutation(len(rows) - 3))]
        shuffled = [
            re.sub(rb'r="([A-Z]*)\d+"', rb'r="\g<1>%d"' % (place + 1), rows[at])
            for place, at in enumerate(order)
        ]
        turned = iter(shuffled)
        changed = body.sub(lambda _, turned=turned: next(turned), parts[part])
        path = tmp_path / f"{seed}.xlsx"
        path.write_bytes(_zip({**parts, part: changed}))
        reading = read_workbook(path, sheets)
        found = values(reading)
        assert found.items() <= answers.items()
        lost = [place for place in answers if place not in found and place[1] != "words"]
        assert not lost or kinds(reading) == ["moved_rows"]
        told += bool(lost)
    assert told > 2


def test_answers_that_were_sorted_without_their_hidden_keys_are_told(filled, person, sheets):
    answers = person.answers(sheets["A01"])
    path = filled(sheets["A01"], answers)
    book = load_workbook(path)
    page = book["1-427"]
    row = next(r for r in range(6, 30) if page[f"H{r}"].value == "aroma:apple")
    for column in "ABCDEF":
        here, below = page[f"{column}{row}"], page[f"{column}{row + 1}"]
        here.value, below.value = below.value, here.value
    book.save(path)
    reading = read_workbook(path, sheets)
    (told,) = [fault for fault in reading.faults if fault.kind == "moved_rows"]
    assert (told.code, told.expected) == ("427", "apple")
    assert values(reading) == {place: v for place, v in answers.items() if place[0] != "427"}


def test_a_strict_workbook_is_told_how_to_be_saved(filled, person, sheets, tmp_path):
    with zipfile.ZipFile(filled(sheets["A01"], person.answers(sheets["A01"]))) as whole:
        parts = {name: whole.read(name) for name in whole.namelist()}
    main = b"http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    strict = b"http://purl.oclc.org/ooxml/spreadsheetml/main"
    path = tmp_path / "strict.xlsx"
    path.write_bytes(_zip({name: text.replace(main, strict) for name, text in parts.items()}))
    (told,) = read_files([path], sheets).faults
    assert told.kind == "strict_workbook"
    assert ".xlsx" in told.message()


def test_a_ranking_must_fit_together(filled, sheets):
    code = "711-082-903"
    for places, fits in (((1, 2, 3), True), ((1.5, 1.5, 3), True), ((2, 2, 2), True),
                         ((1, 1, 3), False), ((1, 2, 2), False), ((3, 3, 3), False)):  # fmt: skip
        answers = {
            (code, f"order:{cup}"): place
            for cup, place in zip(code.split("-"), places, strict=True)
        }
        reading = read_workbook(filled(sheets["A01"], answers), sheets)
        assert ("tied_places" not in kinds(reading)) is fits
        assert values(reading) == (answers if fits else {})
    card = Scorecard((*sheets["A01"].scorecard, beneath_question()))
    beneath = replace(sheets["A01"].presentations[-1], asked=("beneath",))
    alone = replace(sheets["A01"], scorecard=card, presentations=(beneath,))
    for places, fits in (((3, 1, 2), True), ((1.5, 1.5, 3), False), ((2, 2, 1), False)):
        answers = {
            (code, f"beneath:{cup}"): place
            for cup, place in zip(code.split("-"), places, strict=True)
        }
        reading = read_workbook(filled(alone, answers), {"A01": alone})
        assert ("same_place" not in kinds(reading)) is fits
        assert values(reading) == (answers if fits else {})
    bad = {(code, "order:711"): 1.3}
    assert kinds(read_workbook(filled(sheets["A01"], bad), sheets)) == ["not_an_option"]


# Several files in one call.


def test_the_same_sheet_twice_is_taken_once(filled, person, sheets):
    answers = person.answers(sheets["A01"])
    del answers["427", "sweetness"]
    paths = [filled(sheets["A01"], answers, name) for name in ("A01.xlsx", "A01 (1).xlsx")]
    reading = read_files(paths, sheets)
    assert values(reading) == answers
    assert len(reading.answers) == len(answers)
    assert [fault.kind for fault in reading.faults] == ["missing"]


def test_two_different_answers_are_both_withheld(filled, person, sheets):
    answers = person.answers(sheets["A01"])
    first = filled(sheets["A01"], answers, "first.xlsx")
    second = filled(sheets["A01"], {**answers, ("427", "sweetness"): 9.0}, "second.xlsx")
    reading = read_files([first, second], sheets)
    assert [fault.kind for fault in reading.faults] == ["two_answers"]
    assert "first.xlsx" in reading.faults[0].found
    assert "'9' (second.xlsx, 1-427!" in reading.faults[0].found
    assert values(reading) == {p: v for p, v in answers.items() if p != ("427", "sweetness")}


def test_a_fuller_copy_answers_what_is_missing_in_the_other(filled, person, sheets):
    answers = person.answers(sheets["A01"])
    part = {p: v for p, v in answers.items() if p != ("427", "sweetness") and p[0] != "518"}
    paths = [filled(sheets["A01"], part, "part.xlsx"), filled(sheets["A01"], answers, "whole.xlsx")]
    reading = read_files(paths, sheets)
    assert reading.faults == ()
    assert values(reading) == answers


def test_bad_files_do_not_stop_good_ones(filled, person, sheets, tmp_path):
    answers = person.answers(sheets["A01"])
    good = filled(sheets["A01"], answers)
    (tmp_path / "torn.xlsx").write_bytes(good.read_bytes()[:3000])
    (tmp_path / "old.xls").write_bytes(b"\xd0\xcf\x11\xe0" + bytes(600))
    (tmp_path / "~$sheet.xlsx").write_bytes(b"\x05user")
    (tmp_path / "empty.csv").write_bytes(b"")
    (tmp_path / "notes.docx").write_bytes(_zip({"[Content_Types].xml": b"<x/>"}))
    (tmp_path / "sheet.ods").write_bytes(_zip({"mimetype": b"application/x"}))
    (tmp_path / "letter.txt").write_text("Dear brewer,\nit was lovely, thank you.\n")
    (tmp_path / "what.dat").write_bytes(b"\x00\x01\x02")
    names = ["torn.xlsx", "old.xls", "~$sheet.xlsx", "empty.csv", "notes.docx", "sheet.ods",
             "letter.txt", "what.dat", "absent.xlsx", "."]  # fmt: skip
    reading = read_files([*(tmp_path / name for name in names), good], sheets)
    assert values(reading) == answers
    assert [fault.kind for fault in reading.faults] == [
        "unreadable_file", "old_workbook", "lock_file", "not_a_sheet", "other_format",
        "other_format", "not_a_sheet", "not_a_sheet", "unreadable_file", "unreadable_file",
    ]  # fmt: skip


def _zip(parts: dict[str, bytes]) -> bytes:
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w") as out:
        for name, part in parts.items():
            out.writestr(name, part)
    return content.getvalue()


def test_a_workbook_under_another_name_is_still_read(filled, person, sheets):
    answers = person.answers(sheets["A01"])
    path = filled(sheets["A01"], answers)
    assert values(read_files([path.rename(path.with_name("A01.csv"))], sheets)) == answers


def test_pictures_without_the_extra(tmp_path, sheets, monkeypatch):
    import sys

    monkeypatch.setitem(
        sys.modules, "kikichoko.forms.photo.photo_reader", None
    )  # as if it could not be imported
    (tmp_path / "page.jpg").write_bytes(b"\xff\xd8\xff\xe0")
    reading = read_files([tmp_path / "page.jpg"], sheets)
    assert [fault.kind for fault in reading.faults] == ["missing_extra"]
    assert "kikichoko[photo]" in reading.faults[0].message()


def test_not_a_sheet(tmp_path, sheets):
    book = Workbook()
    book.active["A1"] = "shopping"
    book.save(tmp_path / "list.xlsx")
    assert kinds(read_workbook(tmp_path / "list.xlsx", sheets)) == ["not_a_sheet"]
    assert kinds(read_files([tmp_path / "list.xlsx"], sheets)) == ["not_a_sheet"]


# The catalogue.


# Told by a session, which knows what was read before.
BY_OTHERS = {"read_twice", "photo_before", "forgotten_assessor"}


@pytest.mark.parametrize("kind", sorted(set(topic("en", "fault")) - BY_OTHERS))
def test_each_kind_is_produced_somewhere(kind):
    """Its name stands in a test that makes it: here, in test_read_table or in another's."""
    here = Path(__file__).parents[2]  # all tests
    folders = (here / "forms", here / "robust")
    sources = [path.read_text("utf-8") for one in folders for path in one.rglob("test_*.py")]
    assert any(f'"{kind}"' in source for source in sources), kind


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("kind", topic("en", "fault"))
def test_each_kind_says_what_was_found(kind, language):
    fault = Fault(kind=kind, file="A01.xlsx", place="1-427!D7", assessor="A01", code="427",
                  attribute="sweetness", found="??", expected="0–10")  # fmt: skip
    message = fault.message(language)
    where = {"en": "A01.xlsx, 1-427!D7: ", "ja": "A01.xlsx、1-427!D7："}
    assert message.startswith(where[language])
    assert "{" not in message
    asked = {name for _, name, _, _ in Formatter().parse(topic(language, "fault").get(kind, ""))}
    assert asked - {None} <= set(Fault.__slots__)


@pytest.mark.parametrize(
    ("place", "language", "where"),
    [
        ("row 3, 甘味", "en", "T1.csv, row 3, 甘味: "),
        ("row 3, 甘味", "ja", "T1.csv、3 行目の列「甘味」："),
        ("row 3", "ja", "T1.csv、3 行目："),
        ("rows 3", "ja", "T1.csv、rows 3："),
    ],
)
def test_a_row_is_named_in_the_readers_language(place: str, language: str, where: str):
    fault = Fault(kind="missing", file="T1.csv", place=place, assessor="T1", code="427",
                  attribute="sweetness")  # fmt: skip
    assert fault.message(language).startswith(where)


def test_the_order_of_files_does_not_matter(filled, person, sheets):
    codes = ("A01", "B02")
    paths = [filled(sheets[code], person.answers(sheets[code]), f"{code}.xlsx") for code in codes]
    one, two = read_files(paths, sheets), read_files(reversed(paths), sheets)
    assert set(one.answers) == set(two.answers)


def test_torn_files_are_told_and_never_stop_the_reading(filled, person, sheets, tmp_path):
    """Cut and overwrite a good sheet at many places: it is read as it is, or told as a whole."""
    import random

    answers = person.answers(sheets["A01"])
    content = filled(sheets["A01"], answers).read_bytes()
    chance = random.Random(20260411)  # noqa: S311
    for turn in range(40):
        torn = bytearray(content)
        at = chance.randrange(len(torn))
        if turn % 2:
            torn[at : at + 40] = chance.randbytes(40)
        else:
            del torn[at:]
        path = tmp_path / f"torn-{turn}.xlsx"
        path.write_bytes(bytes(torn))
        reading = read_files([path], sheets)
        if reading.answers:
            assert values(reading).items() <= answers.items()
        else:
            assert [fault.file for fault in reading.faults] == [path.name]


def test_marks_on_paper_that_need_a_person_are_told_and_can_be_typed(tmp_path, sheets, monkeypatch):
    """The reader of pictures stands in here with two marks it would not settle."""
    import sys
    from types import ModuleType

    from kikichoko.forms.answers.uncertain_marks import Choice, PhotoReading, Uncertain

    def mark(attribute: str, reason: str, *choices: Choice) -> Uncertain:
        return Uncertain(session="spring-1", assessor="A01", code="427", attribute=attribute,
                         file="page.jpg", place="page 2", reason=reason, picture=b"",
                         choices=choices)  # fmt: skip

    marks = (mark("aroma:pear", "faint", Choice("yes", 1.0), Choice("no", 0.0)),
             mark("words", "words"))  # fmt: skip
    photo = ModuleType("kikichoko.forms.photo.photo_reader")
    photo.read_photos = lambda *_: PhotoReading((), (), marks)
    monkeypatch.setitem(sys.modules, "kikichoko.forms.photo.photo_reader", photo)
    (tmp_path / "page.jpg").write_bytes(b"\xff\xd8\xff\xe0")
    reading = read_files([tmp_path / "page.jpg"], sheets)
    assert [(f.kind, f.attribute, f.expected) for f in reading.faults] == [
        ("uncertain_mark", "aroma:pear", "yes; no"), ("handwriting", "words", ""),
    ]  # fmt: skip
    assert reading.uncertain == marks
    typed = tmp_path / "typed.csv"
    typed.write_text("assessor,code,attribute,score\nA01,427,aroma:pear,x\nA01,427,words,crisp\n")
    reading = read_files([tmp_path / "page.jpg", typed], sheets)
    assert reading.faults == ()
    assert len(reading.answers) == 2
