"""One page is one page: our own PDF and what a browser prints, on A4 and Letter.

Sessions with much to tell (`tests/tools/first_pages.py` tries all sizes): the fewest and the most
bottles, few assessors and many, long names, both languages.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pandas as pd
import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "tools"))
from first_pages import NAMES, PAPERS, next_title, pages_before, reported
from kikichoko.forms.questions.question_types import Kind, Question
from kikichoko.forms.questions.scorecard import default_scorecard
from kikichoko.panel.few.side_by_side import BOTTLES, SHEETS
from kikichoko.panel.findings.differences import bottle_order
from kikichoko.panel.report import page_of_few as room
from kikichoko.panel.report.brief_names import LEAST, LONG, MOST, brief_names
from kikichoko.panel.report.page_room import KINDS, PT, WIDE, height, shares
from kikichoko.panel.report.parts import Picture, Report
from kikichoko.panel.report.pdf import pdfs
from kikichoko.panel.report.screen_columns import BOLD, long
from kikichoko.panel.report.spelling import HYPHENED, Spelling
from pdf_words import words
from playwright.sync_api import Browser
from report_looks import printed, seen


@pytest.mark.parametrize(
    ("size", "how", "ends"),
    [
        ((2, 2, "en"), {"long": True, "asked": 12}, "decide"),
        ((2, 2, "en"), {"long": False, "asked": 2}, "sheets"),
        ((4, 2, "ja"), {"long": True}, "decide"),
        ((4, 5, "en"), {"long": True, "asked": 8, "much": False}, "sure"),
        ((6, 5, "ja"), {"long": False, "asked": 8, "much": False}, "sure"),
    ],
    ids=str,
)
def test_one_page_is_one_page(browser: Browser, tmp_path: Path, size, how, ends):
    """`size` tells bottles, assessors and language."""
    told = reported(*size, tmp_path / "session", **how)
    assert told.report.page_end == ends
    page, made = tmp_path / "page.html", tmp_path / "made.pdf"
    page.write_text(told.page, "utf-8")
    with seen(browser, page, "desk", "light") as shown:
        for paper in PAPERS:
            made.write_bytes(pdfs(told.report, "MARK", paper)["page.pdf"])
            assert len(words(made)) == 1
            assert pages_before(next_title(told), printed(shown, paper, made)) == 1


def test_sheets_for_which_the_page_has_no_room_open_the_appendix(tmp_path, monkeypatch):
    """Both sides of the threshold: as many letters as there are, and one fewer."""
    report = reported(2, 2, "en", tmp_path / "session", long=False, asked=4).report
    taken = room.letters_of_page(report)
    assert len(report.sections[1].blocks[0].frame) * 20 < taken < room.MOST_LETTERS
    for most, ends in ((taken, "sheets"), (taken - 1, "decide")):
        monkeypatch.setattr(room, "MOST_LETTERS", most)
        assert room.page_of_few(report) == ends


@pytest.mark.parametrize("names", [NAMES["en", True], NAMES["ja", True]], ids=["en", "ja"])
def test_long_names_are_cut_to_what_tells_them_apart(names):
    brief = brief_names(names)
    assert list(brief) == list(names)
    assert len(set(brief.values())) == len(names)
    for name, cut in brief.items():
        begin = cut.removesuffix("…")
        assert name.startswith(begin)
        assert sum(one.startswith(begin) for one in names) == 1


def test_names_stay_where_they_are_short_or_nothing_tells_them_apart():
    longest = "n" * LONG
    assert brief_names([longest, "b"]) == {longest: longest, "b": "b"}
    longer = [f"{longest} of", f"{longest} in"]
    assert brief_names(longer)[longer[0]] == "n" * LONG + " of"
    apart = ["b" * (LEAST + 1) + " " + longest, "c" * (MOST + 1) + " " + longest]
    assert brief_names(apart) == {apart[0]: "b" * (LEAST + 1) + "…", apart[1]: apart[1]}


def test_what_all_names_end_with_is_left_out_without_dots():
    years = ["tank 1 of year 3", "tank 2 of year 3"]
    assert list(brief_names(years).values()) == ["tank 1", "tank 2"]
    kinds = ["荒走り無濾過生原酒", "中取り無濾過生原酒"]  # no room between signs: no word is cut
    assert list(brief_names(kinds).values()) == ["荒走り…", "中取り…"]


@pytest.mark.parametrize(("told", "named"), [(8, True), (9, False)])
def test_attributes_between_others_are_named_up_to_eight(told: int, *, named: bool):
    """A bottle that is higher than one and lower than another in the first of `told` attributes."""
    claims = [
        SimpleNamespace(kind="scale", about=f"a{k}", pairs=[("x", "y")] + [("z", "x")] * (k == 0))
        for k in range(told)
    ]
    budget = SimpleNamespace(claimed=lambda *_: claims)
    evidence = SimpleNamespace(products=["x", "y", "z"], thin=[], name=lambda about: about,
                               question=lambda about: Question(key=about, section="palate",
                                                               kind=Kind.LINE),
                               language="en")  # fmt: skip
    said = str(bottle_order(evidence, budget, "x"))
    assert f"more: {', '.join(f'a{k}' for k in range(1, told))}" in said
    assert ("between others: a0" in said) is named
    assert ("between others in 1" in said) is not named


def test_a_balance_names_its_side_and_is_no_more_and_no_less_of_anything():
    asked = {
        "body": Question(key="body", section="palate", kind=Kind.LINE),
        "length": Question(key="length", section="finish", kind=Kind.LINE),
        "balance": default_scorecard()["sweetness_balance"],
    }
    claims = [
        SimpleNamespace(kind="scale", about="body", pairs=[("x", "y")]),
        SimpleNamespace(kind="balance", about="balance", pairs=[("x", "y"), ("x", "z")]),
        SimpleNamespace(kind="scale", about="length", pairs=[("x", "y"), ("z", "x")]),
    ]
    budget = SimpleNamespace(claimed=lambda *_: claims)
    evidence = SimpleNamespace(
        products=["x", "y", "z"],
        thin=[],
        name=lambda about: about,
        question=asked.get,
        language="en",
    )
    said = str(bottle_order(evidence, budget, "x"))
    assert said == "more: body; nearer to “much too sweet”; between others: length"
    low = str(bottle_order(evidence, budget, "z"))
    assert low == "more: length; further from “much too sweet”"


def holds_figure(report, key: str) -> bool:
    (section,) = (one for one in report.sections if one.key == key)
    return any(isinstance(block, Picture) for block in section.blocks)


def test_the_figure_of_few_stands_on_the_page_where_there_is_room(tmp_path, monkeypatch):
    """Both sides: as much room as the page takes with it, and a little less."""
    with_it = reported(2, 2, "en", tmp_path / "session", long=False, asked=2).report
    assert holds_figure(with_it, "decide")
    (figure,) = (
        block for one in with_it.sections for block in one.blocks if isinstance(block, Picture)
    )
    without = replace(
        with_it,
        sections=tuple(
            replace(one, blocks=tuple(block for block in one.blocks if block is not figure))
            for one in with_it.sections
        ),
    )
    assert room.with_figure(without, ()) is without
    for page, needed in ((SHEETS, SHEETS), (BOTTLES, BOTTLES)):
        report = replace(without, page=page)
        high = height(room.with_figure(report, [figure]))
        monkeypatch.setattr(room, "HIGH", high + room.SPARE)
        assert room.with_figure(report, [figure]).page_end == needed
        assert holds_figure(room.with_figure(report, [figure]), "decide")
        monkeypatch.setattr(room, "HIGH", high + room.SPARE - 1.0)
        less = room.with_figure(report, [figure])
        assert (less.page_end, holds_figure(less, "sheets")) == (BOTTLES, page == BOTTLES)
        monkeypatch.undo()


def test_a_first_column_has_room_for_a_name_that_no_line_parts_at_its_hyphen():
    """Both sides of the length up to which a name stays whole, and of the column's own share."""
    short, long_name = "abcde-abcdef", "abcdef-abcdef"
    assert len(short) == HYPHENED < len(long_name)
    words = "a long cell of many words " * 4
    made = {}
    for name in (short, long_name, "a"):
        report = Report(title="T", subtitle="S", language="en", names=frozenset({name}),
                        sections=())  # fmt: skip
        written = Spelling(report)
        assert ("\u2060-\u2060" in written.cell(f"{name}, raw")) is (name == short)
        frame = pd.DataFrame({"Bottle": [name], **{key: [words] for key in "BCDEFGHI"}})
        made[name] = shares(frame, written)
        assert sum(made[name]) == pytest.approx(100, abs=4)
    of = KINDS["paged"]
    wide = WIDE * made[short][0] / 100 - PT * of.gap
    assert wide >= BOLD * long(short, of.table, "en")
    assert made[short][0] > made[long_name][0] >= made["a"][0]
