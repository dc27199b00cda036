"""Typed tables: long or wide, any heading that names one thing, every doubt told."""

from __future__ import annotations

import csv
import io

import pytest
from kikichoko.forms.questions.cards import card
from kikichoko.forms.questions.sheet import Presentation, Sheet
from kikichoko.forms.reading import read_files
from kikichoko.forms.spreadsheets.table_reader import read_answers_table
from openpyxl import Workbook


def values(reading):
    return {(a.assessor, a.code, a.attribute): a.value for a in reading.answers}


def told(reading):
    return [(fault.kind, fault.place, fault.found) for fault in reading.faults]


@pytest.fixture
def read(tmp_path, sheets):
    def make(text: str, name: str = "typed.csv", encoding: str = "utf-8"):
        path = tmp_path / name
        path.write_bytes(text.encode(encoding))
        return read_files([path], sheets)

    return make


LONG = "assessor,code,attribute,score\n"


def test_long(read):
    reading = read(
        LONG + "A01,427,sweetness,7\nA01,427,aroma:pear,x\nA01,427,grade,good\n"
        'A01,427,words,"crisp, clean"\na01,518,Sweetness,"3,5"\nB02,133,甘味,２\n'
        "A01,711-082-903,odd,082\nA01,711/82/903,order:082,1\n"
    )
    assert told(reading) == []
    assert values(reading) == {
        ("A01", "427", "sweetness"): 7.0, ("A01", "427", "aroma:pear"): 1.0,
        ("A01", "427", "grade"): 3.0, ("A01", "427", "words"): "crisp, clean",
        ("A01", "518", "sweetness"): 3.5, ("B02", "133", "sweetness"): 2.0,
        ("A01", "711-082-903", "odd"): "082", ("A01", "711-082-903", "order:082"): 1.0,
    }  # fmt: skip
    assert reading.answers[4].written == "3,5"
    assert reading.answers[4].place == "row 6, score"


def test_wide_with_labels_of_either_language(read):
    reading = read("評価者;番号;甘味;Aroma intensity;pear;Faults: musty, corky;言葉\n"
                   "A01;427;7,5;4;x;;うまい\nA01;518;1;2;;2;\n")  # fmt: skip
    assert told(reading) == []
    assert values(reading) == {
        ("A01", "427", "sweetness"): 7.5, ("A01", "427", "aroma_intensity"): 4.0,
        ("A01", "427", "aroma:pear"): 1.0, ("A01", "427", "fault:musty"): 0.0,
        ("A01", "427", "words"): "うまい",
        ("A01", "518", "sweetness"): 1.0, ("A01", "518", "aroma_intensity"): 2.0,
        ("A01", "518", "aroma:pear"): 0.0, ("A01", "518", "fault:musty"): 2.0,
    }  # fmt: skip


def test_a_column_that_lists_the_words(read, sheets):
    reading = read("assessor,code,sweetness,aroma\nA01,427,5,apple; Pear、メロン\nA01,518,5,\n"
                   "A01,690,5,pear; petrol\n")  # fmt: skip
    assert told(reading) == [("not_an_option", "row 4, aroma", "pear; petrol")]
    found = values(reading)
    ticked = [key for key, value in found.items() if value == 1.0]
    assert ticked == [("A01", "427", f"aroma:{word}") for word in ("apple", "pear", "melon")]
    words = len(sheets["A01"].scorecard["aroma"].options)
    assert sum(":" in attribute for _, _, attribute in found) == 2 * words


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp932"])
def test_encodings(read, encoding):
    reading = read(
        "評価者,番号,項目,点数\nA01,427,甘味,７\nA01,427,言葉,すっきり\n", encoding=encoding
    )
    assert told(reading) == []
    assert list(values(reading).values()) == [7.0, "すっきり"]


def test_an_encoding_that_nobody_can_tell(read):
    assert [
        kind for kind, *_ in told(read(LONG + "A01,427,words,caf\xe9\xe0\n", encoding="cp1252"))
    ] == ["encoding"]


def test_western_letters_that_can_only_be_western(read):
    reading = read(LONG + "A01,427,words,\xfcber\n", encoding="cp1252")
    assert list(values(reading).values()) == ["\xfcber"]


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_delimiters(read, delimiter):
    reading = read(
        LONG.replace(",", delimiter) + delimiter.join(["A01", "427", "sweetness", "3.5"])
    )
    assert values(reading) == {("A01", "427", "sweetness"): 3.5}


def test_workbook_tables_are_read_with_the_cells_they_stand_in(tmp_path, sheets):
    book = Workbook()
    page = book.active
    page.title = "typed"
    for row in (["assessor", "code", "sweetness", "aroma_intensity"], ["A01", 427, 3.5, "1,500"],
                ["A01", 518, None, 2]):  # fmt: skip
        page.append(row)
    book.create_sheet("remarks")["A1"] = "the second bottle was warm"
    book.save(tmp_path / "typed.xlsx")
    reading = read_answers_table(tmp_path / "typed.xlsx", sheets)
    assert values(reading) == {
        ("A01", "427", "sweetness"): 3.5, ("A01", "518", "aroma_intensity"): 2.0,
    }  # fmt: skip
    assert told(reading) == [
        ("ambiguous_number", "typed!D2", "1,500"), ("missing", "typed!C3", ""),
        ("extra_worksheet", "remarks", "remarks"),
    ]  # fmt: skip


def test_every_fault_is_told_and_good_rows_go_in(read):
    reading = read(
        LONG + "A01,427,sweetness,7\nX9,427,sweetness,7\nA01,999,sweetness,7\nA01,133,sweetness,7\n"
        "A01,427,swetness,7\nA01,427,aroma_intensity,12\nA01,099,grade,good\nA01,518,sweetness,\n"
        "A01,427,fault:musty,3,5\nA01,690,sweetness,#N/A\n"
    )
    assert told(reading) == [
        ("unknown_assessor", "row 3, assessor", "X9"), ("unknown_code", "row 4, code", "999"),
        ("foreign_code", "row 5, code", "133"),
        ("unknown_attribute", "row 6, attribute", "swetness"),
        ("out_of_range", "row 7, score", "12"), ("not_asked", "row 8, score", "good"),
        ("missing", "row 9, score", ""), ("row_shape", "row 10", "A01 | 427 | fault:musty | 3 | 5"),
        ("error_cell", "row 11, score", "#N/A"),
    ]  # fmt: skip
    assert values(reading) == {("A01", "427", "sweetness"): 7.0}


def test_headings_that_cannot_be_read(read):
    reading = read("assessor,code,sweetness,Sweetness,colour of label\nA01,427,3,4,red\n")
    assert told(reading) == [
        ("heading_twice", "row 1, Sweetness", "Sweetness"),
        ("unknown_attribute", "row 1, colour of label", "colour of label"),
    ]  # fmt: skip
    assert values(reading) == {("A01", "427", "sweetness"): 3.0}
    reading = read("assessor,code,attribute,score,weather\nA01,427,sweetness,3,good\n")
    assert told(reading) == [("unknown_column", "row 1, weather", "weather")]
    assert len(reading.answers) == 1
    reading = read("assessor,code,sweetness,remark\nA01,427,3,beside which?\n")
    assert told(reading) == [("unknown_attribute", "row 1, remark", "remark")]


def test_a_column_of_remarks(read):
    """Case C5 of tests/outside/alone: whole, beside its answer; where it has no place, told."""
    reading = read(
        "assessor,code,attribute,score,備考\n"
        'A01,427,sweetness,3,"first sip only; ""107"" was drier"\n'
        "A01,427,words,crisp,twice\nA01,518,sweetness,4,\nA01,711-082-903,odd,082,by the nose\n"
        "A01,518,aroma_intensity,,cup was warm\n"
    )
    assert told(reading) == [
        ("remark_place", "row 3, 備考", "twice"), ("remark_place", "row 5, 備考", "by the nose"),
        ("missing", "row 6, score", ""),
    ]  # fmt: skip
    remarks = {one.attribute: one.value for one in reading.answers if one.attribute[-1] == "k"}
    assert remarks == {
        "sweetness:@remark": 'first sip only; "107" was drier',
        "aroma_intensity:@remark": "cup was warm",
    }


def test_an_ambiguous_heading(sheets, tmp_path):
    from dataclasses import replace

    card = sheets["A01"].scorecard
    twins = tuple(
        replace(question, label=card["aroma"].options[1].label)
        if question.key == "grade"
        else question
        for question in card
    )
    sheet = replace(sheets["A01"], scorecard=replace(card, questions=twins))
    path = tmp_path / "typed.csv"
    path.write_text("assessor,code,sweetness,pear\nA01,427,3,1\n")
    reading = read_answers_table(path, {"A01": sheet})
    assert [(f.kind, f.found, f.expected) for f in reading.faults] == [
        ("ambiguous_heading", "pear", "aroma:pear, grade")
    ]


def test_missing_columns(read):
    assert [(f.kind, f.expected) for f in read("assessor,sweetness\nA01,3\n").faults] == [
        ("no_column", "code")
    ]
    assert [(f.kind, f.expected) for f in read("code,score\n427,3\n").faults] == [
        ("no_column", "assessor"), ("no_column", "attribute"),
    ]  # fmt: skip
    assert [fault.kind for fault in read("a,b\n1,2\n").faults] == ["not_a_sheet"]
    japanese = read("評価者,番号,項目,感想\nA01,427,甘味,よい\n").faults
    assert (japanese[0].kind, japanese[0].expected) == ("no_column", "score (点数)")


@pytest.mark.parametrize("heading", ["得点", "点", "スコア"])
def test_a_column_of_scores_by_what_people_call_it(read, heading):
    reading = read(f"評価者,番号,評価項目,{heading}\nA01,427,甘味,7\n")
    assert told(reading) == []
    assert values(reading) == {("A01", "427", "sweetness"): 7.0}


@pytest.mark.parametrize("edition", [1, 2])
def test_headings_of_either_edition_of_a_card_are_read(tmp_path, edition):
    path = tmp_path / "t.csv"
    asked = card("beginners", edition=edition)
    cup = Presentation(number=1, flight=1, codes=("427",), asked=asked.keys)
    sheet = Sheet(session="s", title="t", assessor="A01", language="en", date="2026-03-14",
                  presentations=(cup,), scorecard=asked)  # fmt: skip
    path.write_text("assessor,code,Length of finish,Smell of the still cup\nA01,427,3,4\n", "utf-8")
    reading = read_answers_table(path, {"A01": sheet})
    assert reading.faults == ()
    found = {one.attribute: one.value for one in reading.answers}
    assert (found["finish_length"], found["aroma_intensity"]) == (3.0, 4.0)


def test_session_column(read):
    reading = read("session,assessor,code,attribute,score\nspring-1,A01,427,sweetness,1\n"
                   "autumn-2,A01,518,sweetness,1\n")  # fmt: skip
    assert told(reading) == [("other_session", "row 3, session", "autumn-2")]
    assert len(reading.answers) == 1


def test_an_empty_row_of_answers_is_one_empty_cup(read):
    reading = read(
        "assessor,code,sweetness,aroma_intensity,pear\nA01,427,,,\nA01,518,1,,\nA01,099,,,\n"
    )
    assert told(reading) == [("empty_cup", "row 2", ""), ("missing", "row 3, aroma_intensity", "")]
    assert values(reading) == {
        ("A01", "518", "sweetness"): 1.0, ("A01", "518", "aroma:pear"): 0.0,
    }  # fmt: skip


def test_the_same_cell_twice_in_one_table(read):
    reading = read(LONG + "A01,427,sweetness,7\nA01,427,sweetness,7.0\nA01,518,sweetness,1\n"
                   "A01,518,sweetness,2\n")  # fmt: skip
    assert values(reading) == {("A01", "427", "sweetness"): 7.0}
    assert [(f.kind, f.found) for f in reading.faults] == [
        ("two_answers", "'1' (typed.csv, row 4, score); '2' (typed.csv, row 5, score)")
    ]


@pytest.mark.parametrize(
    ("typed", "taken", "doubtful"),
    [
        (["-1", "0", "1", "2"], [-1, 0, 1], 0),  # values: two cups are enough to show it
        (["3", "1", "2"], [], 3),  # places: 1 and 2 would be silently wrong
        (["1", "2"], [], 2),  # nobody can know
        (["+1", "+2"], [1, 2], 0),  # a sign tells
        (["just right", "2"], [0], 1),
    ],
)
def test_numbers_for_words_in_order_are_not_guessed(read, typed, taken, doubtful):
    codes = ["427", "518", "690"]
    rows = [f"A01,{code},{number}\n" for code, number in zip(codes, typed, strict=False)]
    if len(typed) > 3:
        rows.append(f"M01,427,{typed[3]}\n")
        taken = [*taken, float(typed[3])]
    reading = read("assessor,code,sweetness_balance\n" + "".join(rows))
    assert [a.value for a in reading.answers] == taken
    assert len(reading.faults) == doubtful
    assert {fault.kind for fault in reading.faults} <= {"ambiguous_option", "not_an_option"}


def test_a_whole_sheet_typed_from_paper(read, person, sheets):
    answers = person.answers(sheets["A01"])
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(["assessor", "code", "attribute", "score"])
    for (code, attribute), value in answers.items():
        signed = f"{value:+g}" if attribute == "sweetness_balance" else value
        writer.writerow(["A01", code, attribute, signed])
    reading = read(text.getvalue())
    assert told(reading) == []
    assert values(reading) == {("A01", *place): value for place, value in answers.items()}
