"""A page that is written from top to bottom, and the chart that feedback pages share."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from ...forms.paper.page_parts import Words
from ...forms.paper.sheet_pdf import finish, new_pdf, put
from ...forms.paper.typeset import stood_in, wrap
from ..base.words import say

LEFT, RIGHT, TOP = 18.0, 192.0, 18.0
BOTTOM = 268.0
"""The lowest line that both A4 and Letter hold with a margin, in mm."""
REACH = 3.0
"""Scale points to each side of the chart."""
CHART = (78.0, 150.0)
MIDDLE = (CHART[0] + CHART[1]) / 2
BESIDE = CHART[1] + 6
"""Where the column beside the chart begins: clear of a ring that is drawn on the edge."""
UNIT = (CHART[1] - CHART[0]) / 2 / REACH


class Paper:
    """A page that is written from top to bottom; what is drawn is kept until the end."""

    def __init__(self, squeeze: float = 1.0) -> None:
        self.squeeze = squeeze
        self.words: list[Words] = []
        self.shapes: list[Callable[[Any], None]] = []
        self.y = TOP

    def text(
        self,
        text: str,
        size: float = 9.5,
        *,
        x: float = LEFT,
        room: float = 0.0,
        bold: bool = False,
        grey: float = 0.0,
        gap: float = 1.32,
    ) -> None:
        """Write a paragraph at the current height."""
        size *= self.squeeze
        step = size * 0.3528 * gap * self.squeeze
        for line in wrap(text, room or RIGHT - x, size, bold=bold):
            self.y += step
            self.words.append(Words(x, self.y - step * 0.22, line, size, bold, "l", grey))

    def put(
        self,
        text: str,
        x: float,
        size: float = 8.5,
        *,
        bold: bool = False,
        align: str = "l",
        grey: float = 0.0,
        up: float = 0.0,
    ) -> None:
        """Write one line at the current height."""
        self.words.append(Words(x, self.y - up, text, size, bold, align, grey))

    def draw(self, shape: Callable[[Any], None]) -> None:
        """Keep something to draw below the text."""
        self.shapes.append(shape)

    def rule(self, grey: float = 0.6) -> None:
        """Draw a line across the page."""
        y = self.y

        def shape(pdf: Any) -> None:
            pdf.set_draw_color(round(255 * grey))
            pdf.set_line_width(0.25)
            pdf.line(LEFT, y, RIGHT, y)

        self.draw(shape)

    def heading(self, text: str) -> None:
        """Write a heading with room around it."""
        self.y += 3.2 * self.squeeze
        self.text(text, 11, bold=True)
        self.y += 0.8

    def bytes(self, paper: str, date: str, language: str) -> bytes:
        """Return the document; 〓 stands for what the face lacks of somebody's own words."""
        written = [replace(words, text=stood_in(words.text)) for words in self.words]
        text = "\n".join(words.text for words in written)
        pdf = new_pdf(paper, date, language, text=text)
        pdf.add_page()
        for shape in self.shapes:
            shape(pdf)
        for words in written:
            put(pdf, words)
        return finish(pdf)


def chart_heading(page: Paper, language: str) -> None:
    """Write what the two sides of the chart mean."""
    page.y += 3.4
    page.put(say("feedback.below", language), CHART[0], 7, grey=0.35)
    page.put(say("feedback.expert", language), MIDDLE, 7, align="c", grey=0.35)
    page.put(say("feedback.above", language), CHART[1], 7, align="r", grey=0.35)


def band(top: float, bottom: float, margin: float) -> Callable[[Any], None]:
    """Draw the grey band that is near enough, and the expert's line."""

    def shape(pdf: Any) -> None:
        pdf.set_fill_color(228)
        pdf.rect(MIDDLE - margin, top, 2 * margin, bottom - top, style="F")
        pdf.set_draw_color(120)
        pdf.set_line_width(0.2)
        pdf.line(MIDDLE, top, MIDDLE, bottom)

    return shape


def scale(page: Paper, language: str) -> None:
    """Write the numbers of the scale below the chart."""
    page.y += 3.0
    for points in range(-round(REACH), round(REACH) + 1):
        text = f"{points:+d}".replace("-", "\u2212") if points else "0"
        page.put(text, MIDDLE + points * UNIT, 7, align="c", grey=0.35)
    page.put(say("feedback.unit", language), BESIDE, 7, grey=0.35)
    page.y += 3.0
