"""``kikichoko demo two``: what two people can say, from the folder to the page."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner
from english_left import english_left, page_in_japanese
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.demos import two as demo
from pdf_words import faces, lacking, sizes, tagged, words
from results_schema import faults

A4 = (595, 842)
"""Points."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    made = tmp_path_factory.mktemp("demo") / "two"
    ticks = []
    outcome = demo.run(made, lambda: ticks.append(1))
    assert len(ticks) == demo.STEPS
    assert not outcome.faults
    return made


@pytest.fixture(scope="module")
def results(folder):
    return json.loads((folder / "report" / "results.json").read_text("utf-8"))


def test_results_are_as_their_schema_says(results):
    assert faults(results) == []


def test_status_of_a_whole_session_names_the_next_command(folder):
    done = CliRunner().invoke(kikichoko, ["status", str(folder)])
    assert done.exit_code == 0
    assert done.stderr.splitlines()[-1].strip() == f"kikichoko report {folder}"


def cell(results, bottle: str, question: str) -> str:
    rows = results["decide"]
    return next(r["text"] for r in rows if (r["sample"], r["question"]) == (bottle, question))


def test_what_was_put_in_stands_out_for_both(results):
    press = cell(results, "press-end", "stands")
    for name in ("bitterness", "astringency", "acidity"):
        assert name in press.partition("least")[0]
    for name in ("smell of the still cup", "smoothness"):
        assert name in press.partition("least")[2]
    assert cell(results, "press-end", "quality") == "M1 3 of 3, E1 3 of 3"
    assert "not by itself" in cell(results, "press-end", "do")
    assert cell(results, "press-end", "do").endswith("; raw, keep cold")  # care is no reason
    who = "(M1 2, E1 2)"  # as they stand in the roster, here as in every column
    assert cell(results, "free-run", "balance") == f"just right 4 {who}"
    assert cell(results, "free-run", "do") == "open: too few tasted; raw, keep cold"
    assert cell(results, "free-run", "words") == "banana"


def test_they_part_where_they_were_made_to(results):
    said = [one["sentence"] for one in results["statements"]]
    (parted,) = [
        line for line in said if "verall quality of free-run and middle: M1 middle" in line
    ]
    assert parted.endswith("within own scatter: no order shown.")
    assert any(line.startswith("M1 marks ") and ": a habit" in line for line in said)


def test_two_people_settle_nothing_and_learn_what_would(results):
    assert not [one for one in results["statements"] if one["kind"] == "claim"]
    steps = {row["step"] for row in results["sure"]}
    assert steps == {"tasting", "assessor", "five", "triangle"}
    assert all(0 <= row["chance"] <= 1 for row in results["sure"])


def test_the_maker_moves_with_the_name_and_the_professional_hardly(results):
    """What was put in, 1.0, 0.8 and 2.2, has a mean of 1.3; each noise of 0.35, three bottles."""
    found = {
        one["group"]: one
        for one in results["open_flight"]["groups"]
        if one["attribute"] == "quality"
    }
    assert found["maker"]["difference"] == pytest.approx(1.33, abs=0.75)
    assert found["maker"]["low"] < 1.33 < found["maker"]["high"]
    assert found["dislikes"]["low"] < -0.1 < found["dislikes"]["high"]
    assert abs(found["dislikes"]["difference"]) < found["maker"]["difference"]


def test_in_japanese_it_says_no_english_of_its_own(folder, tmp_path):
    page = page_in_japanese(folder, tmp_path / "copy", "--pdf", figures=True)
    assert '<html lang="ja"' in page
    pdf = tmp_path / "copy" / "report" / "report.pdf"
    assert lacking(pdf, page) == []
    assert sizes(pdf) == {A4}
    assert tagged(pdf)
    assert faces(pdf) == {("BIZUDPGothic-Regular", True), ("BIZUDPGothic-Bold", True)}
    assert len(words(pdf.with_name("page.pdf"))) == 1
    assert english_left(page) == []
    assert "二名を合わせて：名を知ると" in page  # one mean of both is not what is so for both
    assert "；生酒につき要冷蔵" in page
