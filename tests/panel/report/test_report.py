"""Reports of sessions that can say little: they describe, and say what it would take."""

from __future__ import annotations

import csv
import json
import re
import time
from pathlib import Path

import pytest
from click.testing import CliRunner
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.plan.plan_file import load_open
from kikichoko.panel.session import load

TWO = "assessor,role\nM1,maker\nT1,trained\n"


def run(*words: str) -> str:
    done = CliRunner().invoke(kikichoko, list(words))
    assert done.exit_code == 0, done.output + repr(done.exception)
    return done.output


def answered(place: Path, score) -> Path:
    """Plan a session and type every answer as `score(assessor, number, attribute)` says."""
    run("plan", str(place))
    session = load(place)
    target = place / "typed.csv"
    with target.open("w", encoding="utf-8", newline="") as out:
        rows = csv.writer(out)
        rows.writerow(["assessor", "code", "attribute", "score"])
        for code, sheet in load_open(session).sheets.items():
            for presentation in sheet.presentations:
                for question in sheet.questions(presentation):
                    for attribute in question.attributes:
                        value = score(code, presentation.number, attribute)
                        if value is not None:
                            rows.writerow([code, presentation.name, attribute, value])
    return target


def varied(code: str, number: int, attribute: str):
    """Answers that vary without any bottle being different on purpose."""
    if attribute == "words":
        return None
    if attribute.startswith("aroma:"):
        return 1 if (number + len(attribute)) % 3 == 0 else None
    if attribute.startswith("fault:"):
        return 0
    if attribute == "sweetness_balance":
        return (number + len(code)) % 3 - 1
    return (3 * number + 2 * len(attribute) + ord(code[0])) % 7 + 1


def same(_code: str, _number: int, attribute: str):
    """Answer everything alike."""
    if attribute == "words":
        return None
    return 0 if ":" in attribute or attribute == "sweetness_balance" else 5


@pytest.fixture(scope="module")
def small(folder_once) -> Path:
    place = folder_once(assessors=TWO, replicates=1)
    typed = answered(place, varied)
    run("read", str(place), str(typed))
    run("report", str(place))
    return place


def test_two_assessors_and_one_replicate_are_described(small):
    page = (small / "report/report.html").read_text("utf-8").replace("\u00a0", " ")
    results = json.loads((small / "report/results.json").read_text("utf-8"))
    short = " ".join(results["short"])
    assert "The bottles differ" not in short
    assert "M1, the maker, counts in the means whatever is set: only one other tasted." in page
    assert "these marks do not tell how well anybody repeats" in page
    assert "everybody once more" in page
    assert not re.search(r"\bnan\b", page.lower())


def test_nothing_is_claimed_from_two_assessors(small):
    """Even a clear gap by both must not become a claim about other people's palates."""
    results = json.loads((small / "report/results.json").read_text("utf-8"))
    pairs = results["sheets"]["claims"]["pairs"]
    assert pairs
    assert not [row for row in pairs if row["claimed"]]
    assert not [one for one in results["statements"] if one["kind"] == "claim"]
    assert all(row["probability"] < 1 for row in pairs)


def test_report_without_answers_keeps_the_key_shut(folder):
    place = folder()
    run("plan", str(place))
    done = CliRunner().invoke(kikichoko, ["report", str(place)])
    assert done.exit_code == 1
    assert "No answers are in yet" in done.output
    assert "Key opened" not in run("status", str(place))


def test_answers_after_the_key_was_opened_are_told(folder):
    place = folder(assessors="assessor,role\nT1,trained\nT2,trained\nT3,trained\n")
    typed = answered(place, varied)
    lines = typed.read_text("utf-8").splitlines()
    early = [line for line in lines[1:] if not line.startswith("T3")]
    (place / "early.csv").write_text("\n".join([lines[0], *early]) + "\n", "utf-8")
    run("read", str(place), str(place / "early.csv"))
    run("key", str(place), "--reason", "curious")
    time.sleep(1.1)  # the record is kept to the second
    run("read", str(place), str(typed))
    run("report", str(place))
    page = (place / "report/report.html").read_text("utf-8").replace("\u00a0", " ")
    assert "before the last answer" in page
    assert "They may not be blind" in page


def test_all_the_same_answers(folder):
    """Constant scores: nothing to compare or to agree on, said in words, no crash."""
    place = folder()
    typed = answered(place, same)
    run("read", str(place), str(typed))
    run("report", str(place))
    page = (place / "report/report.html").read_text("utf-8").replace("\u00a0", " ")
    results = json.loads((place / "report/results.json").read_text("utf-8"))
    assert "Every mark of all 6 assessors is 5" in " ".join(results["short"])
    assert "5.0 (5.0" not in page
    assert not [one for one in results["statements"] if one["kind"] in ("claim", "hint")]


def test_one_bottle_is_described(folder):
    place = folder(bottles="bottle,available\nonly,2\n")
    typed = answered(place, varied)
    run("read", str(place), str(typed))
    run("report", str(place))
    page = (place / "report/report.html").read_text("utf-8").replace("\u00a0", " ")
    assert "Only one bottle, only, was served" in page
    assert "How was the bottle marked?" in page
    assert "1 bottles" not in page
    for words in ("higher than", "lower than", "highest mean", "not told apart", "Do the bottles"):
        assert words not in page, words


def test_one_assessor_is_described(folder):
    place = folder(assessors="assessor,role\nM1,maker\n")
    typed = answered(place, varied)
    run("read", str(place), str(typed))
    run("report", str(place))
    page = (place / "report/report.html").read_text("utf-8").replace("\u00a0", " ")
    assert "From one person no order can be told from chance" in page


def test_without_the_typesetter_nothing_is_opened_and_it_says_what_to_install(folder, monkeypatch):
    monkeypatch.setattr("importlib.util.find_spec", lambda _name: None)
    place = folder(short=True)
    done = CliRunner().invoke(kikichoko, ["report", str(place), "--pdf"])
    assert done.exit_code == 1
    assert "pip install 'kikichoko[pdf]'" in done.output
    assert not (place / "log.jsonl").exists()
