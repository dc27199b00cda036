"""Both sides of how large a workbook may be; the sizes stand in `docs/returned.md`."""

from __future__ import annotations

import io
import zipfile

import pytest
from kikichoko.forms.answers import workbook_bounds
from kikichoko.forms.answers.cells import Unopened
from kikichoko.forms.answers.workbook_bounds import check_workbook

SHEET = "xl/worksheets/sheet1.xml"


def workbook(parts: dict[str, str]) -> bytes:
    """Return a zip file with some parts."""
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w") as file:
        for name, text in parts.items():
            file.writestr(name, text)
    return held.getvalue()


def refused(content: bytes) -> bool:
    """Tell whether a workbook is refused."""
    try:
        check_workbook(content)
    except Unopened:
        return True
    return False


def test_the_number_of_parts():
    assert not refused(workbook({f"part{i}.bin": "" for i in range(600)}))
    assert refused(workbook({f"part{i}.bin": "" for i in range(601)}))


@pytest.mark.parametrize(
    ("text", "bad"),
    [
        ('<row r="1048576"/>', False),  # the last row and column that a worksheet has (ECMA-376)
        ('<row r="1048577"/>', True),
        ('<c r="XFD1048576"/>', False),
        ('<c r="XFE1"/>', True),
        ('<c r="A1048577"/>', True),
    ],
)
def test_the_last_cell_of_a_worksheet(text: str, bad: bool):
    assert refused(workbook({SHEET: text})) is bad


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("LARGEST_FILE", workbook({"a.bin": "x" * 40})),
        ("LARGEST_INSIDE", workbook({"a.bin": "x" * 40, "b.bin": "y" * 60})),
        ("MOST_MERGED", workbook({SHEET: '<mergeCell ref="A1:C4"/>'})),
    ],
)
def test_a_size_is_allowed_up_to_its_limit(monkeypatch, name: str, content: bytes):
    size = {"LARGEST_FILE": len(content), "LARGEST_INSIDE": 100, "MOST_MERGED": 12}[name]
    monkeypatch.setattr(workbook_bounds, name, size)
    assert not refused(content)
    monkeypatch.setattr(workbook_bounds, name, size - 1)
    assert refused(content)
