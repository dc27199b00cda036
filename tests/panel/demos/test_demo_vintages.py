"""The demo of two years: what was put in is found at the stated rate, and what was not is not.

The truth stands in demo_sessions/vintages/truth.toml: sweetness −0.24 a meter value and
−1.8 a mL of acidity, acidity +2.6, body +1.0 a mL, bitterness 0; the panel's acidity drifts
by 1.2 points in the second year; the raw bottle's bitterness rises by 0.16 a month.
"""

from __future__ import annotations

import csv
import datetime as dt
import json
import re
import shutil
import sqlite3
import unicodedata

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner
from english_left import english_left
from kikichoko.analysis.core import NotEstimable
from kikichoko.analysis.link import link
from kikichoko.analysis.performance import small_panel
from kikichoko.forms.questions.scorecard import default_scorecard
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.demos import vintages
from kikichoko.panel.demos._tools import scenario_file, truth
from kikichoko.panel.key.earlier_sessions import earlier_sessions
from kikichoko.panel.key.opened_tables import tables
from kikichoko.panel.key.opening import open_key
from kikichoko.panel.plan.plan_file import load_open
from kikichoko.panel.returns.store import Store
from kikichoko.panel.session.session_folder import load

KNOWN = truth("vintages")
BOTTLES = scenario_file("vintages", "bottles.csv").decode("utf-8")
TRUE = {
    (what, name): KNOWN[f"slope_{name}"].get(what, 0.0)
    for what in vintages.ASKED
    for name in ("meter_value", "acidity")
}


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("demo") / "vintages"
    steps = []
    outcome = vintages.run(folder, lambda: steps.append(1))
    assert len(steps) == vintages.STEPS
    return outcome


def test_the_whole_of_it_runs_on_files(made):
    text = made.report.read_text("utf-8")
    assert "sweetness falls by" in text
    assert "The scores of the reference house sake moved: acidity" in text
    assert "tank 2 raw of year 1: bitterness rises" in text
    for name in ("plane", "slopes", "panel"):
        assert (made.folder / f"{name}.png").stat().st_size > 20_000
    for sitting in KNOWN["sessions"]:
        assert (made.folder / sitting["name"] / "answers.sqlite").is_file()
    # 7 assessors, 33 bottles, 2 replicates, 4 questions; at last 2 assessors, 3 bottles, once.
    assert made.taken == 1848 + 24


def test_the_published_index_stands_beside_sweetness_in_every_language(made):
    """In Japanese it was missing: sweetness was known by its English names alone."""
    words = {name: default_scorecard().name(name, "ja") for name in vintages.ASKED}
    _, linked = vintages.together(made.folder, KNOWN, words)
    assert linked.sweetness == ("甘味",)
    assert linked.main_attribute == "甘味"
    assert len(linked.priors) == 1
    assert linked.bottles.loc[linked.bottles["attribute"] == "甘味", "amakarado"].notna().all()
    command = [
        "history",
        str(made.folder),
        "--link",
        "--predictors",
        "meter_value,acidity",
        "--full",
    ]
    for language, index in (("en", "amakarado"), ("ja", "甘辛度")):
        told = CliRunner().invoke(kikichoko, [*command, "--language", language])
        assert told.exit_code == 0, told.output
        heads = [line for line in told.stdout.splitlines() if line.rstrip().endswith(index)]
        assert heads, language
    without = CliRunner().invoke(
        kikichoko, [*command, "--attributes", "acidity", "--language", "ja"]
    )
    assert without.exit_code == 0, without.output
    assert not [line for line in without.stdout.splitlines() if "甘辛度" in line]


def test_two_tasters_are_asked_what_their_three_bottles_can_answer(made):
    page = (
        (made.folder / "year-3-two" / "report" / "report.html")
        .read_text("utf-8")
        .replace("\u00a0", " ")
    )
    assert "Which of the three tanks is the sweetest" in page
    assert "bottle that was kept" not in page, "none of the three is"
    results = json.loads(
        (made.folder / "year-3-two" / "report" / "results.json").read_text("utf-8")
    )
    short = "\n".join(results["short"])
    assert "tank 1 of year 3 tastes sweetest to both, as by its index (0.66)." in short
    assert "tank 3 of year 3 tastes most acid to both, as measured" in short
    assert "as measured (2.0; others 1.2 to 1.6)" in page, "with the decimals of the table"
    scores = pd.read_csv(made.folder / "year-3-two" / "scores.csv")
    acid = scores[scores["attribute"] == "acidity"].groupby("sample")["score"].mean()
    by = acid["tank 3 of year 3"] - acid["tank 1 of year 3"]
    assert by == 1.75
    assert "above tank 1 of year 3 by 1.8 (marks), " in page, "as anybody reckons it"


def test_the_house_remembers_what_was_put_in(made):
    """Noise 0.6 of a score and opinion 0.25 of a bottle on ten points; levels of 0.8."""
    asked = CliRunner().invoke(
        kikichoko, ["memory", str(made.folder), "--before", "2026-01-01", "--json"]
    )
    assert asked.exit_code == 0, asked.output
    assert "from 6 earlier sessions, 2024–2025" in asked.stderr
    found = json.loads(asked.stdout)
    assert {row["attribute"] for row in found["house"]} == set(vintages.ASKED)
    for row in found["house"]:
        assert row["sessions"] == 6
        # Marks to the nearest half add a scatter of 0.5 / sqrt(12) to the noise.
        assert row["replicate_low"] < np.hypot(0.06, 0.05 / np.sqrt(12)) < row["replicate_high"]
        assert row["interaction_low"] < 0.025 < row["interaction_high"]
    levels = pd.DataFrame(found["assessors"])
    assert levels["shift"].std() == pytest.approx(0.08 * np.sqrt(6 / 5), rel=0.4)


def test_tables_are_as_wide_as_a_terminal_and_their_heads_are_words(made):
    """In both languages; a sentence may be longer, the terminal breaks it."""
    command = ["history", str(made.folder), "--reference", "house sake"]
    for asked, language in ((["memory", str(made.folder)], "en"), (command, "ja")):
        told = CliRunner().invoke(kikichoko, [*asked, "--full", "--language", language])
        assert told.exit_code == 0, told.output
        tables = [part for part in told.stdout.split("\n\n") if "\n" in part.strip()]
        assert len(tables) >= 3
        for line in "\n".join(tables).splitlines():
            wide = sum(2 if unicodedata.east_asian_width(sign) in "FW" else 1 for sign in line)
            assert wide <= 80, line
            assert "_" not in line
        assert not re.search(r"[-+]0\.00\b", told.stdout)
        assert ("回の会" in told.stdout) is (language == "ja")
        assert (english_left(told.stdout) == []) is (language == "ja")


def test_two_tasters_stand_on_what_the_house_remembers(made):
    """Their report finds the six; on three bottles twice as much is told as by two alone."""
    page = (made.folder / "memory.txt").read_text("utf-8")
    assert page.startswith("Learned from 6 earlier sessions, 2024–2025.")
    assert (made.folder / "memory.png").stat().st_size > 20_000
    folder = made.folder / "year-3-two"
    assert (folder / "report" / "report.html").is_file()
    earlier = earlier_sessions(made.folder, before=dt.date(2026, 3, 14))
    question = default_scorecard()["sweetness"]
    known = earlier.known(question)
    scores = pd.read_csv(folder / "scores.csv")
    own = scores[scores["attribute"] == "sweetness"]
    with_memory = small_panel(own, prior=known.spreads, widths=earlier.memory.width_of())
    without = small_panel(own)
    wide = [(one.differences["high"] - one.differences["low"])[0] for one in (with_memory, without)]
    assert wide[0] < 0.8 * wide[1]
    assert with_memory.source == "memory"
    # Truly: sweetness falls by 0.24 a meter value and by 1.8 a mL of acidity.
    rows = {row["bottle"]: row for row in csv.DictReader(BOTTLES.splitlines())}
    true = {
        name: -0.24 * float(row["meter_value"]) - 1.8 * float(row["acidity"])
        for name, row in rows.items()
    }
    top = with_memory.differences.iloc[0]
    gap = true[top["sample_1"]] - true[top["sample_2"]]
    assert top["claimed"]
    assert top["low"] < gap < top["high"]


def test_few_takes_the_memory_of_a_folder(made):
    scores = str(made.folder / "year-3-two" / "scores.csv")
    asked = ["few", scores, "--of", "sweetness", "--memory", str(made.folder)]
    asked += ["--before", "2026-03-14"]
    found = CliRunner().invoke(kikichoko, [*asked, "--json"])
    assert found.exit_code == 0, found.output
    assert json.loads(found.stdout)["source"] == "memory"
    assert "6 earlier sessions, 2024–2025" in found.stderr
    own = ["--samples-sd", "1", "--assessors-sd", "1", "--repeats-sd", "1"]
    both = CliRunner().invoke(kikichoko, [*asked, *own])
    assert both.exit_code == 2
    assert "Either --memory or standard deviations" in both.stderr
    part = CliRunner().invoke(kikichoko, ["few", scores, "--of", "sweetness", *own[:2]])
    assert part.exit_code == 2
    assert "takes all three" in part.stderr
    none = CliRunner().invoke(kikichoko, [*asked[:3], "umami", *asked[4:]])
    assert none.exit_code == 1
    assert "teach nothing of 'umami'" in none.stderr


def test_only_open_sessions_before_the_day_are_remembered(made, tmp_path):
    """One without a report, one that went on after it, one whose key was never opened."""
    copy = tmp_path / "house"
    for name in ("year-1-spring", "year-1-summer", "year-1-autumn", "year-2-spring"):
        shutil.copytree(made.folder / name, copy / name)
    assert len(earlier_sessions(copy).dates) == 4
    assert len(earlier_sessions(copy, before=dt.date(2025, 1, 1)).dates) == 3
    (copy / "year-1-summer" / "scores.csv").unlink()
    with sqlite3.connect(copy / "year-1-autumn" / "answers.sqlite") as database:
        database.execute(
            "INSERT INTO answers (session, assessor, code, attribute, number, written,"
            " confidence, file, place, entered_at) SELECT session, assessor, code, attribute,"
            " number, written, confidence, file, place, '9999-01-01' FROM answers LIMIT 1"
        )
    with sqlite3.connect(copy / "year-2-spring" / "answers.sqlite") as database:
        database.execute("DROP TRIGGER openings_no_delete")
        database.execute("DELETE FROM openings")
    found = earlier_sessions(copy)
    assert found.dates == (dt.date(2024, 3, 16),)
    assert str(found.source) == "from 1 earlier session, 2024"
    assert [one.key for one in found.left_out] == ["memory.stale", "memory.closed", "memory.closed"]
    assert "year-1-autumn" in str(found.left_out[0])
    refused = CliRunner().invoke(kikichoko, ["memory", str(copy), "--before", "2024-03-16"])
    assert refused.exit_code == 1
    assert "none has an open key and scores" in refused.stderr


def test_a_forgotten_person_is_gone_from_the_memory(made, tmp_path):
    """Nothing is kept besides the sessions: T1, forgotten in one of two, has no past there."""
    copy = tmp_path / "house"
    for name in ("year-1-spring", "year-1-summer"):
        shutil.copytree(made.folder / name, copy / name)

    def people() -> dict[str, int]:
        table = earlier_sessions(copy).memory.assessors.query("attribute == 'body'")
        return dict(zip(table["assessor"], table["sessions"], strict=True))

    assert people()["T1"] == 2
    gone = CliRunner().invoke(kikichoko, ["forget", str(copy / "year-1-spring"), "T1", "--yes"])
    assert gone.exit_code == 0, gone.output
    # Until its report is made again the session does not count; then it knows no T1.
    assert people()["T1"] == 1
    session = load(copy / "year-1-spring")
    plan = load_open(session)
    with Store(session.folder) as store:
        scores = tables(session, plan, store, open_key(session, plan, store, "report")).scores
    scores.to_csv(session.folder / "scores.csv", index=False, encoding="utf-8")
    found = people()
    assert found["T1"] == 1
    assert found["T2"] == 2
    assert sorted(found.values()) == [1, 1, 2, 2, 2, 2, 2]


def test_only_what_was_put_in_is_claimed(made):
    results = json.loads((made.folder / "together.json").read_text("utf-8"))
    held = {
        (row["attribute"], row["predictor"]) for row in results["link"]["slopes"] if row["holds"]
    }
    assert {("sweetness", "meter_value"), ("sweetness", "acidity"), ("acidity", "acidity")} <= held
    assert held <= {cell for cell, slope in TRUE.items() if slope}
    drifting = {row["attribute"] for row in results["history"]["drift"] if row["drifts"]}
    assert drifting == {"acidity"}
    # One model of all sessions: only the bottle that ages in store changes against the others.
    followed = results["history"]["followed"]
    changing = {row["attribute"] for row in followed if row["change_p_adjusted"] <= 0.05}
    assert changing == {"bitterness"}
    assert "sweetness" in {row["attribute"] for row in followed if row["p_adjusted"] <= 0.05}
    stored = [row for row in results["history"]["store"] if row["holds"]]
    assert {(row["attribute"], row["sample"]) for row in stored} == {
        ("bitterness", "tank 2 raw of year 1")
    }
    assert stored[0]["low"] < KNOWN["store"]["bitterness"] < stored[0]["high"]


def scores_of(seed):
    """Draw the six tastings of another world without files."""
    world = vintages.World(KNOWN, seed=seed)
    rows = [
        (sitting["name"], f"p{person}", bottle["bottle"], replicate, what,
         world.score(sitting, bottle, f"p{person}", what))
        for sitting in KNOWN["sessions"]
        for bottle in world.served(sitting["year"])
        for person in range(6)
        for replicate in (1, 2)
        for what in vintages.ASKED
    ]  # fmt: skip
    names = ["session", "assessor", "sample", "replicate", "attribute", "score"]
    bottles = pd.DataFrame(world.rows).rename(columns={"bottle": "sample"})
    bottles["batch"] = bottles["tank"] + " / " + bottles["lot"]
    numbers = ["meter_value", "acidity"]
    bottles[numbers] = bottles[numbers].astype(float)
    return pd.DataFrame(rows, columns=names), bottles


@pytest.mark.slow
def test_true_effects_lie_in_the_intervals_at_the_stated_rate():
    # 8 worlds × 6 slopes that are not touched by the change in store, at 95 %. Slopes of one
    # world are nearly independent: the share covered has a standard error of about 0.032.
    inside = []
    for seed in range(8):
        scores, bottles = scores_of(seed)
        found = link(
            scores, bottles, predictors=["meter_value", "acidity"], batch="batch", orders=99
        )
        for row in found.slopes.to_dict("records"):
            if row["attribute"] != "bitterness":
                true = TRUE[row["attribute"], row["predictor"]]
                inside.append(row["low"] <= true <= row["high"])
    assert len(inside) == 48
    assert np.mean(inside) >= 0.95 - 3 * 0.032


def test_one_tank_is_refused_with_its_reason():
    scores, bottles = scores_of(1)
    one = bottles[bottles["sample"].str.startswith("tank 3 of year 1")]
    alone = link(
        scores[scores["sample"].isin(one["sample"])], one, predictors=["meter_value"], batch="batch"
    )
    assert alone.slopes.empty
    with pytest.raises(NotEstimable, match="does not vary"):
        alone.fit("sweetness")


def test_fractions_of_one_tank_are_refused_with_their_reason():
    scores, bottles = scores_of(1)
    tank = bottles.assign(batch="tank 1")  # as if all had been pressed from one tank
    with pytest.raises(NotEstimable, match=r"one batch \(tank 1\)"):
        link(scores, tank, predictors=["meter_value", "acidity"], batch="batch").fit("sweetness")


def test_people_read_the_words_of_the_sheets_and_programs_the_names_of_the_table(made):
    kept = earlier_sessions(made.folder, before=dt.date(2026, 1, 1)).memory
    called = kept.called({"sweetness": "甘味"})
    assert set(called.spreads) == {"甘味", *kept.spreads} - {"sweetness"}
    assert list(called.house["attribute"]) == [
        "甘味" if one == "sweetness" else one for one in kept.house["attribute"]
    ]
    assert called.known("甘味").sessions == kept.known("sweetness").sessions
    linked = ["history", str(made.folder), "--link", "--predictors", "meter_value,acidity"]
    for command in (["memory", str(made.folder)], linked):
        told = CliRunner().invoke(kikichoko, [*command, "--language", "ja"]).stdout
        assert "甘味" in told
        assert "sweetness" not in told
        told = CliRunner().invoke(kikichoko, [*command, "--language", "ja", "--json"]).stdout
        assert "sweetness" in told
