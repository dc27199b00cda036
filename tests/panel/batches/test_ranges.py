"""Ranges of the batch book's numbers, on both sides: the values stand in docs/decisions.md.

No source: limits of the units, and common practice for what is rare.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from kikichoko.panel.batches import load_book, read_file

POSSIBLE = {
    "abv": (0, 40), "meter value": (-200, 60), "acidity": (0, 20), "amino acidity": (0, 20),
    "glucose": (0, 60), "polishing": (0.5, 100), "koji share": (0, 100), "mash days": (1, 200),
    "max temp": (-5, 60), "temperature": (-5, 75), "baume": (-10, 30), "added alcohol": (0, 100),
    "bottles": (0, 1_000_000), "volume ml": (10, 100_000),
}  # fmt: skip
USUAL = {
    "abv": (5, 22), "meter value": (-100, 30), "acidity": (0.5, 7), "amino acidity": (0.2, 4),
    "glucose": (0, 12), "polishing": (1, 100), "mash days": (10, 60), "max temp": (5, 25),
    "koji share": (10, 40),
}  # fmt: skip


def written(name: str, value: float) -> str:
    """Write a number as a table has it; with its sign, for 0.5 alone is a spreadsheet's 50 %."""
    return f"{value:.10g}{' %' if name in ('polishing', 'koji share') else ''}"


def read(place: Path, rows: list[tuple[str, float]], day: str = "") -> tuple[list[bool], int]:
    """Read a row a number, each a tank's own; tell which went in and how many were asked about."""
    names = list(dict.fromkeys(name for name, _ in rows))
    dated = f",{day}" if day else ""
    lines = [
        f"{tank},2025{dated}," + ",".join(written(*row) if one == row[0] else "" for one in names)
        for tank, row in enumerate(rows, start=1)
    ]
    heading = f"tank,season{',day' if day else ''},{','.join(names)}"
    place.write_text("\n".join([heading, *lines, ""]), "utf-8")
    found = read_file(place, load_book(place.parent / "batches"))
    taken = {fact.tank for fact in found.facts}
    return [str(tank) in taken for tank in range(1, len(rows) + 1)], len(found.questions)


def test_what_its_unit_does_not_allow_is_not_taken(tmp_path: Path):
    inside = [(name, end) for name, ends in POSSIBLE.items() for end in ends]
    taken, _ = read(tmp_path / "inside.csv", inside)
    assert all(taken), [one for one, there in zip(inside, taken, strict=True) if not there]
    step = {"polishing": 0.25}
    outside = [
        (name, end + (step.get(name, 1)) * (1 if end == high else -1))
        for name, (low, high) in POSSIBLE.items()
        for end in (low, high)
    ]
    taken, _ = read(tmp_path / "outside.csv", outside)
    assert not any(taken), [one for one, there in zip(outside, taken, strict=True) if there]


@pytest.mark.parametrize("name", USUAL)
def test_what_is_rare_is_taken_and_asked_about(tmp_path: Path, name: str):
    low, high = USUAL[name]
    assert read(tmp_path / "usual.csv", [(name, low), (name, high)]) == ([True, True], 0)
    least, most = POSSIBLE[name]
    rare = [(name, one) for one in (low / 2 if low > 0 else low - 1, high + 0.5)
            if least <= one <= most]  # fmt: skip
    assert rare
    taken, asked = read(tmp_path / "rare.csv", rare)
    assert all(taken)
    assert asked == len(rare)
    if name in ("abv", "meter value"):
        assert read(tmp_path / "day.csv", rare, day="9")[1] == 0, "on a day of the mash it may be"
