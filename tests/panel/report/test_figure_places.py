"""On paper no page is left half empty before a figure, and no figure's type becomes too small."""

from __future__ import annotations

import pandas as pd
import pypdfium2
import pytest
from kikichoko.panel.base.words import sentence
from kikichoko.panel.report import pdf
from kikichoko.panel.report.figure_places import SMALL_GAP, TYPE, least_scale
from kikichoko.panel.report.parts import Grid, Lines, Picture, Report, Section
from matplotlib.figure import Figure
from pypdfium2 import raw

FOOT, TOP = 48, 31
"""Margins in pt, of 842."""
TALL = 150
"""Points: nothing else in these reports is as high."""


def square(inches: float, words: float = 0) -> Figure:
    figure = Figure(figsize=(6.6, inches))
    figure.add_axes((0.02, 0.02, 0.96, 0.96)).set_facecolor("#444444")
    if words:
        figure.text(0.5, 0.5, "words", fontsize=words)
    for axes in figure.axes:
        axes.set_xticks([])
        axes.set_yticks([])
    return figure


def grid(rows: int) -> Grid:
    frame = pd.DataFrame({"Bottle": [f"row{n:03d}" for n in range(rows)], "Mean": "5.0"})
    return Grid("Means", frame)


def pages(*blocks: object) -> list[pypdfium2.PdfPage]:
    last = Section(key="last", title=sentence("report.limits"), blocks=(Lines(("Z.",) * 60),))
    own = Section(key="own", title=sentence("report.differ"), blocks=blocks)
    report = Report(title="Spring tasting", subtitle="8 assessors", language="en",
                    names=frozenset(), sections=(own, last))  # fmt: skip
    return list(pypdfium2.PdfDocument(pdf.pdfs(report, "MARK", "A4")["report.pdf"]))


def drawn(page: pypdfium2.PdfPage) -> list[tuple[float, float]]:
    """Return where figures stand on a page: their lower and upper ends."""
    found = [one.get_bounds() for one in page.get_objects(max_depth=5)
             if one.type == raw.FPDF_PAGEOBJ_PATH]  # fmt: skip
    return [(low, high) for _, low, _, high in found if high - low > TALL]


def empty(page: pypdfium2.PdfPage) -> float:
    """Return what is empty at the foot of a page, as a share of what may be printed on."""
    text = page.get_textpage()
    ends = [text.get_rect(n)[1] for n in range(text.count_rects())]
    ends = [one for one in ends if one > FOOT] + [low for low, _ in drawn(page)]
    return (min(ends) - FOOT) / (page.get_height() - FOOT - TOP)


@pytest.mark.parametrize("before", range(0, 46, 5))
@pytest.mark.parametrize("rows", [3, 40])
def test_what_follows_comes_before_a_figure_that_finds_no_room(before: int, rows: int):
    texts = Lines(tuple(f"Line {n} of what is told." for n in range(before)) or ("One line.",))
    made = pages(texts, Picture("own", square(6.0), "A square"), grid(rows), Lines(("End.",) * 12))
    at = [n for n, page in enumerate(made) if drawn(page)]
    assert len(at) == 1
    assert all(empty(page) <= SMALL_GAP + 0.06 for page in made[: at[0]]), before
    words = "".join(page.get_textpage().get_text_range() for page in made)
    assert words.count("End.") == 12, "nothing is lost"
    assert [words.index(f"row{n:03d}") for n in range(rows)] == sorted(
        words.index(f"row{n:03d}") for n in range(rows)
    )
    order = [words.index(f"Line {n} of") for n in range(before)]
    assert order == sorted(order)


@pytest.mark.parametrize(("more", "spacings"), [(-0.01, 2), (0.01, 1)])
def test_lines_are_moved_where_much_of_a_page_is_empty_before_a_figure(
    more: float, spacings: int, monkeypatch: pytest.MonkeyPatch
):
    """Both sides of what may be empty; the spacing that leaves least is taken."""
    left = {0.0: 0.3, -0.05: 0.1}
    placed: list[float] = []

    def place(content, _ask):
        placed.append(content["apart"])
        return content

    monkeypatch.setattr(pdf, "APART", (0.0, -0.05))
    monkeypatch.setattr(pdf, "MOST_EMPTY", left[0.0] + more)
    monkeypatch.setattr(pdf, "with_figures_placed", place)
    monkeypatch.setattr(pdf, "emptiest", lambda content, _ask: left[content["apart"]])
    heights = [drawn(one) for one in pages(Picture("own", square(3.0), "A square"))]
    assert len(placed) == spacings
    assert len(set(heights[0])) == 1
    monkeypatch.undo()
    plain = pages(Lines(("A line.",) * 60), Picture("own", square(6.9, 7.0), "A square"))
    assert all(empty(page) <= pdf.MOST_EMPTY + 0.06 for page in plain[:-1])


@pytest.mark.parametrize("kind", ["lead", "plain"])
def test_no_figure_comes_before_the_plain_answer_of_its_chapter(kind: str):
    """Where a figure finds no room below six lines, it comes before them unless they are that."""
    ahead = []
    for before in range(20, 29):
        made = pages(
            Lines(("A line.",) * before), Lines(("Answered.",) * 6, kind),
            Picture("own", square(5.0, 7.0), "A square"),
        )  # fmt: skip
        (at,) = [n for n, page in enumerate(made) if drawn(page)]
        ends = [page.get_textpage() for page in made[: at + 1]]
        words = ends[at].get_text_range().count("Answered.")
        told = sum(one.get_text_range().count("Answered.") for one in ends[:at])
        low = drawn(made[at])[0][0]
        above = [
            ends[at].get_rect(n)[1] > low for n in range(ends[at].count_rects())
            if "Answered." in ends[at].get_text_bounded(*ends[at].get_rect(n))
        ]  # fmt: skip
        assert words == len(above)
        ahead.append(told + sum(above) < 6)
    assert any(ahead) is (kind == "plain")


@pytest.mark.parametrize(("size", "smaller"), [(8.0, True), (7.0, False)])
def test_a_figure_is_made_smaller_only_where_its_type_allows_it(
    size: float, smaller: bool, monkeypatch: pytest.MonkeyPatch
):
    """It misses room by some 5 %; what speaks of it does not come before it."""
    monkeypatch.setattr(pdf, "APART", (0.0,))
    figure = square(5.0, size)
    care = (Lines(("Of the figure.",), "caution"), Lines(("How.",), "method"))
    heights = set()
    for before in range(16, 29, 2):
        made = pages(
            Lines(("A line.",) * before, "lead"), Picture("own", figure, "A square"), *care
        )
        heights |= {round(high - low) for page in made for low, high in drawn(page)}
        words = "".join(page.get_textpage().get_text_range() for page in made)
        assert words.index("Of the figure") > words.index("A line")
    full = round(0.96 * 5.0 * 72)
    assert max(heights) == pytest.approx(full, abs=3)
    assert (min(heights) < full - 5) is smaller
    assert min(heights) >= full * TYPE / size - 3


def test_the_smallest_type_of_a_figure_says_how_small_it_may_be():
    assert least_scale(Picture("own", square(3.0, 10.0), "x").live_svg) == pytest.approx(0.7)
    assert least_scale(Picture("own", square(3.0, 6.0), "x").live_svg) == 1.0
    assert least_scale(Picture("own", square(3.0), "x").live_svg) == 1.0, "no words, no harm told"
