"""Reading whatever came back: score sheets, typed tables, pictures of paper."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from importlib import import_module
from pathlib import Path

from .answers.answer import Fault, Reading, thrown_by
from .answers.settling import settle
from .answers.uncertain_marks import PhotoReading, Uncertain
from .questions.sheet import Sheet
from .questions.words import say

_PICTURES = (".jpg", ".jpeg", ".png", ".heic", ".heif", ".tif", ".tiff", ".webp", ".pdf")
_BY_NAME = {
    **dict.fromkeys((".csv", ".tsv", ".txt"), "text"),
    **dict.fromkeys((".xlsx", ".xlsm", ".ods"), "book"),
    **dict.fromkeys(_PICTURES, "picture"),
}
# How the content of a file begins, for files whose name says something else.
_SIGNS = {b"PK\x03\x04": "book", b"\xd0\xcf\x11\xe0": "book", b"%PDF": "picture",
          b"\xff\xd8\xff": "picture", b"\x89PNG": "picture"}  # fmt: skip


def read_files(
    paths: Iterable[Path | str],
    sheets: Mapping[str, Sheet],
    tick: Callable[[], None] = lambda: None,
) -> Reading:
    """Read all files of one call; what is wrong with one does not stop the others.

    Parameters
    ----------
    paths : iterable of Path or str
        Filled score sheets (``.xlsx``), typed tables (``.csv``, ``.tsv``,
        ``.xlsx``, ``.ods``), photographs and scans (``.jpg``, ``.png``, ``.heic``, ``.pdf``).
        The content decides where a name is wrong.
    sheets : mapping of str to Sheet
        The sheets of the session by assessor's code.
    tick : callable
        Called after each file, for those who show how far it is.

    Returns
    -------
    Reading
        One answer a cell at most: `kikichoko.forms.answers.settling.settle` says how
        several answers for one cell are treated. Pictures are read together,
        since the pages of one sheet may be spread over several of them; marks
        that need a person are faults, and come with their pictures in a
        `PhotoReading`.
    """
    readings, pictures = [], []
    for path in map(Path, paths):
        if _kind(path) == "picture":
            pictures.append(path)
            continue
        readings.append(read_file(path, sheets))
        tick()
    if pictures:
        readings.append(_read_pictures(pictures, sheets))
        for _ in pictures:
            tick()
    whole = settle(readings, sheets)
    open_marks = PhotoReading.gather(readings).uncertain
    return PhotoReading(whole.answers, whole.faults, open_marks) if open_marks else whole


def read_file(path: Path, sheets: Mapping[str, Sheet]) -> Reading:
    """Read one file, by its content first and its name second."""
    from .answers.cells import Book
    from .answers.workbook_bounds import Unopened

    kind = _kind(path)
    try:
        if kind == "book":
            from .spreadsheets.table_reader import read_book_table
            from .spreadsheets.workbook_reader import is_sheet, read_book

            book = Book(path)
            read = read_book if is_sheet(book) else read_book_table
            return read(book, path.name, sheets)
        if kind == "text":
            from .spreadsheets.table_reader import read_answers_table

            return read_answers_table(path, sheets)
        if kind == "picture":
            return _read_pictures([path], sheets)
        path.open("rb").close()  # says why, if it cannot be opened
    except Unopened as fault:
        return _refused(path, fault.kind, fault.why)
    except OSError as fault:
        return _refused(path, "unreadable_file", fault.strerror or str(fault))
    except Exception as thrown:  # noqa: BLE001 - whatever a reader throws is this file's fault
        return Reading(faults=(thrown_by(path.name, thrown),))
    return _refused(path, "not_a_sheet")


def is_picture(path: Path) -> bool:
    """Tell whether a file is read as a picture of paper."""
    try:
        return _kind(path) == "picture"
    except OSError:
        return False


def _kind(path: Path) -> str:
    """Tell what a file holds; empty for what is not known or cannot be opened."""
    if path.name.startswith(("~$", ".~lock.")):
        return "book"
    try:
        with path.open("rb") as opened:
            head = opened.read(4)
    except OSError:
        return ""
    for sign, kind in _SIGNS.items():
        if head.startswith(sign):
            return kind
    return _BY_NAME.get(path.suffix.lower(), "")


def _read_pictures(paths: Sequence[Path], sheets: Mapping[str, Sheet]) -> Reading:
    """Hand pictures to the reader of paper, which needs an extra."""
    try:
        photo = import_module(".photo.photo_reader", __package__)
    except ImportError:
        return Reading.join(_refused(path, "missing_extra") for path in paths)
    reading: PhotoReading = photo.read_photos(paths, sheets)
    asked = tuple(_asked(mark) for mark in reading.uncertain)
    return PhotoReading(reading.answers, (*reading.faults, *asked), reading.uncertain)


def _asked(mark: Uncertain) -> Fault:
    """Tell a mark that needs a person like any other fault: its answer can be typed."""
    written = mark.reason == "words"
    return Fault(
        kind="handwriting" if written else "uncertain_mark",
        file=mark.file,
        place=mark.place,
        assessor=mark.assessor,
        code=mark.code,
        attribute=mark.attribute,
        found="" if written else say(f"paper.reason_{mark.reason}"),
        expected="; ".join(choice.label for choice in mark.choices),
    )


def _refused(path: Path, kind: str, found: str = "") -> Reading:
    return Reading(faults=(Fault(kind=kind, file=path.name, found=found),))
