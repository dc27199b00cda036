"""A small session's sheets and a way to fill a workbook as a person would."""

from __future__ import annotations

import warnings
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from copy import copy
from dataclasses import replace
from functools import cache
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory
from types import SimpleNamespace

import pytest
from kikichoko.forms.answers.answer_values import listed
from kikichoko.forms.questions import default_scorecard
from kikichoko.forms.questions.question_types import Kind, Option, Question, Scorecard, Text
from kikichoko.forms.questions.sheet import Presentation, Sheet
from kikichoko.forms.spreadsheets.workbook_page import CODE, KEYS, page_name
from kikichoko.forms.spreadsheets.workbook_writer import write_sheet
from openpyxl.workbook import Workbook

CODES = {"A01": ("427", "518", "690"), "B02": ("133", "264", "385"), "M01": ("427", "518", "690")}


def set_questions() -> tuple[Question, ...]:
    """Ask which of several cups differs, and in what order they stand."""
    label = Text.of({"en": "Odd cup", "ja": "違う杯"})
    order = Text.of({"en": "Order", "ja": "順位"})
    return (
        Question(key="odd", section="overall", kind=Kind.CHOICE, label=label),
        Question(key="order", section="overall", kind=Kind.RANKING, label=order),
    )


def small_card() -> Scorecard:
    """Have each kind of question once or twice."""
    full = default_scorecard()
    keys = ("aroma_intensity", "aroma", "sweetness", "sweetness_balance", "fault", "words")
    grade = Question(
        key="grade",
        section="overall",
        kind=Kind.CATEGORY,
        label=Text.of({"en": "Grade", "ja": "等級"}),
        options=tuple(
            Option(key=key, label=Text.of({"en": key, "ja": ja}), value=value)
            for value, (key, ja) in enumerate((("poor", "可"), ("fair", "良"), ("good", "優")), 1)
        ),
        low=1,
        high=3,
    )
    # Stored workbooks in data/ were made from this card: it must not follow the default one.
    kept = {
        "aroma": ("apple", "pear", "melon", "koji", "caramel"),
        "fault": ("stale", "musty", "vinegar", "paper"),
    }
    chosen = [
        replace(question, options=tuple(o for o in question.options if o.key in kept[question.key]))
        if question.key in kept
        else question
        for question in full
        if question.key in keys
    ]
    return Scorecard((*chosen[:-1], grade, *set_questions(), chosen[-1]))


def make_sheet(assessor: str = "A01", language: str = "en", card: Scorecard | None = None) -> Sheet:
    """Serve a warm-up, three cups and a set of three."""
    card = card or small_card()
    single = tuple(key for key in card.keys if key not in ("odd", "order"))
    cups = [
        Presentation(number=0, flight=0, codes=("099",), asked=("sweetness",), counted=False),
        *(
            Presentation(number=at, flight=1, codes=(code,), asked=single)
            for at, code in enumerate(CODES[assessor], 1)
        ),
    ]
    if "odd" in card:
        codes = ("711", "082", "903")
        asked = ("odd", "order")
        cups.append(Presentation(number=4, flight=2, codes=codes, asked=asked, rest_before=10))
    return Sheet(
        session="spring-1",
        title="One tank, three bottlings",
        assessor=assessor,
        language=language,
        date="2026-04-11",
        presentations=tuple(cups),
        scorecard=card,
        notes=("note_opaque",),
    )


@pytest.fixture(scope="session")
def sheets() -> dict[str, Sheet]:
    return {"A01": make_sheet("A01"), "B02": make_sheet("B02", "ja"), "M01": make_sheet("M01")}


@cache
def _blank(sheet: Sheet) -> bytes:
    with TemporaryDirectory() as folder:
        write_sheet(sheet, Path(folder) / "sheet.xlsx")
        return (Path(folder) / "sheet.xlsx").read_bytes()


def fill(path: Path, sheet: Sheet, answers: Mapping[tuple[str, str], object]) -> None:
    """Open a workbook, type answers where a person would, and save it.

    A number of a tick, a category or a balance is typed as its sign or words;
    everything else, and everything in a one-element list, just as it is.
    """
    book = _opened(path.read_bytes())
    with _typed_into(book, sheet, answers):
        book.save(path)


def _opened(content: bytes) -> Workbook:
    from openpyxl import load_workbook

    with warnings.catch_warnings():
        warnings.simplefilter("error")
        return load_workbook(BytesIO(content))


@cache
def _blank_book(sheet: Sheet) -> Workbook:
    """Open an empty sheet once for all tests that fill it in."""
    return _opened(_blank(sheet))


@contextmanager
def _typed_into(
    book: Workbook, sheet: Sheet, answers: Mapping[tuple[str, str], object]
) -> Iterator[None]:
    """Have answers stand where a person would type them; afterwards all is as it was."""
    before = []
    for presentation in sheet.presentations:
        if not any(code == presentation.name for code, _ in answers):
            continue
        page = book[page_name(presentation)]
        cells = {
            str(page[f"{beside}{row}"].value): page[f"{answer}{row}"]
            for row in range(2, page.max_row + 1)
            for answer, beside in KEYS.items()
        }
        for (code, attribute), value in answers.items():
            if code == presentation.name:
                question = None if attribute == CODE else sheet.scorecard.owner(attribute)
                typed = value[0] if isinstance(value, list) else _typed(question, value, sheet)
                cell = cells[attribute]
                before.append((cell, cell.value, copy(cell._style)))
                cell.value = typed
    yield
    for cell, value, look in reversed(before):
        cell.value, cell._style = value, look


def _typed(question: Question | None, value: object, sheet: Sheet) -> object:
    if question is None:
        return value
    if question.kind is Kind.TICKS:
        return listed("value.ticks", sheet.language)[0] if value else None
    for option in question.options:
        if question.kind in (Kind.CATEGORY, Kind.BALANCE) and option.value == value:
            return option.label.to(sheet.language)
    return value


@pytest.fixture
def filled(tmp_path: Path) -> Callable[..., Path]:
    """Write a sheet, fill it, return its path."""

    def make(
        sheet: Sheet, answers: Mapping[tuple[str, str], object], name: str = "sheet.xlsx"
    ) -> Path:
        path = tmp_path / name
        book = _blank_book(sheet)
        with _typed_into(book, sheet, answers):
            book.save(path)
        return path

    return make


def whole(sheet: Sheet) -> dict[tuple[str, str], object]:
    """Answer everything on a sheet, different values everywhere."""
    answers: dict[tuple[str, str], object] = {}
    for presentation in sheet.presentations:
        for question in sheet.questions(presentation):
            for at, attribute in enumerate(question.attributes_of(presentation.codes)):
                turn = presentation.number + at
                match question.kind:
                    case Kind.LINE:
                        value: object = 0.5 * turn + 1
                    case Kind.CATEGORY | Kind.BALANCE:
                        value = question.options[turn % len(question.options)].value
                    case Kind.TICKS:
                        value = float(turn % 3 == 0)
                    case Kind.FAULTS:
                        value = float(turn % 4)
                    case Kind.CHOICE:
                        value = presentation.codes[1]
                    case Kind.RANKING:
                        value = float(at + 1)
                    case _:
                        value = f"pear skin {turn}; 梨"
                answers[presentation.name, attribute] = value
    return answers


@pytest.fixture(scope="session")
def person() -> SimpleNamespace:
    """What a person at the table does: gets a sheet, thinks of answers, fills it."""
    return SimpleNamespace(sheet=make_sheet, answers=whole, fill=fill, blank=_blank)
