"""What the report says of the open flight (tests/outside/open_flight/cases.md, O14, O21-O31)."""

from __future__ import annotations

import json
from pathlib import Path
from shutil import copytree

import pandas as pd
import pytest
from kikichoko.panel.base.session_log import read_log, to_the_minute
from kikichoko.panel.plan.sealing import fingerprint

from .conftest import BOTTLES, WANTED, asked, call, cups, named_rows, table

pytestmark = pytest.mark.usefixtures("without_figures")

FIVE = """assessor,role,style,language
M1,maker,likes,en
T1,expert,dislikes,en
T2,trained,likes,en
T3,trained,likes,en
T4,trained,neutral,en
"""


def report(place: Path) -> dict:
    done = call("report", place)
    assert done.exit_code == 0, done.output
    return json.loads((place / "report/results.json").read_text("utf-8"))


def said(results: dict, kind: str = "") -> str:
    return "\n".join(
        one["sentence"]
        for one in results["statements"]
        if one["section"] == "open_flight" and kind in ("", one["kind"])
    )


def row(results: dict, group: str, attribute: str = "quality") -> dict:
    (found,) = [
        one
        for one in results["open_flight"]["groups"]
        if (one["group"], one["attribute"]) == (group, attribute)
    ]
    return found


def blind_part(place: Path, results: dict) -> str:
    """Return everything but the open flight's own section, the head of the log and the time."""
    log = read_log(place)
    heads = [fingerprint(entry.head) for entry in log.entries]
    kept = {name: value for name, value in results.items() if name != "open_flight"}
    kept["record"] = {name: one for name, one in results["record"].items() if name != "log"}
    kept["statements"] = [
        one
        for one in results["statements"]
        if one["section"] != "open_flight" and not any(head in one["sentence"] for head in heads)
    ]
    text = json.dumps(kept)
    # The store may have opened the key in another second than the log, or in another minute.
    for at in (results["asked"]["key_opened"], *(entry.at for entry in log.of("open"))):
        for written in (at, to_the_minute(at)):
            text = text.replace(written, "when the key was opened")
    return text


@pytest.fixture(scope="module")
def results(opened_once: Path, without_figures: None) -> dict:  # noqa: ARG001
    place = Path(copytree(opened_once, opened_once.parent / "reported" / "session"))
    return report(place) | {"place": str(place)}


@pytest.fixture(scope="module")
def before(answered_once: Path, without_figures: None) -> tuple[Path, dict]:  # noqa: ARG001
    place = Path(copytree(answered_once, answered_once.parent / "before" / "session"))
    return place, report(place)


def test_the_maker_moves_and_it_is_of_this_person(results):
    """O21, by hand: 1, 2, 4 over three bottles, 4.303 from tables of t."""
    found = row(results, "maker")
    assert (found["unit"], found["n"], found["df"]) == ("bottles", 3, 2)
    assert found["difference"] == pytest.approx(7 / 3)
    assert (found["low"], found["high"]) == pytest.approx((-1.46, 6.13), abs=0.005)
    assert (
        "maker (M1): overall quality +2.3 with the name told (95 % limits \u22121.5 to +6.1,"
        in said(results)
    )
    assert "over 3 bottles: of this person, for bottles like these)" in said(results)
    assert row(results, "dislikes")["difference"] == pytest.approx(-1 / 3)
    both = row(results, "everybody")
    assert (both["unit"], both["n"], both["df"], both["pairs"]) == ("assessors", 2, 1, 6)
    assert (both["low"], both["high"]) == (-10, 10)  # 1 ± 12.706 × 4/3 lies beyond the scale
    assert "\u221210.0 to +10.0" in said(results)
    assert (
        "all 2 together: overall quality +1.0" in said(results).lower()
    )  # of three, one stayed out
    assert "likes" not in {one["group"] for one in results["open_flight"]["groups"]}


def test_nothing_of_it_is_a_claim_and_order_is_no_cause(results):
    kinds = {one["kind"] for one in results["statements"] if one["section"] == "open_flight"}
    assert kinds == {"description", "caution"}
    assert "came last for everybody" in said(results, "caution")
    assert "because of the name" not in said(results)
    assert all(one["section"] != "open_flight" for one in results["statements"] if one["in_short"])


def test_who_left_after_the_blind_part_is_in_no_pair(results):
    assert results["open_flight"]["blind_only"] == ["T2"]
    assert "Only blind: T2" in said(results, "caution")


def test_marks_that_moved_alike_have_no_limits(results):
    """O26: every other line is 4 blind and 4 named."""
    found = row(results, "maker", "acidity")
    assert (found["difference"], found["low"], found["high"]) == (0, None, None)
    page = (Path(results["place"]) / "report/report.html").read_text("utf-8")
    assert "0.0 (all differences 0, so no limits; n 3)" in page.replace("\u00a0", " ")
    assert "no limits)" not in page


def test_the_blind_part_is_the_same_with_and_without(before, results):
    """O25: three people; also `scores.csv`, byte for byte."""
    place, without = before
    after = Path(results["place"])
    kept = {name: one for name, one in results.items() if name != "place"}
    assert blind_part(after, kept) == blind_part(place, without)
    assert (after / "scores.csv").read_bytes() == (place / "scores.csv").read_bytes()
    assert "was not opened" in said(without)


def test_one_tidy_table_tells_the_flights_apart(results):
    both = pd.read_csv(Path(results["place"]) / "open_flight/scores.csv")
    assert both.groupby("flight").size().to_dict()["open"] == 2 * 3 * both["attribute"].nunique()
    quality = both[both["attribute"] == "quality"].set_index(["flight", "assessor", "sample"])
    assert quality.loc[("blind", "M1", "C cloudy"), "score"] == 5
    assert quality.loc[("open", "M1", "C cloudy"), "score"] == 9


def test_what_the_record_tells_is_told(answered):
    (code,) = cups(answered)["T2", "C cloudy"]
    report(answered)  # the key is open now
    assert call("unblind", answered, "--yes").exit_code == 0
    rows = [
        *named_rows(answered, "M1")[:-1],
        ("T2", code, "quality", 9),
        ("T2", code, "acidity", 4),
    ]
    assert call("read", answered, table(answered / "n.csv", rows)).exit_code in {0, 3}
    told = said(report(answered), "caution")
    assert "The key had been opened" in told
    assert "1 blind answer came after the names were told (T2)" in told
    assert "1 of it would have changed a blind mark" in told
    assert "1 mark has no counterpart" in told


def test_without_named_answers_nothing_is_set_beside(answered):
    assert call("unblind", answered, "--yes").exit_code == 0
    found = report(answered)
    assert found["open_flight"]["groups"] == []
    assert "No named sheet with an answer is back" in said(found)


def test_a_fault_noted_only_with_the_name_counts_nowhere(folder):
    """O29, and O28: five people, so that the usual report is written."""
    more = WANTED.replace('"fault", ', "")
    place = folder(more=more, assessors=FIVE, bottles=BOTTLES, replicates=1)
    assert call("plan", place).exit_code == 0
    people = ("M1", "T1", "T2", "T3", "T4")
    lines = [one for one in asked(place) if one != "fault"]
    given = ((6, 5, 5), (5, 4, 6), (5, 5, 4), (6, 6, 5), (4, 5, 5))
    marks = {
        who: dict(zip("ABC", own, strict=True)) for who, own in zip(people, given, strict=True)
    }
    rows = [
        (who, code, line, marks[who][bottle[0]] if line == "quality" else 3 + place_ % 3)
        for place_, ((who, bottle), codes) in enumerate(cups(place).items())
        for code in codes
        for line in lines
    ]
    rows += [(who, codes[0], "fault:musty", 0) for (who, _), codes in cups(place).items()]
    done = call("read", place, table(place.parent / "b.csv", rows))
    assert done.exit_code == 0, done.output
    blind = Path(copytree(place, place.parent / "blind" / "session"))
    without = report(blind)
    assert call("unblind", place, "--yes").exit_code == 0
    move = {"M1": 2, "T1": -1, "T2": 1, "T3": 2, "T4": 0}
    named = [(who, bottle, "quality", marks[who][bottle[0]] + move[who])
             for who in people for bottle in ("A free-run", "B clear", "C cloudy")]  # fmt: skip
    named += [("T1", "C cloudy", "fault:musty", 2)]
    done = call("read", place, table(place.parent / "n.csv", named))
    assert done.exit_code == 0, done.output
    found = report(place)
    assert "T1 noted" in said(found)
    assert "only once its name was told" in said(found)
    likes, everybody = row(found, "likes"), row(found, "everybody")
    # T2 and T3, +1 and +2: mean 1.5, sd 0.707, t(0.975, 1) = 12.706
    assert (likes["n"], likes["df"], likes["difference"]) == (2, 1, 1.5)
    assert likes["high"] == pytest.approx(1.5 + 12.706 * 0.5, abs=0.01)
    assert (everybody["n"], everybody["df"], everybody["pairs"]) == (5, 4, 15)
    assert blind_part(place, found) == blind_part(blind, without)


def test_the_blind_and_the_named_tasting_have_one_japanese_name_each():
    """ブラインドのきき酒 and 酒名を明かすきき酒, on sheets, plan, desk and report alike."""
    files = [
        path
        for room in ("panel", "forms", "analysis")
        for path in (Path(__file__).parents[3] / room / "words" / "ja").glob("*.toml")
    ]
    assert len(files) > 100
    texts = {str(path): path.read_text("utf-8") for path in files}
    for retired in (
        "目隠しの",
        "名を明かすフライト",
        "名を明かしたフライト",
        "ブラインドのフライト",
    ):
        assert [name for name, text in texts.items() if retired in text] == []
    for kept in ("ブラインドのきき酒", "酒名を明か"):
        found = {Path(name).name for name, text in texts.items() if kept in text}
        assert {"plan.toml", "desk.toml", "unblind.toml", "sheet.toml"} <= found
