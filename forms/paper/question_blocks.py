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
from .page_parts import FOOTER, HEADER, LINE_LENGTH, MARGIN, SIZES, Box, Canvas, Field, Scale
from .typeset import fit, spoken, width

GUTTER = 9.0
NAME, ASK, END, TICK = 9.5, 7.5, 7.5, 8.5  # sizes of letters
BOX = 4.0
_AIR = (1.0, 0.5, 0.0)  # from generous to close
_TABLE = 20  # rows of a table of faults before its head is repeated
_PENALTY = 25.0  # millimetres of unevenness that an unbroken section is worth

Draw = Callable[[Canvas, float, float, float], None]


@dataclass(slots=True)
class Block:
    """A piece of a column: its height, and how it is drawn at (x, y) with extra height.

    `joined` blocks stay with the one that follows; `grows` blocks take what
    room is left.
    """

    height: float
    draw: Draw
    joined: bool = False
    grows: bool = False


def presentation_pages(sheet: Sheet, presentation: Presentation, paper: str) -> list[Canvas]:
    """Lay the questions of one presentation out, on one side if they fit."""
    wide, high = SIZES[paper]
    room = high - HEADER - FOOTER
    column = (wide - 2 * MARGIN - GUTTER) / 2
    blocks: list[Block] = []
    columns: list[tuple[int, int]] = []
    for air in _AIR:
        maker = _Maker(sheet, presentation, column, air)
        blocks = maker.blocks()
        columns = _columns(blocks, room)
        if len(columns) <= 2:
            break
    else:
        blocks = _Maker(sheet, presentation, column, 1.0).blocks()
        columns = _columns(blocks, room)
    pages = []
    for place in range(0, len(columns), 2):
        canvas = Canvas()
        for side, (start, end) in enumerate(columns[place : place + 2]):
            x = MARGIN + side * (column + GUTTER)
            _pour(canvas, blocks[start:end], x, room)
        middle = wide / 2
        if len(columns[place : place + 2]) == 2:
            canvas.rule(middle, HEADER, middle, high - FOOTER, width=0.15, grey=0.7)
        pages.append(canvas)
    return pages or [Canvas()]


def _columns(blocks: Sequence[Block], room: float) -> list[tuple[int, int]]:
    """Cut the blocks into columns; the last two columns are made even."""
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
    return columns


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
    extra = max(0.0, min(spare * (0.45 if growing else 1.0) / gaps, 3.0))
    more = min((spare - extra * gaps) / growing, 60.0) if growing else 0.0
    y = HEADER
    for block in blocks:
        grown = max(0.0, more) if block.grows else 0.0
        block.draw(canvas, x, y, grown)
        y += block.height + grown + (0.0 if block.joined else extra)


class _Maker:
    """Makes the blocks of one presentation for one width of column."""

    def __init__(self, sheet: Sheet, presentation: Presentation, column: float, air: float) -> None:
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
            if question.section != section:
                section = question.section
                found.append(self._heading(say(f"scorecard.section_{section}", self.language)))
            match question.kind:
                case Kind.LINE:
                    found.append(self._line(question))
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

    def _between(self, close: float, generous: float) -> float:
        return close + (generous - close) * self.air

    def _say(self, text: Text) -> str:
        return spoken(text.to(self.language), self.language)

    def _heading(self, text: str) -> Block:
        high = self._between(6.0, 7.4)

        def draw(canvas: Canvas, x: float, y: float, _: float) -> None:
            canvas.say(x, y + high - 3.1, text, 10.5, bold=True)
            canvas.rule(x, y + high - 1.8, x + self.column, y + high - 1.8, width=0.2, grey=0.45)

        return Block(high, draw, joined=True)

    def _name(self, question: Question) -> tuple[float, Draw]:
        """Draw a question's name and what it asks; on one line if both fit."""
        label, ask = self._say(question.label), self._say(question.ask)
        if label == say(f"scorecard.section_{question.section}", self.language):
            label = ""  # the heading says it
        names, size = fit(label, self.column, NAME, lines=1, smallest=8.5, bold=True)
        taken = width(names[-1], size, bold=True) + 2.2 if label else 0.0
        small = next((x for x in (ASK, 7.0) if width(ask, x) <= self.column - taken), None)
        beside = small is not None
        asks: list[str] = []
        letters = small or ASK
        if not beside:
            asks, letters = fit(ask, self.column, ASK, lines=1, smallest=7.0)
        high = 4.1 * len(names) + 3.3 * len(asks)

        def draw(canvas: Canvas, x: float, y: float, _: float) -> None:
            for place, name in enumerate(names):
                canvas.say(x, y + 3.3 + 4.1 * place, name, size, bold=True)
            if beside:
                canvas.say(x + taken, y + 3.3 + 4.1 * (len(names) - 1), ask, letters)
            for place, line in enumerate(asks):
                canvas.say(x, y + 4.1 * len(names) + 2.7 + 3.3 * place, line, letters)

        return high, draw

    def _line(self, question: Question) -> Block:
        top, name = self._name(question)
        ends = [
            fit(self._say(text), self.length * 0.47, END, lines=1, smallest=6.5)
            for text in (question.low_label, question.high_label)
        ]
        above, below = self._between(3.4, 4.2), self._between(5.2, 5.9)
        rows = max(len(lines) for lines, _ in ends)
        high = top + above + below + 3.0 * (rows - 1)

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
                    canvas.say(at, level + 4.1 + 3.0 * place, line, size, align=align)

        return Block(high, draw)

    def _scale_of_words(self, question: Question) -> Block:
        """Categories in order: in a row if their words fit below the circles, else in a list."""
        top, name = self._name(question)
        labels = [self._say(option.label) for option in question.options]
        cell = self.column / len(labels)
        fitted = [fit(label, cell - 1.5, END, lines=2, smallest=7.0) for label in labels]
        if cell >= 11 and all(len(lines) <= 3 for lines, _ in fitted):
            rows = max(len(lines) for lines, _ in fitted)
            high = top + 7.0 + 3.0 * rows + 1.2

            def draw(canvas: Canvas, x: float, y: float, _: float) -> None:
                name(canvas, x, y, 0)
                for place, (lines, size) in enumerate(fitted):
                    centre = x + cell * (place + 0.5)
                    self._box(
                        canvas, question.key, question.options[place].value, centre, y + top + 3.8
                    )
                    for row, line in enumerate(lines):
                        canvas.say(centre, y + top + 9.0 + 3.0 * row, line, size, align="c")

            return Block(high, draw)
        return self._list(
            question,
            [(option.value, self._say(option.label)) for option in question.options],
        )

    def _list(self, question: Question, entries: Sequence[tuple[float | str, str]]) -> Block:
        """One of many, one below the other."""
        top, name = self._name(question)
        fitted = [
            fit(label, self.column - BOX - 3, TICK, lines=1, smallest=7.0) for _, label in entries
        ]
        pitch = [max(self._between(5.2, 6.2), 3.2 * len(lines) + 2.2) for lines, _ in fitted]

        def draw(canvas: Canvas, x: float, y: float, _: float) -> None:
            name(canvas, x, y, 0)
            level = y + top + 0.6
            for (value, _label), (lines, size), step in zip(entries, fitted, pitch, strict=True):
                self._box(canvas, question.key, value, x + BOX / 2, level + step / 2)
                self._beside(canvas, lines, size, x + BOX + 2, level + step / 2)
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
                fit(entry[1], cell - BOX - 3, TICK, lines=2, smallest=7.0) for entry in entries
            ]
            if count == 1 or all(len(lines) <= 2 for lines, _ in fitted):
                break
        rows = -(-len(entries) // count)
        pitch = []
        for row in range(rows):
            tallest = max(len(lines) for lines, _ in fitted[row::rows])
            pitch.append(max(self._between(5.1, 6.0), 3.1 * tallest + 1.6))

        def draw(canvas: Canvas, x: float, y: float, _: float) -> None:
            name(canvas, x, y, 0)
            for place, (attribute, _label) in enumerate(entries):
                row = place % rows
                level = y + top + 0.6 + sum(pitch[:row]) + pitch[row] / 2
                at = x + cell * (place // rows)
                self._box(canvas, attribute, 1.0, at + BOX / 2, level, role="tick")
                lines, size = fitted[place]
                self._beside(canvas, lines, size, at + BOX + 1.8, level)

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
            blocks.append(Block(top + 3.6, heads))
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
            self._say(option.label), first - step / 2 - 1.5, TICK, lines=1, smallest=7.5
        )
        high = max(self._between(5.1, 6.0), 3.1 * len(lines) + 1.6)

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
            say("paper.open_rows", self.language), self.column, ASK, lines=1, smallest=7.0
        )
        high = 3.3 * len(lines) + 1.8

        def draw(canvas: Canvas, x: float, y: float, _: float) -> None:
            for place, line in enumerate(lines):
                canvas.say(x, y + 3.4 + 3.3 * place, line, size)

        return Block(high, draw)

    def _choice(self, question: Question) -> Block:
        top, name = self._name(question)
        codes = self.presentation.codes
        cell = min(self.column / len(codes), 26.0)

        def draw(canvas: Canvas, x: float, y: float, _: float) -> None:
            name(canvas, x, y, 0)
            for place, code in enumerate(codes):
                if code not in question.cups(codes):
                    continue
                centre = x + cell * (place + 0.5)
                self._box(canvas, question.key, code, centre, y + top + 5.0, size=5.0)
                canvas.say(centre, y + top + 12.5, code, 11.0, bold=True, align="c")

        return Block(top + 16.0, draw)

    def _ranking(self, question: Question) -> Block:
        """Rank in a row per cup, a circle per place."""
        top, name = self._name(question)
        codes = self.presentation.codes
        step = min(8.0, (self.column - 20) / len(codes))
        first = 24.0
        low, high_words = (self._say(text) for text in (question.low_label, question.high_label))

        def draw(canvas: Canvas, x: float, y: float, _: float) -> None:
            name(canvas, x, y, 0)
            last = x + first + step * (len(codes) - 1)
            canvas.say(x + first, y + top + 2.8, low, 7.0, align="c")
            canvas.say(last, y + top + 2.8, high_words, 7.0, align="c")
            for place in range(1, len(codes) + 1):
                canvas.say(
                    x + first + step * (place - 1),
                    y + top + 6.4,
                    str(place),
                    8.5,
                    bold=True,
                    align="c",
                )
            for row, code in enumerate(codes):
                level = y + top + 10.4 + 7.0 * row
                canvas.say(x, level + 1.5, code, 11.0, bold=True)
                for place in range(1, len(codes) + 1):
                    canvas.boxes.append(
                        Box(
                            code=self.code,
                            attribute=f"{question.key}:{code}",
                            value=float(place),
                            x=x + first + step * (place - 1),
                            y=level,
                            size=BOX,
                        )
                    )

        return Block(top + 8.5 + 7.0 * len(codes), draw)

    def _words(self, question: Question) -> Block:
        top, name = self._name(question)
        least = self._between(13.0, 17.0)

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
        size: float = BOX,
    ) -> None:
        canvas.boxes.append(
            Box(code=self.code, attribute=attribute, value=value, x=x, y=y, size=size, role=role)
        )

    def _beside(
        self, canvas: Canvas, lines: Sequence[str], size: float, x: float, middle: float
    ) -> None:
        """Write a label of one or more lines, centred on a height."""
        top = middle - 3.1 * (len(lines) - 1) / 2
        for place, line in enumerate(lines):
            canvas.say(x, top + 3.1 * place + size * 0.13, line, size)
