"""What gives way on the first page: only where it must, and whole in the section after it."""

from __future__ import annotations

import re
import sys
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest
from kikichoko.analysis.core.words import shown
from kikichoko.panel.base.words import sentence
from kikichoko.panel.findings.statement import Statement
from kikichoko.panel.report import give_way, page_room
from kikichoko.panel.report.page import html
from kikichoko.panel.report.parts import Grid, Picture, Points
from kikichoko.panel.report.pdf import pdfs
from kikichoko.panel.report.spelling import Spelling
from pypdfium2 import PdfDocument

sys.path.insert(0, str(Path(__file__).parents[2] / "tools"))
from first_pages import NAMES, PAPERS, QUESTION, reported
from pdf_words import words


@pytest.mark.parametrize("size", [(6, 12, "ja"), (4, 12, "en")], ids=str)
def test_everything_claimed_stands_on_one_page_and_what_gives_way_whole_after_it(tmp_path, size):
    told = reported(*size, tmp_path / "session", long=True)
    report, written = told.report, Spelling(told.report)
    assert page_room.height(report) <= page_room.room(report) - page_room.CLOSER
    made = tmp_path / "made.pdf"
    for paper in PAPERS:
        made.write_bytes(pdfs(report, "MARK", paper)["page.pdf"])
        assert len(words(made)) == 1
    keys = [section.key for section in report.sections]
    ends = keys.index(report.page_end) + 1
    page, after = report.sections[:ends], report.sections[ends]
    assert after.key == give_way.KEY
    here = {str(line) for line in _lines(page)} | {str(line) for _, line in report.box}
    whole = here | {str(line) for line in _lines([after])}
    assert {str(line) for _, line in report.in_short} <= whole
    shown = next(block for block in page[0].blocks if isinstance(block, Grid))
    names = NAMES[size[2], True][: size[0]]
    assert [str(one) for one in shown.frame.iloc[:, 0]] == list(names)
    again = next(block for block in after.blocks if isinstance(block, Grid))
    assert again.frame.equals(page[0].tables[page[0].key])
    assert f"{len(after.blocks[0].lines)}" in "".join(
        written.line(line) for line in _lines(page) if getattr(line, "key", "").endswith("_told")
    )
    assert written.line(after.title) in "".join(
        written.line(line) for line in _lines(page) if getattr(line, "key", "").endswith("_told")
    ), "the page alone has no next section"
    assert any(isinstance(one, Picture) for one in page[-1].blocks) is (report.page_end == "sure")
    assert QUESTION[size[2]] in told.page
    warned = {str(one.sentence) for one in report.statements if one.kind == "caution" and one.rank}
    assert warned <= whole


def test_a_screen_shows_the_page_whole_and_paper_the_short_one(tmp_path):
    """Each by its class; where nothing gives way neither class stands in the page."""
    told = reported(6, 12, "ja", tmp_path / "session", long=True)
    report, written = told.report, Spelling(told.report)
    page = html(report, "MARK")
    on_paper = " ".join(re.findall(r"(?s)<(?:ul|p|div|section)[^>]*on-paper.*?</", page))
    ends = [one.key for one in report.sections].index(report.page_end) + 1
    gone = {written.line(one) for _, one in report.in_short} - {
        written.line(one) for _, one in report.box
    }
    assert gone, "lines of the box gave way"
    head = page[: page.index('id="decide"')]
    boxes = dict(re.findall(r'(?s)<ul class="(on-\w+)">(.*?)</ul>', head))
    for line in gone:
        assert shown(line) in boxes["on-screen"]
        assert shown(line) not in boxes["on-paper"]
    told_short = next(
        written.line(one) for one in _lines(report.sections[:ends]) if _key(one).endswith("_told")
    )
    assert shown(told_short) in on_paper
    assert re.search(r'<section id="given_way" class="[^"]*on-paper', page)
    assert 'href="#given_way"' not in page, "screens have no such section"
    rows = page[page.index('id="decide"') : page.index('id="sure"')]
    assert len(re.findall('<div class="wide on-screen', rows)) == 1
    short = reported(2, 6, "en", tmp_path / "room", long=False, asked=4, much=False).report
    assert not re.search('class="[^"]*on-(?:paper|screen)', html(short, "MARK"))


def _key(line):
    return getattr(line, "key", "")


def _lines(sections):
    return [line for s in sections for block in s.blocks for line in getattr(block, "lines", ())]


def test_a_page_with_room_stays_as_it_is(tmp_path, monkeypatch):
    """Both sides of the threshold: just as high as it is, and a little less."""
    report = reported(2, 6, "en", tmp_path / "session", long=False, asked=4, much=False).report
    assert report.shortened is None
    assert give_way.KEY not in [section.key for section in report.sections]
    high = page_room.height(report)
    monkeypatch.setattr(page_room, "HIGH", high)
    assert give_way.fitted(report) is report
    monkeypatch.setattr(page_room, "HIGH", high - 0.01)
    assert give_way.fitted(report).shortened is not None


def without_figures(report):
    """With its figure, what is said to be much empty would have no room for what goes on."""
    sections = [
        replace(one, blocks=tuple(own for own in one.blocks if not isinstance(own, Picture)))
        for one in report.sections
    ]
    return replace(report, sections=tuple(sections))


def test_the_appendix_begins_on_a_first_page_that_is_much_empty(tmp_path, monkeypatch):
    """Both sides of the threshold, in the page and in the PDF; more assessors keep the page."""
    told = reported(2, 2, "en", tmp_path / "session", long=False, asked=4, much=False)
    report = without_figures(told.report)
    assert report.few
    high, made = page_room.height(report), tmp_path / "made.pdf"
    most = high / page_room.TAKEN
    for room, goes_on in ((most + 0.1, True), (most - 0.1, False)):
        monkeypatch.setattr(page_room, "HIGH", room)
        assert page_room.goes_on(report) is goes_on
        assert not page_room.goes_on(replace(report, few=False))
        assert ('class="few goes-on"' in html(report, "MARK")) is goes_on
        files = pdfs(report, "MARK", "A4")
        made.write_bytes(files["report.pdf"])
        with PdfDocument(made) as document:
            first = document[0].get_textpage().get_text_range()
        assert ("How sure, and what next" in first) is goes_on
        made.write_bytes(files["page.pdf"])
        assert len(words(made)) == 1


def test_lists_are_cut_from_within_and_count_what_is_left():
    apart = sentence("report.listed", items=["a", "b", "c", "d"])
    assert give_way.shortened(apart, 3) == apart, "a single one is never left out"
    once = give_way.shortened(apart, 2)
    assert str(once) == str(sentence("report.listed", items=["a", "b", "… (2 more)"]))
    assert "(3 more)" in str(give_way.shortened(once, 1)), "what was cut before is counted"
    assert give_way.shortened(apart, 4) == apart
    both = sentence("report.listed", items=[apart, "z", "y"])
    assert str(give_way.shortened(both, 1)).endswith("z; y"), "what holds lists is not cut"
    assert give_way.shortened(apart, 1, told=True) == apart, "names are no told faults"


@pytest.mark.parametrize(("most", "told"), [(4, "abcd"), (3, "abcd"), (2, "ad"), (1, "d")])
def test_what_was_asked_is_named_however_far_a_list_is_cut(most: int, told: str):
    """The question's own attribute stood as "1 more"; also in a sentence of its own, and two."""
    items = ["a", "b", "c", sentence("findings.attribute", attribute="d")]
    more = [f"… ({4 - len(told)} more)"] if len(told) < 4 else []
    cut = give_way.shortened(sentence("report.listed", items=items), most, asked={"d"})
    assert str(cut) == str(sentence("report.listed", items=[*told, *more]))
    both = give_way.shortened(sentence("report.listed", items=list("abcd")), 1, asked={"d", "b"})
    assert str(both) == str(sentence("report.listed", items=["b", "d", "… (2 more)"]))


@pytest.mark.parametrize(("cautions", "kept"), [(2, 3), (3, 3), (4, 4)])
def test_no_caution_leaves_the_page_however_few_lines_may_stay(cautions: int, kept: int):
    """Also one whose list was cut before; of the rest as many stay as there is room for."""
    warned = [sentence("report.listed", items=["a", "b", "c"]), "w1", "w2", "w3"][:cautions]
    said = [*(("asked", f"d{n}") for n in range(3)), *(("asked", one) for one in warned)]
    statements = [
        Statement(kind="description" if str(line)[0] == "d" else "caution", about=(),
                  sentence=line, section=to, rank=1)
        for to, line in said
    ]  # fmt: skip
    report = SimpleNamespace(statements=statements, answers=frozenset())
    cut = [(to, give_way.shortened(line, 1)) for to, line in said]
    lines = Points(tuple(line for _, line in cut))
    page = give_way.FirstPage(tuple(cut), ())
    box = give_way._box(3)(report, page).box
    assert len(box) == kept
    assert all(one in box for one in cut[3:])
    left = give_way._first(lines.lines, 3, give_way._kinds(report))
    assert len(left) == kept
    assert all(one in left for one in lines.lines[3:])


@pytest.mark.parametrize(("answers", "kept"), [({"sweetness"}, "d3"), (set(), "d1")])
def test_what_answers_the_question_leaves_the_box_after_the_rest(answers: set[str], kept: str):
    said = [("faults", "d0"), ("differ", "d1"), ("aroma", "d2"), ("sweetness", "d3")]
    report = SimpleNamespace(statements=[], answers=frozenset(answers))
    box = give_way._box(2)(report, give_way.FirstPage(tuple(said), ())).box
    assert [line for _, line in box] == ["d0", kept]
