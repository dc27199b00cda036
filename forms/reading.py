"""Reading whatever came back: score sheets, typed tables, pictures of paper."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from importlib import import_module
from pathlib import Path

from .answers import Fault, Reading
from .settle import settle
from .sheet import Sheet

TEXTS = (".csv", ".tsv", ".txt")
BOOKS = (".xlsx", ".xlsm")
PICTURES = (".jpg", ".jpeg", ".png", ".heic", ".heif", ".tif", ".tiff", ".webp", ".pdf")
# How the content of a file begins, for files whose name says something else.
_SIGNS = {b"PK\x03\x04": "book", b"\xd0\xcf\x11\xe0": "book", b"%PDF": "picture",
          b"\xff\xd8\xff": "picture", b"\x89PNG": "picture"}  # fmt: skip


def read_files(paths: Iterable[Path | str], sheets: Mapping[str, Sheet]) -> Reading:
    """Read all files of one call; what is wrong with one does not stop the others.

    Parameters
    ----------
    paths : iterable of Path or str
        Filled score sheets (``.xlsx``), typed tables (``.csv``, ``.tsv``,
        ``.xlsx``), photographs and scans (``.jpg``, ``.png``, ``.heic``, ``.pdf``).
        The content decides where a name is wrong.
    sheets : mapping of str to Sheet
        The sheets of the session by assessor's code.

    Returns
    -------
    Reading
        One answer a cell at most: `kikichoko.forms.settle.settle` says how
        several answers for one cell are treated.
    """
    return settle([read_file(Path(path), sheets) for path in paths], sheets)


def read_file(path: Path, sheets: Mapping[str, Sheet]) -> Reading:
    """Read one file, by its content first and its name second."""
    from .cells import Book, Unopened

    try:
        match _kind(path):
            case "book":
                from .read_table import read_book_table
                from .read_xlsx import is_sheet, read_book

                book = Book(path)
                read = read_book if is_sheet(book) else read_book_table
                return read(book, path.name, sheets)
            case "text":
                from .read_table import read_answers_table

                return read_answers_table(path, sheets)
            case "picture":
                return _read_picture(path, sheets)
    except Unopened as fault:
        return _refused(path, fault.kind, fault.why)
    except OSError as fault:
        return _refused(path, "unreadable_file", fault.strerror or str(fault))
    return _refused(path, "not_a_sheet")


def _kind(path: Path) -> str:
    if path.name.startswith(("~$", ".~lock.")):
        return "book"
    with path.open("rb") as opened:
        head = opened.read(4)
    for sign, kind in _SIGNS.items():
        if head.startswith(sign):
            return kind
    suffix = path.suffix.lower()
    kinds = {**dict.fromkeys(TEXTS, "text"), **dict.fromkeys(BOOKS, "book")}
    return {**kinds, **dict.fromkeys(PICTURES, "picture")}.get(suffix, "")


def _read_picture(path: Path, sheets: Mapping[str, Sheet]) -> Reading:
    """Hand a picture to the reader of paper, which needs an extra."""
    try:
        photo = import_module(".photo", __package__)
    except ImportError:
        return _refused(path, "missing_extra")
    reading: Reading = photo.read_photo(path, sheets)
    return reading


def _refused(path: Path, kind: str, found: str = "") -> Reading:
    return Reading(faults=(Fault(kind=kind, file=path.name, found=found),))
