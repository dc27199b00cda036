"""Reading photographed and scanned score sheets.

`read_photos` finds each page, names it, straightens it, measures its marks and
applies the rules. What the rules do not settle comes back as `Uncertain` with
a picture of the place; free words come back as pictures. Needs the extra
``kikichoko[photo]``; nothing leaves the machine.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import product
from pathlib import Path

import numpy as np
import pypdfium2

from ..answers.answer import Answer, Fault, thrown_by
from ..answers.answer_values import expected
from ..answers.uncertain_marks import Choice, PhotoReading, Uncertain
from ..paper.looks import PRINTINGS
from ..paper.page_parts import SIZES, Page
from ..paper.pages import identity, lay_out
from ..paper.sheet_pdf import sheets_pdf
from ..questions.question_types import Kind
from ..questions.sheet import Presentation, Sheet, printed_as, versions
from ..questions.words import say
from .crops import crop
from .find_sheets import PX, FoundSheet, UnnamedSheet, find
from .mark_ink import Ink, measure
from .mark_rules import TOO_BENT, Verdict, judge
from .notes_beside import NOTED
from .page_code import Identity
from .picture_files import Plane, Unreadable, pictures
from .straighten import Flat, flatten

TOLERANCE = 1.5  # millimetres within which two photos of a line agree
_WRITTEN = 0.004  # share of a frame for words from which it is not empty


_Key = tuple[str, str, int]
"""Assessor, fingerprint of the sheet, page."""


@dataclass(frozen=True, slots=True)
class ReadPage:
    """One page that was read: whose it is, where it lies, and what was seen on it."""

    sheet: Sheet
    page: Page
    file: str
    flat: Flat
    ink: Ink
    verdicts: tuple[Verdict, ...]
    damaged: bool = False

    @property
    def quality(self) -> float:
        """How well it can be seen, to choose between two pictures of one page."""
        return 0.0 if self.damaged else self.flat.sharpness * self.flat.likeness

    @property
    def place(self) -> str:
        """Its place among the sheet's pages, in words."""
        return say("paper.place", page=self.page.number)


def read_photos(
    paths: Iterable[Path | str],
    sheets: Mapping[str, Sheet] | Sequence[Sheet],
    *,
    tick: Callable[[], None] = lambda: None,
    named: Callable[[Path], Mapping[int, Identity]] = lambda _: {},
) -> PhotoReading:
    """Read pictures of filled sheets.

    Parameters
    ----------
    paths : iterable of path
        JPEG, PNG, TIFF, HEIC, WebP or PDF files, a page or several in each.
    sheets : mapping of str to Sheet, or sequence of Sheet
        All sheets of the session.
    tick : callable
        Called after each file.
    named : callable
        Gives what a person said of a file's pictures whose code cannot be read: which page it
        is, by the number of the picture.

    Returns
    -------
    PhotoReading
        Answers with a confidence, faults in words per file, and what a person
        has to decide.
    """
    known = sheets if isinstance(sheets, Mapping) else {one.assessor: one for one in sheets}
    faults: list[Fault] = []
    pages: dict[_Key, ReadPage] = {}
    twice: dict[_Key, ReadPage] = {}
    covers: set[str] = set()
    for path in map(Path, paths):
        for read in pages_in(path, known, faults, covers, named(path)):
            key = _key(read)
            if key in pages:
                better, other = sorted((pages[key], read), key=lambda r: r.quality, reverse=True)
                faults.append(
                    _fault("photo_twice", other, expected=f"{better.file}, {better.place}")
                )
                pages[key], twice[key] = better, other
            else:
                pages[key] = read
        tick()
    return _gather(pages, twice, faults)


def _gather(
    pages: Mapping[_Key, ReadPage], twice: Mapping[_Key, ReadPage], faults: list[Fault]
) -> PhotoReading:
    """Turn what was read on pages, some of them `twice`, into answers, faults and questions."""
    gathered = _Gathered(faults)
    cups: dict[tuple[str, Presentation], list[ReadPage]] = {}
    for read in pages.values():
        if read.ink.noted >= NOTED and read.flat.bend <= TOO_BENT:
            faults.append(_fault("photo_note", read))
        for cup in read.page.presentations:
            cups.setdefault((read.sheet.assessor, cup), []).append(read)
    for (_, cup), sides in cups.items():
        gathered.cup(cup, sides, [twice.get(_key(r)) for r in sides])
    gathered.missing_pages(pages)
    return PhotoReading(tuple(gathered.answers), tuple(gathered.faults), tuple(gathered.uncertain))


def _key(read: ReadPage) -> _Key:
    return (read.sheet.assessor, read.sheet.fingerprint, read.page.number)


def read_photo(path: Path, sheets: Mapping[str, Sheet]) -> PhotoReading:
    """Read one file, without asking for the pages that are not in it; see `read_photos`."""
    return _without_missing(read_photos([path], sheets))


def read_named(
    path: Path, number: int, identity: Identity, sheets: Mapping[str, Sheet], name: str
) -> PhotoReading:
    """Read one picture of a file, which bears `name`, as the page that a person says it is."""
    faults: list[Fault] = []
    found = pages_in(path, sheets, faults, set(), {number: identity}, only=number, name=name)
    return _without_missing(_gather({_key(read): read for read in found}, {}, faults))


def _without_missing(reading: PhotoReading) -> PhotoReading:
    faults = tuple(fault for fault in reading.faults if fault.kind != "photo_page_missing")
    return PhotoReading(reading.answers, faults, reading.uncertain)


def place_of(number: int) -> str:
    """Return what a picture of a file is called; the first one needs no name."""
    return say("paper.picture", number=number) if number > 1 else ""


def pages_in(
    path: Path,
    sheets: Mapping[str, Sheet],
    faults: list[Fault],
    covers: set[str],
    named: Mapping[int, Identity] | None = None,
    *,
    only: int = 0,
    name: str = "",
) -> Iterable[ReadPage]:
    """Read all pages of one file; what is wrong with one is told and the others go on.

    `named` says which pages its pictures show whose code cannot be read, by their number,
    `only` which picture is read, 0 for all, and `name` what the file is called if not as here.
    """
    number = 0
    named = named or {}
    name = name or path.name
    try:
        for number, (picture, damage) in enumerate(pictures(path), start=1):
            if only not in (0, number):
                continue
            place = place_of(number)
            told = {"kind": "photo_damaged", "file": name, "place": place}
            if damage:
                faults.append(Fault(found=damage, **told))
            try:
                for seen in find(picture, lambda: _codes(_all_sheets(sheets))):
                    found: FoundSheet | UnnamedSheet | Unreadable = seen
                    if isinstance(seen, UnnamedSheet) and number in named:
                        found = seen.named(named[number])
                    read = _page(found, sheets, (name, place), faults, covers)
                    if read is not None and read.flat.torn and not damage:
                        faults.append(Fault(found=say("paper.torn"), **told))
                    if read is not None:
                        yield _doubted(read) if damage or read.flat.torn else read
            except Exception as thrown:  # noqa: BLE001 - this page's fault; the others go on
                faults.append(replace(thrown_by(name, thrown), place=place))
    except Unreadable as trouble:
        faults.append(Fault(kind=trouble.kind, file=name, found=trouble.found))
    except Exception as thrown:  # noqa: BLE001 - whatever a reader throws is this file's fault
        faults.append(thrown_by(name, thrown))


def _page(
    found: FoundSheet | UnnamedSheet | Unreadable,
    sheets: Mapping[str, Sheet],
    where: tuple[str, str],
    faults: list[Fault],
    covers: set[str],
) -> ReadPage | None:
    """Read one page that was found; what is wrong with it is told."""
    file, place = where
    try:
        if isinstance(found, UnnamedSheet):
            faults.append(Fault(kind="photo_no_code", file=file, place=place))
            return None
        if isinstance(found, Unreadable):
            raise found
        sheet, page = _named(found.identity, sheets, file, place)
        if page.presentation is not None:
            return _read(found, sheet, page, file)
        covers.add(sheet.assessor)
    except Unreadable as trouble:
        faults.append(Fault(kind=trouble.kind, file=file, place=place, found=trouble.found))
    except _Foreign as trouble:
        faults.append(trouble.fault)
    return None


def _all_sheets(sheets: Mapping[str, Sheet]) -> tuple[Sheet, ...]:
    return tuple(one for assessor in sheets for one in versions(sheets, assessor))


@lru_cache(maxsize=2)
def _codes(sheets: tuple[Sheet, ...]) -> tuple[str, ...]:
    """Say what the codes of all pages of a session say, on each paper."""
    return tuple(
        identity(sheet, page)
        for sheet in sheets
        for paper, earlier in product(SIZES, PRINTINGS)
        for page in lay_out(sheet, paper, earlier=earlier)
    )


class _Foreign(Exception):
    """A sheet that is not of this session and plan."""

    def __init__(self, fault: Fault) -> None:
        super().__init__(fault.kind)
        self.fault = fault


def _named(
    named: Identity, sheets: Mapping[str, Sheet], file: str, place: str
) -> tuple[Sheet, Page]:
    """Find the sheet and page that a QR code names.

    Raises
    ------
    _Foreign
        With the fault that tells why it is none of ours.
    """
    sessions = sorted({sheet.session for sheet in sheets.values()})
    sheet = printed_as(sheets, named.assessor, named.fingerprint)
    known = versions(sheets, named.assessor)
    told = {"file": file, "place": place, "assessor": named.assessor}
    if named.session not in sessions:
        found, wanted, kind = named.session, ", ".join(sessions), "other_session"
    elif not known:
        found, wanted, kind = named.assessor, ", ".join(sheets), "unknown_assessor"
    elif sheet is None:
        found, wanted, kind = named.fingerprint, known[0].fingerprint, "other_plan"
    else:
        for earlier in PRINTINGS:
            pages = lay_out(sheet, named.paper, earlier=earlier)
            if named.page <= len(pages) and pages[named.page - 1].check == named.check:
                return sheet, pages[named.page - 1]
        found, wanted, kind = named.check, "", "photo_other_print"
    raise _Foreign(Fault(kind=kind, found=found, expected=wanted, **told))


def _read(found: FoundSheet, sheet: Sheet, page: Page, file: str) -> ReadPage:
    printed = blank_page(sheet, page.paper, page.number, earlier=page.earlier)
    flat = flatten(found, page, printed)
    ink = measure(flat, page, printed)
    return ReadPage(sheet, page, file, flat, ink, tuple(judge(ink, flat)))


def _doubted(read: ReadPage) -> ReadPage:
    """Leave it to a person whether the marks of a damaged picture are what they seem."""
    verdicts = tuple(
        one
        if one.reason
        else replace(
            one,
            value=None,
            reason="damaged",
            candidates=one.candidates if one.value is None else (one.value,),
        )
        for one in read.verdicts
    )
    return replace(read, verdicts=verdicts, damaged=True)


@lru_cache(maxsize=4)
def _document(sheet: Sheet, paper: str, *, earlier: int) -> bytes:
    return sheets_pdf([sheet], paper, earlier=earlier)


@lru_cache(maxsize=40)
def blank_page(sheet: Sheet, paper: str, number: int, *, earlier: int) -> Plane:
    """Return how dark each pixel of the blank page is, 1 for black."""
    with pypdfium2.PdfDocument(_document(sheet, paper, earlier=earlier)) as document:
        bitmap = document[number - 1].render(scale=PX * 25.4 / 72, grayscale=True)
        grey: Plane = bitmap.to_numpy().astype(np.float32)
    printed: Plane = 1 - grey / np.float32(255)
    return printed


def _fault(
    kind: str,
    read: ReadPage,
    *,
    cup: Presentation | None = None,
    attribute: str = "",
    found: str = "",
    expected: str = "",
) -> Fault:
    if cup is None and len(read.page.presentations) == 1:
        cup = read.page.presentation
    return Fault(
        kind=kind,
        file=read.file,
        place=read.place,
        assessor=read.sheet.assessor,
        code=cup.name if cup else "",
        attribute=attribute,
        found=found,
        expected=expected,
    )


class _Gathered:
    """Turns verdicts into answers, faults and questions to a person."""

    def __init__(self, faults: list[Fault]) -> None:
        self.faults = faults
        self.answers: list[Answer] = []
        self.uncertain: list[Uncertain] = []

    def cup(
        self, cup: Presentation, sides: Sequence[ReadPage], again: Sequence[ReadPage | None]
    ) -> None:
        """Take all sides of one presentation in."""
        verdicts = [(read, one) for read in sides for one in read.verdicts if one.code == cup.name]
        answered = any(
            one.reason or (one.value is not None and not _is_blank(read, one))
            for read, one in verdicts
        )
        if not answered and cup.counted:
            asked = sum(
                len(question.attributes_of(cup.codes))
                for question in sides[0].sheet.questions(cup)
                if question.kind is not Kind.WORDS
            )
            self.faults.append(_fault("empty_cup", sides[0], cup=cup, expected=str(asked)))
        others = {
            one.attribute: (read, one)
            for read in again
            if read is not None
            for one in read.verdicts
            if one.code == cup.name
        }
        for read, one in verdicts:
            if one.reason:
                self._ask(read, one)
            elif answered:
                self._take(read, one, cup, others.get(one.attribute))
        for read in sides:
            self._words(read, cup)

    def _take(
        self,
        read: ReadPage,
        one: Verdict,
        cup: Presentation,
        again: tuple[ReadPage, Verdict] | None,
    ) -> None:
        question = read.sheet.scorecard.owner(one.attribute)
        value = one.value
        if value is None and question.kind is Kind.FAULTS:
            value = 0.0
        if again is not None and not again[1].reason and not _agree(read, one, again[1]):
            other, seen = again
            found = f"{_told(one)} ({read.file}); {_told(seen)} ({other.file})"
            told = {"attribute": one.attribute, "found": found}
            self.faults.append(_fault("two_answers", read, cup=cup, **told))
            return
        if value is None:
            if cup.counted:
                wanted = expected(question, read.sheet.language, cup.codes)
                self.faults.append(
                    _fault("missing", read, cup=cup, attribute=one.attribute, expected=wanted)
                )
            return
        self.answers.append(
            Answer(
                session=read.sheet.session,
                assessor=read.sheet.assessor,
                code=one.code,
                attribute=one.attribute,
                value=value,
                file=read.file,
                place=read.place,
                written=one.written,
                confidence=round(one.confidence, 3),
            )
        )

    def _ask(self, read: ReadPage, one: Verdict) -> None:
        self.uncertain.append(asked(read, one, read.file))

    def _words(self, read: ReadPage, cup: Presentation) -> None:
        for frame, share in read.ink.fields:
            if share >= _WRITTEN and frame.code == cup.name:
                self._ask(read, Verdict(code=frame.code, attribute=frame.attribute, reason="words"))

    def missing_pages(self, pages: Mapping[_Key, ReadPage]) -> None:
        """Tell which pages of a sheet did not come with the others."""
        for assessor, mark in dict.fromkeys((who, mark) for who, mark, _ in pages):
            mine = {
                number: read
                for (*whose, number), read in pages.items()
                if whose == [assessor, mark]
            }
            some = next(iter(mine.values()))
            for page in lay_out(some.sheet, some.page.paper, earlier=some.page.earlier):
                if page.number in mine:
                    continue
                self.faults += [
                    Fault(
                        kind="photo_page_missing",
                        file=some.file,
                        place=say("paper.place", page=page.number),
                        assessor=assessor,
                        code=cup.name,
                        attribute=_first_attribute(page, cup),
                        expected=str(page.number),
                    )
                    for cup in page.presentations
                    if cup.counted
                ]


def asked(read: ReadPage, one: Verdict, file: str) -> Uncertain:
    """Put what a verdict leaves open to a person, with the picture of its place."""
    question = read.sheet.scorecard.owner(one.attribute)
    ends = (question.low, question.high) if question.kind is Kind.LINE else (0.0, 0.0)
    return Uncertain(
        session=read.sheet.session,
        assessor=read.sheet.assessor,
        code=one.code,
        attribute=one.attribute,
        file=file,
        place=read.place,
        reason=one.reason,
        picture=crop(read.flat, read.page, one),
        choices=() if one.reason == "words" else choices(read, one),
        low=ends[0],
        high=ends[1],
    )


def _first_attribute(page: Page, cup: Presentation) -> str:
    """Return what tells that a cup came after all: the first thing asked of it on a page."""
    asked = [(mark.code, mark.attribute) for mark in page.scales]
    asked += [(mark.code, mark.attribute) for mark in page.boxes]
    return next((attribute for code, attribute in asked if code == cup.name), "")


def _is_blank(read: ReadPage, one: Verdict) -> bool:
    """Tell whether an answer is only an empty square."""
    return read.sheet.scorecard.owner(one.attribute).kind is Kind.TICKS and one.value == 0


def _told(one: Verdict) -> str:
    return one.written or "–"


def _agree(read: ReadPage, one: Verdict, other: Verdict) -> bool:
    if isinstance(one.value, float) and isinstance(other.value, float):
        question = read.sheet.scorecard.owner(one.attribute)
        if question.kind is Kind.LINE:
            long = next(s.length for s in read.page.scales if s.attribute == one.attribute)
            allowed = TOLERANCE * (question.high - question.low) / long
            return abs(one.value - other.value) <= allowed
    return one.value == other.value


def choices(read: ReadPage, one: Verdict) -> tuple[Choice, ...]:
    """List what an uncertain mark can be, in the order it is printed; last, nothing."""
    sheet = read.sheet
    language = sheet.language
    question = sheet.scorecard.owner(one.attribute)
    nothing: float | None = 0.0 if question.kind is Kind.FAULTS else None
    made = []
    match question.kind:
        case Kind.LINE:
            made = [
                Choice(say("paper.choice_line", language, value=f"{value:g}"), value)
                for value in sorted(set(one.candidates), key=float)
            ]
        case Kind.TICKS:
            return (
                Choice(say("paper.choice_ticked", language), 1.0),
                Choice(say("paper.choice_not_ticked", language), 0.0),
            )
        case Kind.CATEGORY | Kind.BALANCE:
            made = [Choice(o.label.to(language), o.value) for o in question.options]
        case _:
            values = [
                box.value
                for box in read.page.boxes
                if (box.code, box.attribute) == (one.code, one.attribute)
            ]
            said = [v if isinstance(v, str) else f"{v:g}" for v in values]
            labels = [say("paper.choice_circle", language, value=text) for text in said]
            made = [Choice(label, v) for label, v in zip(labels, values, strict=True)]
    return (*made, Choice(say("paper.choice_nothing", language), nothing))
