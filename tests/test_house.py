"""The rules of the house: directions of imports, whole packaging, whole catalogues."""

from __future__ import annotations

import ast
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
ROOMS = ("analysis", "forms", "panel")
MAY_IMPORT = {
    "analysis": {"analysis"},
    "forms": {"forms"},
    "panel": {"analysis", "forms", "panel"},
}
SOURCES = [path for room in ROOMS for path in sorted((ROOT / room).rglob("*.py"))]


def rooms_imported(path: Path) -> set[str]:
    """Name the rooms that a file imports, through relative and absolute imports."""
    package = ["kikichoko", *path.relative_to(ROOT).with_suffix("").parts]
    found = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        names = []
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level] if node.level else []
            stem = [*base, *(node.module or "").split(".")]
            names = [".".join(part for part in [*stem, alias.name] if part) for alias in node.names]
        for name in names:
            parts = name.split(".")
            if parts[0] == "kikichoko" and len(parts) > 1:
                found.add(parts[1])
            elif parts[0] in ROOMS:
                found.add(f"bare {parts[0]}")
    return found


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(ROOT)))
def test_imports_go_in_one_direction(path: Path):
    room = path.relative_to(ROOT).parts[0]
    assert rooms_imported(path) <= MAY_IMPORT[room]


def test_the_direction_test_can_fail(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setitem(globals(), "ROOT", tmp_path)
    wrong = tmp_path / "forms" / "xlsx.py"
    wrong.parent.mkdir()
    wrong.write_text("from ..panel.key import Key\nfrom kikichoko.analysis import tidy\n")
    assert rooms_imported(wrong) == {"panel", "analysis"}


def test_every_folder_with_code_is_packaged():
    listed = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["tool"]["setuptools"]
    folders = {str(path.parent.relative_to(ROOT)) for path in SOURCES}
    assert folders <= set(listed["package-dir"].values())
    assert set(listed["packages"]) == set(listed["package-dir"])


def placeholders(entry: object) -> set[str]:
    """Name the values that a catalogue entry asks for."""
    from string import Formatter

    forms = entry.values() if isinstance(entry, dict) else [entry]
    return {
        name.split(".")[0] for form in forms for _, name, _, _ in Formatter().parse(form) if name
    }


@pytest.mark.parametrize("room", ROOMS)
def test_other_languages_ask_for_the_same_values(room: str):
    words = ROOT / room / "words"
    for path in sorted(words.glob("*/*.toml")):
        english = tomllib.loads((words / "en" / path.name).read_text("utf-8"))
        other = tomllib.loads(path.read_text("utf-8"))
        assert set(other) <= set(english), f"{path} has entries that English lacks"
        for name, entry in other.items():
            assert placeholders(entry) <= placeholders(english[name]), f"{path}: {name}"
