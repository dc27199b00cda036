"""How large a file of answers may be, and how much of it a message repeats: at every bound."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace

import pytest
from kikichoko.forms.answers import cells, workbook_bounds
from kikichoko.forms.answers.answer import _short
from kikichoko.forms.answers.numbers import tidied
from kikichoko.forms.answers.workbook_bounds import Unopened


def refused(call, *given) -> str:
    """Return the kind of refusal; "" where there is none."""
    try:
        call(*given)
    except Unopened as why:
        return why.kind
    return ""


@pytest.mark.parametrize(("length", "whole"), [(500, True), (501, False)])
def test_a_message_repeats_500_signs_of_what_was_found(length: int, whole: bool):
    text = "x" * length
    assert _short(text) == (text if whole else "x" * 500 + " …")


@pytest.mark.parametrize("blank", ["\u3000", "\u00a0"])
def test_blanks_of_other_widths_are_blanks(blank: str):
    assert tidied(f"3{blank}4") == "3 4"


@pytest.mark.parametrize(("columns", "kind"), [(4, ""), (5, "too_large")])
def test_a_worksheet_holds_so_many_cells(monkeypatch: pytest.MonkeyPatch, columns: int, kind: str):
    monkeypatch.setattr(cells, "MOST_CELLS", 12)
    sheet = SimpleNamespace(title="s", _cells={(3, columns): SimpleNamespace(value=1)})
    assert refused(cells.rectangle, sheet) == kind


@pytest.mark.parametrize(("bytes_", "kind"), [(9, "unreadable_file"), (10, "too_large")])
def test_a_file_larger_than_the_bound_is_not_even_read(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, bytes_: int, kind: str
):
    path = tmp_path / "sheet.xlsx"
    path.write_bytes(b"x" * bytes_)
    monkeypatch.setattr(cells, "LARGEST_FILE", 9)
    monkeypatch.setattr(workbook_bounds, "LARGEST_FILE", 9)
    assert refused(workbook_bounds.check_workbook, b"x" * bytes_) == kind
    with pytest.raises(Unopened) as why:
        cells._load(path, results=True)
    assert why.value.kind == kind
