"""What is public: a few dozen names by sub-room, handed on lazily, seen by type checkers."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from collections.abc import Callable
from importlib import import_module
from inspect import signature
from pathlib import Path

import pytest
from house_plan import LEVELS, ROOT

RISK, CONFIDENCE = "alpha", "level"
HEAVY = {"matplotlib", "seaborn", "statsmodels"}
STUBS = {
    ".".join(("kikichoko", *path.parent.relative_to(ROOT).parts)): path
    for room in LEVELS
    for path in sorted((ROOT / room).rglob("__init__.pyi"))
}
SUB_ROOMS = [room for room in STUBS if room != "kikichoko.analysis"]


def handed_on(stub: Path) -> list[str]:
    """Name what a stub hands on."""
    imports = ast.parse(stub.read_text("utf-8")).body
    return sorted(name.name for node in imports for name in node.names)


def imported_by(code: str) -> set[str]:
    """Run code in a fresh interpreter and return the top packages that it has imported."""
    show = "import sys; print(*{name.partition('.')[0] for name in sys.modules})"
    done = subprocess.run(
        [sys.executable, "-c", f"{code}\n{show}"], capture_output=True, text=True, check=True
    )
    return set(done.stdout.split())


def test_analysis_shows_its_sub_rooms():
    parts = sorted(part for level in LEVELS["analysis"] for part in level)
    assert dir(import_module("kikichoko.analysis")) == parts
    assert {f"kikichoko.analysis.{part}" for part in parts} <= set(STUBS)


@pytest.mark.parametrize("room", SUB_ROOMS)
def test_completion_shows_what_is_handed_on_and_nothing_else(room: str):
    package = import_module(room)
    names = handed_on(STUBS[room])
    assert dir(package) == names
    assert package.__all__ == names
    for name in names:
        found = getattr(package, name)
        assert callable(found)
        assert found.__name__ == name
        assert found.__module__.startswith("kikichoko.")
        assert found.__doc__
    with pytest.raises(AttributeError):
        _ = package.no_such_name


def named_otherwise(function: Callable[..., object]) -> list[str]:
    """Name the arguments that mean a risk or a confidence and are called otherwise."""
    found = []
    for name, argument in signature(function).parameters.items():
        share = argument.default if isinstance(argument.default, float) else None
        if name in {"confidence", "significance", "risk", "conf_level", "ci"}:
            found.append(name)
        elif share is not None and name in {RISK, CONFIDENCE}:
            found += [name] * ((name == RISK) != (share < 0.5))
    return found


@pytest.mark.parametrize("room", SUB_ROOMS)
def test_a_risk_is_called_alpha_and_a_confidence_level(room: str):
    package = import_module(room)
    functions = [getattr(package, name) for name in dir(package)]
    wrong = {f.__name__: found for f in functions if (found := named_otherwise(f))}
    assert wrong == {}


def test_the_test_of_risks_can_fail():
    def wrong(*, alpha: float = 0.95, level: float = 0.05, confidence: float = 0.95): ...

    def right(*, alpha: float = 0.05, level: float = 0.95): ...

    assert named_otherwise(wrong) == ["alpha", "level", "confidence"]
    assert named_otherwise(right) == []


@pytest.mark.parametrize("room", SUB_ROOMS)
def test_no_file_shadows_a_public_name(room: str):
    files = {path.stem for path in STUBS[room].parent.glob("*.py")}
    assert not files & set(handed_on(STUBS[room]))


def test_the_page_lists_every_public_name():
    page = (ROOT / "docs" / "python.md").read_text("utf-8")
    listed: dict[str, list[str]] = {}
    for line in page.splitlines():
        if heading := re.fullmatch(r"## `(kikichoko\.analysis\.\w+)`", line):
            names = listed.setdefault(heading[1], [])
        elif entry := re.match(r"- `(\w+)`: ", line):
            names.append(entry[1])
    public = {room: handed_on(stub) for room, stub in STUBS.items() if room in SUB_ROOMS}
    analysis = {room: names for room, names in public.items() if ".analysis." in room and names}
    assert listed == analysis


def test_documents_use_public_names_only():
    for path in [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]:
        text = path.read_text("utf-8")
        for room, names in re.findall(r">>> from (kikichoko\.[\w.]+) import ([\w, ]+)", text):
            if room != "kikichoko.forms.reading":
                assert set(names.split(", ")) <= set(handed_on(STUBS[room])), f"{path.name}: {room}"


def test_a_sub_room_alone_imports_nothing_heavy():
    assert not imported_by("import kikichoko.analysis.anova") & {*HEAVY, "numpy", "pandas", "scipy"}


def test_an_anova_imports_no_figures():
    found = imported_by("from kikichoko.analysis.anova import anova")
    assert "pandas" in found
    assert not found & HEAVY


SCRIPT = """
from typing import assert_type

import pandas as pd
from kikichoko.analysis import difference
from kikichoko.analysis.anova import anova
from kikichoko.analysis.anova.whole_table import Anova

assert_type(anova(pd.DataFrame()), Anova)
assert_type(difference.needed(30, 1 / 3, 0.05), int | None)
"""


def test_type_checkers_see_the_public_names(tmp_path: Path):
    """Two scripts of users, checked strictly against the installed package in one run."""
    right, wrong = tmp_path / "right.py", tmp_path / "wrong.py"
    right.write_text(SCRIPT, "utf-8")
    wrong.write_text(SCRIPT + "difference.np\nanova(3)\n", "utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "mypy", "--strict", str(right), str(wrong)],
        capture_output=True,
        text=True,
        check=False,
        cwd=ROOT,
    )
    found = [line for line in done.stdout.splitlines() if ": error: " in line]
    assert len(found) == 2, done.stdout + done.stderr
    assert all("wrong.py" in line for line in found)
    assert 'Module has no attribute "np"' in found[0]
    assert "[arg-type]" in found[1]
