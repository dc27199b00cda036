"""Whatever people write: every cell is an answer or a fault, and no reader falls over."""

from __future__ import annotations

import csv
import datetime as dt
import io
import tempfile
from pathlib import Path

from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from kikichoko.forms.answers.answer_values import understand
from kikichoko.forms.answers.cells import Written
from kikichoko.forms.answers.numbers import Unclear
from kikichoko.forms.questions.question_types import Kind
from kikichoko.forms.questions.words import topic
from kikichoko.forms.reading import read_files

WRITTEN = [
    "7", "3,5", "３．５", "1,500", "-1", "+2", "x", "✓", "○", "×", "yes", "5 %", "3-5", "#N/A",
    "TRUE", "just right", "ちょうどよい", "good", "2.5", "apple; pear", "", " ", "　", "0",
    "=1", "427", "ー2", "three", "１１", "1e3", "nan", "inf", '"', ";", "a\nb",
]  # fmt: skip
cells = st.sampled_from(WRITTEN) | st.text(st.characters(codec="utf-8", exclude_categories=["Cc"]))
values = (
    cells
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.booleans()
    | st.just(dt.datetime(2026, 5, 3))  # noqa: DTZ001
)


@given(value=values, data=st.data())
def test_a_cell_is_a_value_that_can_be_answered_or_a_known_fault(value, data, person):
    """What comes out is within the question's range, whatever went in."""
    card = person.sheet().scorecard
    question = data.draw(st.sampled_from(card.questions))
    language = data.draw(st.sampled_from(["en", "ja"]))
    text = str(value)
    if isinstance(value, dt.datetime):
        cell = Written(text, text, "date")
    else:
        cell = Written(float(value) if type(value) is int else value, text)
    if cell.blank:
        return
    codes = ("711", "082", "903")
    try:
        taken = understand(question, cell, language, codes)
    except Unclear as unclear:
        known = unclear.kind in topic("en", "fault")
        assert known
        return
    match question.kind:
        case Kind.WORDS:
            assert taken == text
        case Kind.CHOICE:
            assert taken in codes
        case Kind.RANKING:
            assert 1 <= taken <= 3
        case Kind.LINE:
            assert question.low <= taken <= question.high
        case _:
            assert taken in question.values


COLUMNS = ["assessor", "code", "sweetness", "aroma_intensity", "sweetness_balance", "aroma:pear",
           "fault:musty", "grade", "words"]  # fmt: skip


@settings(deadline=None, max_examples=60)
@given(
    rows=st.lists(
        st.tuples(
            st.sampled_from(["A01", "a01", "B02", "Z9"]),
            st.sampled_from(["427", "518", "690", "999", "133"]),
            *[cells] * (len(COLUMNS) - 2),
        ),
        max_size=6,
    ),
    delimiter=st.sampled_from([",", ";", "\t"]),
)
def test_every_cell_of_a_table_is_an_answer_or_a_fault(rows, delimiter, sheets):
    text = io.StringIO()
    writer = csv.writer(text, delimiter=delimiter)
    writer.writerows([COLUMNS, *rows])
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "typed.csv"
        path.write_text(text.getvalue(), "utf-8", newline="")
        reading = read_files([path], sheets)
    accounted = {(answer.place, answer.written) for answer in reading.answers}
    told = {fault.place for fault in reading.faults}
    twice = " ".join(fault.found for fault in reading.faults if fault.kind == "two_answers")
    seen: dict[tuple[str, str, str], set[str]] = {}
    for at, row in enumerate(rows, start=2):
        whole_row = {f"row {at}, assessor", f"row {at}, code", f"row {at}"} & told
        for name, written in zip(COLUMNS[2:], row[2:], strict=True):
            place = f"row {at}, {name}"
            same = seen.setdefault((row[0].upper(), row[1], name), set())
            if not written.strip() or whole_row:
                continue
            found = (place, written) in accounted or place in told or f", {place})" in twice
            assert found or same, (place, written)  # an equal answer before it is taken once
            same.add(written)


@settings(deadline=None, max_examples=60)
@given(
    content=st.binary(max_size=300),
    suffix=st.sampled_from([".csv", ".xlsx", ".txt", ".tsv", ".dat", ""]),
)
def test_any_bytes_are_read_or_told(content, suffix, sheets):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"file{suffix}"
        path.write_bytes(content)
        if content[:3] in (b"\xff\xd8\xff", b"\x89PN", b"%PD"):
            return  # pictures are others' business
        reading = read_files([path], sheets)
    assert reading.answers == ()
    assert len(reading.faults) == 1


@settings(deadline=None, max_examples=6, phases=[Phase.explicit, Phase.generate])
@given(data=st.data())
def test_every_cell_of_a_workbook_is_an_answer_or_a_fault(data, person, sheets):
    sheet = sheets["A01"]
    places = list(person.answers(sheet))
    typed = data.draw(st.lists(values, min_size=len(places), max_size=len(places)))
    answers = {place: [value] for place, value in zip(places, typed, strict=True)}
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "sheet.xlsx"
        path.write_bytes(person.blank(sheet))
        person.fill(path, sheet, answers)
        reading = read_files([path], sheets)
    taken = {(answer.code, answer.attribute) for answer in reading.answers}
    told = {(fault.code, fault.attribute) for fault in reading.faults}
    for place, [value] in answers.items():
        if isinstance(value, str) and not value.strip():
            continue
        ranking = (place[0], place[1].partition(":")[0])
        assert place in taken or place in told or ranking in told, (place, value)
    assert not taken & told
