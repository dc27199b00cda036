"""The page as a browser prints it: no page half empty, nothing made smaller, no marks parted."""

from __future__ import annotations

import re
from dataclasses import replace
from importlib.resources import files
from pathlib import Path

import matplotlib.figure
import pandas as pd
import pypdfium2
import pytest
from kikichoko.panel.base.words import sentence
from kikichoko.panel.report.page import (
    BESIDE,
    KEPT_ROWS,
    PAGE_ROWS,
    PRINTED,
    SCRAP,
    TALL,
    html,
    is_kept,
    is_tall,
    printed_high,
)
from kikichoko.panel.report.parts import Grid, Picture, Report, Section
from kikichoko.panel.report.screen_columns import holds_marks
from kikichoko.panel.report.spelling import Spelling
from playwright.sync_api import Browser, expect
from pypdfium2.raw import FPDF_PAGEOBJ_PATH
from report_looks import seen

STYLE = files("kikichoko.panel.report").joinpath("templates", "report.css").read_text("utf-8")
WIDE = 695
"""Width of what is printed on A4, in px."""


def report(frame: pd.DataFrame, language: str = "en", over: tuple = (), figure=None) -> Report:
    """Return a report of one table, and of a figure before it."""
    blocks = [Grid("Table", frame, over=over)]
    if figure is not None:
        blocks = [Picture("one", figure, "a figure"), *blocks]
    section = Section(key="asked", title=sentence("report.asked"), blocks=tuple(blocks))
    return Report(
        title="T", subtitle="s", language=language, names=frozenset(), sections=(section,), page=""
    )


def printed(browser: Browser, body: str, to: Path) -> list[str]:
    page = browser.new_page()
    page.set_content(body if "<html" in body else f"<style>{STYLE}</style>{body}")
    page.pdf(path=to, format="A4", prefer_css_page_size=True)
    page.close()
    with pypdfium2.PdfDocument(to) as pdf:
        return [one.get_textpage().get_text_range() for one in pdf]


@pytest.mark.parametrize(
    ("floats", "stays", "before"), [(True, False, True), (True, True, False), (False, False, False)]
)
def test_what_follows_a_figure_runs_before_it(
    browser: Browser, tmp_path: Path, floats: bool, stays: bool, before: bool
):
    """On the first page are 90 mm left, and the figure is 120 mm high."""
    body = (
        f"<section class='{'floats' * floats}'><div style='height: 170mm'>told</div>"
        "<figure><div style='height: 120mm'>drawn</div></figure>"
        f"<aside class='{'stays' * stays}'><p>minded</p></aside></section>"
        "<section><p>another</p></section>"
    )
    first, second = printed(browser, body, tmp_path / "printed.pdf")
    assert "told" in first
    assert "drawn" in second, "it is not cut"
    assert ("minded" in first) is before
    assert "another" in second, "nothing passes the end of its chapter"


def test_a_table_that_goes_on_beside_a_figure_lies_below_it(browser: Browser, tmp_path: Path):
    rows = "".join(f"<tr><td>row {n} ends</td></tr>" for n in range(60))
    body = (
        "<section class='floats'><div style='height: 200mm'>told</div>"
        f"<figure><div style='height: 120mm'>drawn</div></figure><table>{rows}</table></section>"
    )
    to = tmp_path / "printed.pdf"
    pages = printed(browser, body, to)
    assert sum(one.count(" ends") for one in pages) == 60
    assert "row 0 ends" in pages[0]
    with pypdfium2.PdfDocument(to) as pdf:
        text = pdf[1].get_textpage()
        drawn, _ = text.search("drawn").get_next()
        row, _ = text.search(" ends").get_next()
        below = (text.get_charbox(drawn)[3] - text.get_charbox(row + 1)[1]) / 72 * 25.4
    assert below > 119, "rows of the same page stand below the whole figure"


def test_the_edge_of_a_care_does_not_run_along_a_figure(browser: Browser, tmp_path: Path):
    """It has no room on the page before, and stands below the figure, with its edge."""
    body = (
        "<section class='floats'><div style='height: 260mm'>told</div>"
        "<figure><div style='height: 120mm'>drawn</div></figure>"
        "<aside><h3>minded</h3><p>one</p><p>two</p><p>three</p></aside></section>"
    )
    to = tmp_path / "printed.pdf"
    assert "minded" in printed(browser, body, to)[1]
    with pypdfium2.PdfDocument(to) as pdf:
        paths = [one for one in pdf[1].get_objects() if one.type == FPDF_PAGEOBJ_PATH]
        high = [(one.get_bounds()[3] - one.get_bounds()[1]) / 72 * 25.4 for one in paths]
    assert high, "it is framed"
    assert max(high) < 60


def figured(rows: int, *, more: int = 0, folded: bool = False, told: int = 185) -> str:
    """Return a page with so many mm told, then a figure without room, then a table of rows."""
    frame = pd.DataFrame({"a": [f"row {n} ends" for n in range(rows)]})
    figure = matplotlib.figure.Figure(figsize=(4, 4.5))
    made = report(frame, figure=figure)
    own = made.sections[0]
    blocks = [own.blocks[0], replace(own.blocks[1], folded=folded)]
    if more:
        blocks.insert(1, Grid("Before", pd.DataFrame({"a": ["one"] * more})))
    page = html(replace(made, sections=(replace(own, blocks=tuple(blocks)),)), "mark")
    return page.replace("<figure", f"<div style='height: {told}mm'>told</div><figure", 1)


@pytest.mark.parametrize("folded", [True, False])
def test_no_figure_comes_into_a_short_table_or_behind_its_title(
    browser: Browser, tmp_path: Path, folded: bool
):
    """Twelve rows have no room before the figure; they were parted by it, title and head before."""
    pages = printed(browser, figured(KEPT_ROWS, folded=folded), tmp_path / "printed.pdf")
    assert max(one.count(" ends") for one in pages) == KEPT_ROWS
    assert next("Table" in one for one in pages if " ends" in one), "its title stands above it"


@pytest.mark.parametrize("told", [130, 185, 225, 235, 250])
def test_a_long_table_begins_before_a_figure_with_title_and_rows(
    browser: Browser, tmp_path: Path, told: int
):
    """Kept whole it left half a page empty; where three rows have no room it begins after it."""
    rows = KEPT_ROWS + 10
    pages = printed(browser, figured(rows, told=told), tmp_path / "printed.pdf")
    held = [one.count(" ends") for one in pages]
    assert sum(held) == rows
    titled = next(n for n, one in enumerate(pages) if "Table" in one)
    assert held[titled] >= 3
    assert ("told" in pages[titled]) is (told <= 225), "title, head and three rows have room"
    assert all(count == 0 or count >= 2 for count in held)
    heads = [re.search(r"^a\s*$", one, re.MULTILINE) is not None for one in pages]
    assert heads == [count > 0 for count in held], "no head stands alone, none is missing"


@pytest.mark.parametrize(
    ("rows", "before", "kept"),
    [(KEPT_ROWS, 0, True), (KEPT_ROWS + 1, 0, False), (5, PAGE_ROWS - 5, True),
     (5, PAGE_ROWS - 4, False)],
)  # fmt: skip
def test_which_tables_below_a_figure_are_kept_whole(rows: int, before: int, kept: bool):
    assert is_kept(Grid("t", pd.DataFrame({"a": ["x"] * rows})), before) is kept
    last = figured(rows, more=before).rpartition("<h3>Table")[0][-80:]
    assert ("titled" in last) is kept


def test_no_figure_comes_into_a_paragraph(browser: Browser, tmp_path: Path):
    """Seven lines have no room before the figure, and are not parted by it."""
    words = " ".join(f"word{n}" for n in range(110))
    body = (
        "<section class='floats'><div style='height: 240mm'>told</div>"
        f"<figure><div style='height: 120mm'>drawn</div></figure><p>{words}</p></section>"
    )
    pages = printed(browser, body, tmp_path / "printed.pdf")
    assert [one.count("word") for one in pages if "word" in one] == [110]


def test_a_care_stands_whole_where_it_has_room(browser: Browser, tmp_path: Path):
    body = (
        "<section><div style='height: 235mm'>told</div>"
        f"<aside><h3>minded</h3>{'<p>care</p>' * 9}</aside></section>"
    )
    pages = printed(browser, body, tmp_path / "printed.pdf")
    assert [one.count("care") for one in pages] == [0, 9]


def test_what_a_figure_is_printed_with_is_told_in_mm():
    """By hand: 4 by 4 inches are as wide as the page of Letter, 189.9 mm, and as high."""
    square, tall = (matplotlib.figure.Figure(figsize=(4, high)) for high in (4, 8))
    assert printed_high(Picture("one", square, "a figure")) == round(189.9 + BESIDE)
    assert printed_high(Picture("one", tall, "a figure")) == 240 + BESIDE
    made = html(report(pd.DataFrame({"a": ["1"]}), figure=square), "mark")
    assert f'style="--ends: {189.9 + BESIDE + SCRAP:.0f}mm"' in made


@pytest.mark.parametrize(("by", "alone"), [(-3.0, False), (3.0, True)])
def test_no_scrap_of_a_table_stands_below_a_high_figure(
    browser: Browser, tmp_path: Path, by: float, alone: bool
):
    """A4 has room for 275 mm: with less than 30 left below it a figure takes the page."""
    ends = 275 + by
    rows = "".join(f"<tr><td>row {n} ends</td></tr>" for n in range(60))
    body = (
        f"<section class='floats'><div style='height: 200mm'>told</div><figure style='--ends: "
        f"{ends}mm'><div style='height: {ends - SCRAP - BESIDE}mm'>drawn</div></figure>"
        f"<table><thead><tr><th>head</th></tr></thead>{rows}</table></section>"
    )
    pages = printed(browser, body, tmp_path / "printed.pdf")
    (at,) = [n for n, one in enumerate(pages) if "drawn" in one]
    assert (" ends" not in pages[at]) is alone
    assert ("head" not in pages[at]) is alone
    assert sum(one.count(" ends") for one in pages) == 60
    assert all(one.strip() for one in pages), "no page is empty"


@pytest.mark.parametrize("by", [-1.0, 1.0])
def test_no_care_passes_a_figure_that_is_low(by: float):
    width, height = PRINTED
    figure = matplotlib.figure.Figure(figsize=(width / 25.4, (TALL * height + by) / 25.4))
    picture = Picture("one", figure, "a figure")
    assert is_tall(picture) is (by > 0)
    made = html(report(pd.DataFrame({"a": ["1"]}), figure=figure), "mark")
    assert '<section id="asked" class="floats">' in made


def marked(columns: int) -> pd.DataFrame:
    heads = ["attribute", *("bottle" for _ in range(columns))]
    lines = [["sweetness", *(["8.5 · 8"] * columns)]]
    return pd.DataFrame(lines, columns=pd.Index(heads, dtype=object))


@pytest.mark.parametrize(("columns", "held"), [(6, True), (24, False)])
def test_marks_of_a_cell_are_held_where_there_is_room(columns: int, held: bool):
    frame = marked(columns)
    written = Spelling(report(frame))
    assert holds_marks(frame, written) is held
    made = html(report(frame, over=(("", 1), ("A1", columns))), "mark")
    assert made.count('<td class="tastings whole">8.5 ·\u00a08</td>') == (columns if held else 0)
    assert made.count('<td class="tastings">8.5 ·\u00a08</td>') == (0 if held else columns)


@pytest.mark.parametrize(("width", "held"), [("desk", True), ("phone", False)])
def test_marks_of_a_cell_stand_in_a_line_on_a_desk(
    browser: Browser, tmp_path: Path, width: str, held: bool
):
    path = tmp_path / "page.html"
    path.write_text(html(report(marked(6), over=(("", 1), ("A1", 6))), "mark"), "utf-8")
    with seen(browser, path, width, "light") as page:
        cell = page.locator("td.whole").first
        expect(cell).to_have_css("white-space", "nowrap" if held else "normal")
        page.emulate_media(media="print")
        if held:
            expect(cell).to_have_css("white-space", "nowrap")


LINES_OF = """() => [...document.querySelectorAll('.tastings')].map(cell => {
  const text = cell.firstChild, found = {};
  for (let n = 0; n < text.data.length; n++) {
    const range = document.createRange();
    range.setStart(text, n); range.setEnd(text, n + 1);
    const top = Math.round(range.getBoundingClientRect().top);
    found[top] = (found[top] ?? "") + text.data[n];
  }
  return Object.keys(found).sort((a, b) => a - b).map(top => found[top].trim());
})"""


@pytest.mark.parametrize(("columns", "lines"), [(6, ["7.5 · 7.5"]), (9, ["7.5", "· 7.5"])])
def test_marks_of_a_cell_part_before_the_dot_on_a_telephone_or_not_at_all(
    browser: Browser, tmp_path: Path, columns: int, lines: list[str]
):
    """Some cells of a table had "7.5 ·" above "7.5", others one line."""
    frame = marked(columns).replace("8.5 · 8", "7.5 · 7.5")
    frame.iloc[0, 1] = "8 · 8"
    path = tmp_path / "page.html"
    path.write_text(html(report(frame, over=(("", 1), ("A1", columns))), "mark"), "utf-8")
    with seen(browser, path, "phone", "light") as page:
        short, *cells = page.evaluate(LINES_OF)
        plain = [[line.replace("\u00a0", " ") for line in one] for one in (short, *cells)]
        assert plain[1:] == [lines] * (columns - 1)
        assert plain[0] == [line.replace("7.5", "8") for line in lines], "as in the other cells"
        head = page.locator(".sheets tbody th").bounding_box()
        mark = page.locator(".tastings").first.bounding_box()
        assert head["y"] + head["height"] <= mark["y"] + 1, "the name of the row is above its marks"
        assert abs(head["x"] - mark["x"]) < 1


def test_a_short_name_at_the_head_of_its_row_is_not_parted_on_paper(
    browser: Browser, tmp_path: Path
):
    frame = pd.DataFrame({"bottle": ["free-run", "none-of-these"], "told": ["so " * 200] * 2})
    made = replace(report(frame), names=frozenset(["free-run"]))
    path = tmp_path / "page.html"
    path.write_text(html(made, "mark"), "utf-8")
    with seen(browser, path, "desk", "light") as page:
        page.emulate_media(media="print")
        heads = page.locator("tbody th")
        expect(heads.nth(0)).to_have_css("white-space", "nowrap")
        expect(heads.nth(1)).to_have_css("white-space", "normal")


MANY_COLUMNS = """() => { const cells = [...document.querySelectorAll('tbody tr')[0].children];
  return new Set(cells.map(one => Math.round(one.getBoundingClientRect().left))).size }"""


@pytest.mark.parametrize(("columns", "cards"), [(7, False), (8, True)])
def test_a_table_of_many_columns_becomes_cards_on_a_tablet(
    browser: Browser, tmp_path: Path, columns: int, cards: bool
):
    told = "nothing was noted against it, and it goes out as it is"
    frame = pd.DataFrame({f"head {n}": [told] for n in range(columns)})
    path = tmp_path / "page.html"
    path.write_text(html(report(frame), "mark"), "utf-8")
    with seen(browser, path, "desk", "light") as page:
        assert page.evaluate(MANY_COLUMNS) == columns
        page.set_viewport_size({"width": 768, "height": 900})
        assert page.evaluate(MANY_COLUMNS) == (2 if cards else columns)
        assert page.locator("td").first.bounding_box()["width"] > (300 if cards else 50)


@pytest.mark.parametrize(("width", "columns"), [(360, 2), (340, 1)])
def test_short_cells_of_a_card_stand_beside_each_other_where_a_telephone_has_room(
    browser: Browser, tmp_path: Path, width: int, columns: int
):
    told = "nothing was noted against it, and it goes out as it is"
    long = {f"told {n}": [told * 3] for n in range(4)}
    frame = pd.DataFrame({"bottle": ["a"], **long, "tank": ["1"], "lot": ["2"]})
    path = tmp_path / "page.html"
    path.write_text(html(report(frame), "mark"), "utf-8")
    with seen(browser, path, "phone", "light") as page:
        page.set_viewport_size({"width": width, "height": 900})
        halves = page.locator("td.half").all()
        assert len(halves) == 2
        assert len({round(one.bounding_box()["x"]) for one in halves}) == columns


def test_a_table_without_room_does_not_make_the_print_smaller(browser: Browser, tmp_path: Path):
    """Eleven columns of means with their limits: the printer made the whole report smaller."""
    cells = {f"中取り 火入れ {n}0 ℃": ["6.3 (5.7 – 6.8)"] for n in range(9)}
    frame = pd.DataFrame({"項目": ["甘味"], **cells, "全体の誤り率での p": ["p = 0.047"]})
    path = tmp_path / "page.html"
    path.write_text(html(report(frame, "ja"), "mark"), "utf-8")
    page = browser.new_page(viewport={"width": WIDE, "height": 1000})
    page.emulate_media(media="print")
    page.goto(path.as_uri())
    wide = "document.documentElement.scrollWidth"
    assert page.evaluate(wide) <= WIDE
    usual = "font-size: 8pt !important; padding-right: .8rem !important"
    page.add_style_tag(content=f".close :is(th, td) {{ {usual} }}")
    assert page.evaluate(wide) > WIDE, "with the usual distance it has no room"
    page.close()


def test_figures_of_a_narrow_table_do_not_run_together_on_a_telephone(
    browser: Browser, tmp_path: Path
):
    """They stood 4 px apart, no more than two words do; an em of theirs has 12."""
    cells = {f"瓶{n}": ["−0.29"] for n in range(6)}
    frame = pd.DataFrame({"項目": ["甘辛度"], **cells})
    path = tmp_path / "page.html"
    path.write_text(html(report(frame, "ja"), "mark"), "utf-8")
    with seen(browser, path, "phone", "light") as page:
        cell = page.locator(".tight td").first
        expect(cell).to_have_css("padding-right", "6.08px")
        wide = "document.documentElement.scrollWidth - window.innerWidth"
        assert page.evaluate(wide) <= 0


def test_a_japanese_title_is_broken_before_a_word(browser: Browser, tmp_path: Path):
    """It was parted within the word that begins after the colon."""
    title = "春のブラインドきき酒：きき酒から言えること"
    made = replace(report(pd.DataFrame({"a": ["1"]}), "ja"), title=title)
    path = tmp_path / "page.html"
    path.write_text(html(made, "mark"), "utf-8")
    with seen(browser, path, "phone", "light") as page:
        expect(page.locator("h1")).to_have_css("word-break", "auto-phrase")
        tops = page.evaluate(
            """() => { const text = document.querySelector('h1').firstChild;
            return [...text.data].map((_, n) => { const range = document.createRange();
              range.setStart(text, n); range.setEnd(text, n + 1);
              return Math.round(range.getBoundingClientRect().top); }); }"""
        )
    first = next(n for n, top in enumerate(tops) if top != tops[0])
    assert title[first:].startswith(("きき酒から", "言える"))
