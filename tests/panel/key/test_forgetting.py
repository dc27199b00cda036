"""Forgetting a person: nothing of them is left in the folder, results stay, the record says so."""

from __future__ import annotations

import json
import zipfile
from pathlib import Path
from shutil import copytree

import pytest
from click.testing import CliRunner
from kikichoko.panel.base.errors import NotReady
from kikichoko.panel.base.session_log import read_log
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.key import forgetting
from kikichoko.panel.plan.plan_file import load_open
from kikichoko.panel.returns.store import Store
from kikichoko.panel.returns.taking_in import take_in
from kikichoko.panel.session import load

pytestmark = pytest.mark.usefixtures("without_figures")
NAME, WORDS = "Akiko Zauberfrau", "Wortschatzwort"


def run(*words: object):
    return CliRunner().invoke(kikichoko, [str(word) for word in words])


def table(place: Path, name: str, people: tuple[str, ...], words: str = "") -> Path:
    plan = load_open(load(place))
    rows = [
        f"{pour.assessor},{pour.code},{what},{score}"
        for pour in plan.pours
        if pour.assessor in people
        for what, score in [
            ("sweetness", len(pour.code) + pour.presentation % 4),
            ("body", 3),
            *([("comments", words)] if words else []),
        ]
    ]
    path = place / name
    path.write_text("\n".join(["assessor,code,attribute,score", *rows, ""]), "utf-8")
    return path


def comments(place: Path) -> str:
    card = load(place).scorecard
    return next(
        attribute
        for question in card
        if question.kind == "words"
        for attribute in question.attributes
    )


@pytest.fixture(scope="module")
def answered_once(folder_once) -> Path:
    place = folder_once()
    (place / "names.csv").write_text(f"assessor,name\nT1,Aki\nT2,{NAME}\nT3,Ken\n", "utf-8")
    assert run("plan", place).exit_code == 0
    assert run("change", place, "late", "T2", "--from-flight", "1").exit_code == 0
    own = table(place, "T2 Zauberfrau.csv", ("T2",), WORDS)
    text = own.read_text("utf-8").replace(",comments,", f",{comments(place)},")
    own.write_text(text, "utf-8")
    for path in (own, table(place, "rest.csv", ("T1", "T3"))):
        assert run("read", place, path).exit_code == 0, path
    own.unlink()
    (place / "rest.csv").unlink()
    assert run("report", place).exit_code == 0
    return place


@pytest.fixture
def answered(answered_once: Path, tmp_path: Path) -> Path:
    """Return a copy: each test forgets somebody."""
    return Path(copytree(answered_once, tmp_path / "session"))


def means(place: Path) -> dict[str, float]:
    assert run("report", place).exit_code == 0
    rows = (place / "scores.csv").read_text("utf-8").splitlines()[1:]
    found: dict[str, list[float]] = {}
    for row in rows:
        cells = row.split(",")
        found.setdefault(f"{cells[2]} {cells[5]}", []).append(float(cells[6]))
    return {name: sum(values) / len(values) for name, values in found.items()}


def holding(place: Path, word: str) -> list[str]:
    """Name the files that hold a word, inside zips too."""
    found = []
    for path in sorted(place.rglob("*")):
        if not path.is_file():
            continue
        parts = [path.read_bytes(), path.name.encode()]
        if zipfile.is_zipfile(path):
            with zipfile.ZipFile(path) as book:
                parts += [book.read(name) for name in book.namelist()]
        if any(word.encode() in part for part in parts):
            found.append(path.name)
    return found


def test_nothing_is_left_and_results_stay(answered: Path):
    """A89: name, words and file name in no file, the store's free pages among them."""
    before = means(answered)
    for word in (NAME, WORDS, "Zauberfrau"):
        assert holding(answered, word), "the search can find them"
    done = run("forget", answered, "T2", "--yes")
    assert done.exit_code == 0, done.output
    for word in (NAME, WORDS, "Zauberfrau", "Akiko"):
        assert holding(answered, word) == []
    names = (answered / "names.csv").read_text("utf-8")
    assert "T1,Aki" in names
    assert "T3,Ken" in names
    assert means(answered) == before
    assert '"T2"' not in (answered / "plan/plan.json").read_text("utf-8")
    assert ",T2," not in (answered / "scores.csv").read_text("utf-8")
    codes = [one.code for one in load(answered).assessors]
    assert "T2" not in codes
    assert len(codes) == 6


def test_checks_say_removed_and_not_altered(answered: Path):
    run("forget", answered, "T2", "--yes")
    done = run("check", answered)
    assert done.exit_code == 0, done.output
    assert "1 original was removed because a person was forgotten" in done.output
    entry = read_log(answered).of("forget")[-1]
    assert "T2" not in json.dumps(entry.values)
    assert run("report", answered).exit_code == 0
    page = (answered / "report/report.html").read_text("utf-8")
    assert "sealed anew when a person was forgotten" in page


def test_it_asks_first_and_says_what_goes(answered: Path):
    before = {p: p.read_bytes() for p in answered.rglob("*") if p.is_file()}
    done = CliRunner().invoke(kikichoko, ["forget", str(answered), "T2"], input="n\n")
    assert done.exit_code == 1
    assert "6 answers in free words go" in done.output
    assert "12 scores stay" in done.output
    after = {p: p.read_bytes() for p in answered.rglob("*") if p.is_file()}
    assert {p: c for p, c in after.items() if "sqlite" not in p.name} == {
        p: c for p, c in before.items() if "sqlite" not in p.name
    }
    assert run("forget", answered, "T9", "--yes").exit_code == 1


@pytest.mark.parametrize("stop", ["_clear", "_roster", "_forget_name", "_plans", "append"])
def test_what_was_broken_off_is_told_and_finished_by_another_call(
    answered: Path, monkeypatch: pytest.MonkeyPatch, stop: str
):
    """A13: wherever it is broken off, it is told, and the same command brings it to its end."""

    def broken(*_: object, **__: object) -> None:
        raise OSError("power")

    with monkeypatch.context() as patched:
        patched.setattr(forgetting, stop, broken)
        assert run("forget", answered, "T2", "--yes").exit_code != 0
    checked = run("check", answered).output
    assert "forgetting was not finished" in checked
    lost = [line for line in checked.splitlines() if line.startswith("- returned/")]
    assert not any("is not there any more" in line for line in lost), "a person is forgotten"
    done = run("forget", answered, "T2", "--yes")
    assert done.exit_code == 0, done.output
    assert " 0 scores stay" not in done.output
    assert holding(answered, NAME) == []
    assert run("check", answered).exit_code == 0, run("check", answered).output


def test_a_name_within_another_name_is_not_that_name(tmp_path: Path):
    """A90: Aki is forgotten, Akiko stays; a Japanese name is found before an honorific too."""
    (tmp_path / "names.csv").write_text("T2,Akiko\nT3,明子さん\n", "utf-8")
    assert forgetting.still_named(tmp_path, ["Aki"]) == []
    assert forgetting.still_named(tmp_path, ["Akiko"]) == ["names.csv"]
    assert forgetting.still_named(tmp_path, ["明子"]) == ["names.csv"]


def test_a_name_behind_a_link_and_pages_of_a_class_go_too(answered: Path, tmp_path: Path):
    """B28: the list of names lies elsewhere; pages of `teach` bear the old code."""
    (answered / "names.csv").rename(tmp_path / "names.csv")
    (answered / "names.csv").symlink_to(tmp_path / "names.csv")
    (answered / "teaching").mkdir()
    (answered / "teaching/feedback-T2.pdf").write_bytes(b"%PDF")
    own = next(path for path in (answered / "returned").iterdir() if "Zauberfrau" in path.name)
    assert run("read", answered, own, "--correct").exit_code in (0, 3)
    done = run("forget", answered, "T2", "--yes")
    assert done.exit_code == 0, done.output
    assert NAME not in (tmp_path / "names.csv").read_text("utf-8")
    assert "T1,Aki" in (tmp_path / "names.csv").read_text("utf-8")
    assert not (answered / "teaching").exists()
    assert holding(answered, "Zauberfrau") == []


def test_what_was_read_before_a_person_was_forgotten_does_not_go_in_after(answered: Path):
    """B06: a reading that meets a forgetting is refused in words; nothing of it is kept."""
    plan = load_open(load(answered))
    late = table(answered, "late.csv", ("T2",)).rename(answered.parent / "late.csv")
    late.write_text(late.read_text("utf-8").replace(",body,3", ",body,4"), "utf-8")
    assert run("forget", answered, "T2", "--yes").exit_code == 0
    kept = sorted(path.name for path in (answered / "returned").iterdir())
    with Store(answered) as store, pytest.raises(NotReady, match="were changed while files"):
        take_in(plan, store, [late])
    assert sorted(path.name for path in (answered / "returned").iterdir()) == kept
    assert run("check", answered).exit_code == 0
