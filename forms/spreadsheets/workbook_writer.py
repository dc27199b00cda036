"""A score sheet as a workbook: how to go about it, then one worksheet a presentation.

Answer cells are open and ruled, everything else is locked. A worksheet that
spreadsheets do not show (`HIDDEN`) holds whose sheet it is; beside each answer
cell, in a hidden column, stands what it answers. Neither knows more than codes.
The same sheet always gives the same bytes.
"""

from __future__ import annotations

import io
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING

from ..answers.answer_values import listed
from ..questions.question_types import Kind
from ..questions.set_questions import how_to
from ..questions.sheet import Presentation, Sheet
from ..questions.words import say, topic
from .workbook_page import MARK, WorksheetPage, page_name, sheet_line
from .workbook_style import LINE, WIDTH, Dress, Look, lay_out, lines, lock

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

HIDDEN = "kikichoko"
FORMAT = "1"
START = "start"
_TEXTS, _LISTS = 3, 5  # columns of the hidden worksheet: what the form says, and its lists
_WHEN = (1980, 1, 1, 0, 0, 0)
_CORE = (
    '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
    '<cp:coreProperties xmlns:cp="http://schemas.openxmlformats.org/package/2006/metadata/'
    'core-properties" xmlns:dcterms="http://purl.org/dc/terms/" '
    'xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">'
    '<dcterms:created xsi:type="dcterms:W3CDTF">2000-01-01T00:00:00Z</dcterms:created>'
    '<dcterms:modified xsi:type="dcterms:W3CDTF">2000-01-01T00:00:00Z</dcterms:modified>'
    "</cp:coreProperties>"
)
_APP = (
    '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
    '<Properties xmlns="http://schemas.openxmlformats.org/officeDocument/2006/'
    'extended-properties"><Application>kikichoko</Application></Properties>'
)


def write_sheet(sheet: Sheet, path: Path | str) -> None:
    """Write one assessor's score sheet as a workbook.

    Parameters
    ----------
    sheet : Sheet
    path : Path or str
        Where to write it; the suffix ``.xlsx`` is expected.

    Notes
    -----
    Reading is `kikichoko.forms.spreadsheets.workbook_reader.read_workbook`. The bytes depend on
    `sheet` alone: no clock, no user's or machine's name.
    """
    from openpyxl import Workbook
    from openpyxl.workbook.protection import WorkbookProtection

    book = Workbook()
    first = book.active
    if first is None:  # a new workbook has one worksheet
        raise RuntimeError
    first.title = say("workbook.start", sheet.language)
    look = Look(sheet.language)
    _start(sheet, first, look)
    lists = _lists(sheet)
    for presentation in sheet.presentations:
        page = book.create_sheet(page_name(presentation))
        WorksheetPage(sheet, presentation, page, lists, look).write()
    _hidden(sheet, book, lists)
    book.security = WorkbookProtection(lockStructure=True)
    book.active = 0
    Path(path).write_bytes(_same_bytes(book))


def _start(sheet: Sheet, worksheet: Worksheet, look: Look) -> None:
    """Write the first worksheet: cautions, how to go about it, the cups in order."""
    language = sheet.language
    worksheet[MARK] = START
    row = 1

    def write(text: str, size: float = 10, *, bold: bool = False, band: bool = False) -> None:
        nonlocal row
        dress = Dress(size=size, bold=bold, band=band)
        look.put(worksheet, f"A{row}", text, dress, to=f"F{row}")
        height = lines(text, sum(WIDTH.values()), size) * LINE * max(size / 10, 1) + 3
        worksheet.row_dimensions[row].height = round(height, 1)
        row += 1

    def band(text: str) -> None:
        nonlocal row
        worksheet.row_dimensions[row].height = 9
        row += 1
        write(text, 11, bold=True, band=True)

    write(sheet.title, 16, bold=True)
    parts = [f"{say('sheet.assessor', language)} {sheet.assessor}", sheet.date, sheet.session]
    write("  ·  ".join(parts), 11)
    if sheet.spare:
        write(say("sheet.spare", language), bold=True)
    band(say("sheet.caution_title", language))
    for name in topic("en", "sheet"):
        if name.startswith("caution_") and name != "caution_title":
            write(say(f"sheet.{name}", language))
    band(say("sheet.how_title", language))
    for number, key in enumerate(how_to(sheet), start=1):
        write(f"{number}.  {say(key, language)}")
    for note in sheet.notes:
        write(say(note if "." in note else f"sheet.{note}", language))
    band(say("workbook.fill_title", language))
    tick = listed("value.ticks", language)[0]
    for name in topic("en", "workbook"):
        if name.startswith("fill_") and name != "fill_title":
            write(say(f"workbook.{name}", language, tick=tick))
    band(say("workbook.order_title", language))
    _order(sheet, worksheet, look, row)
    mark = say("workbook.mark", language, fingerprint=sheet.fingerprint)
    left = "  ·  ".join((*sheet_line(sheet), mark))
    lay_out(worksheet, footer=(left, "&P / &N"), hidden="GHIJK")
    lock(worksheet, only_answers=False)


def _order(sheet: Sheet, worksheet: Worksheet, look: Look, row: int) -> None:
    """List the cups in serving order; the code leads to its worksheet."""
    from openpyxl.worksheet.hyperlink import Hyperlink

    language = sheet.language
    heads = {"A": "number", "C": "code", "D": "flight", "E": "rest"}
    for letter, key in heads.items():
        dress = Dress(size=9, soft=True, across="center")
        named = "bottle" if key == "code" and sheet.named else key
        look.put(worksheet, f"{letter}{row}", say(f"workbook.{named}", language), dress)
    counted = 0
    for presentation in sheet.presentations:
        row += 1
        counted += presentation.counted and not presentation.beneath
        rest = presentation.rest_before
        cells = {
            "A": _number(presentation, counted, language),
            "B": "",
            "C": "  ·  ".join(presentation.codes),
            "D": _flight(sheet, presentation) if presentation.counted else "",
            "E": say("workbook.rest_minutes", language, minutes=rest) if rest else "",
            "F": "",
        }
        for letter, text in cells.items():
            code = letter == "C"
            dress = Dress(size=12 if code else 10, bold=code, across="center", edge="below")
            look.put(worksheet, f"{letter}{row}", text, dress)
        target = f"'{page_name(presentation)}'!A1"
        worksheet[f"C{row}"].hyperlink = Hyperlink(ref=f"C{row}", location=target)
        worksheet.row_dimensions[row].height = LINE * 1.3


def _number(presentation: Presentation, counted: int, language: str) -> str:
    if presentation.beneath:
        return say("sheet.beneath", language)
    return str(counted) if presentation.counted else say("workbook.warm_up", language)


def _flight(sheet: Sheet, presentation: Presentation) -> str:
    return sheet.flight_name(presentation) if sheet.named else str(presentation.flight)


def _lists(sheet: Sheet) -> dict[tuple[str, ...], str]:
    """Name the source of each list to choose from.

    Short lists of signs and codes stand in the rule itself; words stand in the
    hidden worksheet, since they may hold commas and be long.
    """
    plain = [listed("value.ticks", sheet.language), ("0", "1", "2", "3")]
    plain += [
        question.cups(presentation.codes)
        for presentation in sheet.presentations
        for question in sheet.questions(presentation)
        if question.kind is Kind.CHOICE
    ]
    sources = {options: '"' + ",".join(options) + '"' for options in plain}
    place = 0
    for question in sheet.scorecard:
        if question.kind not in (Kind.CATEGORY, Kind.BALANCE):
            continue
        options = tuple(option.label.to(sheet.language) for option in question.options)
        if options not in sources:
            letter = _letter(_LISTS + place)
            sources[options] = f"{HIDDEN}!${letter}$1:${letter}${len(options)}"
            place += 1
    return sources


def _letter(column: int) -> str:
    from openpyxl.utils import get_column_letter

    return get_column_letter(column)


def _hidden(sheet: Sheet, book: Workbook, lists: dict[tuple[str, ...], str]) -> None:
    """Write whose sheet it is, all that the form says, and the lists."""
    texts = dict.fromkeys(
        cell.value
        for page in book.worksheets
        for row in page.iter_rows(max_col=len(WIDTH))
        for cell in row
        if isinstance(cell.value, str)
    )
    hidden = book.create_sheet(HIDDEN)
    hidden.sheet_state = "veryHidden"
    identity = (
        (HIDDEN, FORMAT),
        ("session", sheet.session),
        ("assessor", sheet.assessor),
        ("fingerprint", sheet.fingerprint),
        *((("plan", str(sheet.plan)),) if sheet.plan else ()),
    )
    for row, pair in enumerate(identity, start=1):
        for column, text in enumerate(pair, start=1):
            hidden.cell(row, column, text)
    for row, text in enumerate(texts, start=1):
        _plainly(hidden, row, _TEXTS, text)
    listed_here = [options for options, source in lists.items() if source.startswith(HIDDEN)]
    for column, options in enumerate(listed_here, start=_LISTS):
        for row, text in enumerate(options, start=1):
            _plainly(hidden, row, column, text)
    hidden.protection.sheet = True


def _plainly(worksheet: Worksheet, row: int, column: int, text: str) -> None:
    cell = worksheet.cell(row, column, text)
    if cell.data_type == "f":
        cell.data_type = "s"


def _same_bytes(book: Workbook) -> bytes:
    """Save a workbook without clock and without names of persons and programs."""
    from openpyxl.writer.excel import ExcelWriter

    saved, settled = io.BytesIO(), io.BytesIO()
    ExcelWriter(book, zipfile.ZipFile(saved, "w")).save()  # pressed once, below
    with zipfile.ZipFile(saved) as parts, zipfile.ZipFile(settled, "w") as out:
        for name in parts.namelist():
            content = {"docProps/core.xml": _CORE.encode(), "docProps/app.xml": _APP.encode()}
            entry = zipfile.ZipInfo(name, _WHEN)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o644 << 16
            out.writestr(entry, content.get(name, parts.read(name)))
    return settled.getvalue()
