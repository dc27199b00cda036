"""What a workbook may at most be, so that no file can fill the memory or take the day.

Looked at before the workbook is opened: sizes as they unpack, entities, rows and
columns beyond a worksheet, areas that are merged.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections import Counter

OLE = b"\xd0\xcf\x11\xe0"  # old binary .xls, and .xlsx that is locked with a password
LARGEST_FILE = 20_000_000  # bytes; a score sheet of this program has 30,000
LARGEST_INSIDE = 40_000_000  # bytes of all parts together
MOST_PARTS = 600  # a score sheet has one worksheet a cup
MOST_CELLS = 400_000  # of a worksheet, empty ones too
MOST_MERGED = 200_000  # cells
LAST_ROW, LAST_COLUMN = 1_048_576, 16_384
_ROW = re.compile(rb"<(?:\w+:)?row\b[^>]{0,200}?\br=\"(\d{7,})\"")
_ANY_CELL = re.compile(rb"<(?:\w+:)?c[\s/>]")
_CELL = re.compile(rb"<(?:\w+:)?c\b[^>]{0,200}?\br=\"([A-Za-z]+)(\d+)\"")
_MERGED = re.compile(
    rb"<(?:\w+:)?mergeCell\b[^>]{0,200}?\bref=\"\$?([A-Za-z]+)\$?(\d+):\$?([A-Za-z]+)\$?(\d+)\""
)
_STRICT = b"http://purl.oclc.org/ooxml/spreadsheetml/main"
_ENTITY = re.compile(rb"<!\s*(DOCTYPE|ENTITY)", re.IGNORECASE)


class Unopened(Exception):
    """A file that cannot be opened as a workbook.

    Attributes
    ----------
    kind, why : str
        Kind of the `Fault` to list, and what was found.
    """

    def __init__(self, kind: str, why: str = "") -> None:
        self.kind, self.why = kind, why
        super().__init__(f"{kind}: {why}")


def check_workbook(content: bytes) -> None:
    """Refuse a workbook that is larger inside than any table of answers, or made to harm.

    Raises
    ------
    Unopened
    """
    if content.startswith(OLE):
        raise Unopened("old_workbook")
    if len(content) > LARGEST_FILE:
        raise Unopened("too_large", f"{len(content):,} bytes")
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as parts:
            _check_parts(parts)
    except Unopened:
        raise
    except Exception as why:  # torn bytes fail in many ways
        raise Unopened("unreadable_file", f"{type(why).__name__}: {why}"[:200]) from why


def _check_parts(parts: zipfile.ZipFile) -> None:
    listed = parts.infolist()
    if any(part.flag_bits & 1 for part in listed):
        raise Unopened("old_workbook")
    if len(listed) > MOST_PARTS:
        raise Unopened("too_large", f"{len(listed):,} parts")
    names = [part.filename.lower() for part in listed]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice:
        raise Unopened("unreadable_file", f"two parts are named {twice}")
    if sum(part.file_size for part in listed) > LARGEST_INSIDE:
        raise Unopened("too_large", f"{sum(part.file_size for part in listed):,} bytes inside")
    for part in listed:
        if not part.filename.lower().endswith((".xml", ".rels")):
            continue
        text = parts.read(part)  # never more than the size that it states
        if b"\0" in text[:200]:
            text = text.replace(b"\0", b"")  # UTF-16: its signs lie apart
        if _STRICT in text[:4000]:
            raise Unopened("strict_workbook")
        if _ENTITY.search(text):
            raise Unopened("unreadable_file", f"{part.filename} defines entities")
        if part.filename.startswith("xl/worksheets/"):
            _check_places(text, part.filename)


def _check_places(text: bytes, name: str) -> None:
    """Refuse cells that no worksheet has, and areas that would take the memory."""
    far = [int(row) for row in _ROW.findall(text) if len(row) > 9 or int(row) > LAST_ROW]
    if far:
        raise Unopened("unreadable_file", f"{name}: row {str(far[0])[:20]}")
    many = sum(1 for _ in _ANY_CELL.finditer(text))
    if many > MOST_CELLS:
        raise Unopened("too_large", f"{name}: {many:,} cells")
    cells = _CELL.findall(text)
    if len(set(cells)) != len(cells):
        twice = next(cell for cell, times in Counter(cells).items() if times > 1)
        place = b"".join(twice)[:20].decode("ascii", "replace")
        raise Unopened("unreadable_file", f"{name}: cell {place} is there twice")
    for letters, row in cells:
        if len(row) > 7 or len(letters) > 3 or int(row) > LAST_ROW or column(letters) > LAST_COLUMN:
            place = (letters + row)[:20].decode("ascii", "replace")
            raise Unopened("unreadable_file", f"{name}: cell {place}")
    merged = 0
    for left, top, right, bottom in _MERGED.findall(text):
        if max(map(len, (left, right))) > 3 or max(map(len, (top, bottom))) > 7:
            raise Unopened("unreadable_file", f"{name}: merged cells")
        wide = column(right) - column(left) + 1
        merged += abs(wide) * abs(int(bottom) - int(top) + 1)
    if merged > MOST_MERGED:
        raise Unopened("too_large", f"{name}: {merged:,} merged cells")


def column(letters: bytes) -> int:
    """Return the number of a column, 1 for A.

    >>> column(b"A"), column(b"XFD")
    (1, 16384)
    """
    number = 0
    for letter in letters.upper():
        number = number * 26 + letter - 64
    return number
