"""Planning again: earlier plans stay, their codes never come again, their sheets are read."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.plan.code_draw import PLAIN, Used, blind_codes, folded
from kikichoko.panel.plan.codes_before import codes_used
from kikichoko.panel.plan.plan_file import KEY, OPEN_HALF, load_open, save
from kikichoko.panel.plan.planning import make
from kikichoko.panel.plan.sealing import fingerprint, seal, written
from kikichoko.panel.plan.secret_draw import Draw
from kikichoko.panel.session import load

pytestmark = pytest.mark.usefixtures("without_figures")
SECRET = bytes(range(32))


def run(*words: object):
    return CliRunner().invoke(kikichoko, [str(word) for word in words])


def codes_of(folder: Path) -> set[str]:
    return {pour.code for pour in load_open(load(folder)).pours}


def test_planning_again_needs_a_word_and_keeps_the_earlier_plan(folder):
    place = folder()
    assert run("plan", place).exit_code == 0
    first, key = (place / OPEN_HALF).read_bytes(), (place / KEY).read_bytes()
    before = codes_of(place)
    refused = run("plan", place)
    assert refused.exit_code == 1
    assert "--again" in refused.output
    assert (place / OPEN_HALF).read_bytes() == first
    again = run("plan", place, "--again")
    assert again.exit_code == 0, again.output
    assert "Plan 1 was set aside" in again.output
    assert (place / "plan/earlier/1/plan.json").read_bytes() == first
    assert (place / "plan/server/earlier/1/key.json").read_bytes() == key
    assert not before & codes_of(place)


def test_no_code_comes_again_however_often_a_session_is_planned(folder):
    place = folder()
    seen: set[str] = set()
    for number in range(1, 6):
        session = load(place)
        plan = make(session, number=number, used=codes_used(place))
        save(plan, place)
        now = codes_of(place)
        assert not seen & now
        seen |= now
    assert [plan.number for plan in load_open(load(place)).versions] == [5, 4, 3, 2, 1]


def typed(place: Path, name: str, rows: list[tuple[str, str, float]]) -> Path:
    path = place / name
    with path.open("w", newline="", encoding="utf-8") as out:
        csv.writer(out).writerows(
            [
                ("assessor", "code", "attribute", "score"),
                *((who, code, "sweetness", score) for who, code, score in rows),
            ]
        )
    return path


def test_answers_stay_with_what_was_tasted(folder):
    """Sweetness is written by bottle: before and after planning again it must be the same."""
    truth = {"early": 1.0, "middle": 5.0, "late": 9.0}
    place = folder()
    plans = []
    for number in (1, 2):
        session = load(place)
        plans.append(make(session, number=number, used=codes_used(place)))
        save(plans[-1], place)
        rows = [
            (pour.assessor, pour.code, truth[pour.bottle] + number / 10)
            for pour in plans[-1].pours
            if pour.assessor in ("T1", f"T{number + 1}") and pour.replicate == 1
        ]
        assert run("read", place, typed(place, f"plan{number}.csv", rows)).exit_code in (0, 3)
    done = run("report", place)
    assert done.exit_code == 0, done.output
    with (place / "scores.csv").open(encoding="utf-8") as opened:
        scores = list(csv.DictReader(opened))
    assert len(scores) == 12
    for row in scores:
        assert int(float(row["score"])) == truth[row["sample"]]
    own = [row for row in scores if row["assessor"] == "T1" and row["sample"] == "late"]
    assert sorted(row["replicate"] for row in own) == ["1", "3"], "a replicate more, not the same"


def test_a_sheet_of_an_earlier_plan_is_read_as_it_was_printed(folder):
    from kikichoko.panel.demos._tools import fill_workbook

    place = folder()
    assert run("plan", place).exit_code == 0
    printed = run("sheets", place)
    assert printed.exit_code == 0
    assert re.search(r"\d+ sides to print; .* it is \d+ leaves", printed.output)
    sheet = load_open(load(place)).sheets["T1"]
    cup = sheet.presentations[2]
    filled = place / "T1-filled.xlsx"
    answers = {(cup.name, "sweetness"): 7.5}
    fill_workbook(sheet, place / "sheets/T1.xlsx", filled, answers)
    assert run("plan", place, "--again").exit_code == 0
    assert (place / "plan/earlier/1/sheets/T1.pdf").is_file()
    assert not (place / "sheets").exists()
    read = run("read", place, filled)
    assert "other plan" not in read.output
    plan = load_open(load(place))
    held = plan.holding("T1", cup.name)
    assert held is not None
    assert held.number == 1
    from kikichoko.panel.returns.store import Store

    with Store(place) as store:
        stored = [one for one in store.answers() if one.answer.attribute == "sweetness"]
    assert [(one.answer.code, one.answer.value) for one in stored] == [(cup.name, 7.5)]


def test_the_seal_of_the_key_lies_open_and_is_checked(folder):
    place = folder()
    done = run("plan", place)
    key = json.loads((place / KEY).read_text("utf-8"))
    assert (place / KEY).read_bytes() == written(key)
    sealed = json.loads((place / OPEN_HALF).read_text("utf-8"))["sealed"]
    assert sealed == seal(key)
    assert fingerprint(sealed) in done.output
    assert len(fingerprint(sealed).replace("-", "")) * 5 >= 100
    one = key["cups"][0]
    two = next(cup for cup in key["cups"] if cup["bottle"] != one["bottle"])
    one["bottle"], two["bottle"] = two["bottle"], one["bottle"]
    (place / KEY).write_bytes(written(key))
    refused = run("key", place, "--reason", "test")
    assert refused.exit_code == 1
    assert "is not the key that was planned" in refused.output
    assert run("sheets", place).exit_code == 1


def test_a_key_that_was_only_laid_out_anew_is_the_same_key(folder):
    place = folder()
    run("plan", place)
    (place / KEY).write_text(json.dumps(json.loads((place / KEY).read_text("utf-8"))), "utf-8")
    assert run("key", place, "--reason", "test").exit_code == 0


def test_codes_unused_longest_come_first_and_meet_no_bottle_again():
    last = {code: f"2026-01-{1 + place % 28:02}" for place, code in enumerate(PLAIN[3:])}
    fresh = blind_codes(["a", "b", "c"], Draw(SECRET), Used(last=last))
    assert set(fresh) == set(PLAIN[:3])
    met = {PLAIN[0]: frozenset({"a", "b"}), PLAIN[1]: frozenset({"a", "c"})}
    for secret in range(40):
        dealt = blind_codes(
            ["a", "b", "c"], Draw(secret.to_bytes(32, "big")), Used(last=last, met=met)
        )
        pairs = dict(zip(dealt, "abc", strict=True))
        assert pairs[PLAIN[0]] == "c"
        assert pairs[PLAIN[1]] == "b"
    with pytest.raises(Exception, match="meets a bottle"):
        blind_codes(["a"], Draw(SECRET), Used(last=last, met=dict.fromkeys(PLAIN, frozenset("a"))))


def test_sessions_beside_each_other_share_no_codes_while_there_are_others(tmp_path, folder):
    import shutil

    place = folder()
    other = tmp_path / "other"
    shutil.copytree(place, other)
    run("plan", place)
    used = codes_used(other)
    assert set(used.last) == codes_of(place)
    assert folded("  EARLY ") in set().union(*used.met.values())
    run("plan", other)
    assert not codes_of(place) & codes_of(other)


def test_a_plan_of_the_previous_version_opens(folder):
    """A plan as version 0.1 wrote it: one format, a seed, no seal; its sheets still fit."""
    place = folder()
    session = load(place)
    plan = make(session, secret=SECRET)
    save(plan, place)
    now = json.loads((place / OPEN_HALF).read_text("utf-8"))
    from kikichoko.panel.plan.asked_questions import Asked, sheets

    old = sheets(Asked.of(session), plan.assessors, plan.pours, 0)
    marks = {sheet.assessor: sheet.fingerprint for sheet in old}
    before = {
        "session": now["session"],
        "seed": 5,
        "assessors": now["assessors"],
        "pours": now["pours"],
        "fingerprints": marks,
    }
    (place / OPEN_HALF).write_text(json.dumps(before), "utf-8")
    key = json.loads((place / KEY).read_text("utf-8"))
    (place / KEY).write_text(
        json.dumps({name: key[name] for name in ("session", "notes", "cups")}), "utf-8"
    )
    opened = load_open(session)
    assert opened.version == ""
    assert {code: sheet.fingerprint for code, sheet in opened.sheets.items()} == marks
    assert run("key", place, "--reason", "test").exit_code == 0
    assert run("plan", place, "--again").exit_code == 0
    assert [one.number for one in load_open(session).versions] == [2, 1]
    assert run("key", place, "--reason", "test").exit_code == 0


@pytest.mark.parametrize("again", [False, True])
@pytest.mark.parametrize("stop", ["tables", "swap", "log"])
def test_planning_that_is_broken_off_leaves_the_old_plan_or_the_new_one(
    folder, monkeypatch: pytest.MonkeyPatch, stop: str, again: bool
):
    """A01, A02: never a plan without its key, never an old list beside a new key."""
    from kikichoko.panel.base import session_log, whole_files
    from kikichoko.panel.handouts import server_files

    place = folder()
    words = ["--again"] if again else []
    if again:
        assert run("plan", place).exit_code == 0
    before = {path: path.read_bytes() for path in place.rglob("*") if path.is_file()}

    def broken(*_: object, **__: object) -> None:
        raise OSError("power")

    where, what = {
        "tables": (server_files, "serving_text"),
        "swap": (whole_files, "_swap"),
        "log": (session_log, "append"),
    }[stop]
    with monkeypatch.context() as patched:
        patched.setattr(where, what, broken)
        assert run("plan", place, *words).exit_code != 0
    after = {path: path.read_bytes() for path in place.rglob("*") if path.is_file()}
    if stop == "log":
        assert run("check", place).exit_code == 3
        told = run("check", place).output
        assert "is not in the log" in told or "There is no log" in told
    else:
        assert after == before
    finished = run("plan", place, *(words or (["--again"] if stop == "log" else [])))
    assert finished.exit_code == 0, finished.output
    assert run("check", place).exit_code == 0
    key = json.loads((place / KEY).read_text("utf-8"))
    with (place / "plan/server/key.csv").open(encoding="utf-8-sig") as opened:
        listed = {(row[0], row[1]) for row in list(csv.reader(opened))[1:]}
    assert listed == {(cup["code"], cup["bottle"]) for cup in key["cups"]}
    made = whole_files.made_files(place / "plan")
    assert sorted(made) == ["orders.csv", "plan.json"], "no checksum of a key to be tried"
