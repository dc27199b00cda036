"""Pages that are made from the code are what the code says now."""

from __future__ import annotations

import ast
import importlib.util
import re
import shutil
import sys
import tomllib
from pathlib import Path

import pytest
from kikichoko.forms.questions.words import topic

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "docs"))


@pytest.fixture
def make_pages():
    spec = importlib.util.spec_from_file_location("make_pages", ROOT / "docs" / "make_pages.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_no_page_is_stale(make_pages):
    assert list(make_pages.stale()) == [], "run: make docs"


def test_no_picture_is_stale(make_pages):
    assert list(make_pages.stale_pictures()) == [], "run: make docs"


def test_no_screen_of_the_desk_is_stale(monkeypatch):
    import make_screens

    assert list(make_screens.stale_screens()) == [], "run: python docs/make_screens.py"
    monkeypatch.setattr(make_screens, "digest", lambda _: "of other pages")
    assert len(list(make_screens.stale_screens())) == len(make_screens.NAMES)


@pytest.mark.parametrize(
    ("changed", "stale"),
    [
        ("panel/desk/pages/plan.html", {"desk_plan", "desk_commands"}),
        ("panel/desk/desk.css", {"desk_plan", "desk_commands"}),
        ("panel/words/en/desk.toml", {"desk_plan", "desk_commands"}),
        ("panel/words/en/anova.toml", {"desk_commands"}),
        ("panel/words/ja/desk.toml", set()),
    ],
)
def test_a_screen_of_other_words_is_stale(tmp_path: Path, changed: str, stale: set[str]):
    from make_screens import digest

    for part in ("panel/desk/pages", "panel/words"):
        shutil.copytree(ROOT / part, tmp_path / part)
    for name in ("desk.css", "desk.js"):
        shutil.copy(ROOT / "panel/desk" / name, tmp_path / "panel/desk")
    names = ("desk_plan", "desk_commands")
    before = {name: digest(name, tmp_path) for name in names}
    assert before == {name: digest(name) for name in names}
    path = tmp_path / changed
    text = path.read_text("utf-8")
    if changed.endswith("anova.toml"):
        assert 'help = """' in text
        path.write_text(text.replace('help = """', 'help = """Again: ', 1), "utf-8")
    else:
        path.write_text(f"{text}\n", "utf-8")
    assert {name for name in names if digest(name, tmp_path) != before[name]} == stale


def test_a_changed_picture_is_stale():
    from make_pictures import PICTURES, same

    drawn = (PICTURES / "ranks.svg").read_text("utf-8")
    assert same(drawn, drawn.replace("0.8", "0.80001"))
    assert not same(drawn, drawn.replace("L ", "M ", 1))
    first = drawn.index("<path d=") + len('<path d="M ')
    moved = drawn[:first] + str(int(drawn[first]) + 5) + drawn[first + 1 :]
    assert not same(drawn, moved)


def test_a_changed_page_is_stale(make_pages, tmp_path, monkeypatch, capsys):
    monkeypatch.setattr(sys, "argv", ["make_pages.py", "--check"])
    for name in (*make_pages.PAGES, "faults.toml"):
        (tmp_path / name).write_text((ROOT / "docs" / name).read_text("utf-8"), "utf-8")
    monkeypatch.setattr(make_pages, "DOCS", tmp_path)
    monkeypatch.setattr(make_pages, "stale_pictures", list)
    monkeypatch.setattr(make_pages, "write_pictures", list)
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


STANDS = re.compile(r"`(\w[\w/]*\.py)(?::([^`=]+?)(?: = ([^`]+))?)?`")


def stands(place: str) -> dict[str, object]:
    """Return what is given by name at the top of a file and of its classes; None if no literal."""
    found: dict[str, object] = {}
    top = ast.parse((ROOT / place).read_text("utf-8")).body
    body = [("", one) for one in top]
    body += [(f"{a.name}.", one) for a in top if isinstance(a, ast.ClassDef) for one in a.body]
    for inside, one in body:
        if not isinstance(one, (ast.Assign, ast.AnnAssign)) or one.value is None:
            continue
        target = one.targets[0] if isinstance(one, ast.Assign) else one.target
        pairs = [(target, one.value)]
        if isinstance(target, ast.Tuple) and isinstance(one.value, ast.Tuple):
            pairs = list(zip(target.elts, one.value.elts, strict=True))
        for name, value in pairs:
            try:
                found[inside + ast.unparse(name)] = ast.literal_eval(value)
            except ValueError:
                found[inside + ast.unparse(name)] = None
    return found


def test_thresholds_stand_where_the_page_of_decisions_says():
    page = (ROOT / "docs/decisions.md").read_text("utf-8")
    named = STANDS.findall(page)
    assert len([value for *_, value in named if value]) > 50
    for place, name, value in named:
        assert (ROOT / place).is_file(), place
        if name:
            known = stands(place)
            assert name in known, f"{place} has no {name}: change docs/decisions.md with it"
            if value:
                assert known[name] == ast.literal_eval(value), f"{place}:{name}"


@pytest.mark.parametrize("folder", ["panel/findings"])
def test_no_threshold_is_missing_on_the_page_of_decisions(folder: str):
    page = (ROOT / "docs/decisions.md").read_text("utf-8")
    for path in sorted((ROOT / folder).glob("*.py")):
        place = path.relative_to(ROOT).as_posix()
        for name, value in stands(place).items():
            number = isinstance(value, (int, float))
            if number and name.isupper() and not name.startswith(("RANK", "_")):
                told = any(one in page for one in (f"{place}:{name} =", f"{place}:{name}`"))
                assert told, f"{place}:{name} decides something: say it in docs/decisions.md"


def test_named_mutations_stand_once_in_their_file():
    """What the script changes by name is there, and so is the test that holds it."""
    text = (ROOT / "tests/tools/named_mutations.toml").read_text("utf-8")
    rows = tomllib.loads(text)["mutation"]
    assert len(rows) > 40
    for row in rows:
        assert (ROOT / row["file"]).read_text("utf-8").count(row["old"]) == 1, row["what"]
        assert (ROOT / row["held_by"]).is_file(), row["what"]
