"""One worksheet of a score sheet: the questions about one presentation."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import groupby
from typing import TYPE_CHECKING, Any

from ..answers.answer_values import listed
from ..answers.numbers import written_number
from ..questions.question_types import Kind, Question
from ..questions.sheet import Presentation, Sheet
from ..questions.words import say
from .workbook_style import LINE, TINT, WIDTH, Dress, Look, lay_out, lines, lock

if TYPE_CHECKING:
    from openpyxl.worksheet.datavalidation import DataValidation
    from openpyxl.worksheet.worksheet import Worksheet

# Answers stand in B, D or F, words in A. Beside each, in a hidden column, stands what it
# answers; so a cell is found again though rows were inserted or sorted.
KEYS = {"A": "G", "B": "H", "D": "I", "F": "J"}
MARK = "K1"
CODE = "@code"
_ACROSS = (("A", "B"), ("C", "D"), ("E", "F"))
ANSWER = Dress(size=11, across="center", edge="frame", answer=True)
WORDS = Dress(size=11, down="top", edge="frame", answer=True)
_NAME_SIZE = 13  # letters of a bottle's name, where a code would be larger
_HEAD = 5  # rows that stay in sight
_NO_TITLE = dict.fromkeys(map(ord, "[]:*?/\\'"), "_")  # what no worksheet's name may hold


def page_name(presentation: Presentation) -> str:
    """Name the worksheet of a presentation; only its number where codes are too many."""
    name = f"{presentation.number}-{presentation.name}".translate(_NO_TITLE)
    return name if len(name) <= 31 else str(presentation.number)


def sheet_line(sheet: Sheet) -> tuple[str, ...]:
    """Return what stands at the foot of every worksheet: session, assessor, plan."""
    plan = (say("sheet.plan", sheet.language, number=sheet.plan),) if sheet.plan else ()
    return (sheet.session, sheet.assessor, *plan)


def page_mark(presentation: Presentation) -> str:
    """Return what the hidden corner of the worksheet holds: which presentation it is of."""
    return f"{presentation.number}/{presentation.name}"


@dataclass
class WorksheetPage:
    """The worksheet of one presentation while it is written, row by row."""

    sheet: Sheet
    presentation: Presentation
    worksheet: Worksheet
    lists: dict[tuple[str, ...], str]
    look: Look
    row: int = 1
    rules: dict[str, DataValidation] = field(default_factory=dict)
    answers: list[tuple[str, int]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.language = self.sheet.language

    def write(self) -> None:
        """Write heading, questions, rules and protection."""
        self._head()
        for section, questions in groupby(
            self.sheet.questions(self.presentation), key=lambda question: question.section
        ):
            self._section(section, list(questions))
        for rule in self.rules.values():
            self.worksheet.add_data_validation(rule)
        self._tint()
        self.worksheet.freeze_panes = f"A{_HEAD + 1}"
        mark = self._say("mark", fingerprint=self.sheet.fingerprint)
        left = "  ·  ".join((*sheet_line(self.sheet), mark))
        lay_out(self.worksheet, footer=(left, "&P / &N"), hidden="GHIJK")
        self.worksheet.print_title_rows = f"1:{_HEAD}"
        lock(self.worksheet, only_answers=True)

    def _say(self, key: str, /, **values: object) -> str:
        return say(f"workbook.{key}", self.language, **values)

    def _put(self, column: str, text: str, size: float = 10, *, to: str = "", **dress: Any) -> None:
        """Write text into the current row, across columns up to `to`."""
        last = f"{to}{self.row}" if to else ""
        look = Dress(size=size, **dress)
        self.look.put(self.worksheet, f"{column}{self.row}", text, look, to=last)

    def _height(self, count: float) -> None:
        self.worksheet.row_dimensions[self.row].height = round(LINE * count + 3, 1)

    def _head(self) -> None:
        """Write who and when, the code large, what to check, and the column headings."""
        sheet, presentation = self.sheet, self.presentation
        assessor = f"{say('sheet.assessor', self.language)} {sheet.assessor}"
        self.worksheet[MARK] = page_mark(presentation)
        self._put("A", sheet.title, 11, bold=True, to="D")
        self._put("E", f"{assessor}  ·  {sheet.date}", soft=True, to="F", across="right")
        self._height(lines(sheet.title, 58, 11))
        self.row = 2
        self._put("A", self._place(), 10, soft=True, to="F")
        self._height(1)
        self.row = 3
        several = len(presentation.codes) > 1
        named = sheet.named
        what = self._say("bottle" if named else "code")
        self._put("A", what, 12, bold=True, across="right", indent=1)
        to = "D" if several else "C"
        codes = "  ·  ".join(presentation.codes)
        size = _NAME_SIZE if named else 22
        self._put("B", codes, size, bold=True, to=to, across="center", edge="frame")
        self._key("B", CODE)
        check = self._say("check_codes" if several else "check_name" if named else "check_code")
        if self.presentation.beneath:
            check = self._say("check_beneath")
        elif sheet.alone and presentation.counted:
            check = self._say("check_place")
        self._put("E" if several else "D", check, soft=True, to="F", indent=1)
        self._height(max(2.2, 1.4 * lines(codes, 33, size)) if named else 2.2)
        self.row = 4
        note = sheet.rest_before(presentation)
        if note:
            self._put("A", note, bold=True, to="F")
        self._height(1 if note else 0.3)
        self.row = _HEAD
        self._put("A", self._say("question"), 9, soft=True, edge="below")
        self._put("B", self._say("judge"), 9, soft=True, to="C", edge="below")
        self._put("D", self._say("answer"), 9, soft=True, across="center", edge="below")
        self._put("E", self._say("scale"), 9, soft=True, to="F", indent=1, edge="below")
        self._height(1)
        self.row += 1

    def _place(self) -> str:
        """Say where in the session this cup stands."""
        if not self.presentation.counted:
            return say("sheet.warm_up", self.language)
        if self.presentation.beneath:
            title = say("sheet.beneath", self.language)
            return f"{title}  ·  {self.sheet.flight_name(self.presentation)}"
        counted = [one for one in self.sheet.presentations if one.counted and not one.beneath]
        place = counted.index(self.presentation) + 1
        flight = self.sheet.flight_name(self.presentation)
        cup = say("sheet.cup_of", self.language, number=place, total=len(counted))
        return f"{cup}  ·  {flight}"

    def _section(self, section: str, questions: Sequence[Question]) -> None:
        title = say(f"scorecard.section_{section}", self.language)
        self._put("A", title, 10, bold=True, to="F", band=True)
        self._height(1)
        self.row += 1
        for question in questions:
            match question.kind:
                case Kind.TICKS | Kind.FAULTS | Kind.RANKING:
                    self._group(question, title)
                case Kind.WORDS:
                    self._words(question, title)
                case Kind.CATEGORY | Kind.BALANCE | Kind.CHOICE:
                    self._list(question)
                case _:
                    self._line(question)

    def _key(self, column: str, attribute: str) -> None:
        self.worksheet[f"{KEYS[column]}{self.row}"] = attribute

    def _open(
        self,
        column: str,
        attribute: str,
        rule: DataValidation | None,
        *,
        to: str = "",
        dress: Dress = ANSWER,
    ) -> None:
        """Frame and unlock one answer cell, say what it answers and what may stand there."""
        place = f"{column}{self.row}"
        self.look.area(self.worksheet, place, f"{to or column}{self.row}", dress)
        self._key(column, attribute)
        self.answers.append((column, self.row))
        if rule is not None:
            rule.add(place)

    def _question(self, question: Question) -> int:
        """Write a question's label and what to judge; return how many lines that takes."""
        label, ask = question.label.to(self.language), question.ask.to(self.language)
        self._put("A", label, bold=True)
        self._put("B", ask, 9, soft=True, to="C")
        wide = WIDTH["B"] + WIDTH["C"]
        return max(lines(label, WIDTH["A"], 11), lines(ask, wide, 9))

    def _line(self, question: Question) -> None:
        needed = self._question(question)
        low, high = written_number(question.low), written_number(question.high)
        scale = self._say(
            "from_to",
            low=low,
            low_label=question.low_label.to(self.language),
            high=high,
            high_label=question.high_label.to(self.language),
        )
        self._put("E", scale, 9, soft=True, to="F", indent=1)
        self._height(max(needed, lines(scale, WIDTH["E"] + WIDTH["F"], 9)))
        self._open("D", question.key, self._range(low, high))
        self.row += 1

    def _list(self, question: Question) -> None:
        """Write a question that is answered from a list; its words are printed below it."""
        choice = question.kind is Kind.CHOICE
        options = tuple(option.label.to(self.language) for option in question.options)
        if choice:
            options = question.cups(self.presentation.codes)
        needed = self._question(question)
        self._open("D", question.key, self._from_list(options), to="F")
        self._height(max(needed, 1.2))
        self.row += 1
        told = options
        if question.key == "stronger" and not choice:  # "the first cup": which code that is
            codes = self.presentation.codes
            named = tuple(f"{o} = {code}" for o, code in zip(options, codes, strict=False))
            told = (*named, *options[len(codes) :])
        self._put("A", "  /  ".join(told), 9, soft=True, to="F", across="right")
        self._height(lines("  /  ".join(told), 90, 9))
        self.row += 1

    def _group(self, question: Question, title: str) -> None:
        """Write words to tick, faults to rate or cups to rank, three in a row."""
        self._heading(question, title)
        attributes = question.attributes_of(self.presentation.codes)
        labels = [option.label.to(self.language) for option in question.options]
        if question.kind is Kind.RANKING:
            labels = list(self.presentation.codes)
        for start in range(0, len(attributes), len(_ACROSS)):
            cells = list(zip(attributes, labels, strict=True))[start : start + len(_ACROSS)]
            for (at, answer), (attribute, text) in zip(_ACROSS, cells, strict=False):
                self._put(at, text, across="right", indent=1)
                self._open(answer, attribute, self._group_rule(question))
            self._height(max(lines(text, WIDTH["A"]) for _, text in cells))
            self.row += 1

    def _group_rule(self, question: Question) -> DataValidation:
        match question.kind:
            case Kind.TICKS:
                return self._from_list(listed("value.ticks", self.language))
            case Kind.FAULTS:
                return self._from_list(tuple(written_number(v) for v in question.values))
            case _:
                return self._range("1", str(len(self.presentation.codes)))

    def _words(self, question: Question, title: str) -> None:
        """Write room for free words over the whole width."""
        self._heading(question, title)
        self._open("A", question.key, self._free(), to="F", dress=WORDS)
        self._height(3.5)
        self.row += 1

    def _heading(self, question: Question, title: str) -> None:
        """Write what a group asks, without its label where the section is called the same."""
        label, ask = question.label.to(self.language), question.ask.to(self.language)
        parts = [ask] if ask else []
        if question.kind is Kind.FAULTS:
            parts.append(self._say("empty_is_none"))
        if question.kind is Kind.RANKING:
            parts.append(self._say("rank_how", cups=len(self.presentation.codes)))
        text = "  ·  ".join(parts)
        alone = label == title
        if not alone:
            self._put("A", label, bold=True)
        wide = sum(WIDTH.values()) - (0 if alone else WIDTH["A"])
        self._put("A" if alone else "B", text, 9, soft=True, to="F")
        self._height(lines(text, wide, 9))
        self.row += 1

    def _range(self, low: str, high: str) -> DataValidation:
        return self._rule(
            f"{low}..{high}",
            self._say("error_number", low=low, high=high),
            type="decimal",
            operator="between",
            formula1=low,
            formula2=high,
            imeMode="off",  # Japanese input steps aside where numbers are typed
        )

    def _from_list(self, options: tuple[str, ...]) -> DataValidation:
        return self._rule(
            "|".join(options),
            self._say("error_list", options="; ".join(options)),
            type="list",
            formula1=self.lists[options],
        )

    def _free(self) -> DataValidation | None:
        """Switch Japanese input on where a Japanese sheet asks for words."""
        if self.language != "ja":
            return None
        return self._rule("words", "", type="textLength", operator="greaterThanOrEqual",
                          formula1="0", imeMode="hiragana")  # fmt: skip

    def _rule(self, name: str, error: str, **rule: Any) -> DataValidation:
        """Return the rule of this name, made once a worksheet."""
        from openpyxl.worksheet.datavalidation import DataValidation

        if name not in self.rules:
            made = DataValidation(allow_blank=True, showErrorMessage=bool(error), **rule)
            if error:
                made.errorTitle, made.error = self._say("error_title"), error[:220]
            self.rules[name] = made
        return self.rules[name]

    def _tint(self) -> None:
        """Tint the answer cells as long as they are empty."""
        from openpyxl.formatting.rule import Rule
        from openpyxl.styles import PatternFill
        from openpyxl.styles.differential import DifferentialStyle

        tint = DifferentialStyle(fill=PatternFill(bgColor=TINT, fill_type="solid"))
        for runs in _runs(self.answers):
            first = runs[0].partition(":")[0]
            rule = Rule(type="expression", dxf=tint, formula=[f"LEN({first})=0"])
            self.worksheet.conditional_formatting.add(" ".join(runs), rule)


def _runs(cells: Sequence[tuple[str, int]]) -> Iterator[list[str]]:
    """Put cells that stand below each other together: the areas of each column, downwards.

    A rule is made once a column and speaks of its first cell; spreadsheets move it along.
    """
    for column in KEYS:
        rows = sorted(row for letter, row in cells if letter == column)
        areas = []
        for _, run in groupby(enumerate(rows), key=lambda pair: pair[1] - pair[0]):
            found = [row for _, row in run]
            areas.append(f"{column}{found[0]}:{column}{found[-1]}")
        if areas:
            yield areas
