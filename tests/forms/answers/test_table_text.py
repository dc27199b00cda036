"""Letters and layout of text tables, on both sides of their rules."""

from __future__ import annotations

import pytest
from kikichoko.forms.answers.table_text import decoded, heading_at, laid_out

WRITTEN = [
    ("品名,日本酒度\n荒走り,3", ("cp932", "euc_jp", "iso2022_jp", "utf-16", "utf-8-sig")),
    ("醸造,吟醸", ("cp932", "euc_jp", "iso2022_jp")),
    ("ｱﾙｺｰﾙ分,酸度\n15,1.4", ("cp932", "utf-16-le")),
    ("tête,1\nà côté,2", ("cp1252", "utf-8")),
    ("Alcool (° vol);5", ("cp1252", "utf-16-be")),
    ("Prénom;Été\nZoé;±0", ("cp1252",)),
]


@pytest.mark.parametrize(("text", "encoding"), [(t, e) for t, codes in WRITTEN for e in codes])
def test_letters_come_out_as_they_were_written(text, encoding):
    assert decoded(text.encode(encoding)) == [text]


def test_letters_with_two_readings_are_left_open():
    # Bytes that are kanji to one encoding and kanji to the other: nobody can tell.
    both = bytes([0xE0, 0xE0])
    assert len(decoded(both)) != 1


@pytest.mark.parametrize(
    ("rows", "at"),
    [
        ([["Tank 7", "", ""], ["a", "b", "c"], ["1", "2", "3"]], 1),
        # 3 of 5 are six tenths of the fullest row, 2 of 5 are less
        ([["a", "b", "c", "", ""], ["1", "2", "3", "4", "5"]], 0),
        ([["a", "b", "", "", ""], ["1", "2", "3", "4", "5"]], 1),
        ([["", ""], ["a", "b"]], 1),
        ([], 0),
    ],
)
def test_the_heading_is_about_as_full_as_the_fullest_row(rows, at):
    assert heading_at(rows) == at


@pytest.mark.parametrize(
    ("text", "sign"),
    [
        ("a;b\n1,5;2,5\n", ";"), ("a,b\n1;2,3\n", ","), ("a\tb\n1,5\t2\n", "\t"),
        ("a|b\n1|2\n", "|"), ("sep=,\na,b\n", ","), ('"sep=;"\na;b,c\n', ";"),
        ("A1;free, run;7\nA2;clear, cold;8\n", ";"),
    ],
)  # fmt: skip
def test_what_parts_the_columns(text, sign):
    assert laid_out(text).separator == sign


def test_lines_in_quotation_marks_are_lines():
    assert list(laid_out('"a,b"\n"1,2"\n').rows()) == [["a", "b"], ["1", "2"]]
