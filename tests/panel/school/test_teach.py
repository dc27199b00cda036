"""A class from tables and from session folders; the demo against its stated truth."""

from __future__ import annotations

import json
import re
import shutil
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pypdfium2
import pytest
from kikichoko.analysis.teaching.class_result import Teaching
from kikichoko.panel.base.errors import InputRefused
from kikichoko.panel.base.words import say
from kikichoko.panel.cli import main
from kikichoko.panel.demos import classroom
from kikichoko.panel.demos._tools import truth
from kikichoko.panel.school.class_pages import class_page, class_sheets
from kikichoko.panel.school.class_sessions import (
    School,
    compare,
    controls_of_table,
    from_folders,
    read_known,
)
from kikichoko.panel.school.feedback_parts import BESIDE, CHART, LEFT, Paper
from kikichoko.panel.school.free_marks import own_words_of
from kikichoko.panel.school.spoken import all_spoken
from kikichoko.panel.school.student_pages import file_names, student_page, student_sheets
from kikichoko.panel.session import roster

CODES = [f"S{number:02d}" for number in range(1, 15)]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Run the demo once."""
    target = tmp_path_factory.mktemp("school") / "demo"
    steps: list[int] = []
    outcome = classroom.run(target, lambda: steps.append(1))
    assert len(steps) == classroom.STEPS
    assert outcome.faults == []
    return target


@pytest.fixture(scope="module")
def school(folder: Path) -> School:
    return from_folders([folder / "first", folder / "second"])


@pytest.fixture(scope="module")
def result(school: School) -> Teaching:
    return compare(school)


@pytest.fixture(scope="module")
def laid_out(school: School, result: Teaching) -> dict[str, Paper]:
    """Lay out each student's page once, for those who look at what stands on it."""
    return {code: student_page(school, one) for code, one in result.students.items()}


def page_text(path: Path) -> str:
    document = pypdfium2.PdfDocument(path)
    assert len(document) == 1, f"{path.name} has more than one page"
    page = document[0]
    text = page.get_textpage().get_text_range()
    document.close()
    return str(text)


def test_one_page_for_each_student_and_one_for_the_wall(folder: Path):
    pages = folder / "teaching"
    assert {path.stem for path in pages.glob("*.pdf")} == {
        *(f"feedback-{code}" for code in CODES),
        "class",
    }
    for code in CODES:
        text = page_text(pages / f"feedback-{code}.pdf")
        assert code in text
        assert not any(other in text for other in CODES if other != code)
        assert "What to work on next" in text
        assert "no mark" in text
        for harsh in ("fail", "bad", "worst", "poor"):
            assert harsh not in text.lower()


def test_the_wall_page_names_nobody(folder: Path):
    text = page_text(folder / "teaching" / "class.pdf")
    assert not any(code in text for code in CODES)
    assert "nobody named" in text


def test_nothing_runs_off_the_page(laid_out: dict[str, Paper]):
    for code, page in laid_out.items():
        assert page.y <= 268, code  # Letter is 279 mm high, A4 297


def test_students_are_found_for_what_they_do(result: Teaching):
    # The stated truth of the demo: S03 sweet and cloying high, S07 narrow, S11 notices
    # nothing, S14 everything; nobody has anything else.
    own = truth("classroom")["own"]
    assert own == {"S03": "high", "S07": "narrow", "S11": "blunt", "S14": "sharp"}
    found = set(
        result.findings[["student", "attribute", "finding"]].itertuples(index=False, name=None)
    )
    assert {("S03", "sweetness", "high"), ("S07", "", "narrow")} <= found
    assert {who for who, *_ in found} <= {"S03", "S07"}
    blunt, sharp = (result.students[code].detection for code in ("S11", "S14"))
    assert blunt is not None
    assert blunt["hits"] == 0
    assert sharp is not None
    assert (sharp["named_right"], sharp["false_alarms"]) == (4, 0)


def test_the_class_claims_nothing_that_is_not_in_the_truth(result: Teaching):
    assert not result.by_attribute["shown"].any()
    assert result.slips.empty
    assert result.parted == []


def test_the_repeat_is_known_and_two_sessions_show_no_course(result: Teaching):
    for one in result.students.values():
        assert one.watched is None
        assert one.repeat is not None
        assert one.repeat["pairs"] == 2
    assert result.ceiling["df"].tolist() == [2] * len(result.ceiling)


def test_words_left_empty_count_as_not_used(result: Teaching):
    missed = sum(int(one.word_agreement["missed"] or 0) for one in result.students.values()
                 if one.word_agreement)  # fmt: skip
    assert missed > 0
    assert all(
        one.word_agreement is not None and (one.word_agreement["kappa"] or 0) > 0
        for one in result.students.values()
    )


def test_opening_the_key_is_on_the_record(folder: Path, school: School):
    from kikichoko.panel.returns.store import Store

    assert len(school.students) == 14
    with Store(folder / "first") as store:
        assert "teach" in {opening.reason for opening in store.openings()}


def test_what_the_teacher_knows_is_on_no_sheet(folder: Path):
    for part in classroom.PARTS:
        for path in (folder / part / "sheets").rglob("*"):
            if path.is_file():
                assert b'aldehyde"' not in path.read_bytes()
                assert "spiked" not in path.name


def test_folder_on_the_command_line(folder: Path, capsys: pytest.CaptureFixture[str]):
    with pytest.raises(SystemExit) as stop:
        main(["teach", str(folder / "first"), "--and", str(folder / "second"), "--json",
              "--out", str(folder / "again")])  # fmt: skip
    assert not stop.value.code
    captured = capsys.readouterr()
    spoken = json.loads(captured.out)
    assert set(spoken["students"]) == set(CODES)
    assert "15 pages" in captured.err
    first = (folder / "again" / "feedback-S01.pdf").read_bytes()
    assert first == (folder / "teaching" / "feedback-S01.pdf").read_bytes()


def test_table_on_the_command_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    rows = [
        (who, f"b{bottle}", repeat, 2.0 * bottle + shift + 0.3 * (repeat - 1) * (-1) ** bottle)
        for who, shift in (("E1", 0.0), ("S1", 2.0), ("S2", 0.1))
        for bottle in range(1, 5)
        for repeat in (1, 2)
    ]
    path = tmp_path / "scores.csv"
    table = pd.DataFrame(rows, columns=["assessor", "sample", "replicate", "score"])
    table.to_csv(path, index=False)
    with pytest.raises(SystemExit) as stop:
        main(["teach", str(path), "--expert", "E1", "--out", str(tmp_path / "out")])
    assert not stop.value.code
    assert "No page for the wall" in capsys.readouterr().err
    assert (tmp_path / "out" / "feedback-S1.pdf").is_file()
    assert not (tmp_path / "out" / "class.pdf").exists()
    with pytest.raises(SystemExit) as stop:
        main(["teach", str(path)])
    assert stop.value.code == 1
    assert "Name an expert with --expert" in capsys.readouterr().err


def test_a_class_file_that_is_not_understood(tmp_path: Path):
    path = tmp_path / "class.toml"
    path.write_text("margn = 2", "utf-8")
    with pytest.raises(InputRefused, match="margin, clean"):
        read_known(path)


def test_names_used_as_codes_do_not_become_file_names():
    assert file_names(["S1", "s-02"]) == {"S1": "feedback-S1.pdf", "s-02": "feedback-s-02.pdf"}
    assert file_names(["Mei", "S1"]) == {"Mei": "feedback-01.pdf", "S1": "feedback-02.pdf"}


def test_controls_of_a_table_are_of_a_session():
    rows = [(s, b) for s in ("1", "2") for b in ("a", "b")]
    table = pd.DataFrame(rows, columns=["session", "sample"])
    columns = {"sample": "sample", "session": ""}
    found = controls_of_table(table, table, {"2/a": "buttery", "b": "glue"}, ["a"], columns)
    assert set(found.itertuples(index=False, name=None)) == {
        ("2", "a", "fault:buttery"), ("1", "a", ""),
        ("1", "b", "fault:glue"), ("2", "b", "fault:glue"),
    }  # fmt: skip
    raw = table.assign(control=["clean", None, "buttery", ""])
    found = controls_of_table(table, raw, {}, [], columns)
    assert set(found.itertuples(index=False, name=None)) == {
        ("1", "a", ""), ("2", "a", "fault:buttery"),
    }  # fmt: skip
    with pytest.raises(InputRefused, match="3/a"):
        controls_of_table(table, table, {"3/a": "buttery"}, [], columns)


def test_a_page_in_japanese_has_japanese_sentences(school: School, result: Teaching):
    own = replace(school, languages={"S07": "ja"})
    text = "".join(word.text for word in student_page(own, result.students["S07"]).words)
    assert "線の一部だけを使っています" in text
    assert "甘" in text
    for english in ("What", "expert", "bottles", "None", "nan", "inf"):
        assert english not in text


def test_the_whole_card_stands_below_attributes_that_stay_open(laid_out: dict[str, Paper]):
    notes = {
        code: " ".join(word.text for word in page.words if word.size < 7.5)
        for code, page in laid_out.items()
    }
    assert "Over the whole card: small part of the line, your order follows." in notes["S07"]
    assert "Over the whole card" not in notes["S03"]  # what holds there is told by attribute
    bold = {word.text for word in laid_out["S03"].words if word.bold and word.x == LEFT}
    assert {"Sweetness", "Tiring"} <= bold


def test_the_teacher_reads_names_and_no_keys(school: School, result: Teaching):
    said = all_spoken(school, result.sentences(), "en")
    text = result.text(said=said)
    spoken = text[: text.index("Students, in the order of their codes")]
    assert "Green, raw wood (aldehyde): of 28 spiked cups" in spoken
    assert "Of 112 clean cups 5 were called faulty." in spoken
    assert "S07 follows the expert's order over the whole card" in spoken
    assert not re.search(r"fault:|aroma:|_", spoken)


def test_no_page_prints_what_is_no_number(laid_out: dict[str, Paper]):
    for page in laid_out.values():
        text = " ".join(word.text for word in page.words)
        assert not re.search(r"\b(nan|inf|infinity|None)\b|: –|d′|kappa", text)
        assert "−3" in text
        assert "+3" in text


def test_own_words_are_set_beside_the_expert_s(school: School, result: Teaching):
    rows = [
        ("1", "E1", "light", "apple, bitter"), ("1", "S01", "light", "pear, zorb, caramel"),
        ("1", "S02", "rich", "pear"), ("1", "E1", "sharp", "rice"), ("1", "S01", "sharp", "rice"),
    ]  # fmt: skip
    words = pd.DataFrame(rows, columns=["session", "assessor", "sample", "text"])
    own = replace(school, free_words=words)
    found = own_words_of(own, "S01")
    assert found is not None
    assert (found.bottles, found.count("same"), found.count("group")) == (2, 1, 1)
    assert own_words_of(own, "S02") is None
    text = " ".join(word.text for word in student_page(own, result.students["S01"]).words)
    assert "1 word the same, 1 near" in text
    assert "pear for apple" in text
    assert "The expert wrote, you not yet: bitter" in text
    assert "Yours, and not the expert's: caramel." in text
    assert "not in the vocabulary yet: zorb" in text


@pytest.mark.parametrize(("paper", "size"), [("A4", (595, 842)), ("Letter", (612, 792))])
def test_pages_are_of_the_paper_asked_for(
    school: School, result: Teaching, tmp_path: Path, paper: str, size: tuple[int, int]
):
    one = replace(result, students=dict([next(iter(result.students.items()))]))
    made = student_sheets(school, one, tmp_path, paper)
    made += class_sheets(school, result, tmp_path, paper)
    assert len(made) >= 2
    for path in made:
        with pypdfium2.PdfDocument(path) as document:
            (page,) = document
            assert (round(page.get_width()), round(page.get_height())) == size, path
            text = page.get_textpage()
            lows = [text.get_rect(n)[1] for n in range(text.count_rects())]
            assert min(lows) > 25, "words stand above what printers leave free"


def test_sessions_are_named_by_their_day(school: School, laid_out: dict[str, Paper]):
    first, second = school.days
    assert first.endswith("school-first")
    assert school.session_name(first) == "10 April"
    assert school.session_name(first, "ja") == "4月10日"
    assert school.session_name("2") == "2"  # a session of a table
    page = " ".join(word.text for word in laid_out["S01"].words)
    assert "sessions 10 April, 8 May" in page
    assert "school-" not in page
    years = replace(school, days={first: ("2025-12-01", "One"), second: ("2026-01-09", "Two")})
    assert years.session_name(first) == "1 December 2025"
    assert years.session_name(second, "ja") == "2026年1月9日"
    noon = replace(school, days={first: ("2026-04-10", "One"), second: ("2026-04-10", "Two")})
    assert [noon.session_name(one) for one in noon.days] == ["10 April, One", "10 April, Two"]
    same = replace(school, days={first: ("2026-04-10", "One"), second: ("2026-04-10", "One")})
    assert len({same.session_name(one) for one in same.days}) == 2


def test_a_fault_that_was_named_is_told_as_named(laid_out: dict[str, Paper]):
    page = " ".join(word.text for word in laid_out["S01"].words)
    assert "Buttery, sour milk (tsuwari): you named it rightly in 2 of 2 spiked cups" in page
    assert "carried buttery, sour milk (tsuwari): you named it rightly." in page
    assert "you noticed something." not in page


@pytest.mark.parametrize(
    ("low", "high", "told"),
    [(0.01, 1.2, "higher (0.01 to 1.2)"), (-1.2, -0.01, "lower (0.01 to 1.2)"), (0.0, 1.2, ""),
     (-1.2, 0.0, "")],
)  # fmt: skip
def test_a_line_that_is_clear_of_the_expert_is_said_in_words(
    school: School, result: Teaching, low: float, high: float, told: str
):
    one = result.students["S01"]
    own = one.lines["attribute"] == "sweetness"
    lines = one.lines.assign(bias_low=one.lines["bias_low"].where(~own, low),
                             bias_high=one.lines["bias_high"].where(~own, high))  # fmt: skip
    page = student_page(school, replace(one, lines=lines))
    text = " ".join(word.text for word in page.words)
    assert "order of the bottles" in {word.text for word in page.words}
    assert ("you mark sweetness" in text) is bool(told)
    assert told in text
    assert set(result.students["S03"].findings["finding"]) == {"high"}
    said = " ".join(word.text for word in student_page(school, result.students["S03"]).words)
    assert "you mark sweetness" not in said  # what to work on says so


def test_a_ring_on_the_edge_stays_clear_of_the_count():
    assert BESIDE - CHART[1] >= 5


def test_what_was_left_open_is_said_and_nothing_made_of_it(school: School):
    """S02 left a line open throughout, S03 on half of the cups, S07 marked two places of 96."""
    rows = school.scores
    acid = (rows["assessor"] == "S02") & (rows["attribute"] == "acidity")
    half = (rows["assessor"] == "S03") & (rows["attribute"] == "sweetness")
    half &= rows["session"] == rows["session"].min()
    few = (rows["assessor"] == "S07") & ~(
        (rows["attribute"] == "sweetness") & (rows["sample"] == "light")
    )
    mended = replace(school, scores=rows[~(acid | half | few)], waiting={"S02": 2})
    found = compare(mended)
    pages = {
        code: " ".join(word.text for word in student_page(mended, found.students[code]).words)
        for code in ("S01", "S02", "S03", "S07")
    }
    assert "places on the lines" not in pages["S01"]
    assert "You marked 84 of 96 places on the lines." in pages["S02"]
    assert "2 of your answers could not be read surely" in pages["S02"]
    assert "You left acidity open on every cup" in pages["S02"]
    assert "acidity" not in pages["S02"].partition("not yet to be told on ")[2].partition(":")[0]
    assert "You marked 90 of 96 places on the lines." in pages["S03"]
    assert "left sweetness open" not in pages["S03"]
    assert "answers could not be read" not in pages["S03"]
    assert "You marked 2 of 96 places on the lines." in pages["S07"]
    assert "So few places are marked that nothing can be made of them" in pages["S07"]
    assert "nothing needs repair" not in pages["S07"]
    assert "takes more cups" not in pages["S07"].partition("What cannot be said yet")[2]
    assert "You had one cup" not in pages["S07"]
    said = all_spoken(mended, found.sentences(), "en")
    assert "S02 filled in 84 of 96 places." in said
    wall = " ".join(word.text for word in class_page(mended, found, "en").words)
    assert "Who left a line open has no ring there." in wall
    assert "2 answers wait to be looked at" in wall
    assert not re.search(r"S0\d", wall)


def test_only_the_order_is_called_not_yet_to_be_told(laid_out: dict[str, Paper]):
    """Beside it stands in which attributes the marks are higher or lower."""
    text = " ".join(word.text for word in laid_out["S01"].words)
    assert "Not yet to be told" not in text
    assert "Whether your order of the bottles follows the expert's is not yet to be told on" in text


def test_two_clean_cups_of_eight_called_faulty_are_named_to_work_on(laid_out: dict[str, Paper]):
    text = " ".join(word.text for word in laid_out["S01"].words)
    work = text.partition("What to work on next")[2].partition("Where your marks stand")[0]
    assert "You named a fault in 2 of 8 clean cups (vinegar)" in work


@pytest.mark.parametrize("language", ["en", "ja"])
def test_the_caution_about_alcohol_is_as_large_as_the_text(
    school: School, result: Teaching, language: str
):
    """Under age is who the local law says: 20 in Japan, where adults are so from 18 on."""
    mended = replace(school, languages={"S01": language})
    page = student_page(mended, result.students["S01"])
    last = page.words[-1]
    caution = say("feedback.caution", language)
    assert "20" in caution
    assert "未成年" not in caution
    assert "minors" not in caution
    assert last.text.split()[-1] in caution
    body = say("feedback.well", language)
    at = [word.text for word in page.words].index(body)
    assert last.size >= page.words[at + 1].size


def test_the_page_for_the_wall_says_what_the_count_of_orders_is(school: School, result: Teaching):
    wall = " ".join(word.text for word in class_page(school, result, "en").words)
    assert "order shown to follow" in wall
    assert "too few cups to say" in wall.partition("Right: for how many")[2]
    assert "Not named here: umami, bitterness, fullness, left after a minute, tiring." in wall


def test_the_risk_that_is_told_names_what_stands_outside_it(school: School, result: Teaching):
    """Lines that stand to one side are told one by one, without the error budget of the class."""
    first = all_spoken(school, result.sentences(), "en")[0]
    assert "a false finding is at most 5 %; what a page only counts, or takes alone" in first
    assert "一つずつ見たことは、これに含みません" in all_spoken(school, result.sentences(), "ja")[0]


def test_a_page_says_of_the_expert_s_scatter_no_more_than_it_is(laid_out: dict[str, Paper]):
    """That no one repeats more exactly than this expert is known of nobody."""
    page = " ".join(word.text for word in laid_out["S01"].words)
    assert "As the expert's own cups scatter, an equal would lie about" in page
    assert "nobody repeats" not in page
    assert "It compares you with the expert on a few cups, not with other students." in page


def test_pages_name_the_sessions_that_they_are_about(school: School, result: Teaching):
    wall = " ".join(word.text for word in class_page(school, result, "en").words)
    title = "Tasting class, first session to Tasting class, second session"
    assert f"{title} · sessions 10 April, 8 May · 14 students" in wall
    assert "no ring there" not in wall
    first, second = school.days
    assert school.title_of([second]) == "Tasting class, second session"
    assert school.title_of([first, second], "ja").count("～") == 1
    assert replace(school, days={}).title_of(["1"]) == school.title


@pytest.mark.parametrize(("third", "asked"), [(False, 4), (True, 6)])
def test_an_expert_with_more_cups_leaves_no_student_wanting(third: bool, asked: int):
    """Two bottles, two lines: four places, however often the expert tasted; six with a third."""
    rows = [
        ("1", who, sample, str(n), n, line, 5.0 + (sample == "a") * 0.5 + 0.25 * n)
        for who, times in (("E1", 3), ("S1", 1), ("S2", 1))
        for sample in "ab"
        for n in range(1, times + 1)
        for line in ("sweetness", "acidity")
    ]
    if third:
        rows += [("1", "S2", "a", "2", 2, line, 5.75) for line in ("sweetness", "acidity")]
    names = ["session", "assessor", "sample", "replicate", "position", "attribute", "score"]
    table = pd.DataFrame(rows, columns=names)
    found = compare(School(scores=table, experts=["E1"], students=["S1", "S2"]))
    assert found.students["S1"].cells == (4, asked)
    assert ("You marked 4 of 6" in found.students["S1"].text("en")) is third


def test_a_bottle_that_a_student_brewed_is_left_out_of_that_student_s_page(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    copied = tmp_path / "first"
    shutil.copytree(folder / "first", copied)
    plain = from_folders([copied])
    assert plain.brewed == {}
    own = str(plain.scores["sample"].iloc[0])
    monkeypatch.setattr(roster, "brewed_by", lambda *_: {"S01": [own]})
    found = from_folders([copied])
    assert found.brewed == {"S01": [own]}
    mine = plain.scores["assessor"].astype(str) == "S01"
    theirs = mine & (plain.scores["sample"].astype(str) == own)
    assert theirs.any()
    assert len(found.scores) == len(plain.scores) - int(theirs.sum())
    result = compare(found)
    said = {
        code: " ".join(word.text for word in student_page(found, result.students[code]).words)
        for code in ("S01", "S02")
    }
    assert f"You brewed {own}." in said["S01"]
    assert "You brewed" not in said["S02"]
