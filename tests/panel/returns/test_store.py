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


def test_answers_are_as_they_stand_now_whoever_wrote_and_whatever_was_broken_off(store, tmp_path):
    assert store.answers() == []
    with Store(tmp_path) as other:
        other.add([ONE])
    assert [one.answer for one in store.answers()] == [ONE]

    def broken_off() -> None:
        with store.transaction():
            store.add([replace(ONE, attribute="body")])
            assert len(store.answers()) == 2
            raise ValueError("stop")

    with pytest.raises(ValueError, match="stop"):
        broken_off()
    assert [one.answer for one in store.answers()] == [ONE]
    store.answers().clear()
    assert len(store.answers()) == 1


def test_what_is_made_of_the_answers_is_made_anew_when_they_change_and_for_nothing_else(
    store, tmp_path
):
    made = []

    def count() -> int:
        made.append(len(store.answers()))
        return made[-1]

    store.add([ONE])
    assert [store.kept("n", count), store.kept("n", count)] == [1, 1]
    store.note_opening("report", 0)
    with store.transaction():
        assert store.kept("n", count) == 1
    assert made == [1]
    store.add([replace(ONE, attribute="body")])
    assert store.kept("n", count) == 2
    with Store(tmp_path) as other:
        other.add([replace(ONE, attribute="umami")])
    assert store.kept("n", count) == 3

    def broken_off() -> None:
        with store.transaction():
            store.add([replace(ONE, attribute="texture")])
            assert store.kept("n", count) == 4
            raise ValueError("stop")

    with pytest.raises(ValueError, match="stop"):
        broken_off()
    assert store.kept("n", count) == 3
    assert made == [1, 2, 3, 4, 3]


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
    assert faults[0].found == f"{ONE.as_written()} (a.xlsx, {ONE.place}) / '6'"
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
    original.write_bytes(b"other")
    assert store.known_file(original) is None


def test_a_file_is_known_from_its_finished_reading_under_the_same_plan(store, tmp_path):
    original = tmp_path / "sheet.csv"
    original.write_bytes(b"assessor,code")
    kept = store.keep(original)
    assert store.known_file(original) is None
    assert store.unread() == [kept]
    store.note_reading(original, "plan-1", answers=3)
    assert store.known_file(original, "plan-1")
    assert store.known_file(original, "plan-2") is None
    assert store.unread() == []


def test_a_transaction_broken_off_leaves_neither_answer_nor_reading(store, tmp_path):
    original = tmp_path / "sheet.csv"
    original.write_bytes(b"assessor,code")

    def stopped() -> None:
        with store.transaction():
            store.add([ONE])
            store.note_faults([Fault(kind="missing", file="sheet.csv")])
            store.note_reading(original)
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        stopped()
    assert store.answers() == []
    assert store.faults() == {}
    assert store.known_file(original) is None
    assert len(store.unread()) == 1, "the copy is told as not read"
    with store.transaction():
        store.add([ONE])
        store.note_reading(original)
    assert store.known_file(original)
    assert store.unread() == []
    assert len(list((tmp_path / "returned").iterdir())) == 1


def test_answers_of_two_plans_stand_side_by_side(store):
    later = replace(ONE, value=6.0, written="6")
    assert store.add([ONE], plan="p1") == (1, [])
    assert store.add([later], plan="p2") == (1, [])
    assert [(one.plan, one.answer.value) for one in store.answers()] == [("p1", 4.0), ("p2", 6.0)]


@pytest.mark.parametrize(
    ("name", "kept"),
    [
        ("CON.csv", "_CON.csv"),
        ("sheet\n[OK] all read.csv", "sheet_[OK] all read.csv"),
        ("s" * 250 + ".csv", "s" * 116 + ".csv"),
        ("\u9152" * 80 + ".xlsx", "\u9152" * 38 + ".xlsx"),
        ("a\udcffb.csv", "a_xffb.csv"),
    ],
)
def test_odd_names_are_kept_under_names_that_every_disk_takes(store, tmp_path, name, kept):
    original = tmp_path / name
    original.write_bytes(b"assessor,code")
    assert store.keep(original).partition("-")[2] == kept
    assert (tmp_path / "returned" / store.unread()[0]).read_bytes() == b"assessor,code"


def test_what_a_corrected_copy_repeats_is_one_fault(store):
    odd = Fault(kind="not_a_number", file="a.xlsx", place="381!B3", assessor="A1", code="381",
                attribute="acidity", found="much")  # fmt: skip
    outside = Fault(kind="outside", file="a.xlsx", place="381!F9", assessor="A1", found="hello")
    unknown = Fault(kind="not_a_sheet", file="a.txt")
    store.note_faults([odd, outside, unknown])
    copies = [replace(one, file=f"corrected {one.file}") for one in (odd, outside, unknown)]
    store.note_faults(copies)
    kinds = sorted(fault.kind for fault in store.faults().values())
    assert kinds == ["not_a_number", "not_a_sheet", "not_a_sheet", "outside"]
    for number in store.faults():
        assert store.settle(number, "asked")
    store.note_faults(copies)
    assert store.faults() == {}, "what was settled is not asked again"
    store.note_faults([replace(odd, found="little")])
    assert [fault.found for fault in store.faults().values()] == ["little"]


def test_answers_after_an_opening_are_counted_whatever_the_clock_says(store, monkeypatch):
    store.add([ONE])
    opening = store.note_opening("report", 0)
    monkeypatch.setattr("kikichoko.panel.returns.store.now", lambda: "1970-01-01T00:00:00+00:00")
    store.add([replace(ONE, attribute="umami")])
    assert store.entered_after(opening) == 1
    assert store.entered_after(store.openings()[0]) == 1


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


@pytest.mark.parametrize(("code", "page", "left"), [("381", 2, 0), ("381", 1, 1), ("567", 2, 1)])
def test_writing_at_no_question_is_over_when_its_page_was_passed_as_right(
    store, tmp_path, code, page, left
):
    """SH12: "glass 2 and 3 swapped!": answers of the cup alone do not settle it."""
    picture = tmp_path / "a.jpg"
    picture.write_bytes(b"a picture")
    store.keep(picture)
    note = Fault(kind="photo_note", file="a.jpg", place="page 2", assessor="A1", code="381")
    store.note_faults([note, replace(note, kind="photo_twice")])
    store.add([ONE])
    assert [one.kind for one in store.faults().values()] == ["photo_note", "photo_twice"]
    with store.transaction():
        store.database.execute(
            "INSERT INTO looks (file, code, page, pages, looked_at, looked_by) "
            "VALUES ((SELECT max(id) FROM files), ?, ?, 4, '2026-11-27', 'Mia')",
            (code, page),
        )
    assert [one.kind for one in store.faults().values()][:-1] == ["photo_note"] * left


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
