"""Late changes: what was answered stays with what was tasted, and nothing is erased."""

from __future__ import annotations

import csv
import itertools
import json
from collections import Counter
from pathlib import Path
from shutil import copytree

import pytest
from click.testing import CliRunner
from kikichoko.panel.base.session_log import read_log
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.plan.key_file import pours_with_key
from kikichoko.panel.plan.plan_file import load_open
from kikichoko.panel.returns.store import Store
from kikichoko.panel.session import load

pytestmark = pytest.mark.usefixtures("without_figures")
TRUTH = {"early": 1.0, "middle": 4.0, "late": 7.0, "twin": 9.0, "extra": 3.0}
MORE = (
    "twin,4,cloudy,0,16.9,2,1.7,yes,3,2\n"
    "extra,4,clear,0,16.8,2,1.6,yes,3,1\n"
)  # fmt: skip


def run(*words: object):
    return CliRunner().invoke(kikichoko, [str(word) for word in words])


def change(place: Path, *words: object):
    done = run("change", place, *words)
    assert done.exit_code == 0, done.output
    return done


@pytest.fixture(scope="module")
def planned_once(folder_once) -> Path:
    place = folder_once(short=True)
    assert run("plan", place).exit_code == 0
    with (place / "bottles.csv").open("a", encoding="utf-8") as out:
        out.write(MORE)
    return place


@pytest.fixture
def planned(planned_once: Path, tmp_path: Path) -> Path:
    """Return a copy: each test changes something."""
    return Path(copytree(planned_once, tmp_path / "session"))


def keyed(place: Path):
    session = load(place)
    return pours_with_key(session, load_open(session))


def answer(place: Path, name: str, pours) -> None:
    """Type what everybody tastes: the truth of the bottle that is in the cup."""
    path = place / name
    with path.open("w", newline="", encoding="utf-8") as out:
        rows = [(pour.assessor, pour.code, "sweetness", TRUTH[pour.bottle]) for pour in pours]
        csv.writer(out).writerows([("assessor", "code", "attribute", "score"), *rows])
    assert run("read", place, path).exit_code == 0


def scores(place: Path) -> list[dict[str, str]]:
    assert run("report", place).exit_code == 0
    with (place / "scores.csv").open(encoding="utf-8") as opened:
        return list(csv.DictReader(opened))


def page(place: Path) -> str:
    return (place / "report/report.html").read_text("utf-8")


def test_a_late_assessor_is_absent_not_blank(planned: Path):
    asked = json.loads(run("status", planned, "--json").stdout)["sheets"]
    done = change(planned, "late", "T3", "--from-flight", "2")
    assert "places differ by at most" in done.output
    again = json.loads(run("status", planned, "--json").stdout)
    now = {one["assessor"]: one["asked"] for one in again["sheets"]}
    for one in asked:
        assert now[one["assessor"]] == one["asked"] / (2 if one["assessor"] == "T3" else 1)
    assert again["late_changes"] == ["T3 came late: from flight 2 on."]
    known = change(planned, "late", "T3", "--from-flight", "2")
    assert "noted before, as change 1" in known.output


def test_who_leaves_keeps_their_answers_and_is_not_told_as_missing(planned: Path):
    own = [pour for pour in keyed(planned) if pour.assessor == "T2"]
    answer(planned, "part.csv", own[:4])
    change(planned, "left", "T2", "--after", "4")
    rows = scores(planned)
    assert len(rows) == 4
    assert "T2 left after place 4" in page(planned)
    assert "2 planned cups were not served" in page(planned)


def test_cups_served_in_another_order_stand_in_that_order(planned: Path):
    """A58: the server poured in another order; answers keep their codes."""
    own = [pour for pour in keyed(planned) if pour.assessor == "T2"]
    answer(planned, "part.csv", own)
    served = [pour.code for pour in sorted(own, key=lambda pour: -pour.presentation)]
    change(planned, "order", "T2", *served)
    assert "noted before" in change(planned, "order", "T2", *served).output
    cups = {(pour.bottle, pour.replicate): served.index(pour.code) + 1 for pour in own}
    rows = scores(planned)
    assert len(rows) == len(own)
    for row in rows:
        assert int(row["position"]) == cups[row["sample"], int(row["replicate"])]
        assert float(row["score"]) == TRUTH[row["sample"]]
    assert "T2 was served in another order than planned" in page(planned)
    refused = run("change", planned, "order", "T2", *served[1:])
    assert refused.exit_code == 1
    assert "Say each code of T2 once" in refused.output


def test_a_change_that_others_rest_on_is_undone_after_them(planned: Path):
    first = next(pour.code for pour in keyed(planned) if pour.bottle == "late")
    change(planned, "replace", first, "--by", "twin", "--from-flight", "1")
    change(planned, "add", "extra")
    refused = run("change", planned, "undo", "1")
    assert refused.exit_code == 1
    assert "Undo change 2 first" in refused.output
    change(planned, "undo", "2")
    change(planned, "undo", "1")
    assert {pour.bottle for pour in keyed(planned)} == {"early", "middle", "late"}


def test_a_cut_flight_is_not_served_to_anybody(planned: Path):
    change(planned, "cut", "2")
    plan = load_open(load(planned))
    assert len(plan.course.unserved) == 18
    change(planned, "undo", "1")
    assert not load_open(load(planned)).course.unserved
    listed = run("change", planned)
    assert "Flight 2 was not served" in listed.output
    assert "Change 1 was undone" in listed.output
    assert [entry.values["kind"] for entry in read_log(planned).of("change")] == ["cut", "undone"]


def test_an_empty_worksheet_of_a_cup_that_was_not_served_is_no_fault(planned: Path):
    from kikichoko.panel.demos._tools import fill_workbook

    run("sheets", planned)
    sheet = load_open(load(planned)).sheets["T1"]
    filled = planned / "T1-filled.xlsx"
    answers = {
        (cup.name, name): 4.0
        for cup in sheet.presentations[:3]
        for question in sheet.questions(cup)
        if question.kind == "line"
        for name in question.attributes
    }
    fill_workbook(sheet, planned / "sheets/T1.xlsx", filled, answers)
    change(planned, "cut", "2")
    read = run("read", planned, filled)
    for cup in sheet.presentations[3:]:
        assert cup.name not in read.output


def test_a_new_label_is_another_name_of_the_same_cup(planned: Path):
    pour = next(pour for pour in keyed(planned) if pour.assessor == "T1")
    done = change(planned, "label", pour.code, "--assessor", "T1")
    new = done.stdout.strip()
    assert new not in {one.code for one in keyed(planned)}
    path = planned / "typed.csv"
    path.write_text(f"assessor,code,attribute,score\nT1,{new},sweetness,6\n", "utf-8")
    assert run("read", planned, path).exit_code == 0
    with Store(planned, reading=True) as store:
        assert [(one.answer.code, one.answer.value) for one in store.answers()] == [(pour.code, 6)]
    other = planned / "other.csv"
    other.write_text(f"assessor,code,attribute,score\nT2,{new},sweetness,6\n", "utf-8")
    assert run("read", planned, other).exit_code == 3, "it is the cup of T1 alone"
    again = change(planned, "label", pour.code, "--assessor", "T1")
    assert "noted before" in again.output


def test_cups_of_which_nobody_knows_are_kept_and_not_analysed(planned: Path):
    pours = keyed(planned)
    answer(planned, "all.csv", pours)
    own = [pour for pour in pours if pour.assessor == "T1"][:2]
    for pour in own:
        change(planned, "unknown", pour.code, "--assessor", "T1")
    rows = scores(planned)
    assert len(rows) == len(pours) - 2
    assert "2 answers are about cups of which nobody knows" in page(planned)


@pytest.mark.parametrize("codes", ["shared", "per-assessor"])
def test_a_replaced_bottle_has_codes_of_its_own_and_answers_before_stay(folder, codes: str):
    place = folder(codes=codes, short=True)
    run("plan", place)
    with (place / "bottles.csv").open("a", encoding="utf-8") as out:
        out.write(MORE)
    first = [pour for pour in keyed(place) if pour.flight == 1]
    tasted = [pour for pour in first if pour.bottle == "late" and pour.assessor in ("T1", "T2")]
    answer(place, "before.csv", tasted)
    code = tasted[0].code
    done = change(
        place, "replace", code, "--by", "twin", "--from-flight", "1",
        "--tasted", "T1", "--tasted", "T2",
    )  # fmt: skip
    assert "late" not in done.output.replace("Plan", "")
    assert "twin" not in done.output
    assert done.stdout == "", "L39: no name and its code on one screen; the server's lists have it"
    pours = keyed(place)
    before = {pour.code for pour in first}
    new = {pour.code for pour in pours if pour.bottle == "twin"}
    assert new
    assert not new & before
    assert Counter(pour.bottle for pour in pours)["late"] == 2
    answered = {(pour.assessor, pour.code) for pour in tasted}
    answer(place, "after.csv", [p for p in pours if (p.assessor, p.code) not in answered])
    rows = scores(place)
    assert len(rows) == len(pours)
    for row in rows:
        assert float(row["score"]) == TRUTH[row["sample"]]
    assert {row["assessor"] for row in rows if row["sample"] == "late"} == {"T1", "T2"}
    assert "was served in the place of" in page(place)
    again = run("change", place, "replace", "late", "--by", "twin", "--from-flight", "1")
    assert again.exit_code == 1
    assert "served already" in again.output
    assert run("check", place).exit_code == 3, "'extra' has a row and is not served"


def test_an_added_bottle_stands_at_each_place_as_often_as_can_be(planned: Path):
    done = change(planned, "add", "extra", "--from-flight", "2")
    pours = keyed(planned)
    own = [pour for pour in pours if pour.bottle == "extra"]
    assert len(own) == 6
    assert {pour.flight for pour in own} == {2}
    inside = [
        [pour.bottle for pour in pours if pour.assessor == who and pour.flight == 2].index("extra")
        for who in {pour.assessor for pour in pours}
    ]
    counts = Counter(inside)
    assert max(counts.values()) - min(counts[place] for place in range(4)) <= 1
    assert "extra" not in done.output
    for who in {pour.assessor for pour in pours}:
        numbers = [pour.presentation for pour in pours if pour.assessor == who]
        assert numbers == list(range(1, 8))
    last = change(planned, "add", "twin")
    assert "cannot be told from being served last" in last.output
    answer(planned, "all.csv", keyed(planned))
    for row in scores(planned):
        assert float(row["score"]) == TRUTH[row["sample"]]


def test_somebody_who_was_not_planned_joins_with_the_order_that_balances_best(planned: Path):
    with (planned / "assessors.csv").open("a", encoding="utf-8") as out:
        out.write("L1,student,,en\n")
    change(planned, "late", "L1", "--from-flight", "2")
    plan = load_open(load(planned))
    pours = keyed(planned)
    own = [pour for pour in pours if pour.assessor == "L1"]
    assert len(own) == 6
    assert {pour.code for pour in own} <= {pour.code for pour in pours if pour.assessor == "T1"}
    assert {code for who, code in plan.course.unserved if who == "L1"} == {
        pour.code for pour in own if pour.flight == 1
    }
    places = Counter(
        (pour.bottle, (pour.presentation - 1) % 3) for pour in pours if pour.flight == 2
    )
    assert max(places.values()) - min(places.values()) <= 1
    follow: Counter[tuple[str, str]] = Counter()
    for who in {pour.assessor for pour in pours}:
        row = [pour.bottle for pour in pours if pour.assessor == who and pour.flight == 2]
        follow.update(itertools.pairwise(row))
    assert max(follow.values()) - min(follow.values()) <= 2
    run("sheets", planned)
    assert (planned / "sheets/L1.xlsx").is_file()
    assert run("check", planned).exit_code == 3


def test_a_sheet_printed_before_the_change_is_read(planned: Path):
    from kikichoko.panel.demos._tools import fill_workbook

    run("sheets", planned)
    sheet = load_open(load(planned)).sheets["T1"]
    inside = {pour.code: pour.bottle for pour in keyed(planned) if pour.assessor == "T1"}
    cup = next(cup for cup in sheet.presentations if inside[cup.name] == "late")
    filled = planned / "T1-filled.xlsx"
    fill_workbook(sheet, planned / "sheets/T1.xlsx", filled, {(cup.name, "sweetness"): 7.0})
    change(planned, "replace", "late", "--by", "twin", "--from-flight", "1")
    run("sheets", planned)
    read = run("read", planned, filled)
    assert "other plan" not in read.output
    rows = [row for row in scores(planned) if row["attribute"] == "sweetness"]
    assert [(row["sample"], float(row["score"])) for row in rows] == [("late", 7.0)]


def test_changes_are_sealed_and_refused_when_they_make_no_sense(planned: Path):
    for words in (
        ("late", "T9", "--from-flight", "1"),
        ("cut", "9"),
        ("left", "T1", "--after", "99"),
        ("label", "999"),
        ("replace", "late", "--by", "nowhere", "--from-flight", "1"),
        ("replace", "late", "--by", "early", "--from-flight", "1"),
        ("undo", "4"),
    ):
        refused = run("change", planned, *words)
        assert refused.exit_code == 1, words
        assert refused.output.strip()
    assert not (planned / "plan/changes.json").exists()
    change(planned, "cut", "2")
    text = (planned / "plan/changes.json").read_text("utf-8")
    for name in TRUTH:
        assert f'"{name}"' not in text.replace('"late"', "") or name == "late"
    (planned / "plan/changes.json").write_text(text.replace('"flight": 2', '"flight": 1'), "utf-8")
    done = run("check", planned)
    assert "is not what the log knows" in done.output


def test_planning_again_sets_changes_aside_and_their_codes_stay_used(planned: Path):
    pour = next(iter(keyed(planned)))
    new = change(planned, "label", pour.code).stdout.strip()
    run("plan", planned, "--again")
    plan = load_open(load(planned))
    assert not plan.course.changes
    assert len(plan.earlier[0].course.changes) == 1
    assert new not in {pour.code for pour in plan.pours}
