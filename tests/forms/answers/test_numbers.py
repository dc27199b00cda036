"""Numbers as people write them: one reading, or told to a person."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from kikichoko.forms.answers import number_of
from kikichoko.forms.answers.answer import Fault, said_place
from kikichoko.forms.answers.numbers import Unclear, tidied, written_number


@pytest.mark.parametrize(
    ("written", "number"),
    [
        ("7", 7), ("7.0", 7), ("7.", 7), (".5", 0.5), ("+3", 3), ("-2", -2), ("007", 7),
        ("3.5", 3.5), ("3,5", 3.5), (",5", 0.5), ("3,50", 3.5), ("0,125", 0.125),
        ("1,2345", 1.2345), ("7\u200b", 7),
        ("３．５", 3.5), ("３，５", 3.5), ("７", 7), ("　7　", 7), (" 7\u00a0", 7), ("\ufeff7", 7),
        ("−2", -2), ("－２", -2), ("ー2", -2), ("‐2", -2), ("–2", -2), ("ｰ2", -2), ("＋２", 2),
        ("1,234,567", 1234567), ("1,234.5", 1234.5), ("1.234,5", 1234.5), ("7.125", 7.125),
    ],
)  # fmt: skip
def test_one_reading(written, number):
    assert number_of(written) == number


@pytest.mark.parametrize(
    ("written", "kind"),
    [
        ("1,500", "ambiguous_number"), ("-2,125", "ambiguous_number"),
        ("１，５００", "ambiguous_number"),
        ("5%", "unit"), ("５％", "unit"), ("7点", "unit"), ("5 mL", "unit"), ("3.5g", "unit"),
        ("3-5", "not_a_number"), ("3/10", "not_a_number"), ("3 4", "not_a_number"),
        ("3..5", "not_a_number"), ("3.5.1", "not_a_number"), ("1,2,3", "not_a_number"),
        ("~3", "not_a_number"), ("3?", "not_a_number"), ("three", "not_a_number"),
        ("三", "not_a_number"), ("3²", "not_a_number"), ("3½", "not_a_number"),
        ("٣", "not_a_number"),
        ("3。5", "not_a_number"), ("3、5", "not_a_number"), ("3・5", "not_a_number"),
        ("△3", "not_a_number"), ("(3)", "not_a_number"), ("1e1", "not_a_number"),
        ("inf", "not_a_number"), ("nan", "not_a_number"), ("", "not_a_number"),
        ("-", "not_a_number"), ("--3", "not_a_number"), ("3-", "not_a_number"),
        ("O", "not_a_number"),
        ("0x3", "not_a_number"), ("3'", "not_a_number"), ("1_0", "not_a_number"),
    ],
)  # fmt: skip
def test_told_to_a_person(written, kind):
    with pytest.raises(Unclear) as refused:
        number_of(written)
    assert refused.value.kind == kind


WIDE = str.maketrans("0123456789.-+,", "０１２３４５６７８９．－＋，")


@given(st.decimals(-10000, 10000, places=2))
def test_any_way_of_writing_one_number_gives_it(number):
    plain = str(number)
    for written in (plain, plain.replace(".", ","), plain.translate(WIDE), f"　{plain} "):
        assert number_of(written) == float(number)


@given(st.text(max_size=12))
def test_any_text_is_one_number_or_refused(text):
    try:
        number = number_of(text)
    except Unclear:
        return
    digits = "".join(sign for sign in tidied(text) if sign.isdigit())
    told = "".join(sign for sign in f"{abs(number):.12f}" if sign.isdigit())
    assert digits.strip("0") == told.strip("0"), "no digit is lost or added"


@given(st.floats(-1e6, 1e6))
def test_written_numbers_are_read_as_they_were(number):
    written = written_number(round(number, 6))
    if "e" not in written:
        assert number_of(written) == round(number, 6)


def test_pages_and_rows_are_named_in_the_language_of_the_reader():
    """Japanese messages said "p.jpg、page 2"."""
    fault = Fault(kind="photo_small", file="p.jpg", place="page 2")
    assert "p.jpg、2 ページ" in fault.message("ja")
    assert "p.jpg, page 2" in fault.message("en")
    assert said_place("picture 3", "ja") == "3 枚目の画像"
    assert said_place("row 4", "ja") == "4 行目"
    assert said_place("page 2b", "ja") == "page 2b"
