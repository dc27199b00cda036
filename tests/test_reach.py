"""Nothing stands in `analysis` that could only be imported."""

from __future__ import annotations

from pathlib import Path

from reach import unreached


def test_everything_is_reached():
    left = [f"{module}.{name}" for module, name in unreached()]
    assert left == [], "give it a command, a section or a page of docs, or take it out"


def test_the_test_of_reach_can_fail(tmp_path: Path):
    files = {
        "analysis/core/a.py": "def used():\n    return _step()\n\ndef _step(): ...\n"
        "def alone():\n    return alone_too()\n\ndef alone_too(): ...\n\nclass Shown: ...\n",
        "analysis/core/__init__.pyi": "from .a import Shown as Shown\n",
        "panel/commands/b.py": "def run():\n    from ...analysis.core import a\n    a.used()\n",
        "docs/page.md": ">>> from kikichoko.analysis.core import Shown\n",
        "README.md": "",
    }
    for name, text in files.items():
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, "utf-8")
    place = "kikichoko.analysis.core.a"
    assert set(unreached(tmp_path)) == {(place, "alone"), (place, "alone_too")}
