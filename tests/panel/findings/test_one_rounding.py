"""One number has one rounding, wherever it is written: tables, sentences, cells, buyers' pages."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from kikichoko.analysis.core.wording import fixed, limit, with_ends

PANEL = Path(__file__).parents[3] / "panel"
ROOMS = ("few", "findings", "overview", "report", "offer")
OWN_FORM = re.compile(r":\+?\.1f\}")


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


def test_no_page_of_a_panel_rounds_for_itself():
    own = [
        f"{path.relative_to(PANEL)}:{number}"
        for room in ROOMS
        for path in sorted((PANEL / room).glob("*.py"))
        for number, line in enumerate(path.read_text("utf-8").splitlines(), 1)
        if OWN_FORM.search(line) and ">>>" not in line
    ]
    assert own == []
