"""The rules of the house: directions of imports, whole packaging, whole catalogues."""

from __future__ import annotations

import ast
import re
import tomllib
from collections.abc import Iterable, Iterator
from pathlib import Path

import pytest
from house_plan import (
    DOOR,
    GUIDE,
    ROOMS,
    ROOT,
    arrows_up,
    circles,
    graph,
    imported,
    module_of,
    parsed,
    walked,
    written_into,
)
from kikichoko.catalogue import Sentence

MAY_IMPORT = {
    DOOR: {DOOR},
    "analysis": {DOOR, "analysis"},
    "forms": {DOOR, "forms"},
    "panel": {DOOR, "analysis", "forms", "panel"},
}
SOURCES = [path for room in ROOMS for path in sorted((ROOT / room).rglob("*.py"))]


def rooms_imported(path: Path, root: Path = ROOT) -> set[str]:
    """Name the rooms that a file imports, through relative and absolute imports."""
    found = set()
    for name in imported(path, root):
        first = name.partition(".")[0]
        if first == "kikichoko":
            found.add(room_of(name))
        elif first in ROOMS:
            found.add(f"bare {first}")
    return found


def room_of(module: str) -> str:
    """Return the room of a dotted name; what is in none stands in the door."""
    return next((part for part in module.split(".")[1:2] if part in ROOMS), DOOR)


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(ROOT)))
def test_imports_go_in_one_direction(path: Path):
    assert rooms_imported(path) <= MAY_IMPORT[room_of(module_of(path))]


@pytest.fixture
def wrong_house(tmp_path: Path) -> Path:
    """Build a house in which all that is forbidden happens."""
    files = {
        "forms/paper/pages.py": "from ...panel.key import Key\nfrom kikichoko.analysis import core",
        "analysis/core/a.py": "from ..anova import b",
        "analysis/anova/b.py": "def f():\n    from ..core.a import x",
        "panel/handouts/sheets.py": "from ..plan.file import pours",
        "panel/plan/file.py": "from ..key.opening import open_key",
        "panel/key/opening.py": "",
        "panel/door/catalogue.py": "from .analysis.core import a",
    }
    for name, text in files.items():
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text + "\n", "utf-8")
    return tmp_path


def test_the_direction_test_can_fail(wrong_house: Path):
    path = wrong_house / "forms/paper/pages.py"
    assert rooms_imported(path, wrong_house) == {"panel", "analysis"}
    path = wrong_house / "panel/door/catalogue.py"
    assert rooms_imported(path, wrong_house) == {"analysis"}


def test_a_sub_room_imports_only_lower_levels():
    assert arrows_up() == []


def test_no_circle_of_files():
    assert circles(graph()) == []


def test_what_is_handed_out_cannot_open_the_key():
    assert opens_the_key(ROOT) == []


def test_the_tests_of_levels_circles_and_key_can_fail(wrong_house: Path):
    up = arrows_up(wrong_house)
    assert "kikichoko.analysis.core.a -> kikichoko.analysis.anova.b" in up
    assert "kikichoko.panel.plan.file -> kikichoko.panel.key.opening" in up
    pair = ["kikichoko.analysis.anova.b", "kikichoko.analysis.core.a"]
    assert circles(graph(wrong_house)) == [pair]
    assert opens_the_key(wrong_house) == ["kikichoko.panel.handouts.sheets"]


HANDED_OUT = (
    "kikichoko.forms",
    "kikichoko.panel.handouts",
    "kikichoko.panel.open_flight",
    "kikichoko.panel.packs",
    "kikichoko.panel.table",
    "kikichoko.panel.desk",
)
"""What makes or hands out sheets or pages, blind or with names."""


def opens_the_key(root: Path) -> list[str]:
    """Name the files that make or hand out sheets and reach the opening of the key."""
    arrows = graph(root)
    found = []
    for module in arrows:
        if not module.startswith(HANDED_OUT):
            continue
        reached: set[str] = set()
        open_ends = [module]
        while open_ends:
            here = open_ends.pop()
            open_ends += arrows[here] - reached
            reached |= arrows[here]
        if any(name.startswith("kikichoko.panel.key") for name in reached):
            found.append(module)
    return found


def test_no_folder_is_a_hall():
    """At most 20 files of code a folder; commands and sections of the report stand in a row."""
    for folder in {path.parent for path in SOURCES}:
        if folder.name not in {"commands", "report"}:
            count = len([path for path in folder.glob("*.py") if path.name != "__init__.py"])
            assert count <= 20, folder


def test_the_guide_shows_the_house_as_it_is():
    text = GUIDE.read_text("utf-8")
    assert written_into(text) == text, "make docs"


def test_every_sub_room_says_which_question_it_answers():
    for path in SOURCES:
        if path.name == "__init__.py":
            doc = ast.get_docstring(parsed(path.read_text("utf-8")))
            assert doc, path
            assert len(doc.splitlines()[0]) > 20, path


def test_every_folder_with_code_is_packaged():
    listed = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["tool"]["setuptools"]
    folders = {str(path.parent.relative_to(ROOT)) for path in SOURCES}
    assert folders <= set(listed["package-dir"].values())
    assert set(listed["packages"]) == set(listed["package-dir"])


def names_twice(paths: Iterable[Path]) -> dict[str, list[str]]:
    """Name the public classes that stand in more than one file."""
    found: dict[str, list[str]] = {}
    for path in paths:
        for node in parsed(path.read_text("utf-8")).body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                found.setdefault(node.name, []).append(path.name)
    return {name: files for name, files in found.items() if len(files) > 1}


def test_a_class_name_means_one_thing():
    assert names_twice(SOURCES) == {}


def test_the_test_of_names_can_fail(tmp_path: Path):
    files = [tmp_path / "a.py", tmp_path / "b.py"]
    for path in files:
        path.write_text("class Plan:\n    pass\n", "utf-8")
    assert names_twice(files) == {"Plan": ["a.py", "b.py"]}


def placeholders(entry: object) -> set[str]:
    """Name the values that a catalogue entry asks for."""
    from string import Formatter

    forms = entry.values() if isinstance(entry, dict) else [entry]
    return {
        name.split(".")[0] for form in forms for _, name, _, _ in Formatter().parse(form) if name
    }


ONES = """
    alarm answer assessor attribute bottle choice code column cup curve deal degree dimension
    draw estimate fault file flight heading layout level minute moment order page pair photo
    place point pour presentation question replicate row sample session sheet shuffle step
    student taster tick time word year
"""
_SAYS = {"say", "sentence", "of", "analysis_say", "forms_say"}


def called(node: ast.Call) -> str:
    """Return the last name of what is called."""
    return getattr(node.func, "attr", getattr(node.func, "id", ""))


def keys_said(nodes: Iterable[ast.AST]) -> Iterator[str]:
    """Yield the keys of the catalogue that code writes out in full."""
    for node in nodes:
        wanted: ast.expr | None = None
        if isinstance(node, ast.Call) and node.args:
            wanted = node.args[0] if called(node) in _SAYS else None
        elif isinstance(node, ast.Assign) and getattr(node.targets[0], "id", "") == "key":
            wanted = node.value
        parts = [wanted.body, wanted.orelse] if isinstance(wanted, ast.IfExp) else [wanted]
        for part in parts:
            if isinstance(part, ast.Constant) and re.fullmatch(r"\w+\.\w+", str(part.value)):
                yield str(part.value)


def test_every_key_that_code_says_stands_in_a_catalogue():
    have = {
        f"{path.stem}.{name}"
        for room in ROOMS
        for path in (ROOT / room / "words" / "en").glob("*.toml")
        for name in tomllib.loads(path.read_text("utf-8"))
    }
    said = {
        (str(path.relative_to(ROOT)), key)
        for path in SOURCES
        for key in keys_said(walked(path.read_text("utf-8")))
    }
    assert len(said) > 1000
    assert {(path, key) for path, key in said if key not in have} == set()


def test_the_search_for_keys_can_fail():
    code = 'key = "a.one" if x else "a.two"; Sentence.of("b.three", n=1); say(f"b.{x}")'
    assert set(keys_said(ast.walk(ast.parse(code)))) == {"a.one", "a.two", "b.three"}


STATED = re.compile(r"\b(level|alpha|beta|power|pd)\b")
"""What somebody states, and `percent` would round."""


def written_otherwise(nodes: Iterable[ast.AST]) -> Iterator[str]:
    """Yield the percentages that code writes by itself, and what is stated and rounded."""
    for node in nodes:
        if isinstance(node, ast.Call) and called(node) == "percent":
            if STATED.search(ast.unparse(node.args[0])):
                yield ast.unparse(node)
        elif isinstance(node, ast.JoinedStr):
            text = ast.unparse(node)
            if re.search(r"\{[^{}]*\} ?%", text):
                yield text


def test_percentages_are_written_in_one_place():
    wrong = {
        str(path.relative_to(ROOT)): found
        for path in SOURCES
        if path.name != "wording.py"
        and (found := list(written_otherwise(walked(path.read_text("utf-8")))))
    }
    # a number format of the workbook, read back as a number
    assert wrong == {"forms/answers/cells.py": ["f'{written_number(round(value * 100, 10))}%'"]}


def test_the_search_for_percentages_can_fail():
    code = "percent(self.level), stated_percent(level), percent(share), f'{100 * x:.0f} %'"
    assert list(written_otherwise(ast.walk(ast.parse(code)))) == [
        "percent(self.level)",
        "f'{100 * x:.0f} %'",
    ]


COUNTED = {f"{one}s": one for one in ONES.split()} | {"batches": "batch"}
"""What the house counts, in the plural and in the singular."""
BETWEEN = "clean false free other panel random right scale spiked standard three-digit wrong"


def miscounted(said: str) -> list[str]:
    """Find a noun that does not go with the number before it."""
    between = f"(?:(?:{BETWEEN.replace(' ', '|')}) )?"
    many, one = "|".join(COUNTED), "|".join(COUNTED.values())
    wrong = rf"(?<![\d.,])(?:1 {between}(?:{many})|2 {between}(?:{one}))(?![\w'-])|\(s\)"
    return re.findall(wrong, said)


def test_the_search_for_miscounted_nouns_can_fail():
    assert miscounted("1 bottles") == ["1 bottles"]
    assert miscounted("of 2 right answer, 1 sample(s)") == ["2 right answer", "(s)"]
    assert miscounted("1 bottle, 2 right answers, 11 cups, 0.1 points, 2 bottle-like") == []


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("n", [1, 2])
def test_nouns_go_with_their_numbers(room: str, n: int):
    words = ROOT / room / "words" / "en"
    wrong = []
    for path in sorted(words.glob("*.toml")):
        for name, entry in tomllib.loads(path.read_text("utf-8")).items():
            values = tuple((value, n) for value in sorted({"n", *placeholders(entry)}))
            said = Sentence(f"{path.stem}.{name}", values, f"kikichoko.{room}").to("en")
            wrong += [f"{path.name}: {name}: {found}" for found in miscounted(said)]
    assert wrong == []


@pytest.mark.parametrize("room", ROOMS)
def test_other_languages_ask_for_the_same_values(room: str):
    words = ROOT / room / "words"
    for path in sorted(words.glob("*/*.toml")):
        english = tomllib.loads((words / "en" / path.name).read_text("utf-8"))
        other = tomllib.loads(path.read_text("utf-8"))
        assert set(other) <= set(english), f"{path} has entries that English lacks"
        for name, entry in other.items():
            assert placeholders(entry) <= placeholders(english[name]), f"{path}: {name}"


def written_values(entry: object) -> set[str]:
    """Name the values that an entry writes, with their formats; forms of a word write none."""
    from string import Formatter

    forms = entry.values() if isinstance(entry, dict) else [entry]
    parts = [part for form in forms for part in Formatter().parse(form)]
    return {f"{name}:{wanted}" for _, name, wanted, _ in parts if name and "|" not in wanted}


@pytest.mark.parametrize("room", ROOMS)
def test_japanese_says_all_that_english_says(room: str):
    words = ROOT / room / "words"
    english, japanese = (
        {
            (path.stem, name): written_values(entry)
            for path in (words / language).glob("*.toml")
            for name, entry in tomllib.loads(path.read_text("utf-8")).items()
        }
        for language in ("en", "ja")
    )
    assert sorted(set(english) - set(japanese)) == [], "write these in words/ja too"
    assert japanese == english


def test_the_test_of_values_can_fail():
    assert written_values("{n} {n:cup|cups} of {x:.1f}") == {"n:", "x:.1f"}
    assert written_values({"one": "{n}", "other": "{m}"}) == {"n:", "m:"}
