"""Columns of printed tables: none torn off, none narrow beside an empty one, no sign alone."""

from __future__ import annotations

import ctypes
from itertools import pairwise

import pandas as pd
import pypdfium2
import pytest
from kikichoko.forms.paper.typeset import width
from kikichoko.panel.base.words import sentence
from kikichoko.panel.report import pdf, table_columns
from kikichoko.panel.report.parts import Grid, Points, Report, Section
from kikichoko.panel.report.table_columns import (
    GAP,
    SHORT_HEAD,
    TOGETHER,
    PrintedColumns,
    breakable,
    columns_of,
    turns,
    whole_words,
)
from pypdfium2 import raw

LEAST = 7.0


def table(columns: int, rows: int, cell: str) -> tuple[list[str], list[list[str]]]:
    head = ["Attribute", *(f"B{n}" for n in range(1, columns - 1)), "p"]
    return head, [[f"a{n}", *[cell] * (columns - 2), "0.01"] for n in range(rows)]


def taken(part: PrintedColumns) -> float:
    return sum(part.widths) + part.gap * (len(part.widths) - 1)


def test_a_table_that_is_a_little_too_wide_is_set_smaller():
    head, rows = table(9, 3, "6.2(5.7-6.8)")
    wide = sum(c.widths[0] for n in range(9) for c in columns_of(head[n : n + 1], [], 500.0, 8.0))
    (whole,) = columns_of(head, rows, 500.0, 8.0)
    assert (whole.size, whole.gap) == (8.0, GAP)
    assert wide < taken(whole)
    (same,) = columns_of(head, rows, taken(whole) + 2, 8.0)
    assert same.size == 8.0
    (smaller,) = columns_of(head, rows, 0.95 * taken(whole), 8.0)
    assert LEAST <= smaller.size < 8.0
    assert taken(smaller) <= 0.95 * taken(whole)
    parts = columns_of(head, rows, 0.75 * taken(whole), 8.0)
    assert len(parts) == 2, "no type under 7 pt"
    assert all(one.size >= LEAST for one in parts)


SERVED = [
    ["free-run", "T9-0319", "raw", "17.1", "raw: 5 °C or below until poured"],
    ["middle", "T9-0319", "pasteurised once", "17.0", "kept cool and dark until poured"],
]


def lines_of(part: PrintedColumns, head: list[str], rows: list[list[str]]) -> int:
    columns = [list(cells) for cells in zip(head, *rows, strict=True)]
    return int(table_columns._Heights(columns, part.size).table(part.widths))


def test_a_table_is_set_smaller_where_its_rows_become_much_lower(monkeypatch: pytest.MonkeyPatch):
    """A last column of one word a line took five lines a row, where 7.5 pt takes two."""
    head = ["Bottle", "Lot", "Pasteurised", "Alcohol %", "Care"]
    sizes = {}
    for room in range(70, 130):
        (taken_now,) = columns_of(head, SERVED, room, 8.0)
        with monkeypatch.context() as never:
            never.setattr(table_columns, "LOWER", 0.0)
            (usual,) = columns_of(head, SERVED, room, 8.0)
        with monkeypatch.context() as ever:
            ever.setattr(table_columns, "LOWER", 1.0)
            (smallest,) = columns_of(head, SERVED, room, 8.0)
        lines = {part.size: lines_of(part, head, SERVED) for part in (usual, smallest, taken_now)}
        sizes[room] = usual.size, taken_now.size
        if taken_now.size < usual.size:
            assert lines[taken_now.size] <= table_columns.LOWER * lines[usual.size]
        else:
            assert smallest.size == usual.size or (
                lines[smallest.size] > table_columns.LOWER * lines[usual.size]
            )
        assert taken_now.size >= LEAST
    assert any(now < usual for usual, now in sizes.values())
    assert any(now == usual == 8.0 for usual, now in sizes.values())
    assert sizes[129] == (8.0, 8.0), "where everything has its line nothing is made smaller"


def test_no_type_under_7_pt_is_taken_to_make_rows_lower():
    head = ["Bottle", "Lot", "Pasteurised", "Alcohol %", "Care"]
    rooms = range(60, 120)
    of_first = [columns_of(head, SERVED, room, 7.2)[0] for room in rooms]
    columns = [list(cells) for cells in zip(head, *SERVED, strict=True)]
    least = sum(table_columns._wanted_by(columns, 7.2)[0]) + GAP * (len(head) - 1)
    assert rooms[0] < least < rooms[-1]
    for one, room in zip(of_first, rooms, strict=True):
        assert (one.size == 7.2) is (room >= least), "smaller alone where there is no room else"


@pytest.mark.parametrize("columns", range(11, 24))
def test_no_column_is_torn_off_alone(columns: int):
    head, rows = table(columns, 30, "6.2(5.7-6.8)")
    parts = columns_of(head, rows, 184.0, 8.0)
    assert sorted(n for one in parts for n in one.part[1:]) == list(range(1, columns))
    assert all(one.part[0] == 0 and taken(one) <= 184.01 for one in parts)
    counts = [len(one.part) for one in parts]
    assert len(parts) == 1 or min(counts) >= 0.5 * max(counts), counts


def test_bottles_become_rows_where_there_are_more_of_them_than_attributes():
    head, rows = table(17, 4, "6.2(5.7-6.8)")
    assert turns(head, rows, 184.0, 8.0)
    assert not turns(*table(17, 17, "6.2(5.7-6.8)"), 184.0, 8.0), "as many rows as columns"
    frame = pd.DataFrame(rows, columns=head)
    text = printed(Grid("Means", frame))
    at = [text.index(f"B{n}") for n in range(1, 16)]
    assert at == sorted(at)
    assert text.count("B7") == 1
    assert text.index("a0") < text.index("a3") < at[0]
    assert text.index("\np") > at[-1]
    assert "Attribute" not in text, "it stood over what is a head now"


def test_a_narrow_column_gets_what_another_leaves_empty():
    rows = [
        ["volume of the content", "all", "the law on this, article 86", "from memory, unseen"]
    ] * 9
    head = ["What", "For", "Rule", "Known from"]
    room = 105.0
    (one,) = columns_of(head, rows, room, 8.0)
    assert taken(one) == pytest.approx(room, abs=0.1)
    assert one.widths[1] < 10, "its cells are short"
    assert all(
        wide >= 0.5 * width(cell, 8.0) for wide, cell in zip(one.widths, rows[0], strict=True)
    )


def test_rows_stay_together_by_their_lines():
    head, rows = table(4, 9, "x")
    (one,) = columns_of(head, rows, 184.0, 8.0)
    assert one.ends(rows) == (TOGETHER, TOGETHER)
    tall = [["a", "word " * 60, "x", "x"], *rows]
    (one,) = columns_of(head, tall, 184.0, 8.0)
    assert one.ends(tall) == (1, TOGETHER)


@pytest.mark.parametrize("before", range(26, 46))
def test_no_head_of_a_table_leaves_its_first_rows(before: int):
    frame = pd.DataFrame({"Bottle": [f"row{n:03d}" for n in range(26)], "Mean": "5.0"})
    pages = pages_of(Points(("A line.",) * before), Grid("Means", frame), Points(("End.",) * 40))
    first = next(page for page in pages if "Means" in page)
    assert all(f"row{n:03d}" in first for n in range(TOGETHER))


def test_no_japanese_heading_is_set_letter_by_letter():
    """Above short figures "アルコール分 %" had five lines, and "精米歩合 %" one a letter."""
    head = ["瓶", "アルコール分 %", "精米歩合 %", "扱い"]
    rows = [
        [
            "中取り 生 10℃",
            "16.5",
            "60",
            "生酒：注ぐまで5℃以下、内圧注意：ゆっくり開け、振らない。" * 4,
        ]
    ]
    whole = list(map(whole_words, head))
    assert [one.replace("\u2060", "") for one in whole] == head
    (made,) = columns_of(whole, rows, 184.0, 8.0)
    for n, word in ((1, "アルコール分"), (2, "精米歩合")):
        assert made.widths[n] >= width(word, made.size, bold=True)
    (cut,) = columns_of(head, rows, 70.0, 8.0)
    letter = width("精", cut.size, bold=True)
    assert min(cut.widths[1:3]) >= 2 * letter, "where words have no room, no letter stands alone"


def test_no_sign_stands_alone_at_the_end_of_a_cell():
    assert breakable("どうするか", 8.0) == "どうする\u2060か"
    assert breakable("生酒", 8.0) == "生酒"
    assert breakable("half a cup", 8.0) == "half a cup"
    head = ["瓶", "どうするか", "ほかとの違い"]
    rows = [["荒走り", "妨げる指摘なし", "高い：澄み、なめらかさ、上立ち香の強さ、キレ。" * 4]]
    (one,) = columns_of(head, rows, 90.0, 8.0)
    assert one.widths[1] >= width(head[1], 8.0, bold=True)


@pytest.mark.parametrize("language", ["en", "ja"])
def test_lines_of_a_point_stand_closer_than_points(language: str):
    point = {"en": "A point of many words " * 9, "ja": "いくつもの行にわたる箇条書き、" * 9}[
        language
    ]
    page = document(Points((point,) * 4), language=language)[0]
    text = page.get_textpage()
    x, y = ctypes.c_double(), ctypes.c_double()
    letters = []
    for n in range(text.count_chars()):
        raw.FPDFText_GetCharOrigin(text, n, x, y)
        letters.append((chr(raw.FPDFText_GetUnicode(text, n)), round(y.value, 1)))
    marks = [y for letter, y in letters if letter == "·"]
    assert len(marks) == 4
    lines = sorted({y for _, y in letters if marks[-1] < y <= marks[0]}, reverse=True)
    lines.append(marks[-1])
    within = {high - low for high, low in pairwise(lines) if low not in marks}
    between = {high - low for high, low in pairwise(lines) if low in marks}
    assert within
    assert min(between) > max(within) + 0.5


def document(*blocks, language: str = "en") -> pypdfium2.PdfDocument:
    own = Section(key="differ", title=sentence("report.differ"), blocks=blocks)
    report = Report(title="Spring tasting", subtitle="8 assessors", language=language,
                    names=frozenset(), sections=(own,))  # fmt: skip
    return pypdfium2.PdfDocument(pdf.pdfs(report, "MARK", "A4")["report.pdf"])


def pages_of(*blocks) -> list[str]:
    return [page.get_textpage().get_text_range() for page in document(*blocks)]


def printed(*blocks) -> str:
    return "\n".join(pages_of(*blocks)).replace("\r\n", "\n")


@pytest.mark.parametrize(("word", "whole"), [("アルコール分", True), ("アルコール分量", False)])
def test_a_japanese_word_of_a_heading_is_kept_whole_up_to_six_letters(word: str, whole: bool):
    assert len(word) == SHORT_HEAD + (not whole)
    assert (table_columns._uncut(f"{word} %", head=True) == [f"{word} ", "%"]) is whole
    assert len(table_columns._uncut(f"{word} %", head=False)) > 2, "a cell is no heading"
