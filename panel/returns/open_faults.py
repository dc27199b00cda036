"""Faults of reading that still need a person.

A fault is over when its cell was answered after it was seen, or any cell of a
cup or sheet that had come back empty, or when a person settled it; writing at
no question also when somebody passed the page as right. What a corrected copy
repeats under another name is the same fault.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from dataclasses import fields

from ...forms.answers.answer import Fault, is_remark
from ..base.file_names import text_of

_NAMES = tuple(one.name for one in fields(Fault))
_LISTED = ", ".join(_NAMES)


def note(database: sqlite3.Connection, faults: Iterable[Fault], plan: str, at: str) -> None:
    """Add faults, each with the last answer that was there when it was seen."""
    database.executemany(
        f"INSERT INTO faults ({_LISTED}, seen_at, plan, after_row) "  # noqa: S608 - our own names
        f"VALUES ({', '.join('?' * len(_NAMES))}, ?, ?, "
        "(SELECT coalesce(max(id), 0) FROM answers))",
        [(*(text_of(getattr(one, name)) for name in _NAMES), at, plan) for one in faults],
    )


def standing(database: sqlite3.Connection) -> dict[int, Fault]:
    """Return what is open, by the number under which it was seen last."""
    settled = {number for (number,) in database.execute("SELECT fault FROM settled")}
    answered: dict[tuple[str, ...], int] = {}
    for row, plan, assessor, code, attribute in database.execute(
        "SELECT id, plan, assessor, code, attribute FROM answers ORDER BY id"
    ):
        if is_remark(attribute):
            continue
        whole = attribute.partition(":")[0]  # a ranking is told as a whole
        parts = {
            (assessor, code, attribute),
            (assessor, code, whole),
            (assessor, code),
            (assessor,),
        }
        for part in parts:
            answered[plan, *part] = row
    passed = _passed(database)
    last: dict[tuple[str, ...], tuple[int, Fault]] = {}
    over: set[tuple[str, ...]] = set()
    for number, after, plan, *told in database.execute(
        f"SELECT id, after_row, plan, {_LISTED} FROM faults ORDER BY id"  # noqa: S608
    ):
        fault = Fault(**dict(zip(_NAMES, told, strict=True)))
        matter = (plan, *_matter(fault))
        if number in settled:
            over.add((*matter, fault.found))
        page = "".join(sign for sign in fault.place if sign.isdecimal())
        seen = fault.kind == "photo_note" and (fault.file, fault.code, page) in passed
        if seen or answered.get((plan, *_answer_of(fault)), 0) > after:
            last.pop(matter, None)
        else:
            last[matter] = (number, fault)
    return {
        number: fault
        for matter, (number, fault) in sorted(last.items(), key=lambda item: item[1][0])
        if (*matter, fault.found) not in over
    }


def _passed(database: sqlite3.Connection) -> set[tuple[str, str, str]]:
    """Return files, cups and pages that somebody passed as right; "" stands for any cup."""
    rows = database.execute(
        "SELECT f.name, f.kept_as, l.code, l.page FROM looks l JOIN files f ON f.id = l.file"
    ).fetchall()
    return {
        (str(name), cup, str(page))
        for *names, code, page in rows
        for name in names
        for cup in (str(code), "")
    }


def _matter(fault: Fault) -> tuple[str, ...]:
    """Tell what a fault is about: a cell whatever the file, else a place of a file."""
    about = (fault.kind, fault.assessor, fault.code, fault.attribute)
    if fault.assessor and (fault.attribute or fault.kind in ("empty_cup", "empty_sheet")):
        return about
    if fault.assessor:
        return (*about, fault.place, fault.found)
    return (*about, fault.file, fault.place, fault.found, fault.expected)


def _answer_of(fault: Fault) -> tuple[str, ...]:
    """Name the answers that end a fault."""
    if fault.kind == "empty_sheet":
        return (fault.assessor,)
    if fault.kind == "empty_cup":
        return (fault.assessor, fault.code)
    return (fault.assessor, fault.code, fault.attribute)
