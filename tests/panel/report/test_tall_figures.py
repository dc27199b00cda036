"""A tall figure in the PDF stands below its heading, wherever on a page it is told of."""

from __future__ import annotations

import pypdfium2
import pytest
from kikichoko.panel.base.words import sentence
from kikichoko.panel.report.parts import Lines, Picture, Report, Section
from kikichoko.panel.report.pdf import pdfs
from matplotlib.figure import Figure
from pypdfium2 import raw

TITLE = "report.aroma"
TALL = 150
"""Points: nothing else in these reports is as high."""


def report_with(before: int) -> Report:
    """Tell of a tall figure after so many lines, with more to tell after it."""
    figure = Figure(figsize=(6.6, 6.9))
    figure.add_axes((0.05, 0.05, 0.9, 0.9)).set_facecolor("#444444")
    return Report(
        title="Spring tasting", subtitle="8 assessors", language="en", names=frozenset(),
        sections=(
            Section(key="first", title=sentence("report.differ"),
                    blocks=(Lines(("A line of its own.",) * before),)),
            Section(key="figure", title=sentence(TITLE),
                    blocks=(Lines(("What it shows.",)), Picture("figure", figure, "A square"))),
            Section(key="last", title=sentence("report.limits"),
                    blocks=(Lines(("What follows.",) * 60),)),
        ),
        statements=(),
    )  # fmt: skip


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("before", range(44))
def test_it_stands_below_its_heading(before: int, paper: str):
    made = pdfs(report_with(before), "MARK", paper)["report.pdf"]
    heading, figure = [], []
    with pypdfium2.PdfDocument(made) as document:
        for number, page in enumerate(document):
            text = page.get_textpage()
            found = text.search("What does it smell of?").get_next()
            if found:
                heading.append((number, -text.get_charbox(found[0])[1]))
            boxes = [one.get_bounds() for one in page.get_objects(max_depth=5)
                     if one.type == raw.FPDF_PAGEOBJ_PATH]  # fmt: skip
            figure += [(number, -top) for _, low, _, top in boxes if top - low > TALL]
    assert len(heading) == 1
    assert min(figure) > heading[0]
    assert min(figure)[0] - heading[0][0] <= 1, "on the next page at the latest"
