"""One number has one rounding, wherever it is written: tables, sentences, cells, buyers' pages."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from kikichoko.analysis.core.readable import written
from kikichoko.analysis.core.wording import (
    alike,
    fixed,
    limit,
    p_words,
    same_decimals,
    short,
    with_ends,
)
from kikichoko.catalogue import Sentence
from kikichoko.rounding import rounded

ROOT = Path(__file__).parents[3]
OWN_FORM = re.compile(r":[-+,]*\.[^}\s]*(\{[^}]*\})?[fg]\}")
NOT_FIGURES = {
    "forms/paper/page_parts.py",  # places on a sheet, in millimetres
    "forms/photo/find_sheets.py",
    "forms/photo/mark_rules.py",
    "forms/photo/picture_files.py",
    "forms/photo/straighten.py",
    "panel/batches/reading.py",  # ten digits: the number as it was entered
    "panel/commands/_table.py",  # seconds that a run may take
}
"""Files that write measures of paper and pictures, or what was entered, and no result."""


def test_by_hand_half_goes_away_from_zero_and_the_last_digits_of_the_computer_decide_nothing():
    """2.75 was stored once as 2.7499999999999987: 2.8 stood in one table and 2.7 in another."""
    for quarter in (2.75, 2.7499999999999987, 2.7500000000000013):
        assert fixed(quarter) == "2.8"
        assert fixed(-quarter, sign=True) == "−2.8"
    assert [fixed(0.25), fixed(0.35), fixed(0.45)] == ["0.3", "0.4", "0.5"]
    assert fixed(0.25 - 1e-8) == "0.2"


@pytest.mark.parametrize(
    ("value", "written"),
    [(0.051, "0.1"), (0.05, "0.1"), (0.049, "0.05"), (-0.049, "−0.05"), (-0.004, "−0.004"),
     (0.0, "0.0"), (-0.0, "0.0"), (1e-12, "0.0")],
)  # fmt: skip
def test_a_limit_is_never_written_as_the_zero_that_it_is_clear_of(value: float, written: str):
    assert limit(value) == written
    assert with_ends((1.0, value, 2.0))[1] == written


@pytest.mark.parametrize(
    ("value", "form", "told"),
    [
        (0.125, ".2f", "0.13"),  # format itself gives 0.12
        (0.375, ".2f", "0.38"),
        (-0.125, "+.2f", "-0.13"),
        (2.5, ".0f", "3"),  # format itself gives 2
        (0.1249, ".2f", "0.12"),
        (0.045, ".2f", "0.05"),  # stored as 0.04499999999999999833
        (1.125, ".3g", "1.13"),
        (12345.0, ".4g", "1.235e+04"),
        (1.2345e-7, ".4g", "1.235e-07"),
        (0.0, ".1f", "0.0"),
        (float("inf"), ".1f", "inf"),
        (7, "", "7"),
        ("T1", "", "T1"),
    ],
)
def test_by_hand_a_half_of_any_form_goes_away_from_zero(value: object, form: str, told: str):
    assert rounded(value, form) == told


def test_p_values_f_and_short_numbers_round_as_all_others_do():
    """0.0125, 0.125 and 2.125 are exact halves; format would take the even neighbour below."""
    assert str(p_words(0.0625)) == "p = 0.063"
    assert str(p_words(0.0624)) == "p = 0.062"
    assert str(p_words(0.125)) == "p = 0.13"
    assert short(2.125) == "2.13"
    assert short(1234.5) == "1235"
    assert alike([0.125, 3.5, 12.25]) == ["0.1", "3.5", "12.3"]
    assert alike([0.125, 0.625, 2.5]) == ["0.13", "0.63", "2.50"]
    assert same_decimals([0.125, 1.0]) == ["0.13", "1.00"]
    assert written(0.125, ".2f") == "0.13"
    told = Sentence.of("chemistry.acid_worth", worth=0.125)
    assert "+0.13" in told.to("en")
    assert "0.13" in told.to("ja")


def test_nothing_that_prints_a_figure_rounds_for_itself():
    """Files that write measures of paper, pictures and entries are named; all others are held."""
    own = {
        path.relative_to(ROOT).as_posix()
        for room in ("analysis", "forms", "panel")
        for path in sorted((ROOT / room).rglob("*.py"))
        for line in path.read_text("utf-8").splitlines()
        if OWN_FORM.search(line) and ">>>" not in line and ":.0f}" not in line
    }
    assert own - {"analysis/core/wording.py", "panel/door/rounding.py"} <= NOT_FIGURES
    assert OWN_FORM.search('f"{value:+.2f}"')
    assert OWN_FORM.search('f"{value:.{digits}f}"')
