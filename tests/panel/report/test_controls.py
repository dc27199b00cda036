"""Bottles that are known, clean or spiked, are judged apart and measure the panel."""

from __future__ import annotations

import csv
import html
import json
import re
from pathlib import Path

import pandas as pd
import pytest
from click.testing import CliRunner
from kikichoko.panel.base.errors import FolderFault, NotReady
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.key.earlier_controls import earlier_false_notes
from kikichoko.panel.plan.key_file import pours_with_key
from kikichoko.panel.plan.plan_file import load_open
from kikichoko.panel.session import load

pytestmark = pytest.mark.usefixtures("without_figures")
HEAD = "bottle,use,fraction,available,control\n"
BOTTLES = HEAD + "early,sample,a,9,\nsound,sample,b,9,Clean\nknown,sample,c,9,stale\n"
ASSESSORS = "assessor,role\n" + "".join(f"T{i},trained\n" for i in range(1, 9))
STALE = "stale, pickled radish (hineka)"  # as the scorecard names it


def run(*words: str) -> str:
    done = CliRunner().invoke(kikichoko, list(words))
    assert done.exit_code == 0, done.output + repr(done.exception)
    return done.output


def answered(place: Path, noted: dict[tuple[str, str], int]) -> None:
    """Plan a session and answer it: how many assessors note which fault in which bottle."""
    run("plan", str(place))
    session = load(place)
    plan = load_open(session)
    inside = {(p.assessor, p.code): p.bottle for p in pours_with_key(session, plan)}
    target = place / "typed.csv"
    with target.open("w", encoding="utf-8", newline="") as out:
        rows = csv.writer(out)
        rows.writerow(["assessor", "code", "attribute", "score"])
        for person, (code, sheet) in enumerate(plan.sheets.items()):
            for cup in sheet.presentations:
                bottle = inside[code, cup.name]
                for question in sheet.questions(cup):
                    if question.key != "fault":
                        continue
                    for attribute in question.attributes:
                        fault = attribute.removeprefix("fault:")
                        severity = 2 if person < noted.get((bottle, fault), 0) else 0
                        rows.writerow([code, cup.name, attribute, severity])
    run("read", str(place), str(target))
    run("report", str(place))


def section(place: Path) -> str:
    """Return the words of the report's section on faults, without its markup."""
    page = (place / "report" / "report.html").read_text("utf-8").replace("\u00a0", " ")
    text = re.sub(r"<[^>]+>", " ", re.sub(r"(?s)<(style|svg|script).*?</\1>", " ", page))
    return re.sub(r"\s+", " ", html.unescape(text))


def test_the_report_sets_faults_beside_the_controls(folder):
    place = folder(bottles=BOTTLES, assessors=ASSESSORS, replicates=1)
    answered(place, {("early", "stale"): 7, ("sound", "stale"): 1, ("known", "stale"): 8})
    text = section(place)
    assert f"Control known: 8 of 8 assessors found “{STALE}”, which had been put in" in text
    assert f"Clean control sound: 1 of 8 assessors noted “{STALE}” in it all the same" in text
    assert f"Hold back early: “{STALE}” by 7 of 8, median severity 2 of 3." in text
    assert "Hold back known" not in text
    results = json.loads((place / "report/results.json").read_text("utf-8"))
    assert {row["sample"] for row in results["decide"]} == {"early"}, "controls get no line"
    # Six noted it in the bottle alone, none in the control alone: 2 / 2**6 = 0.03125.
    book = pd.read_excel(place / "report" / "tables.xlsx", sheet_name=None, engine="openpyxl")
    assert book["faults_against_clean"]["p"].tolist() == pytest.approx([0.03125])
    assert set(book["fault_controls"]["kind"]) == {"spiked", "clean"}


def test_a_panel_that_misses_the_spike_is_told_so_and_silence_is_bounded(folder):
    place = folder(bottles=BOTTLES, assessors=ASSESSORS, replicates=1)
    answered(place, {("known", "stale"): 2})
    text = section(place)
    missed = f"Control known: only 2 of 8 assessors noticed “{STALE}”, which had been put in."
    assert text.count(missed) == 2, "in the box and in the section"
    assert "Clean control sound: none of 8 assessors noted a fault in it." in text
    assert f"this panel missed {STALE} where it had been put in" in text
    results = json.loads((place / "report/results.json").read_text("utf-8"))
    assert "nothing noted against" not in " ".join(results["short"])
    decided = {(row["sample"], row["question"]): row["verdict"] for row in results["decide"]}
    assert decided["early", "do"] == "bounded"


def test_swapped_controls_are_seen_and_nothing_is_held_on_a_void_word(folder):
    place = folder(bottles=BOTTLES, assessors=ASSESSORS, replicates=1)
    answered(place, {("early", "stale"): 8, ("sound", "stale"): 8, ("known", "stale"): 1})
    text = section(place)
    assert "The clean and the spiked control look exchanged" in text
    assert f"8 of 8 assessors noted “{STALE}” in a bottle known to be sound" in text
    assert "Hold back early" not in text
    results = json.loads((place / "report/results.json").read_text("utf-8"))
    decided = {(row["sample"], row["question"]): row["verdict"] for row in results["decide"]}
    assert decided["early", "do"] == "unjudged"


def test_a_session_of_controls_alone_has_no_bottle_to_judge(folder):
    only = HEAD + "sound,sample,b,9,clean\nknown,sample,c,9,stale\n"
    place = folder(bottles=only, assessors=ASSESSORS, replicates=1)
    answered(place, {("known", "stale"): 6})
    text = section(place)
    assert f"Control known: 6 of 8 assessors found “{STALE}”" in text
    assert "Hold back" not in text


def test_a_control_is_read(folder):
    controls = {b.name: b.control for b in load(folder(bottles=BOTTLES)).bottles}
    assert controls == {"early": "", "sound": "clean", "known": "stale"}
    again = load(folder(bottles=BOTTLES.replace("stale", "fault:stale")))
    assert again.bottle("known").control == "stale"


def test_a_fault_of_the_sessions_own_can_be_spiked(folder):
    own = '[[questions.faults]]\nkey = "hose"\nlabel = "Hose"'
    place = folder(bottles=BOTTLES.replace("stale", "hose"), more=own)
    assert load(place).bottle("known").control == "hose"


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("x,sample,d,9,stael\n", "row 5, column 'control': 'stael' is not a fault that the score"),
        ("x,warm-up,d,9,clean\n", "row 5, column 'control': a bottle with use = warm-up is not"),
    ],
)
def test_a_control_that_cannot_be_is_refused(folder, line, told):
    with pytest.raises(FolderFault) as refused:
        load(folder(bottles=BOTTLES + line))
    assert told in str(refused.value)


def test_without_faults_on_the_scorecard_nothing_can_be_spiked(folder):
    with pytest.raises(FolderFault, match="asks for no faults"):
        load(folder(bottles=BOTTLES, more="[questions]\ndrop = ['fault']"))


def test_false_notes_of_earlier_sessions_count_with_those_of_today(folder, tmp_path):
    before = folder.func(tmp_path / "before", bottles=BOTTLES, assessors=ASSESSORS, replicates=1)
    answered(before, {("sound", "stale"): 3, ("known", "stale"): 8})
    more = '[panel]\nearlier = ["../before"]'
    place = folder.func(
        tmp_path / "today", bottles=BOTTLES, assessors=ASSESSORS, replicates=1, more=more
    )
    answered(place, {("sound", "stale"): 1, ("known", "stale"): 8})
    faults = len(next(q for q in load(place).scorecard if q.key == "fault").attributes)
    said = f"noted a fault in 4 of {2 * 8 * faults} answers"
    assert said in section(place)
    # The same session without the earlier one knows its own notes alone.
    assert f"noted a fault in 3 of {8 * faults} answers" in section(before)


def test_an_earlier_session_without_a_report_is_named(folder, tmp_path):
    folder.func(tmp_path / "before", bottles=BOTTLES, assessors=ASSESSORS, replicates=1)
    more = '[panel]\nearlier = ["../before"]'
    place = folder.func(tmp_path / "today", bottles=BOTTLES, assessors=ASSESSORS, more=more)
    with pytest.raises(NotReady, match=r"before.*scores\.csv"):
        earlier_false_notes(load(place))


@pytest.mark.parametrize(
    ("line", "twin"),
    [("x,sample,d,9,same:early\n", "early"), ("x,sample,d,9,Same: EARLY\n", "early")],
)
def test_a_bottle_can_be_served_a_second_time_under_another_code(folder, line, twin):
    assert load(folder(bottles=BOTTLES + line)).bottle("x").twin == twin


@pytest.mark.parametrize("line", ["x,sample,d,9,same:late\n", "x,sample,d,9,same:x\n"])
def test_a_duplicate_of_no_other_bottle_is_refused(folder, line):
    with pytest.raises(FolderFault, match="names no other bottle"):
        load(folder(bottles=BOTTLES + line))
