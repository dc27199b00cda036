"""The demonstration, whole: the report finds what was put in and not what was not."""

from __future__ import annotations

import json
import re
import zipfile
from shutil import copytree

import openpyxl
import pandas as pd
import pytest
from click.testing import CliRunner
from english_left import english_left, page_in_japanese
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.demos._tools import truth
from pdf_words import lacking, sizes, words
from results_schema import faults

LETTER = (612, 792)
"""Points."""


@pytest.fixture(scope="module")
def results(demo) -> dict:
    return json.loads((demo / "report/results.json").read_text("utf-8"))


@pytest.fixture(scope="module")
def page(demo) -> str:
    return (demo / "report/report.html").read_text("utf-8").replace("\u00a0", " ")


def test_the_trouble_that_was_put_in_is_told_and_the_rest_goes_in(demo):
    known = truth("fractions")
    status = CliRunner().invoke(kikichoko, ["status", str(demo), "--json"])
    assert status.exit_code == 3
    state = json.loads(status.output)
    assert state["out"] == [known["absent"]]
    kinds = {(one["assessor"], one["kind"]) for one in state["needs_a_person"]}
    assert (known["unreadable"], "not_a_number") in kinds
    assert (known["wrong_code"], "unknown_code") in kinds
    complete = {one["assessor"]: one["answered"] == one["asked"] for one in state["sheets"]}
    assert [code for code, whole in complete.items() if not whole] == ["T3", "N2", "N3", "S1"]


def test_the_report_tells_what_could_not_be_read_from_what_was_blank(page):
    text = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", page)).replace("&#39;", "'")
    assert "1 mark stood there and could not be read (T3, cloudy, acidity: “6?”)" in text
    assert "mark is blank" not in text
    assert "Until the code “807” is corrected" in re.sub(r"“[0-9]+” is cor", "“807” is cor", text)
    assert "8 assessors (the maker outside the means)" in text
    assert "this tells whether it is this bottle or the lot" in text
    assert text.count("After the cheapest next step, which stands above: ") == 1
    assert "The maker / the others: plain means, bottle by bottle" in text
    assert "“tiring” in" not in text
    assert "What both have beside cloudy: more clarity" in text
    assert "least sweet on the tongue (not shown)" in text
    assert re.search(
        r"T3\.xlsx, 1-\d{3}!D\d+: acidity for cup \d{3}: '6\?' is not one number", text
    )
    assert re.search(
        r"In typed-N2\.csv, row \d+, code: There is no cup with the code '\d{3}'", text
    )
    assert "3 places on what came back could not be read or belong to no cup" in text
    # one count within the other: the unreadable mark is told with the marks as well
    assert "1 of these places is a mark on a scale, which is also told with the marks." in text


def test_differences_that_were_put_in_are_found(results):
    """F tests of the seeded demonstration; with these effects power is above 99 %."""
    tests = results["differ"]["attributes"]
    for attribute in truth("fractions")["differ"]:
        assert tests[attribute]["sample"]["p"] < 0.01, attribute


def test_what_was_not_put_in_is_not_claimed(results):
    claimed = " ".join(results["short"])
    for attribute in truth("fractions")["same"]:
        name = attribute.replace("_", " ")
        assert f"differ in {name}" not in claimed
    claimed = {
        one["about"][0] for one in results["statements"] if one["kind"] == "claim" and one["about"]
    }
    assert not claimed & {"acidity", "bitterness", "umami", "astringency", "quality"}
    found = claimed & set(truth("fractions")["differ"])
    assert len(found) >= len(truth("fractions")["differ"]) - 3, "the budget may miss the smaller"


def test_true_means_lie_in_their_intervals(results):
    """63 means with 95 % intervals: at least 53 hold with probability above 99.9 % (binomial)."""
    known = truth("fractions")
    order = ["free-run", "clear", "cloudy"]
    hits = total = 0
    for attribute, one in results["differ"]["attributes"].items():
        for mean in one["means"]:
            place = order.index(mean["sample"])
            if attribute in known["differ"]:
                true = known["differ"][attribute][place]
            elif attribute in known["same"]:
                true = known["same"][attribute]
            else:
                continue
            hits += mean["low"] <= true <= mean["high"]
            total += 1
    assert total == 63
    assert hits >= 53, f"{hits} of {total}"


def test_the_nose_the_sweetness_and_the_fault(results):
    verdicts = {row["sample"]: row["verdict"] for row in results["nose"]["table"]}
    assert verdicts["free-run"] == "less"
    gaps = [one for one in results["statements"] if one["family"] == "promise"]
    assert gaps[0]["kind"] == "claim"
    assert {"free-run", "cloudy"} <= set(gaps[0]["about"])
    balance = {row["sample"]: row for row in results["sweetness"]["balance"]}
    assert balance["cloudy"]["too_sweet"] >= 6
    assert balance["free-run"]["too_sweet"] <= 3
    noted = {(row["sample"], row["fault"]): row["k"] for row in results["faults"]["table"]}
    assert noted["cloudy", "fault:raw_stale"] >= 3
    assert noted["clear", "fault:raw_stale"] == 0


def test_words_for_a_label_are_claims_alone_in_both_languages(results, page):
    told = {one["sample"]: one for one in results["label"]}
    assert "cloudy is held back: words that compare with it may come of the fault" in page
    assert told["cloudy"] == {"sample": "cloudy", "words": {}, "held_back": True}
    english, japanese = (told["free-run"]["words"][language] for language in ("en", "ja"))
    claimed = {
        one["about"][0]: one["about"][1:]
        for one in results["statements"]
        if one["kind"] == "claim" and one["family"] == "scale"
    }
    labels = {
        "clarity": ("clarity", "澄み"),
        "body": ("fullness", "ふくらみ"),
        "acidity": ("acidity", "酸味"),
        "umami": ("umami", "うま味"),
        "sweetness": ("sweetness", "甘味"),
    }
    for name, (word, kanji) in labels.items():
        assert (word in english) == (kanji in japanese) == (name in claimed), name
    assert "than cloudy" in english
    assert "quality" not in english
    assert "smell and taste were judged at 18 °C" in page


def test_the_report_is_one_file_that_fetches_nothing(page):
    for outside in ("http://", "https://", "<script", "<link", "@import"):
        assert outside not in page.replace("http://www.w3.org", ""), outside
    assert page.count("<svg") >= 2


def test_the_report_has_no_empty_section_and_no_bare_key(demo, page):
    from kikichoko.panel.session import load

    assert page.count("<section") == page.count("</section>")
    for body in page.split("<section")[1:]:
        text = body.partition("</h2>")[2]
        assert len(text) > 200
    for question in load(demo).scorecard:
        if "_" in question.key:
            assert question.key not in page, "people read names, not keys"


def test_scores_and_tables_hold_the_same_numbers(demo):
    scores = pd.read_csv(demo / "scores.csv")
    assert list(scores.columns) == [
        "session", "assessor", "sample", "replicate", "position", "attribute", "score",
    ]  # fmt: skip
    book = pd.read_excel(demo / "report/tables.xlsx", sheet_name=None, engine="openpyxl")
    assert len(book["scores"]) == len(scores)
    contents = book["contents"].set_index("Worksheet")
    assert list(contents.index) == [name for name in book if name != "contents"]
    assert contents["Rows"].to_dict() == {name: len(book[name]) for name in contents.index}
    assert contents["One row is"].notna().all()
    assert {"tests", "means", "agreement", "faults", "balance"} <= set(book)
    assert not (set(scores["sample"]) & {"house sake"}), "the warm-up is kept apart"


def test_the_workbook_can_be_worked_with(demo):
    book = openpyxl.load_workbook(demo / "report/tables.xlsx")
    assert book.sheetnames[0] == "contents"
    assert {sheet.freeze_panes for sheet in book} == {"A2"}
    assert book["contents"]["A2"].hyperlink.location == "'scores'!A1"
    means, tests = book["means"], book["tests"]
    assert [cell.number_format for cell in means[2]][2:4] == ["0.00", "0.00"]
    assert tests.cell(2, [cell.value for cell in tests[1]].index("p") + 1).number_format == "0.000"
    assert all(cell.font.bold for cell in means[1])
    assert max(column.width for column in book["decide"].column_dimensions.values()) <= 44


def test_results_are_as_their_schema_says(results):
    assert faults(results) == []


def test_originals_lie_unchanged_in_returned(demo):
    inbox = {path.read_bytes() for path in (demo / "inbox").iterdir()}
    kept = {path.read_bytes() for path in (demo / "returned").iterdir()}
    assert inbox == kept
    assert len(inbox) == 8


def test_reading_again_changes_nothing(demo, tmp_path):
    own = copytree(demo, tmp_path / "session")
    again = CliRunner().invoke(kikichoko, ["read", str(own), str(own / "inbox")])
    assert again.exit_code == 3, "what needs a person is told again"
    assert "0 answers went in" in again.output
    assert "read before" in again.output


def test_sheets_of_the_demo_name_no_bottle(demo):
    for path in (demo / "sheets").glob("*.xlsx"):
        with zipfile.ZipFile(path) as book:
            content = b"".join(book.read(name) for name in book.namelist()).lower()
        for word in (b"free-run", b"house sake", b"t4-0312"):
            assert word not in content


def test_in_japanese_it_says_no_english_of_its_own(demo, page, tmp_path):
    japanese = page_in_japanese(demo, tmp_path / "copy", "--pdf", "--paper", "Letter", figures=True)
    assert '<html lang="ja"' in japanese
    made = tmp_path / "copy" / "report"
    assert lacking(made / "report.pdf", japanese) == []
    assert "〓" not in "".join(words(made / "report.pdf"))
    assert [len(words(made / f"{name}.pdf")) for name in ("page", "wheel")] == [1, 1]
    assert sizes(made / "report.pdf") == sizes(made / "page.pdf") == {LETTER}
    assert sizes(made / "wheel.pdf") == {(17 * 72, 22 * 72)}
    assert english_left(japanese) == []
    assert len(english_left(page)) > 50
