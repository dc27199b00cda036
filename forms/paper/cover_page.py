"""The first page of a sheet: cautions, how to go about it, how to mark, the order of the cups."""

from __future__ import annotations

from collections.abc import Sequence

from ..questions.question_types import Kind
from ..questions.set_questions import how_to
from ..questions.sheet import Sheet
from ..questions.words import say
from .page_parts import HEADER, LINE_LENGTH, MARGIN, SIZES, Canvas, Stroke
from .typeset import fit, width, wrap

GUTTER = 11.0
TEXT, TITLE, STEP = 9.5, 12.0, 4.5
_REST = 38.0  # room for the words of a rest before a flight
_PEN = 0.55
_TICK = ((-1.3, -0.2), (-0.2, 1.4), (2.2, -2.6))
_CROSS = (((-1.7, -1.7), (1.7, 1.7)), ((-1.7, 1.7), (1.7, -1.7)))

Points = Sequence[tuple[float, float]]


def cover(sheet: Sheet, paper: str) -> Canvas:
    """Lay the first page out: two columns of text with drawn examples."""
    canvas = Canvas()
    wide, _ = SIZES[paper]
    column = (wide - 2 * MARGIN - GUTTER) / 2
    left = _Column(canvas, sheet.language, MARGIN, column)
    left.title("sheet.caution_title")
    for key in ("caution_spit", "caution_who", "caution_law"):
        left.text(say(f"sheet.{key}", sheet.language))
    left.y += 4
    left.title("sheet.how_title")
    for place, key in enumerate(how_to(sheet), start=1):
        left.text(say(key, sheet.language), lead=f"{place}")
    if sheet.notes:
        left.y += 2
    for note in sheet.notes:
        left.text(say(note if "." in note else f"sheet.{note}", sheet.language), bold=True)

    right = _Column(canvas, sheet.language, MARGIN + column + GUTTER, column)
    _marking(right, sheet)
    y = max(left.y, right.y) + 5
    _order(canvas, sheet, y, wide)
    return canvas


def _marking(column: _Column, sheet: Sheet) -> None:
    """Show how to mark and how to correct, for the kinds of answers that this sheet has."""
    asked = {one.kind for cup in sheet.presentations for one in sheet.questions(cup)}
    lines, squares = Kind.LINE in asked, Kind.TICKS in asked
    circles = bool(asked - {Kind.LINE, Kind.TICKS, Kind.WORDS})
    language = sheet.language
    column.title("paper.mark_title")
    if lines:
        column.example_line(((0.62, "stroke"),))
        column.text(say("paper.mark_line", language, length=f"{LINE_LENGTH:g}"))
    if circles:
        column.example_boxes(("", "tick", "", "", ""), round_ones=True)
        column.text(say("paper.mark_round", language))
    if squares:
        # In Japan a cross says no; it is not shown as a way to mark there.
        second = "tick" if language == "ja" else "cross"
        column.example_boxes(("tick", "", "", second, ""), round_ones=False)
        column.text(say("paper.mark_square", language))
    column.text(say("paper.mark_pen", language))
    column.y += 4
    column.title("paper.fix_title")
    if lines:
        column.example_line(((0.3, "patch"), (0.55, "stroke")))
        column.text(say("paper.fix_line", language))
    if circles or squares:
        column.example_boxes(("", "black", "tick", "", ""), round_ones=circles)
        boxes = "box" if circles and squares else "circle" if circles else "square"
        column.text(say(f"paper.fix_{boxes}", language))
    column.text(say("paper.fix_other", language))


def _order(canvas: Canvas, sheet: Sheet, y: float, wide: float) -> None:
    """List the cups in their order, flight by flight, in cells of one width."""
    language = sheet.language
    canvas.say(MARGIN, y, say("paper.order_title", language), TITLE, bold=True)
    y += 3
    shown = [one for one in sheet.presentations if not one.beneath]
    longest = max((len(p.name) for p in shown), default=3)
    cell = max(20.0, 9.0 + 2.6 * longest)
    start = MARGIN + 24
    if sheet.named:
        names = [width(p.name, TEXT, bold=True) for p in sheet.presentations]
        start = MARGIN + 8 + width(sheet.flight_name(sheet.presentations[0]), TEXT)
        cell = min(wide - MARGIN - start, 12.0 + max(names, default=0.0))
    rests = any(one.rest_before for one in sheet.presentations)
    beside = rests and start + _REST + cell <= wide - MARGIN
    first = start + _REST if beside else start
    x = first
    flight: int | None = None
    for presentation in shown:
        new = presentation.flight != flight
        if new or x + cell > wide - MARGIN:
            x = first
            y += 5.6
        if new:
            flight = presentation.flight
            name = (
                sheet.flight_name(presentation)
                if presentation.counted
                else say("paper.order_warm_up", language)
            )
            canvas.say(MARGIN, y, name, TEXT)
        if presentation.rest_before:
            rest = say("paper.order_rest", language, minutes=presentation.rest_before)
            lines, size = fit(rest, _REST - 2, 8.0, lines=1, smallest=8.0)
            canvas.say(start, y, lines[0], size)
            y += 0 if beside else 5.6
        number = f"{presentation.number}" if presentation.counted else ""
        canvas.say(x + 5, y, number, 8.0, align="r", grey=0.25)
        codes, size = ["-".join(presentation.codes)], TEXT
        if sheet.named:  # a long name takes a second line, for names may differ at their end
            codes, size = fit(codes[0], cell - 8, TEXT, lines=1, smallest=8.0, bold=True)
        for under, code in enumerate(codes):
            y += 4.0 if under else 0
            canvas.say(x + 6.5, y, code, size, bold=True)
        x += cell


class _Column:
    """Text and drawn examples one below the other."""

    def __init__(self, canvas: Canvas, language: str, x: float, width: float) -> None:
        self.canvas = canvas
        self.language = language
        self.x = x
        self.width = width
        self.y = HEADER + 5

    def title(self, key: str) -> None:
        """Put a heading."""
        self.canvas.say(self.x, self.y, say(key, self.language), TITLE, bold=True)
        self.y += 6.2

    def text(self, text: str, *, lead: str = "", bold: bool = False) -> None:
        """Put a paragraph, with a number before it or not."""
        indent = 5.5 if lead else 0.0
        if lead:
            self.canvas.say(self.x, self.y, lead, TEXT, bold=True)
        for line in wrap(text, self.width - indent, TEXT, bold=bold):
            self.canvas.say(self.x + indent, self.y, line, TEXT, bold=bold)
            self.y += STEP
        self.y += 1.3

    def example_line(self, marks: Sequence[tuple[float, str]]) -> None:
        """Draw a line with marks at shares of its length."""
        length = min(60.0, self.width)
        level = self.y + 1.6
        self.canvas.rule(self.x, level, self.x + length, level, width=0.35)
        for end in (self.x, self.x + length):
            self.canvas.rule(end, level - 1.5, end, level + 1.5, width=0.35)
        for share, kind in marks:
            at = self.x + share * length
            if kind == "stroke":
                self._pen(((at + 0.2, level - 2.6), (at - 0.2, level + 2.4)))
            else:
                self._scribble(at, level, 1.9)
        self.y += 9.2

    def example_boxes(self, marks: Sequence[str], *, round_ones: bool) -> None:
        """Draw a row of circles or squares, some marked."""
        level = self.y + 0.6
        for place, kind in enumerate(marks):
            centre = self.x + 3 + 10.0 * place
            self._outline(centre, level, round_ones=round_ones)
            if kind == "tick":
                self._pen([(centre + dx, level + dy) for dx, dy in _TICK])
            elif kind == "cross":
                for arm in _CROSS:
                    self._pen([(centre + dx, level + dy) for dx, dy in arm])
            elif kind == "black":
                self._scribble(centre, level, 1.75)
        self.y += 8.0

    def _outline(self, x: float, y: float, *, round_ones: bool) -> None:
        from math import cos, pi, sin

        half = 2.0
        if round_ones:
            angles = [2 * pi * step / 48 for step in range(49)]
            points = tuple((x + half * cos(a), y + half * sin(a)) for a in angles)
        else:
            corners = ((-half, -half), (half, -half), (half, half), (-half, half), (-half, -half))
            points = tuple((x + dx, y + dy) for dx, dy in corners)
        self.canvas.strokes.append(Stroke(points, 0.3))

    def _pen(self, points: Points) -> None:
        self.canvas.strokes.append(Stroke(tuple(points), _PEN))

    def _scribble(self, x: float, y: float, half: float) -> None:
        """Draw a patch of close zigzag, black all over."""
        steps = 15
        points = []
        for step in range(steps + 1):
            across = -half + 2 * half * step / steps
            reach = (half**2 - across**2) ** 0.5
            points.append((x + across, y + (reach if step % 2 else -reach)))
        self.canvas.strokes.append(Stroke(tuple(points), _PEN))
