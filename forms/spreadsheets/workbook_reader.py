"""Reading a filled score sheet back: every cell is understood or listed.

The rules for what is left empty:

- words to tick and faults to rate: an empty place means "does not apply" or
  "not noticed", as the sheet says, when any other question about the same cup
  was answered; free words alone are no answer in this sense;
- any other question: an empty place is a missing answer, told once a place;
- a cup without any answer is told once, and so is a sheet without any;
- the warm-up may be left empty.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from ..answers.answer import REMARK, Fault, Reading
from ..answers.answer_values import expected, understand
from ..answers.cells import Book, Written, existing
from ..answers.gathering import GROUPS, Gathering
from ..answers.numbers import Unclear, tidied
from ..answers.workbook_bounds import Unopened
from ..questions.question_types import Kind, Question
from ..questions.set_questions import of_a_set
from ..questions.sheet import Presentation, Sheet, printed_as, versions
from .workbook_page import CODE, KEYS, MARK, page_mark, page_name
from .workbook_writer import HIDDEN, START

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet


def read_workbook(path: Path | str, sheets: Mapping[str, Sheet]) -> Reading:
    """Read a score sheet that `kikichoko.forms.spreadsheets.workbook_writer.write_sheet` wrote.

    Parameters
    ----------
    path : Path or str
    sheets : mapping of str to Sheet
        The sheets of the session by assessor's code.

    Returns
    -------
    Reading
        All answers that were understood and all faults; places are named
        ``worksheet!cell``.
    """
    path = Path(path)
    try:
        book = Book(path)
    except Unopened as fault:
        return Reading(faults=(Fault(kind=fault.kind, file=path.name, found=fault.why),))
    except OSError as fault:
        return Reading(faults=(Fault(kind="unreadable_file", file=path.name, found=str(fault)),))
    return read_book(book, path.name, sheets)


def is_sheet(book: Book) -> bool:
    """Tell whether a workbook is a score sheet, by its hidden worksheet."""
    return any(sheet.title == HIDDEN and sheet["A1"].value == HIDDEN for sheet in book.worksheets)


def read_book(book: Book, file: str, sheets: Mapping[str, Sheet]) -> Reading:
    """Read an opened score sheet; see `read_workbook`."""
    if not is_sheet(book):
        return Reading(faults=(Fault(kind="not_a_sheet", file=file),))
    hidden = next(sheet for sheet in book.worksheets if sheet.title == HIDDEN)
    cells = {place: cell.value for place, cell in existing(hidden).items()}
    identity = {str(cells.get((row, 1))): str(cells.get((row, 2))) for row in range(1, 5)}
    texts = {
        " ".join(str(value).split())
        for (_, column), value in cells.items()
        if column == 3 and value is not None
    }
    assessor = identity.get("assessor", "")
    refusal = _refused(identity, file, sheets)
    sheet = printed_as(sheets, assessor, identity.get("fingerprint", ""))
    if refusal is not None or sheet is None:
        return Reading(faults=(refusal,) if refusal else ())
    return _Reader(file, sheets, book, sheet, texts).read()


def _refused(identity: dict[str, str], file: str, sheets: Mapping[str, Sheet]) -> Fault | None:
    """Refuse a whole sheet that is not of this session and plan."""
    assessor, session = identity.get("assessor", ""), identity.get("session", "")
    sessions = {sheet.session for sheet in sheets.values()}
    if session not in sessions:
        wanted = ", ".join(sorted(sessions))
        return Fault(kind="other_session", file=file, found=session, expected=wanted)
    if not versions(sheets, assessor):
        return Fault(kind="unknown_assessor", file=file, found=assessor, expected=", ".join(sheets))
    mark = identity.get("fingerprint", "")
    if printed_as(sheets, assessor, mark) is None:
        wanted = versions(sheets, assessor)[0].fingerprint
        return Fault(kind="other_plan", file=file, assessor=assessor, found=mark, expected=wanted)
    return None


@dataclass
class _Reader(Gathering):
    """Reads the worksheets of one score sheet."""

    book: Book
    sheet: Sheet
    texts: set[str]

    def read(self) -> Reading:
        pages, others = self._pages()
        for presentation in self.sheet.presentations:
            page = pages.get(page_mark(presentation))
            if page is None:
                self._fault("no_worksheet", page_name(presentation), presentation)
            else:
                self._page(page, presentation)
        if START in pages:
            self._outside(pages[START], {})
        for page in others:
            if any(cell.value is not None for cell in existing(page).values()):
                self._fault("extra_worksheet", page.title, found=page.title)
        self.faults = self._empty_once()
        return self.settled()

    def _pages(self) -> tuple[dict[str, Worksheet], list[Worksheet]]:
        """Find the worksheet of each presentation by its hidden mark, whatever its name is now.

        Where a worksheet was copied, the one that kept its name is the form's own.
        """
        titles = {page_mark(each): page_name(each) for each in self.sheet.presentations}
        found: dict[str, Worksheet] = {}
        others = []
        for page in self.book.worksheets:
            mark = str(page[MARK].value)
            if page.title == HIDDEN:
                continue
            strange = mark not in titles and mark != START
            if strange or (mark in found and page.title != titles.get(mark)):
                others.append(page)
            else:
                if mark in found:
                    others.append(found[mark])
                found[mark] = page
        return found, others

    def _page(self, page: Worksheet, presentation: Presentation) -> None:
        """Read all answers about one presentation."""
        places = dict(_keys(page))
        cells = {place: self.book.cell(page, *place) for place in places}
        remarks = self._outside(page, places, presentation)
        codes = [cells[place] for place, key in places.items() if key == CODE]
        if any(not self._same(cell, presentation) for cell in codes) or not codes:
            place = next((place for place, key in places.items() if key == CODE), (3, 2))
            found = codes[0].text if codes else ""
            wanted = "  ·  ".join(presentation.codes)
            at = _place(page, place)
            self._fault("changed_code", at, presentation, found=found, expected=wanted)
            self._set_aside(page, remarks)
            return
        moved = self._moved(page, presentation, places)
        if moved is not None:
            place, found, wanted = moved
            at = _place(page, place)
            self._fault("moved_rows", at, presentation, found=found, expected=wanted)
            self._set_aside(page, remarks)
            return
        for spot, text in remarks.items():
            at = _place(page, spot)
            self._take(places[spot] + REMARK, text, presentation, at, written=text)
        found_at: dict[str, list[tuple[int, int]]] = {}
        for place, key in places.items():
            found_at.setdefault(key, []).append(place)
        questions = self.sheet.questions(presentation)
        answered = {
            question.key
            for question in questions
            for attribute in question.attributes_of(presentation.codes)
            if question.kind is not Kind.WORDS
            and any(not cells[place].blank for place in found_at.get(attribute, []))
        }
        if not answered and presentation.counted:
            count = sum(
                len(question.attributes_of(presentation.codes))
                for question in questions
                if question.kind is not Kind.WORDS
            )
            self._fault("empty_cup", page.title, presentation, expected=str(count))
        for question in questions:
            for attribute in question.attributes_of(presentation.codes):
                spots = found_at.get(attribute, [])
                filled = [spot for spot in spots if not cells[spot].blank]
                for spot in filled:
                    at = _place(page, spot)
                    self._answer(question, attribute, cells[spot], presentation, at)
                if not filled and answered:
                    at = _place(page, spots[0]) if spots else page.title
                    self._left_empty(question, attribute, presentation, at, there=bool(spots))

    def _same(self, cell: Written, presentation: Presentation) -> bool:
        """Tell whether a worksheet still names its own cup, or bottle."""
        if self.sheet.named:
            return " ".join(cell.text.split()) == " ".join(presentation.name.split())
        return _same_code(cell, presentation)

    def _moved(
        self,
        page: Worksheet,
        presentation: Presentation,
        places: Mapping[tuple[int, int], str],
    ) -> tuple[tuple[int, int], str, str] | None:
        """Find an answer cell that no longer stands beside its own label, or under merged cells.

        Returns
        -------
        tuple or None
            Where, what stands beside it, and what was printed there. Labels of another
            version of the program are no sign of it as long as all others stand right.
        """
        labels = _labels(self.sheet, presentation)
        everyone = set(labels.values())
        seen: list[tuple[tuple[int, int], str, str]] = []
        torn = False
        for place, key in places.items():
            if key not in labels:
                continue
            own, beside = labels[key], _beside(self.sheet, key, place)
            text = " ".join(self.book.cell(page, *beside).text.split())
            covered = _covered(page, place)
            if covered or (text != own and text.zfill(len(own)) != own):
                seen.append((place, text, own))
                torn = torn or covered or not text or text in everyone
        return seen[0] if torn else None

    def _answer(
        self,
        question: Question,
        attribute: str,
        cell: Written,
        presentation: Presentation,
        place: str,
    ) -> None:
        codes, language = presentation.codes, self.sheet.language
        try:
            value = understand(question, cell, language, codes)
        except Unclear as unclear:
            wanted = expected(question, language, codes)
            told = {"attribute": attribute, "found": cell.text, "expected": wanted}
            self._fault(unclear.kind, place, presentation, **told)
        else:
            self._take(attribute, value, presentation, place, written=cell.text)

    def _left_empty(
        self,
        question: Question,
        attribute: str,
        presentation: Presentation,
        place: str,
        *,
        there: bool,
    ) -> None:
        """Read an empty place as the sheet says, or tell that an answer is missing."""
        if question.kind in GROUPS and there:
            self._take(attribute, 0.0, presentation, place, written="")
        elif question.kind is not Kind.WORDS and presentation.counted:
            wanted = expected(question, self.sheet.language, presentation.codes)
            self._fault("missing", place, presentation, attribute=attribute, expected=wanted)

    def _outside(
        self,
        page: Worksheet,
        places: Mapping[tuple[int, int], str],
        presentation: Presentation | None = None,
    ) -> dict[tuple[int, int], str]:
        """Tell what was written or noted where the form has no place for it.

        Returns
        -------
        dict
            The notes on cells in which a cup is judged: remarks beside those answers.
        """
        remarks: dict[tuple[int, int], str] = {}
        judged = presentation is not None and not of_a_set(presentation)
        hidden = {column_index(letter) for letter in (*KEYS.values(), MARK[0])}
        for place, cell in sorted(existing(page).items()):
            at = _place(page, place)
            noted = getattr(cell, "comment", None)
            if noted is not None and judged and places.get(place, CODE) != CODE:
                remarks[place] = str(noted.text)
            elif noted is not None:
                self._fault("outside", at, found=str(noted.text))
            if cell.value is None or place in places or place[1] in hidden:
                continue
            written = self.book.cell(page, *place)
            if not written.blank and not self._is_form(written):
                self._fault("outside", at, found=written.text)
        return remarks

    def _set_aside(self, page: Worksheet, remarks: Mapping[tuple[int, int], str]) -> None:
        """Tell remarks of a worksheet that is not taken."""
        for spot, text in remarks.items():
            self._fault("outside", _place(page, spot), found=text)

    def _is_form(self, cell: Written) -> bool:
        """Tell whether a cell holds what the form itself says, which is always text."""
        return isinstance(cell.value, str) and " ".join(cell.text.split()) in self.texts

    def _empty_once(self) -> list[Fault]:
        """Tell a sheet without any answer once, not once a cup."""
        counted = [each for each in self.sheet.presentations if each.counted]
        empty = [fault for fault in self.faults if fault.kind == "empty_cup"]
        if not counted or len(empty) < len(counted):
            return self.faults
        whole = Fault(
            kind="empty_sheet",
            file=self.file,
            assessor=self.sheet.assessor,
            expected=str(self.sheet.cells),
        )
        return [whole, *(fault for fault in self.faults if fault.kind != "empty_cup")]

    def _take(
        self,
        attribute: str,
        value: float | str,
        presentation: Presentation,
        place: str,
        *,
        written: str,
    ) -> None:
        code = presentation.name
        self.take(attribute, value, sheet=self.sheet, code=code, place=place, written=written)

    def _fault(
        self, kind: str, place: str = "", presentation: Presentation | None = None, **told: str
    ) -> None:
        code = presentation.name if presentation else ""
        self.tell(kind, place, assessor=self.sheet.assessor, code=code, **told)


def column_index(letter: str) -> int:
    """Return the number of a column, 1 for A."""
    return ord(letter) - ord("A") + 1


def _keys(page: Worksheet) -> Iterator[tuple[tuple[int, int], str]]:
    """Read the hidden columns: row and column of each answer cell, and what it answers."""
    answers = {column_index(beside): column_index(answer) for answer, beside in KEYS.items()}
    for (row, column), cell in sorted(existing(page).items()):
        if column in answers and isinstance(cell.value, str):
            yield (row, answers[column]), cell.value


def _labels(sheet: Sheet, presentation: Presentation) -> dict[str, str]:
    """Return what is printed beside each answer cell of a presentation, free words apart."""
    labels: dict[str, str] = {}
    for question in sheet.questions(presentation):
        attributes = question.attributes_of(presentation.codes)
        if question.kind in GROUPS:
            texts = [option.label.to(sheet.language) for option in question.options]
        elif question.kind is Kind.RANKING:
            texts = list(presentation.codes)
        elif question.kind is Kind.WORDS:
            continue
        else:
            texts = [question.label.to(sheet.language)]
        squeezed = [" ".join(text.split()) for text in texts]
        labels.update(zip(attributes, squeezed, strict=True))
    return labels


def _beside(sheet: Sheet, key: str, place: tuple[int, int]) -> tuple[int, int]:
    """Return where the label of an answer cell is printed: left of it, or at the row's head."""
    row, column = place
    several = (*GROUPS, Kind.RANKING)
    return (row, column - 1) if sheet.scorecard.owner(key).kind in several else (row, 1)


def _covered(page: Worksheet, place: tuple[int, int]) -> bool:
    """Tell whether a cell lies below merged cells, so that what stands there is not seen."""
    return type(existing(page).get(place)).__name__ == "MergedCell"


def _same_code(cell: Written, presentation: Presentation) -> bool:
    """Tell whether the cell still holds the codes; zeros that a spreadsheet ate are put back."""
    found = re.findall(r"\w+", tidied(cell.text))
    return len(found) == len(presentation.codes) and all(
        text.zfill(len(code)) == code for text, code in zip(found, presentation.codes, strict=True)
    )


def _place(page: Worksheet, place: tuple[int, int]) -> str:
    """Name a cell as spreadsheets do, below the name of its worksheet."""
    from openpyxl.utils import get_column_letter

    return f"{page.title}!{get_column_letter(place[1])}{place[0]}"
