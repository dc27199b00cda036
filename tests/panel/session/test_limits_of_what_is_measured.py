"""Both sides of what a bottle can and what it usually measures (common practice, no source)."""

from __future__ import annotations

from pathlib import Path

import pytest
from kikichoko.panel.session.bottles import read_bottles

# column: possible from, usual from, usual to, possible to
LIMITS = {
    "abv": (0, 5, 22, 40),
    "meter_value": (-200, -100, 30, 60),
    "acidity": (0, 0.5, 7, 20),
    "amino_acidity": (0, 0.2, 4, 20),
    "glucose": (0, 0, 12, 60),
    "polishing": (0.5, 1, 100, 100),
}


def told(folder: Path, column: str, value: float) -> tuple[list[str], list[str]]:
    """Return the faults and cautions of one bottle with one measurement."""
    line = f"bottle,supernatant,{column}\none,yes,{value:.2f}\n"
    (folder / "bottles.csv").write_text(line, "utf-8")
    _, faults, cautions = read_bottles(folder)
    return [one.to() for one in faults], [one.to() for one in cautions]


@pytest.mark.parametrize("column", LIMITS)
def test_a_measurement_is_usual_rare_or_impossible(tmp_path: Path, column: str):
    least, low, high, most = LIMITS[column]
    for value in (low, high):
        assert told(tmp_path, column, value) == ([], [])
    for value, end in ((low - 0.01, least), (high + 0.01, most)):
        faults, cautions = told(tmp_path, column, value)
        beyond = not least <= value <= most
        assert len(faults) == beyond
        assert len(cautions) == (not beyond)
        assert not told(tmp_path, column, end)[0]
    for value in (least - 0.01, most + 0.01):
        assert len(told(tmp_path, column, value)[0]) == 1
