"""Pages of the PDF: the last one holds enough, no table leaves rows alone or closes on a figure."""

from __future__ import annotations

import inspect
import re
from importlib.resources import files

import pandas as pd
import pypdfium2
import pytest
from kikichoko.analysis.core.look import SMALL, TEXT
from kikichoko.analysis.profile import profiles_figure
from kikichoko.panel.base.words import sentence
from kikichoko.panel.report import pdf
from kikichoko.panel.report.parts import Grid, Lines, Picture, Report, Section
from matplotlib.figure import Figure
from pypdfium2 import raw

TALL = 150
"""Points: nothing else in these reports is as high."""
FOOT = 60
"""Points at the foot of a page, where its number stands."""


def told(*blocks: Lines | Grid | Picture, more: tuple[Section, ...] = ()) -> Report:
    return Report(
        title="Spring tasting", subtitle="8 assessors", language="en", names=frozenset(),
        sections=(
            Section(key="first", title=sentence("report.differ"), blocks=blocks),
            *more,
        ),
    )  # fmt: skip


def lines(number: int) -> Lines:
    return Lines(("A line of its own.",) * number)


def rows(number: int) -> Grid:
    frame = pd.DataFrame({"Bottle": [f"row{n:03d}" for n in range(number)], "Mean": "5.0"})
    return Grid("Means", frame)


def set_in_pages(report: Report, paper: str = "A4") -> pypdfium2.PdfDocument:
    return pypdfium2.PdfDocument(pdf.pdfs(report, "MARK", paper)["report.pdf"])


def lowest(page: pypdfium2.PdfPage) -> float:
    """Return how far down the words of a page reach, as a share of its height."""
    text = page.get_textpage()
    lows = [text.get_rect(n)[1] for n in range(text.count_rects())]
    return 1 - min(low for low in lows if low > FOOT) / page.get_height()


def test_the_last_page_is_no_few_lines(monkeypatch: pytest.MonkeyPatch):
    lengths = range(44, 150, 3)
    ends = [list(set_in_pages(told(lines(number)))) for number in lengths]
    assert max(map(len, ends)) > 2
    assert all(len(pages) == 1 or lowest(pages[-1]) >= pdf.LEAST_LAST - 0.01 for pages in ends)
    monkeypatch.setattr(pdf, "APART", pdf.APART[:1])
    usual = [list(set_in_pages(told(lines(number)))) for number in lengths]
    few = [len(own) > 1 and lowest(own[-1]) < pdf.LEAST_LAST - 0.01 for own in usual]
    assert any(few), "without another spacing some end in a few lines"
    for before, after, short in zip(usual, ends, few, strict=True):
        if not short:
            assert [one.get_textpage().get_text_range() for one in before] == [
                one.get_textpage().get_text_range() for one in after
            ], "what ends well is left as it is"


@pytest.mark.parametrize(("usual", "taken"), [(-0.01, "wider"), (0.01, "usual")])
def test_where_no_spacing_helps_few_lines_get_more_beside_them(usual: float, taken: str):
    ends = [(pdf.FEW_LINES + usual, "usual"), (pdf.FEW_LINES + 0.1, "wider"), (0.08, "closer")]
    made = [pdf.Spaced(end, 0.0, {"apart": name}) for end, name in ends]
    assert pdf._best(made) == {"apart": taken}
    enough = pdf.Spaced(pdf.math.inf, 0.0, {"apart": "enough"})
    assert pdf._best([*made, enough]) == {"apart": "enough"}


@pytest.mark.parametrize("before", range(14, 34, 2))
def test_a_table_leaves_no_row_alone(before: int):
    words = [page.get_textpage().get_text_range() for page in
             set_in_pages(told(lines(before), rows(26), lines(30)))]  # fmt: skip
    held = [sum(f"row{n:03d}" in page for n in range(26)) for page in words]
    assert sum(held) == 26
    there = [number for number in held if number]
    assert len(there) == 1 or there[-1] >= 3


@pytest.mark.parametrize("before", range(0, 44, 4))
@pytest.mark.parametrize("number", [4, 60])
def test_no_figure_stands_in_a_table_or_another_chapter(before: int, number: int):
    figure = Figure(figsize=(6.6, 6.9))
    figure.add_axes((0.05, 0.05, 0.9, 0.9)).set_facecolor("#444444")
    last = Section(key="last", title=sentence("report.limits"), blocks=(lines(60),))
    report = told(lines(before), Picture("figure", figure, "A square"), lines(2), rows(number),
                  more=(last,))  # fmt: skip
    drawn, table, chapter = [], [], []
    for page, sheet in enumerate(set_in_pages(report)):
        text = sheet.get_textpage()
        for word, found in (("row", table), ("could not have found", chapter)):
            search = text.search(word)
            while at := search.get_next():
                found.append((page, -text.get_charbox(at[0])[3]))
        drawn += [(page, -one.get_bounds()[3]) for one in sheet.get_objects(max_depth=5)
                  if one.type == raw.FPDF_PAGEOBJ_PATH
                  and one.get_bounds()[3] - one.get_bounds()[1] > TALL]  # fmt: skip
    assert len(table) == number
    assert min(table) > max(drawn) or max(table) < min(drawn)
    assert chapter[0] > max(drawn)


def test_no_figure_is_printed_so_small_that_its_type_is_under_7_pt():
    """The first page's may be made smaller than it is drawn; its words are all of TEXT."""
    template = files("kikichoko.panel.report").joinpath("templates", "report.typ")
    smallest = float(re.search(r"#let smallest = ([\d.]+)", template.read_text("utf-8"))[1])
    assert TEXT * smallest >= 7
    assert SMALL >= 7
    drawn = inspect.getsource(profiles_figure)
    assert re.findall(r"fontsize=([^,)]+)", drawn) == ["TEXT", "TEXT"]


@pytest.mark.parametrize(("inches", "as_drawn"), [(6.9, True), (8.5, True), (10.5, False)])
def test_a_figure_stands_as_it_is_drawn_unless_it_is_higher_than_the_page(inches, as_drawn: bool):
    figure = Figure(figsize=(6.6, inches))
    axes = figure.add_axes((0.05, 0.05, 0.9, 0.9))
    axes.set_facecolor("#444444")
    axes.tick_params(labelsize=7)  # so small that the figure may not be made smaller for its room
    report = told(lines(3), Picture("figure", figure, "A tall one"), lines(2))
    drawn = [
        one.get_bounds()
        for sheet in set_in_pages(report, "Letter")
        for one in sheet.get_objects(max_depth=5)
        if one.type == raw.FPDF_PAGEOBJ_PATH and one.get_bounds()[3] - one.get_bounds()[1] > TALL
    ]
    high = max(top - bottom for _, bottom, _, top in drawn)
    assert (high == pytest.approx(0.9 * 72 * inches, abs=3)) is as_drawn
    assert min(bottom for _, bottom, _, _ in drawn) > 48  # the margin in which the foot stands
