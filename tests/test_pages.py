"""Pages that are made from the code are what the code says now."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import pytest
from kikichoko.forms.questions.words import topic

ROOT = Path(__file__).parents[1]


@pytest.fixture
def make_pages():
    spec = importlib.util.spec_from_file_location("make_pages", ROOT / "docs" / "make_pages.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_no_page_is_stale(make_pages):
    assert list(make_pages.stale()) == [], "run: make docs"


def test_a_changed_page_is_stale(make_pages, tmp_path, monkeypatch, capsys):
    monkeypatch.setattr(sys, "argv", ["make_pages.py", "--check"])
    for name in (*make_pages.PAGES, "faults.toml"):
        (tmp_path / name).write_text((ROOT / "docs" / name).read_text("utf-8"), "utf-8")
    monkeypatch.setattr(make_pages, "DOCS", tmp_path)
    assert make_pages.main() == 0
    page = tmp_path / "faults.md"
    page.write_text(page.read_text("utf-8") + "\nmore\n", "utf-8")
    assert make_pages.main() == 1
    assert "docs/faults.md is stale" in capsys.readouterr().err
    monkeypatch.setattr(sys, "argv", ["make_pages.py"])
    assert make_pages.main() == 0
    assert list(make_pages.stale()) == []


def test_every_fault_is_explained(make_pages):
    page = make_pages.faults()
    for kind in topic("en", "fault"):
        assert f"### `{kind}`" in page
    assert "## More" not in page, "say in docs/faults.toml when the new kinds are told"
