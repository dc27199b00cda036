"""The questions of a printed page: each a block, flowing through two columns.

Questions stand in the order of tasting, down the left column and then the
right. What room is left is shared out between them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from ..questions.question_types import SEVERITIES, Kind, Option, Question, Text
from ..questions.sheet import Presentation, Sheet
from ..questions.words import say
from .looks import EARLIER, NOW, SheetLook
from .page_parts import FOOTER, HEADER, LINE_LENGTH, MARGIN, SIZES, Box, Canvas, Field, Scale
from .typeset import evened, fit, spoken, width

GUTTER = 9.0
_TABLE = 20  # rows of a table of faults before its head is repeated
_APART, _MOST_APART = 5.0, 16.0  # millimetres between presentations on one side
_MOST_BETWEEN = 3.0  # millimetres that are added between questions where there is room
_PENALTY = 25.0  # millimetres of unevenness that an unbroken section is worth

Draw = Callable[[Canvas, float, float, float], None]


@dataclass(slots=True)
class Block:
    """A piece of a column: its height, and how it is drawn at (x, y) with extra height.

    `joined` blocks stay with the one that follows; `grows` blocks take what
    room is left; one that `heads` is the heading of a section.
    """

    height: float
    draw: Draw
    joined: bool = False
    grows: bool = False
    heads: bool = False


def column_width(paper: str, look: SheetLook) -> float:
    """Return how wide the questions of a page run."""
    room = SIZES[paper][0] - 2 * MARGIN
    return room if look.wide else (room - GUTTER) / 2


def presentation_pages(
    sheet: Sheet, presentation: Presentation, paper: str, look: SheetLook = NOW
) -> list[Canvas]:
    """Lay the questions of one presentation out, on one side if they fit."""
    high = SIZES[paper][1]
    room = high - HEADER - FOOTER
    column = column_width(paper, look)
    a_side = 1 if look.wide else 2
    blocks: list[Block] = []
    columns: list[tuple[int, int]] = []
    for air in (*look.air, look.air[0]):
        blocks = _Maker(sheet, presentation, column, air, look).blocks()
        columns = _columns(blocks, room, spread=look.spread and not look.wide)
        if len(columns) <= a_side:
            break
    if look.spread and len(columns) > a_side:
        blocks = _with_headings(blocks, columns, a_side)
        columns = _columns(blocks, room, spread=not look.wide)
    pages = []
    for place in range(0, len(columns), a_side):
        canvas = Canvas()
        for side, (start, end) in enumerate(columns[place : place + a_side]):
            x = MARGIN + side * (column + GUTTER)
            _pour(canvas, blocks[start:end], x, room)
        if len(columns[place : place + a_side]) == 2:
            _divide(canvas, paper)
        pages.append(canvas)
    return pages or [Canvas()]


def _divide(canvas: Canvas, paper: str) -> None:
    """Part the two columns of a page."""
    wide, high = SIZES[paper]
    canvas.rule(wide / 2, HEADER, wide / 2, high - FOOTER, width=0.15, grey=0.7)


def shared_page(
    sheet: Sheet, presentations: Sequence[Presentation], paper: str, look: SheetLook
) -> tuple[int, Canvas]:
    """Lay out as many presentations as stand on one side, each whole in one column.

    Returns
    -------
    int, Canvas
        How many; fewer than two where they had better stand alone.
    """
    room = SIZES[paper][1] - HEADER - FOOTER
    column = column_width(paper, look)
    least = _Maker(sheet, presentations[0], column, min(look.air), look).unit()
    if _height([], least) > room:
        return 0, Canvas()
    best: list[list[list[Block]]] = [[]]
    for air in look.air:
        columns: list[list[list[Block]]] = [[] for _ in range(1 if look.wide else 2)]
        side = 0
        for one in presentations:
            unit = _Maker(sheet, one, column, air, look).unit()
            while side < len(columns) and _height(columns[side], unit) > room:
                side += 1
            if side == len(columns):
                break
            columns[side].append(unit)
        if sum(map(len, columns)) > sum(map(len, best)):
            best = columns
        if sum(map(len, best)) == len(presentations):
            break
    if look.spread and len(best) == 2:
        best = _in_two([unit for units in best for unit in units])
    canvas = Canvas()
    for side, units in enumerate(best):
        _stack(canvas, units, MARGIN + side * (column + GUTTER), room)
    if len(best) == 2 and best[1]:
        _divide(canvas, paper)
    return sum(map(len, best)), canvas


def _in_two(units: Sequence[list[Block]]) -> list[list[list[Block]]]:
    """Part presentations, in their order, so that the higher column is as low as can be."""
    cuts = range((len(units) + 1) // 2, len(units) + 1)
    cut = min(cuts, key=lambda at: max(_height(units[:at]), _height(units[at:])))
    return [list(units[:cut]), list(units[cut:])]


def _height(units: Sequence[Sequence[Block]], further: Sequence[Block] = ()) -> float:
    """Return how high presentations stand, one below the other."""
    stacked = [*units, further] if further else list(units)
    return sum(block.height for unit in stacked for block in unit) + _APART * (len(stacked) - 1)


def _stack(canvas: Canvas, units: Sequence[Sequence[Block]], x: float, room: float) -> None:
    """Draw presentations one below the other, sharing out the room that is left."""
    if not units:
        return
    spare = room - _height(units)
    gaps = sum(not block.joined for unit in units for block in unit)
    extra = min(spare * 0.45 / gaps, _MOST_BETWEEN)
    spare = min((spare - extra * gaps) / len(units), _MOST_APART)
    y = HEADER
    for unit in units:
        growing = sum(block.grows for block in unit)
        for block in unit:
            grown = spare * 0.5 / growing if block.grows else 0.0
            block.draw(canvas, x, y, grown)
            y += block.height + grown + (0.0 if block.joined else extra)
        y += _APART + (spare * 0.5 if growing else spare)


def _columns(
    blocks: Sequence[Block], room: float, *, spread: bool = False
) -> list[tuple[int, int]]:
    """Cut the blocks into columns; the last two are made even, `spread` also parts a last one."""
    cuts = [0]
    used = 0.0
    for place, block in enumerate(blocks):
        if used and used + block.height > room:
            cut = place
            while cut > cuts[-1] + 1 and blocks[cut - 1].joined:
                cut -= 1
            cuts.append(cut)
            used = sum(b.height for b in blocks[cut:place])
        used += block.height
    columns = list(pairwise([*cuts, len(blocks)]))
    if len(columns) % 2 == 0 and len(columns) >= 2:
        start, end = columns[-2][0], columns[-1][1]
        columns[-2:] = _even(blocks, start, end, room)
    elif spread and len(columns) > 1 and columns[-1][1] - columns[-1][0] > 1:
        columns[-1:] = _even(blocks, *columns[-1], room)
    return columns


def _with_headings(
    blocks: Sequence[Block], columns: Sequence[tuple[int, int]], a_side: int
) -> list[Block]:
    """Repeat the heading of a section that goes on on a further side."""
    starts = {columns[place][0] for place in range(a_side, len(columns), a_side)}
    made: list[Block] = []
    heading: Block | None = None
    for place, block in enumerate(blocks):
        heading = block if block.heads else heading
        if place in starts and heading is not None and not block.heads:
            made.append(heading)
        made.append(block)
    return made


def _even(blocks: Sequence[Block], start: int, end: int, room: float) -> list[tuple[int, int]]:
    """Cut a run of blocks in two columns, as even as can be, at a heading if it costs little."""
    best, chosen = float("inf"), start
    for cut in range(start + 1, end):
        if blocks[cut - 1].joined:
            continue
        left = sum(block.height for block in blocks[start:cut])
        right = sum(block.height for block in blocks[cut:end])
        if max(left, right) > room:
            continue
        cost = max(left, right) + (0 if blocks[cut].joined else _PENALTY)
        if cost < best:
            best, chosen = cost, cut
    return [(start, chosen), (chosen, end)]


def _pour(canvas: Canvas, blocks: Sequence[Block], x: float, room: float) -> None:
    """Draw one column, sharing out the room that is left."""
    spare = room - sum(block.height for block in blocks)
    growing = sum(block.grows for block in blocks)
    gaps = max(1, sum(not block.joined for block in blocks) - 1)
    extra = max(0.0, min(spare * (0.45 if growing else 1.0) / gaps, _MOST_BETWEEN))
    more = min((spare - extra * gaps) / growing, 60.0) if growing else 0.0
    y = HEADER
    for block in blocks:
        grown = max(0.0, more) if block.grows else 0.0
        block.draw(canvas, x, y, grown)
        y += block.height + grown + (0.0 if block.joined else extra)


def place_of(sheet: Sheet, presentation: Presentation) -> tuple[int, int]:
    """Return the place of a presentation among those that count, and how many they are."""
    return presentation.number, sheet.cups


class _Maker:
    """Makes the blocks of one presentation for one width of column."""

    def __init__(
        self, sheet: Sheet, presentation: Presentation, column: float, air: float, look: SheetLook
    ) -> None:
        self.look = look
        self.sheet = sheet
        self.presentation = presentation
        self.language = sheet.language
        self.code = presentation.name
        self.column = column
        self.air = air
        self.length = min(LINE_LENGTH, column - 6)

    def blocks(self) -> list[Block]:
        """Return headings and questions in order."""
        found: list[Block] = []
        section = ""
        for question in self.sheet.questions(self.presentation):
            if question.section != section and not self.look.wide:
                section = question.section
                found.append(self._heading(say(f"scorecard.section_{section}", self.language)))
            match question.kind:
                case Kind.LINE:
                    found.append(self._line(question))
                case Kind.CATEGORY if question.key == "stronger" and self.look.spread:
                    found.append(self._choice(question))
                case Kind.CATEGORY | Kind.BALANCE:
                    found.append(self._scale_of_words(question))
                case Kind.TICKS:
                    found += self._ticks(question)
                case Kind.FAULTS:
                    found += self._faults(question)
                case Kind.CHOICE:
                    found.append(self._choice(question))
                case Kind.RANKING:
                    found.append(self._ranking(question))
                case Kind.WORDS:
                    found.append(self._words(question))
        return found

    def unit(self) -> list[Block]:
        """Return the questions below the code of their cups, for a side that several share."""
        size = max(14.0, self.look.code)
        turned = self.presentation.beneath
        codes = "  –  ".join(self.presentation.codes)
        codes = say("sheet.beneath", self.language) if turned else codes
        code_lines = [codes]
        if self.sheet.named:
            code_lines, size = fit(
                codes, 0.68 * self.column, size, lines=1, smallest=10.0, bold=True
            )
        number, total = place_of(self.sheet, self.presentation)
        step = self._high(4.0)
        high = self._high(9.0) + step * (len(code_lines) - 1)
        short = max(width(line, size, bold=True) for line in code_lines)

        def draw(canvas: Canvas, x: float, y: float, _: float) -> None:
            canvas.rule(x, y + 0.5, x + self.column, y + 0.5, width=0.5)
            level = y + high - self._high(2.6)
            for under, line in enumerate(code_lines, start=1 - len(code_lines)):
                canvas.say(x, level + step * under, line, size, bold=True)
            place = say("sheet.warm_up", self.language)
            if self.presentation.counted:
                key = "paper.set_of" if len(self.presentation.codes) > 1 else "sheet.cup_of"
                place = say(key, self.language, number=number, total=total)
            if turned:
                place = self.sheet.flight_name(self.presentation)
            lines, letters = fit(place, self.column - short - 4, 9.0, lines=1, smallest=8.0)
            canvas.say(x + self.column, level, lines[0], letters, align="r")

        return [Block(high, draw, joined=True), *self.blocks()]

    def _between(self, close: float, generous: float) -> float:
        return self._high(close + (generous - close) * self.air)

    def _step(self, least: float, size: float) -> float:
        """Return how far apart lines of letters of a size stand."""
        return max(self._high(least), self.look.line * size)

    def _pitch(self) -> float:
        return max(self._high(self.look.pitch), self._between(self.look.pitch, 6.0))

    def _high(self, height: float) -> float:
        return height * self.look.scale

    def _least(self, size: float) -> float:
        """Return the smallest letters for what may otherwise go down to `size`."""
        return max(size, self.look.least)

    def _say(self, text: Text) -> str:
        return spoken(text.to(self.language), self.language)

    def _heading(self, text: str) -> Block:
        high = self._between(6.0 + self.look.head, 7.4 + self.look.head)
        low = 0.45 if self.look.spread else 0.0  # away from the words above it

        def draw(canvas: Canvas, x: float, y: float, _: float) -> None:
            canvas.say(x, y + high + low - 3.1, text, 10.5, bold=True)
            under = y + high + low - 1.8
            canvas.rule(x, under, x + self.column, under, width=0.2, grey=0.45)

        return Block(high, draw, joined=True, heads=True)

    def _name(self, question: Question) -> tuple[float, Draw]:
        """Draw a question's name and what it asks; on one line if both fit."""
        label, ask = self._say(question.label), self._say(question.ask)
        if label == say(f"scorecard.section_{question.section}", self.language):
            label = ""  # the heading says it
        names, size = fit(
            label, self.column, self.look.name, lines=1, smallest=self._least(8.5), bold=True
        )
        taken = width(names[-1], size, bold=True) + 2.2 if label else 0.0
        sizes = (self.look.ask, self._least(7.0))
        small = next((x for x in sizes if width(ask, x) <= self.column - taken), None)
        beside = small is not None
        asks: list[str] = []
        letters = small or self.look.ask
        if not beside:
            asks, letters = fit(ask, self.column, self.look.ask, lines=1, smallest=self._least(7.0))
        pitch, below = self._high(4.1), self._step(3.3, letters)
        high = pitch * len(names) + below * len(asks)
        base, first = self._high(3.3), self._high(2.7)

        def draw(canvas: Canvas, x: float, y: float, _: float) -> None:
            for place, name in enumerate(names):
                canvas.say(x, y + base + pitch * place, name, size, bold=True)
            if beside:
                canvas.say(x + taken, y + base + pitch * (len(names) - 1), ask, letters)
            for place, line in enumerate(asks):
                canvas.say(x, y + pitch * len(names) + first + below * place, line, letters)

        return high, draw

    def _line(self, question: Question) -> Block:
        top, name = self._name(question)
        ends = [
            fit(
                self._say(text),
                self.length * 0.47,
                self.look.end,
                lines=1,
                smallest=self._least(6.5),
            )
            for text in (question.low_label, question.high_label)
        ]
        above, below = (
            self._between(3.4, 4.2),
            self._between(1.1 + self.look.below, 1.8 + self.look.below),
        )
        rows = max(len(lines) for lines, _ in ends)
        step = self._step(3.0, max(size for _, size in ends))
        high = top + above + below + step * (rows - 1)

        def draw(canvas: Canvas, x: float, y: float, _: float) -> None:
            name(canvas, x, y, 0)
            start, level = x + (self.column - self.length) / 2, y + top + above
            canvas.scales.append(
                Scale(
                    code=self.code,
                    attribute=question.key,
                    x=start,
                    y=level,
                    length=self.length,
                    low=question.low,
                    high=question.high,
                )
            )
            for (lines, size), at, align in zip(
                ends, (start, start + self.length), "lr", strict=True
            ):
                for place, line in enumerate(lines):
                    canvas.say(at, level + self.look.below + step * place, line, size, align=align)

        return Block(high, draw)

    def _scale_of_words(self, question: Question) -> Block:
        """Categories in order: in a row if their words fit below the circles, else in a list."""
        top, name = self._name(question)
        labels = [self._say(option.label) for option in question.options]
        cell = self.column / len(labels)
        if self.look.wide:
            cell = min(cell, self._high(30.0))
        fitted = [
            fit(label, cell - 1.5, self.look.end, lines=2, smallest=self._least(7.0))
            for label in labels
        ]
        if cell >= 11 and all(len(lines) <= 3 for lines, _ in fitted):
            fitted = [(evened(lines, size), size) for lines, size in fitted]
            rows = max(len(lines) for lines, _ in fitted)
            further = self.look.below - EARLIER.below
            step = self._step(3.0, max(size for _, size in fitted))
            high = top + self._high(8.2 + further) + step * rows

            def draw(canvas: Canvas, x: float, y: float, _: float) -> None:
                name(canvas, x, y, 0)
                for place, (lines, size) in enumerate(fitted):
                    centre = x + cell * (place + 0.5)
                    self._box(
                        canvas,
                        question.key,
                        question.options[place].value,
                        centre,
                        y + top + self._high(3.8),
                    )
                    for row, line in enumerate(lines):
                        level = y + top + self._high(9.0 + further) + step * row
                        canvas.say(centre, level, line, size, align="c")

            return Block(high, draw)
        return self._list(
            question,
            [(option.value, self._say(option.label)) for option in question.options],
        )

    def _list(self, question: Question, entries: Sequence[tuple[float | str, str]]) -> Block:
        """One of many, one below the other."""
        top, name = self._name(question)
        fitted = [
            fit(
                label,
                self.column - self.look.box - 3,
                self.look.tick,
                lines=1,
                smallest=self._least(7.0),
            )
            for _, label in entries
        ]
        pitch = [
            max(self._between(5.2, 6.2), self._step(3.2, size) * len(lines) + self._high(2.2))
            for lines, size in fitted
        ]

        def draw(canvas: Canvas, x: float, y: float, _: float) -> None:
            name(canvas, x, y, 0)
            level = y + top + 0.6
            for (value, _label), (lines, size), step in zip(entries, fitted, pitch, strict=True):
                self._box(canvas, question.key, value, x + self.look.box / 2, level + step / 2)
                self._beside(canvas, lines, size, x + self.look.box + 2, level + step / 2)
                level += step

        return Block(top + sum(pitch) + 1.5, draw)

    def _ticks(self, question: Question) -> list[Block]:
        """Words to tick, in as many columns as the longest word allows."""
        top, name = self._name(question)
        entries = [
            (attribute, self._say(option.label))
            for attribute, option in zip(question.attributes, question.options, strict=True)
        ]
        for count in (3, 2, 1):
            cell = self.column / count
            fitted = [
                fit(
                    entry[1],
                    cell - self.look.box - self.look.gap,
                    self.look.tick,
                    lines=2,
                    smallest=self._least(7.0),
                )
                for entry in entries
            ]
            if count == 1 or all(len(lines) <= 2 for lines, _ in fitted):
                break
        rows = -(-len(entries) // count)
        pitch = []
        for row in range(rows):
            tallest = max(len(lines) * self._step(3.1, size) for lines, size in fitted[row::rows])
            pitch.append(max(self._pitch(), tallest + 1.6))

        def draw(canvas: Canvas, x: float, y: float, _: float) -> None:
            name(canvas, x, y, 0)
            for place, (attribute, _label) in enumerate(entries):
                row = place % rows
                level = y + top + 0.6 + sum(pitch[:row]) + pitch[row] / 2
                at = x + cell * (place // rows)
                self._box(canvas, attribute, 1.0, at + self.look.box / 2, level, role="tick")
                lines, size = fitted[place]
                self._beside(canvas, lines, size, at + self.look.box + 1.8, level)

        return [Block(top + sum(pitch) + 1.8, draw)]

    def _faults(self, question: Question) -> list[Block]:
        """Rate each fault in a row of circles, one per severity."""
        top, name = self._name(question)
        step = 7.2
        first = self.column - step * len(SEVERITIES) + step / 2
        blocks: list[Block] = []

        def heads(canvas: Canvas, x: float, y: float, _: float) -> None:
            name(canvas, x, y, 0)
            for severity in SEVERITIES:
                canvas.say(
                    x + first + step * severity, y + top + 3.0, str(severity), 8.5,
                    bold=True, align="c",
                )  # fmt: skip

        entries = list(zip(question.attributes, question.options, strict=True))
        for start in range(0, len(entries), _TABLE):
            blocks.append(Block(top + 3.6 + (self.look.pitch - 5.1), heads))
            blocks += [
                self._fault(attribute, option, first, step)
                for attribute, option in entries[start : start + _TABLE]
            ]
            for block in blocks[-_TABLE - 1 : -1]:
                block.joined = True
        blocks[-1].joined = True
        return [*blocks, self._open_rows()]

    def _fault(self, attribute: str, option: Option, first: float, step: float) -> Block:
        lines, size = fit(
            self._say(option.label),
            first - step / 2 - 1.5,
            self.look.tick,
            lines=1,
            smallest=self._least(7.5),
        )
        high = max(self._pitch(), self._step(3.1, size) * len(lines) + 1.6)

        def draw(canvas: Canvas, x: float, y: float, _: float) -> None:
            self._beside(canvas, lines, size, x, y + high / 2)
            reach = x + max(width(line, size) for line in lines) + 1.5
            if reach < x + first - step / 2:
                canvas.rule(
                    reach,
                    y + high / 2 + 1.1,
                    x + first - step / 2,
                    y + high / 2 + 1.1,
                    width=0.12,
                    grey=0.6,
                )
            for severity in SEVERITIES:
                self._box(
                    canvas, attribute, float(severity), x + first + step * severity, y + high / 2
                )

        return Block(high, draw)

    def _open_rows(self) -> Block:
        """Say what a row without a mark means."""
        lines, size = fit(
            say("paper.open_rows", self.language),
            self.column,
            self.look.ask,
            lines=1,
            smallest=self._least(7.0),
        )
        step = self._step(3.3, size)
        high = step * len(lines) + 1.8

        def draw(canvas: Canvas, x: float, y: float, _: float) -> None:
            for place, line in enumerate(lines):
                canvas.say(x, y + 3.4 + step * place, line, size)

        return Block(high, draw)

    def _choice(self, question: Question) -> Block:
        """One of the cups of a set by its code, or none of them where that may be said."""
        top, name = self._name(question)
        codes = self.presentation.codes
        values: list[float | str] = [*codes]
        words = ""
        if question.options:
            values = [option.value for option in question.options]
            words = self._say(question.options[-1].label)
        cell = min(self.column / len(values), self._high(26.0))
        cell = max(cell, width(words, self.look.tick) + 4) if words else cell

        def draw(canvas: Canvas, x: float, y: float, _: float) -> None:
            name(canvas, x, y, 0)
            level = y + top + self._high(12.5)
            for place, value in enumerate(values):
                centre = x + cell * (place + 0.5)
                if place >= len(codes):
                    canvas.say(centre, level, words, self.look.tick, align="c")
                elif codes[place] in question.cups(codes):
                    canvas.say(centre, level, codes[place], self.look.code, bold=True, align="c")
                else:
                    continue
                self._box(
                    canvas,
                    question.key,
                    value,
                    centre,
                    y + top + self._high(5.0),
                    size=self.look.pick,
                )

        return Block(top + self._high(16.0), draw)

    def _ranking(self, question: Question) -> Block:
        """Rank in a row per cup, a circle per place."""
        top, name = self._name(question)
        codes = self.presentation.codes
        step = min(self._high(8.0), (self.column - self._high(20)) / len(codes))
        first = self._high(24.0)
        ends = min(self.look.end, 7.0) if self.look.least == 0 else self.look.end
        low, high_words = (self._say(text) for text in (question.low_label, question.high_label))

        def draw(canvas: Canvas, x: float, y: float, _: float) -> None:
            name(canvas, x, y, 0)
            last = x + first + step * (len(codes) - 1)
            canvas.say(x + first, y + top + self._high(2.8), low, ends, align="c")
            canvas.say(last, y + top + self._high(2.8), high_words, ends, align="c")
            for place in range(1, len(codes) + 1):
                canvas.say(
                    x + first + step * (place - 1),
                    y + top + self._high(6.4),
                    str(place),
                    self.look.tick,
                    bold=True,
                    align="c",
                )
            for row, code in enumerate(codes):
                level = y + top + self._high(10.4 + 7.0 * row)
                canvas.say(x, level + self._high(1.5), code, self.look.code, bold=True)
                for place in range(1, len(codes) + 1):
                    canvas.boxes.append(
                        Box(
                            code=self.code,
                            attribute=f"{question.key}:{code}",
                            value=float(place),
                            x=x + first + step * (place - 1),
                            y=level,
                            size=self.look.box,
                        )
                    )

        return Block(top + self._high(8.5 + 7.0 * len(codes)), draw)

    def _words(self, question: Question) -> Block:
        top, name = self._name(question)
        least = 11.0 if self.look.wide else max(13.0, self._between(13.0, 17.0))

        def draw(canvas: Canvas, x: float, y: float, grown: float) -> None:
            name(canvas, x, y, 0)
            canvas.fields.append(
                Field(
                    code=self.code,
                    attribute=question.key,
                    x=x,
                    y=y + top + 1,
                    width=self.column,
                    height=least + grown,
                )
            )

        return Block(top + least + 2.5, draw, grows=True)

    def _box(
        self,
        canvas: Canvas,
        attribute: str,
        value: float | str,
        x: float,
        y: float,
        *,
        role: str = "one",
        size: float = 0.0,
    ) -> None:
        canvas.boxes.append(
            Box(
                code=self.code,
                attribute=attribute,
                value=value,
                x=x,
                y=y,
                size=size or self.look.box,
                role=role,
            )
        )

    def _beside(
        self, canvas: Canvas, lines: Sequence[str], size: float, x: float, middle: float
    ) -> None:
        """Write a label of one or more lines, centred on a height."""
        step = self._step(3.1, size)
        top = middle - step * (len(lines) - 1) / 2
        for place, line in enumerate(lines):
            canvas.say(x, top + step * place + size * 0.13, line, size)
