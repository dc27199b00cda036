"""Packs for a taster and a co-leader, and what comes back: nothing too much, nothing lost."""

from __future__ import annotations

import json
import zipfile
from pathlib import Path
from shutil import copytree

import pytest
from click.testing import CliRunner
from kikichoko.forms.answers.uncertain_marks import Choice, Uncertain
from kikichoko.panel.base.session_log import read_log
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.packs.merging import merge
from kikichoko.panel.plan.plan_file import load_open
from kikichoko.panel.returns.open_marks import decide, decisions, mark, note, waiting
from kikichoko.panel.returns.store import Store
from kikichoko.panel.session import load

pytestmark = pytest.mark.usefixtures("without_figures")
HEADING = "assessor,code,attribute,score"


def run(*words: object, code: int = 0):
    done = CliRunner().invoke(kikichoko, [str(word) for word in words])
    assert done.exit_code == code, done.output
    return done


def typed(place: Path, name: str, people: tuple[str, ...], by: float = 0) -> Path:
    """Write a table with a mark for each cup of some people."""
    rows = [
        f"{pour.assessor},{pour.code},sweetness,{3 + pour.presentation % 3 + by:g}"
        for pour in load_open(load(place)).pours
        if pour.assessor in people
    ]
    path = place.parent / name
    path.write_text("\n".join([HEADING, *rows, ""]), "utf-8")
    return path


def one(place: Path, name: str, person: str, score: float) -> Path:
    """Write a table with one mark of one person, for the first cup."""
    code = next(p.code for p in load_open(load(place)).pours if p.assessor == person)
    path = place.parent / name
    path.write_text(f"{HEADING}\n{person},{code},sweetness,{score:g}\n", "utf-8")
    return path


def marks(place: Path) -> dict[tuple[str, str], float | str]:
    with Store(place) as store:
        return {(a.answer.assessor, a.answer.code): a.answer.value for a in store.answers()}


@pytest.fixture(scope="module")
def planned_once(folder_once) -> Path:
    place = folder_once(short=True)
    (place / "names.csv").write_text("assessor,name\nT1,Sentinel Person\n", "utf-8")
    run("plan", place)
    run("sheets", place)
    run("read", place, typed(place, "home.csv", ("M1", "T1")))
    return place


@pytest.fixture
def home(planned_once: Path, tmp_path: Path) -> Path:
    return Path(copytree(planned_once, tmp_path / "session"))


@pytest.fixture
def away(home: Path, tmp_path: Path) -> Path:
    """Return the co-leader's folder, unpacked in another place."""
    run("pack", home, "--co-leader", "--to", tmp_path / "out.zip")
    with zipfile.ZipFile(tmp_path / "out.zip") as pack:
        pack.extractall(tmp_path / "away")
    return tmp_path / "away/session"


def back(away: Path) -> Path:
    pack = away.parent / "back.zip"
    run("pack", away, "--co-leader", "--to", pack)
    return pack


def test_a_tasters_pack_holds_that_tasters_sheets_alone(home: Path, tmp_path: Path):
    run("pack", home, "--for", "T2", "--to", tmp_path / "T2.zip")
    with zipfile.ZipFile(tmp_path / "T2.zip") as pack:
        assert sorted(pack.namelist()) == ["READ_ME.txt", "T2.pdf", "T2.xlsx"]
        assert pack.read("T2.xlsx") == (home / "sheets/T2.xlsx").read_bytes()
        told = pack.read("READ_ME.txt").decode()
    assert "T2" in told
    assert "運転" in told, "the taster's language is Japanese, and the cautions are there"
    assert "T1" not in told


def test_a_tasters_pack_needs_a_taster_and_sheets_of_this_plan(home: Path, tmp_path: Path):
    assert "M1" in run("pack", home, "--for", "X9", code=1).output
    run("pack", home, code=2)
    run("pack", home, "--for", "T1", "--co-leader", code=2)
    (home / "sheets/T1.xlsx").write_bytes(b"filled in here")
    refused = run("pack", home, "--for", "T1", "--to", tmp_path / "T1.zip", code=1)
    assert "kikichoko sheets" in refused.output
    assert not (tmp_path / "T1.zip").exists()


def test_a_co_leaders_pack_knows_no_key_no_name_and_no_result(home: Path, tmp_path: Path):
    for name in ("report", "plan/server/deep", "packs"):
        (home / name).mkdir(parents=True, exist_ok=True)
        (home / name / "sentinel.txt").write_text("SENTINEL", "utf-8")
    (home / "scores.csv").write_text("SENTINEL", "utf-8")
    (home / "sheets/link.pdf").symlink_to(home / "names.csv")
    run("pack", home, "--co-leader", "--to", tmp_path / "out.zip")
    secret = json.loads((home / "plan/server/key.json").read_text("utf-8"))["secret"]
    with zipfile.ZipFile(tmp_path / "out.zip") as pack:
        names = pack.namelist()
        content = b"".join(pack.read(name) for name in names)
    assert not [name for name in names if "server" in name or "names.csv" in name]
    for told in (b"SENTINEL", b"Sentinel Person", secret.encode(), bytes.fromhex(secret)):
        assert told not in content
    assert {"session/session.toml", "session/plan/plan.json", "session/answers.sqlite",
            "session/log.jsonl", "session/sheets/all-sheets.pdf"} <= set(names)  # fmt: skip


def test_what_was_read_in_the_other_place_comes_in_once(home: Path, away: Path):
    run("key", away, "--reason", "curious", code=1)
    assert "co-leader's folder" in " ".join(run("check", away).output.split())
    run("read", away, typed(away, "away.csv", ("T3", "N1")))
    run("read", home, typed(home, "later.csv", ("T4",)))
    before = marks(home)
    pack = back(away)
    assert "12 rows and 1 original" in run("merge", home, pack).output
    assert marks(home) == before | marks(away)
    with Store(home) as store:
        assert store.known_file(away.parent / "away.csv", load_open(load(home)).version)
    stood = marks(home)
    assert "0 rows and 0 originals" in run("merge", home, pack).output
    assert marks(home) == stood
    run("check", home)


def test_both_logs_stay_whole_and_ours_tells_of_theirs(home: Path, away: Path):
    run("read", away, typed(away, "away.csv", ("T3",)))
    pack = back(away)
    theirs = (away / "log.jsonl").read_bytes()
    before = (home / "log.jsonl").read_bytes()
    run("merge", home, pack)
    (kept,) = (home / "merged").iterdir()
    assert kept.read_bytes() == theirs
    assert (home / "log.jsonl").read_bytes().startswith(before)
    log = read_log(home)
    assert not log.breaks
    (told,) = log.of("merge")
    assert told.values["theirs"] == read_log(away).head
    assert told.values["log"] == kept.name
    run("check", home)
    kept.write_bytes(theirs.replace(b'"act": "answers"', b'"act": "answer"'))
    assert f"merged/{kept.name}" in run("check", home, code=3).output
    kept.unlink()
    assert "not there any more" in run("check", home, code=3).output


def test_a_correction_made_there_counts_and_two_answers_wait_for_a_person(home: Path, away: Path):
    run("read", away, one(away, "fix.csv", "T1", 9), "--correct", "--by", "K")
    run("read", away, one(away, "there.csv", "T3", 2))
    run("read", home, one(home, "here.csv", "T3", 8))
    done = run("merge", home, back(away), code=3)
    assert "1 question was answered differently" in done.output
    of = {person: next(v for (who, _), v in marks(home).items() if who == person)
          for person in ("T1", "T3")}  # fmt: skip
    assert of == {"T1": 9, "T3": 8}
    assert "8" in run("status", home, code=3).output


def test_what_was_corrected_in_both_places_waits_for_a_person(home: Path, away: Path):
    run("read", away, one(away, "fix.csv", "T1", 9), "--correct", "--by", "K")
    run("read", home, one(home, "own.csv", "T1", 1), "--correct", "--by", "L")
    assert "1 question" in run("merge", home, back(away), code=3).output
    assert 1 in {v for (who, _), v in marks(home).items() if who == "T1"}
    assert 9 not in {v for (who, _), v in marks(home).items() if who == "T1"}


def test_a_second_pack_from_the_other_place_goes_on_where_the_first_ended(home: Path, away: Path):
    run("read", away, one(away, "first.csv", "T3", 2))
    run("merge", home, back(away))
    run("read", away, one(away, "second.csv", "T3", 6), "--correct", "--by", "K")
    run("merge", home, back(away))
    assert {v for (who, _), v in marks(home).items() if who == "T3"} == {6}
    assert len(read_log(home).of("merge")) == 2


@pytest.mark.parametrize("wrong", ["no zip", "other zip", "log", "original", "other", "plan"])
def test_what_is_no_whole_pack_of_this_session_changes_nothing(
    home: Path, away: Path, planned_once: Path, wrong: str
):
    run("read", away, typed(away, "away.csv", ("T3",)))
    pack = away
    if wrong == "no zip":
        pack = typed(home, "table.csv", ("T1",))
    elif wrong == "other zip":
        pack = away / "sheets/T1.xlsx"
    elif wrong == "log":
        log = away / "log.jsonl"
        log.write_bytes(log.read_bytes().replace(b'"rows": 12', b'"rows": 11'))
    elif wrong == "original":
        (kept,) = (away / "returned").glob("*away.csv")
        kept.write_text(kept.read_text("utf-8").replace(",3", ",8"), "utf-8")
    elif wrong == "other":
        pack = planned_once
    else:
        run("plan", away, "--again")
    before = {path: path.read_bytes() for path in home.rglob("*") if path.is_file()}
    stood = marks(home)
    done = run("merge", home, pack, code=1)
    assert "Nothing was taken in" in " ".join(done.output.split())
    assert marks(home) == stood
    after = {path: path.read_bytes() for path in home.rglob("*") if path.is_file()}
    changed = {path.name for path in before if before[path] != after.get(path)}
    assert changed <= {"answers.sqlite"}


def uncertain(code: str, attribute: str) -> Uncertain:
    return Uncertain(
        session="test-1", assessor="T3", code=code, attribute=attribute, file="photo.jpg",
        place="page 1", reason="faint", picture=b"picture",
        choices=(Choice("3", 3.0), Choice("4", 4.0)), low=0, high=10,
    )  # fmt: skip


def test_marks_and_what_was_decided_about_them_come_along(home: Path, away: Path):
    plan = load_open(load(home))
    code = next(pour.code for pour in plan.pours if pour.assessor == "T3")
    with Store(away) as store:
        note(store, [uncertain(code, "sweetness"), uncertain(code, "acidity")], plan.version)
        decide(store, waiting(store)[0], 4.0, decided_by="K")
    done = run("merge", home, away, code=3)
    assert "1 mark" in done.output
    assert marks(home)["T3", code] == 4
    with Store(home) as store:
        (open_one,) = waiting(store)
        found = mark(store, open_one)
        (made,) = decisions(store)
    assert found == uncertain(code, "acidity")
    assert (made.value, made.decided_by) == (4.0, "K")
    again = run("merge", home, away)
    assert "0 rows" in again.output


def test_planned_again_here_answers_to_the_earlier_sheets_come_in(home: Path, away: Path):
    run("read", away, typed(away, "away.csv", ("T3",)))
    run("plan", home, "--again")
    assert "6 rows" in run("merge", home, away).output
    run("check", home)


def test_of_a_person_who_is_forgotten_here_nothing_comes_back(home: Path, away: Path):
    run("read", away, typed(away, "away.csv", ("T3", "N1")))
    (home / "names.csv").write_text("assessor,name\nT3,Somebody\n", "utf-8")
    run("forget", home, "T3", "--yes")
    done = run("merge", home, away)
    assert "T3" in done.output
    assert "T3" not in {who for who, _ in marks(home)}
    assert "N1" in {who for who, _ in marks(home)}


def test_broken_off_in_the_middle_nothing_is_in_and_the_same_again_brings_all(
    home: Path, away: Path, monkeypatch: pytest.MonkeyPatch
):
    run("read", away, typed(away, "away.csv", ("T3",)))
    before = marks(home)
    plan = load_open(load(home))

    def cut(*_: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as broken, Store(home) as store:
        broken.setattr("kikichoko.panel.packs.merging._take_faults", cut)
        with pytest.raises(KeyboardInterrupt):
            merge(plan, store, away)
    assert marks(home) == before
    run("merge", home, away)
    assert marks(home) == before | marks(away)
    assert not read_log(home).breaks


def test_broken_off_before_it_was_logged_the_same_again_logs_it(
    home: Path, away: Path, monkeypatch: pytest.MonkeyPatch
):
    run("read", away, typed(away, "away.csv", ("T3",)))
    plan = load_open(load(home))

    def cut(*_: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as broken, Store(home) as store:
        broken.setattr("kikichoko.panel.packs.merging._log_merge", cut)
        with pytest.raises(KeyboardInterrupt):
            merge(plan, store, away)
    assert read_log(home).of("merge") == []
    assert "0 rows" in run("merge", home, away).output
    assert len(read_log(home).of("merge")) == 1
    run("check", home)
