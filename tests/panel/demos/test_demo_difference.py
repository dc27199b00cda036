"""``kikichoko demo difference`` from the folder to what the two reports say."""

from __future__ import annotations

import csv
import json
import re

import pytest
from english_left import english_left, page_in_japanese
from kikichoko.panel.demos import difference as demo
from kikichoko.panel.demos._tools import truth
from scipy.stats import binom


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    target = tmp_path_factory.mktemp("demo") / "difference"
    ticks = []
    outcome = demo.run(target, lambda: ticks.append(1))
    assert len(ticks) == demo.STEPS
    assert not outcome.faults
    assert outcome.report.is_file()
    return target


def results(folder, part: str):
    return json.loads((folder / part / "report" / "results.json").read_text("utf-8"))


def test_the_second_heating_is_noticed(folder):
    found = results(folder, "triangle")["test"]["results"][0]
    assert found["n"] == 23
    # counted again from the workbooks' own table of answers and the key, apart from the report
    key = {
        row["code"]: row["bottle"]
        for row in _table(folder / "triangle" / "plan" / "server" / "key.csv")
    }
    right = 0
    for row in _table(folder / "triangle" / "scores.csv"):
        if row["attribute"] == "triangle" and row["assessor"] != "M1":
            assert len({key[code] for code in row["sample"].split("-")}) == 2
            right += int(float(row["score"]))
    assert found["correct"] == right
    assert found["p"] == pytest.approx(binom.sf(right - 1, 23, 1 / 3))
    assert found["significant"]
    # the truth it was simulated from lies inside the interval
    known = truth("difference")["triangle"]
    share = (5 * known["trained"] + known["expert"] + 8 * known["student"]) / 23
    share += 9 * known["consumer"] / 23
    interval = found["distinguishers_interval"]
    assert interval["low"] <= share <= interval["high"]


def test_the_similarity_session_says_that_it_is_too_small(folder):
    found = results(folder, "similarity")
    result = found["test"]["results"][0]
    assert result["too_small"]
    assert not result["shown"]
    assert any("too small to show similarity" in line for line in found["short"])
    page = (
        (folder / "similarity" / "report" / "report.html").read_text("utf-8").replace("\u00a0", " ")
    )
    assert "accept_small" not in page, "a key that nobody who reads this has to type"
    assert "session.toml" not in page
    assert "it went ahead because whoever planned it knew and wished it" in page
    # the limit of the claim, why it is none, and which power the number of answers has
    assert "would need no more than 1 right answer of 7" in page
    assert "39 answers would show it 8 times in 10 if nobody can tell them apart" in page
    upper = (re.search(r"At most (\d+ %) of the assessors", found["short"][0]) or [""])[1]
    assert f"“At most {upper}” is a one-sided limit (95 %)" in page
    assert "served to each: 1 set of three cups, two of them the same" in page
    assert "check the pouring" not in page
    assert "cloudy" not in page, "neither bottle is"
    assert "wrong (not counted)" in page or "right (not counted)" in page
    assert "after the last answer" in page.partition('id="record"')[2]
    assert "after the last answer" not in page.partition('id="record"')[0]
    assert "cannot show similarity" in page
    # the box leads to the chapter, which says nothing of it again
    assert page.count("This session is too small to show similarity") == 1
    assert page.count("What to do:") == 1
    assert "<figcaption>How often each count comes by guessing alone, and if just 30 %" in page
    assert "could tell the bottles apart, against which similarity was tested" in page
    heads = re.findall(r'<th scope="col"[^>]*>([^<]+)', page)
    assert {"Quantity", "Estimate", "Correct"} <= set(heads)
    small = {one for one in heads if one[0].islower() and one.split()[0] not in ("p", "df")}
    assert small == set()
    assert {"right", "wrong"} <= set(re.findall(r"<td[^>]*>(\w+)</td>", page))


def test_the_report_says_how_evenly_the_bottles_stood(folder):
    """Counted again from what was served: each could stand four times at each place of eight."""
    page = _page(folder, "similarity")
    served = re.findall(r"(?:old|new) filter / (?:old|new) filter / (?:old|new) filter", page)
    assert len(served) == 8
    for place in range(3):
        assert sum(one.split(" / ")[place] == "old filter" for one in served) == 4
    assert "Each bottle stood at each place as evenly as could be." in page
    odd = [
        sum(1 for one in served if one.split(" / ").count(one.split(" / ")[place]) == 1)
        for place in range(3)
    ]
    assert (
        f"odd cup stood at each place, from the first to the last: {', '.join(map(str, odd))}."
        in page
    ) is (max(odd) - min(odd) > 1)


@pytest.mark.parametrize(("part", "of"), [("triangle", 23), ("similarity", 7)])
def test_whom_the_first_count_leaves_out_stands_beside_it(folder, part: str, of: int):
    """The head counts everybody who answered, the maker too."""
    page = _page(folder, part)
    assert f"{of + 1} assessors" in page
    first = results(folder, part)["short"][0].replace("\u00a0", " ")
    assert f"of {of} answers were right" in first
    assert "without the maker" in first


@pytest.mark.parametrize("part", ["triangle", "similarity"])
def test_bottles_are_not_called_samples(folder, part: str):
    text = re.sub(r"<(style|script)[^>]*>.*?</\1>", "", _page(folder, part), flags=re.DOTALL)
    assert "samples" not in re.sub("<[^>]+>", " ", text)
    assert "which is liked, was not asked" not in text, "words of those who were right stand there"


def test_tables_stay_in_the_column_of_a_desk(folder, browser):
    """The bottles hung out on both sides; each set of three took a second line."""
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    page.goto((folder / "triangle" / "report" / "report.html").as_uri())
    page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")
    edge = page.locator("#asked").bounding_box()
    table = page.locator("#asked table").first.bounding_box()
    assert table["x"] >= edge["x"] - 1
    assert table["x"] + table["width"] <= edge["x"] + edge["width"] + 1
    served = page.locator("#test .stacked tbody tr")
    assert served.count() == 24
    heights = {round(served.nth(at).bounding_box()["height"]) for at in range(1, 6)}
    assert max(heights) < 40  # one line of 17 px at 1.55, and the room around it
    page.close()


def _page(folder, part: str) -> str:
    page = (folder / part / "report" / "report.html").read_text("utf-8")
    return page.replace("\u00a0", " ")


def test_sheets_name_no_bottle(folder):
    import pypdfium2

    for part, names in (("triangle", ("heat", "L-12")), ("similarity", ("filter", "L-13"))):
        document = pypdfium2.PdfDocument(folder / part / "sheets" / "T1.pdf")
        text = "".join(page.get_textpage().get_text_bounded() for page in document)
        document.close()
        text = " ".join(text.split())
        assert "even if you have to guess" in text
        assert not any(name.lower() in text.lower() for name in names)


def _table(path):
    with path.open(encoding="utf-8-sig") as file:
        rows = list(csv.DictReader(file))
    return [{name.lower(): value for name, value in row.items()} for row in rows]


def test_in_japanese_it_says_no_english_of_its_own(folder, tmp_path):
    page = page_in_japanese(folder / "triangle", tmp_path / "copy")
    assert '<html lang="ja"' in page
    assert english_left(page) == []
