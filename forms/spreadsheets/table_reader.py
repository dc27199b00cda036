"""Reading answers that somebody typed into a table: CSV, TSV, XLSX or ODS, long or wide.

Long: the columns assessor, code, attribute, score, one row an answer. Wide:
assessor, code, and one column an attribute. Headings may be in any language of
the sheets; attributes are found by their key, their label, or the label of a
word or fault, where that names one thing only. Rows are counted as spreadsheets
do, titles above the heading too.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from ..answers.answer import REMARK, Fault, Reading
from ..answers.answer_values import expected, option_of, understand
from ..answers.cells import Book, Written
from ..answers.gathering import GROUPS, Gathering
from ..answers.numbers import Unclear, number_of, tidied, written_number
from ..answers.settling import settle
from ..answers.table_text import DELIMITERS, readings
from ..answers.workbook_bounds import Unopened
from ..questions.question_types import Kind, Question
from ..questions.set_questions import of_a_set
from ..questions.sheet import Presentation, Sheet, Sheets, versions
from .table_headings import Headings, read_headings

LARGEST = 20_000_000  # bytes of a text table
MOST_CELLS, MOST_COLUMNS = 400_000, 5_000
_TITLES = 20  # rows among which the heading is looked for
_WHOLE = re.compile(r"([0-9]+)[.,]0+")  # a code that a spreadsheet wrote as a decimal number
_BETWEEN_WORDS = re.compile(r"[;,、，；/\n]")


def read_answers_table(path: Path | str, sheets: Mapping[str, Sheet]) -> Reading:
    """Read a typed table of answers.

    Parameters
    ----------
    path : Path or str
        ``.csv``, ``.tsv``, ``.txt``, ``.xlsx`` or ``.ods``.
    sheets : mapping of str to Sheet
        The sheets of the session by assessor's code.

    Returns
    -------
    Reading
        All answers that were understood and all faults; places are named
        ``row 12, sweetness`` or ``worksheet!cell``.
    """
    path = Path(path)
    try:
        if path.suffix.lower() in (".xlsx", ".xlsm", ".ods"):
            return read_book_table(Book(path), path.name, sheets)
        return _read_text(path, sheets)
    except Unopened as fault:
        return _refused(fault.kind, path.name, fault.why)
    except OSError as fault:
        return _refused("unreadable_file", path.name, str(fault))


def read_book_table(book: Book, file: str, sheets: Mapping[str, Sheet]) -> Reading:
    """Read the tables of an opened workbook, one on each worksheet that has headings."""
    readings, strange = [], []
    for page in book.worksheets:
        rows = book.rows(page)
        if all(cell.blank for row in rows for cell in row):
            continue
        table = AnswerTable(file, sheets, rows, page.title)
        if table.headings.known:
            readings.append(table.read())
        else:
            strange.append(Fault(kind="extra_worksheet", file=file, place=page.title,
                                 found=page.title))  # fmt: skip
    if not readings:
        return _refused("not_a_sheet", file)
    return settle([*readings, Reading(faults=tuple(strange))], sheets)


def _refused(kind: str, file: str, found: str = "") -> Reading:
    return Reading(faults=(Fault(kind=kind, file=file, found=found),))


def _read_text(path: Path, sheets: Mapping[str, Sheet]) -> Reading:
    """Read a text table in the one encoding and with the one delimiter that give headings."""
    if path.stat().st_size > LARGEST:
        return _refused("too_large", path.name, f"{path.stat().st_size:,} bytes")
    found = {}
    for text in readings(path.read_bytes()):
        tables = [AnswerTable(path.name, sheets, _rows(text, sign)) for sign in DELIMITERS]
        best = max(tables, key=lambda table: table.headings.known)
        if best.headings.known:
            reading = best.read()
            found[tuple((a.attribute, a.value, a.place) for a in reading.answers)] = reading
    if not found:
        return _refused("not_a_sheet", path.name)
    fewest = min(len(reading.faults) for reading in found.values())
    best_readings = [reading for reading in found.values() if len(reading.faults) == fewest]
    if len(best_readings) > 1:
        return _refused("encoding", path.name)
    return settle(best_readings, sheets)


def _rows(text: str, delimiter: str) -> list[list[Written]]:
    """Split a text table into cells."""
    rows: list[list[Written]] = []
    cells = 0
    try:
        for row in csv.reader(io.StringIO(text, newline=""), delimiter=delimiter):
            rows.append([Written.typed(cell) for cell in row])
            cells += len(row) + 1
            if cells > MOST_CELLS or len(row) > MOST_COLUMNS:
                raise Unopened("too_large", f"{len(rows):,} x {len(row):,} cells")
    except csv.Error:
        return []
    return rows


@dataclass(frozen=True, slots=True)
class JudgedCup:
    """Whose answers a row holds, and about what; several times where one cup is judged twice."""

    sheet: Sheet
    presentations: tuple[Presentation, ...] = ()

    @property
    def name(self) -> str:
        """The code, or the codes, that the answers are filed under."""
        return self.presentations[0].name if self.presentations else ""

    @property
    def counted(self) -> bool:
        """Whether it is more than a warm-up."""
        return any(presentation.counted for presentation in self.presentations)

    def asks(self, attribute: str) -> bool:
        """Tell whether the scorecard knows the attribute."""
        return attribute.partition(":")[0] in self.sheet.scorecard

    def kind(self, attribute: str) -> Kind:
        """Return how the attribute is answered."""
        return self.sheet.scorecard.owner(attribute).kind

    def asked(self, attribute: str) -> Presentation | None:
        """Find the presentation at which the attribute is asked."""
        question = self.sheet.scorecard.owner(attribute)
        for presentation in self.presentations:
            fills = (question.key, *question.attributes_of(presentation.codes))
            if question.key in presentation.asked and attribute in fills:
                return presentation
        return None


@dataclass
class AnswerTable(Gathering):
    """One table of answers while it is read."""

    rows: Sequence[Sequence[Written]]
    worksheet: str = ""

    def __post_init__(self) -> None:
        filled = [at for at, row in enumerate(self.rows) if any(not cell.blank for cell in row)]
        tried = {
            at: read_headings([cell.text for cell in self.rows[at]], self.sheets)
            for at in filled[:_TITLES]
        } or {0: read_headings([], self.sheets)}
        self.head = max(tried, key=lambda at: (tried[at].known, -at))
        self.headings: Headings = tried[self.head]

    def read(self) -> Reading:
        """Read all rows."""
        heads = self.headings
        for kind, column, found, wanted in heads.faults:
            self.tell(kind, self._place(self.head, column), found=found, expected=wanted)
        if heads.complete:
            self._places_used = {
                question.key: self._uses_places(question)
                for sheet in self.sheets.values()
                for question in sheet.scorecard
            }
            for at in range(self.head + 1, len(self.rows)):
                if any(not cell.blank for cell in self.rows[at]):
                    self._row(at)
        return self.settled()

    def _cell(self, at: int, column: int | None) -> Written:
        row = self.rows[at]
        return row[column] if column is not None and column < len(row) else Written()

    def _place(self, at: int, column: int | None) -> str:
        """Name a cell: as spreadsheets do, or by row and heading in a text table."""
        if self.worksheet:
            from openpyxl.utils import get_column_letter

            letter = get_column_letter(column + 1) if column is not None else ""
            return f"{self.worksheet}!{letter}{at + 1}"
        heading = self._cell(self.head, column).text.strip()
        return f"row {at + 1}, {heading}" if heading else f"row {at + 1}"

    def _row(self, at: int) -> None:
        """Find out whose answers a row holds and about which cup, then read them."""
        heads = self.headings
        width = len(self.rows[self.head])
        if any(not cell.blank for cell in self.rows[at][width:]):
            text = " | ".join(cell.text for cell in self.rows[at])
            self._fault("row_shape", at, None, found=text, expected=str(width))
            return
        session = self._cell(at, heads.session)
        known = {sheet.session for sheet in self.sheets.values()}
        if not session.blank and tidied(session.text) not in known:
            wanted = ", ".join(sorted(known))
            self._fault("other_session", at, heads.session, found=session.text, expected=wanted)
            return
        sheet = self._assessor(at)
        cup = self._cup(at, sheet) if sheet else None
        if cup is not None:
            if heads.attribute is not None:
                self._long(at, heads.attribute, cup)
            else:
                self._wide(at, cup)

    def _assessor(self, at: int) -> Sheet | None:
        cell = self._cell(at, self.headings.assessor)
        wanted = tidied(cell.text)
        if known := versions(self.sheets, wanted):
            return known[0]
        alike = [code for code in self.sheets if code.casefold() == wanted.casefold()]
        if len(alike) == 1 and not cell.trouble:
            return self.sheets[alike[0]]
        column = self.headings.assessor
        listed = ", ".join(self.sheets)
        self._fault("unknown_assessor", at, column, found=cell.text, expected=listed)
        return None

    def _cup(self, at: int, sheet: Sheet) -> JudgedCup | None:
        """Find what is filed under the code in this row, or tell what is wrong with it."""
        cell = self._cell(at, self.headings.code)
        also = self.sheets.also if isinstance(self.sheets, Sheets) else {}
        renamed = {code: name for (who, code), name in also.items() if who == sheet.assessor}
        for version in versions(self.sheets, sheet.assessor):
            names = [each.name for each in version.presentations]
            name = _name_of(cell, [*names, *renamed])
            name = renamed.get(name, name)
            found = tuple(each for each in version.presentations if each.name == name)
            if found:
                return JudgedCup(version, found)
        everywhere = [p.name for other in self.sheets.values() for p in other.presentations]
        known = _name_of(cell, everywhere) in everywhere
        wanted = ", ".join(each.name for each in sheet.presentations)
        told = {"found": cell.text, "expected": wanted}
        kind = "foreign_code" if known else "unknown_code"
        self._fault(kind, at, self.headings.code, JudgedCup(sheet), **told)
        return None

    def _long(self, at: int, column: int, cup: JudgedCup) -> None:
        """Read a row that holds one answer."""
        heads = self.headings
        name = self._cell(at, column)
        attribute = heads.attribute_of(name.text)
        if attribute is None or not cup.asks(attribute):
            known = ", ".join(cup.sheet.scorecard.keys)
            self._fault("unknown_attribute", at, column, cup, found=name.text, expected=known)
            return
        self._answer(at, heads.score, cup, attribute)
        self._remark(at, cup, attribute)

    def _remark(self, at: int, cup: JudgedCup, attribute: str) -> None:
        """Keep what stands in the column of remarks, whole, beside its answer."""
        column = self.headings.remark
        cell = self._cell(at, column)
        presentation = cup.asked(attribute)
        if cell.blank or presentation is None:
            return
        if cup.kind(attribute) is Kind.WORDS or of_a_set(presentation):
            self._fault("remark_place", at, column, cup, attribute=attribute, found=cell.text)
            return
        self.take(
            attribute + REMARK, cell.text, sheet=cup.sheet, code=presentation.name,
            place=self._place(at, column), written=cell.text,
        )  # fmt: skip

    def _wide(self, at: int, cup: JudgedCup) -> None:
        """Read a row that holds all answers about a cup; without any it is one empty cup."""
        columns = {
            column: attribute
            for column, attribute in self.headings.attributes.items()
            if cup.asks(attribute)
            and (cup.asked(attribute) is not None or not self._cell(at, column).blank)
        }
        answering = [
            column for column, attribute in columns.items() if cup.kind(attribute) != Kind.WORDS
        ]
        filled = any(not self._cell(at, column).blank for column in answering)
        if not filled and answering and cup.counted:
            self._fault("empty_cup", at, None, cup, expected=str(len(answering)))
        for column, attribute in columns.items():
            if filled or not self._cell(at, column).blank:
                self._answer(at, column, cup, attribute)

    def _answer(self, at: int, column: int | None, cup: JudgedCup, attribute: str) -> None:
        """Read one answer, or tell why not."""
        cell = self._cell(at, column)
        presentation = cup.asked(attribute)
        if presentation is None:
            self._fault("not_asked", at, column, cup, attribute=attribute, found=cell.text)
            return
        cup = JudgedCup(cup.sheet, (presentation,))
        question = cup.sheet.scorecard.owner(attribute)
        codes, language = presentation.codes, cup.sheet.language
        whole = question.kind is Kind.TICKS and ":" not in attribute
        wanted = expected(question, language, codes)
        if whole:
            wanted = "; ".join(option.label.to(language) for option in question.options)
        # In a table with one row an answer, a row without a score says nothing of a word.
        says_none = question.kind in GROUPS and self.headings.attribute is None
        if cell.blank and not says_none:
            if question.kind is not Kind.WORDS and cup.counted:
                self._fault("missing", at, column, cup, attribute=attribute, expected=wanted)
            return
        try:
            if whole:
                values: dict[str, float | str] = dict(_words_in(question, cell))
            elif cell.blank:
                values = {attribute: 0.0}
            else:
                used = self._places_used.get(question.key)
                value = understand(question, cell, language, codes, places_used=used)
                values = {attribute: value}
        except Unclear as unclear:
            told = {"attribute": attribute, "found": cell.text, "expected": wanted}
            self._fault(unclear.kind, at, column, cup, **told)
            return
        place, code = self._place(at, column), cup.name
        for name, value in values.items():
            self.take(name, value, sheet=cup.sheet, code=code, place=place, written=cell.text)

    def _uses_places(self, question: Question) -> bool | None:
        """Tell whether numbers in this table name places (1 for the first word) or values.

        A number that is a value and no place, such as 0 or -1, shows that
        values were typed; one that is a place and no value, such as 4, shows
        the contrary; without either nobody can know.
        """
        values = {option.value for option in question.options}
        places = {float(place) for place in range(1, len(values) + 1)}
        if question.kind not in (Kind.CATEGORY, Kind.BALANCE) or values == places:
            return None
        seen = set()
        for cell in self._cells_of(question.key):
            try:
                seen.add(cell.value if isinstance(cell.value, float) else number_of(cell.text))
            except Unclear:
                continue
        if seen & (places - values):
            return True
        return False if seen & (values - places) else None

    def _cells_of(self, attribute: str) -> list[Written]:
        heads = self.headings
        rows = range(self.head + 1, len(self.rows))
        if heads.attribute is None:
            columns = [column for column, name in heads.attributes.items() if name == attribute]
            return [self._cell(at, column) for at in rows for column in columns]
        return [
            self._cell(at, heads.score)
            for at in rows
            if heads.attribute_of(self._cell(at, heads.attribute).text) == attribute
        ]

    def _fault(
        self, kind: str, at: int, column: int | None, cup: JudgedCup | None = None, **told: str
    ) -> None:
        who = {"assessor": cup.sheet.assessor, "code": cup.name} if cup else {}
        self.tell(kind, self._place(at, column), **who, **told)


def _name_of(cell: Written, names: Sequence[str]) -> str:
    """Read a presentation's name: one code, or several with any sign between them."""
    if cell.trouble:
        return ""
    text = written_number(cell.value) if isinstance(cell.value, float) else tidied(cell.text)
    if whole := _WHOLE.fullmatch(text):
        text = whole[1]
    if text in names:
        return text
    parts = re.findall(r"\w+", text)
    for name in names:
        codes = name.split("-")
        if len(parts) == len(codes) and all(
            part.isdigit() and part.zfill(len(code)) == code
            for part, code in zip(parts, codes, strict=True)
        ):
            return name
    return text


def _words_in(question: Question, cell: Written) -> dict[str, float]:
    """Read a list of words that apply: those named are 1, the others 0."""
    if cell.trouble:
        raise Unclear(cell.trouble)
    whole = option_of(cell.text, question.options) if not cell.blank else None
    parts = [part for part in _BETWEEN_WORDS.split(cell.text) if part.strip()]
    named = [whole] if whole else [option_of(part, question.options) for part in parts]
    if any(option is None for option in named):
        raise Unclear("not_an_option")
    keys = {option.key for option in named if option is not None}
    return {f"{question.key}:{o.key}": float(o.key in keys) for o in question.options}
