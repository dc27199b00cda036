"""The store keeps everything: append-only, corrections as new rows, openings on the record."""

from __future__ import annotations

import sqlite3
from dataclasses import replace

import pytest
from kikichoko.forms.answers.answer import Answer, Fault
from kikichoko.panel.returns.store import FILE, Store

ONE = Answer(
    session="s",
    assessor="A1",
    code="381",
    attribute="acidity",
    value=4.0,
    file="a.xlsx",
    place="C3",
    written="4",
)


@pytest.fixture
def store(tmp_path):
    with Store(tmp_path) as opened:
        yield opened


def test_what_goes_in_comes_out(store):
    words = replace(ONE, attribute="words", value="洋梨, light", written="洋梨, light")
    added, faults = store.add([ONE, words])
    assert (added, faults) == (2, [])
    assert [one.answer for one in store.answers()] == [ONE, words]


def test_the_same_answer_again_changes_nothing(store):
    store.add([ONE])
    assert store.add([replace(ONE, file="b.xlsx")]) == (0, [])
    assert len(store.answers()) == 1


def test_a_different_answer_is_a_fault_until_a_person_corrects(store):
    store.add([ONE])
    other = replace(ONE, value=6.0, written="6", file="b.xlsx")
    added, faults = store.add([other])
    assert added == 0
    assert [fault.kind for fault in faults] == ["two_answers"]
    assert "4.0" in faults[0].found
    assert "6.0" in faults[0].found
    store.note_faults(faults)
    assert len(store.faults()) == 1
    store.add([other], correct=True, decided_by="leader")
    (stands,) = store.answers()
    assert stands.answer.value == 6.0
    assert stands.corrections == 1
    assert store.faults() == {}


def test_confirming_the_old_answer_settles_the_fault(store):
    store.add([ONE])
    _, faults = store.add([replace(ONE, value=6.0)])
    store.note_faults(faults)
    store.add([ONE], correct=True, decided_by="leader")
    assert store.answers()[0].answer.value == 4.0
    assert store.faults() == {}


def test_rows_can_be_neither_changed_nor_deleted(store, tmp_path):
    store.add([ONE])
    store.note_faults([Fault(kind="missing", file="x")])
    store.note_opening("report", 0)
    raw = sqlite3.connect(tmp_path / FILE)
    for order in (
        "UPDATE answers SET number = 9",
        "DELETE FROM answers",
        "DELETE FROM faults",
        "UPDATE openings SET sheets_out = 5",
        "DELETE FROM openings",
    ):
        with pytest.raises(sqlite3.IntegrityError, match="append-only"):
            raw.execute(order)
    raw.close()


def test_originals_are_kept_unchanged_and_once(store, tmp_path):
    original = tmp_path / "sheet.csv"
    original.write_bytes(b"assessor,code\r\n\xef\xbb\xbf\x00odd")
    kept = store.keep(original)
    assert (tmp_path / "returned" / kept).read_bytes() == original.read_bytes()
    assert store.keep(original) is None
    assert store.known_file(original)
    original.write_bytes(b"other")
    assert store.known_file(original) is None


def test_a_fault_is_over_when_its_cell_is_answered_or_a_person_settles_it(store):
    missing = Fault(kind="missing", file="a.xlsx", assessor="A1", code="381", attribute="acidity")
    whole = Fault(kind="not_a_sheet", file="photo.txt")
    store.note_faults([missing, whole, missing])
    assert len(store.faults()) == 2, "the same fault seen twice is one"
    store.add([ONE])
    (number,) = store.faults()
    assert store.settle(number, "it was a shopping list")
    assert not store.settle(number, "again")
    assert store.faults() == {}


def test_a_failed_call_leaves_nothing_behind(store):
    def broken():
        yield ONE
        message = "power cut"
        raise RuntimeError(message)

    with pytest.raises(RuntimeError):
        store.add(broken())
    assert store.answers() == []


def test_reopening_an_older_store_loses_nothing(tmp_path):
    with Store(tmp_path) as first:
        first.add([ONE])
        first.note_opening("report", 2)
    with Store(tmp_path) as again:
        assert [one.answer for one in again.answers()] == [ONE]
        assert again.openings()[0].sheets_out == 2


def test_a_correction_adds_only_what_changed(store):
    other = replace(ONE, attribute="umami", value=3.0, written="3")
    store.add([ONE, other])
    added, _ = store.add([replace(ONE, value=5.0, written="5"), other], correct=True)
    assert added == 1


def test_two_answers_withheld_in_one_call_are_over_once_one_is_read(store):
    store.note_faults([Fault(kind="two_answers", file="a", assessor="A1", code="381",
                             attribute="acidity", found="4 / 6")])  # fmt: skip
    store.add([ONE])
    assert store.faults() == {}


def test_a_fault_seen_after_the_cell_was_answered_stays_open(store):
    store.add([ONE])
    odd = Fault(kind="not_a_number", file="b.csv", assessor="A1", code="381", attribute="acidity")
    store.note_faults([odd])
    assert len(store.faults()) == 1


def test_an_empty_cup_is_over_once_something_is_said_about_it(store):
    store.note_faults([Fault(kind="empty_cup", file="a", assessor="A1", code="381")])
    store.add([replace(ONE, code="999")])
    assert len(store.faults()) == 1
    store.add([ONE])
    assert store.faults() == {}
