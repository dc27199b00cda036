"""The store of a session: every answer and every correction, append-only.

``answers.sqlite`` in the session folder. Rows are never changed or deleted
(triggers forbid it): a correction is a new row that names the one it replaces,
with source, time and who decided. Originals lie unchanged in ``returned/``.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import shutil
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Self

from ...forms.answers.answer import Answer, Fault

FILE = "answers.sqlite"
RETURNED = "returned"
_MIGRATIONS = (
    """
    CREATE TABLE files (
        id INTEGER PRIMARY KEY, name TEXT NOT NULL, kept_as TEXT NOT NULL,
        sha256 TEXT NOT NULL UNIQUE, read_at TEXT NOT NULL);
    CREATE TABLE answers (
        id INTEGER PRIMARY KEY, session TEXT NOT NULL, assessor TEXT NOT NULL,
        code TEXT NOT NULL, attribute TEXT NOT NULL, number REAL, text TEXT,
        written TEXT NOT NULL, confidence REAL NOT NULL, file TEXT NOT NULL,
        place TEXT NOT NULL, entered_at TEXT NOT NULL,
        replaces INTEGER REFERENCES answers (id), decided_by TEXT NOT NULL DEFAULT '');
    CREATE INDEX answers_cell ON answers (assessor, code, attribute);
    CREATE TABLE faults (
        id INTEGER PRIMARY KEY, kind TEXT NOT NULL, file TEXT NOT NULL, place TEXT NOT NULL,
        assessor TEXT NOT NULL, code TEXT NOT NULL, attribute TEXT NOT NULL,
        found TEXT NOT NULL, expected TEXT NOT NULL, seen_at TEXT NOT NULL,
        after_row INTEGER NOT NULL);
    CREATE TABLE openings (
        id INTEGER PRIMARY KEY, opened_at TEXT NOT NULL, reason TEXT NOT NULL,
        sheets_out INTEGER NOT NULL, answers INTEGER NOT NULL);
    CREATE TABLE settled (
        fault INTEGER NOT NULL REFERENCES faults (id), settled_at TEXT NOT NULL,
        why TEXT NOT NULL);
    """
    + "".join(
        f"CREATE TRIGGER {table}_no_{act} BEFORE {act} ON {table} "
        f"BEGIN SELECT RAISE(ABORT, '{table} are append-only'); END;\n"
        for table in ("answers", "faults", "files", "openings", "settled")
        for act in ("update", "delete")
    ),
    """
    CREATE TABLE uncertain (
        id INTEGER PRIMARY KEY, key TEXT NOT NULL UNIQUE, session TEXT NOT NULL,
        assessor TEXT NOT NULL, code TEXT NOT NULL, attribute TEXT NOT NULL,
        file TEXT NOT NULL, place TEXT NOT NULL, reason TEXT NOT NULL, picture BLOB NOT NULL,
        choices TEXT NOT NULL, low REAL NOT NULL, high REAL NOT NULL, seen_at TEXT NOT NULL);
    CREATE TABLE decisions (
        id INTEGER PRIMARY KEY, uncertain INTEGER NOT NULL REFERENCES uncertain (id),
        number REAL, text TEXT, decided_at TEXT NOT NULL, decided_by TEXT NOT NULL);
    """
    + "".join(
        f"CREATE TRIGGER {table}_no_{act} BEFORE {act} ON {table} "
        f"BEGIN SELECT RAISE(ABORT, '{table} are append-only'); END;\n"
        for table in ("uncertain", "decisions")
        for act in ("update", "delete")
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stored:
    """One answer as it stands after all corrections.

    Attributes
    ----------
    answer : Answer
    row : int
        Row of the store.
    corrections : int
        How often it was corrected.
    """

    answer: Answer
    row: int
    corrections: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """One opening of the key."""

    opened_at: str
    reason: str
    sheets_out: int
    answers: int


def now() -> str:
    """Return the time to the second, with its offset."""
    return dt.datetime.now().astimezone().isoformat(timespec="seconds")


def checksum(path: Path) -> str:
    """Return the SHA-256 of a file."""
    return hashlib.sha256(path.read_bytes()).hexdigest()


class Store:
    """Answers, faults, returned files and openings of the key of one session."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._database = sqlite3.connect(folder / FILE, isolation_level=None)
        self._database.execute("PRAGMA journal_mode = WAL")
        self._database.execute("PRAGMA foreign_keys = ON")
        self._migrate()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @property
    def database(self) -> sqlite3.Connection:
        """The open database, for the other modules that keep tables of this file."""
        return self._database

    def close(self) -> None:
        """Close the database."""
        self._database.close()

    def _migrate(self) -> None:
        """Bring an older store up to date, one transaction a step."""
        version = self._database.execute("PRAGMA user_version").fetchone()[0]
        for number, script in enumerate(_MIGRATIONS[version:], start=version + 1):
            self._database.executescript(
                f"BEGIN;\n{script}\nPRAGMA user_version = {number};\nCOMMIT;"
            )

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        self._database.execute("BEGIN IMMEDIATE")
        try:
            yield
        except BaseException:
            self._database.execute("ROLLBACK")
            raise
        self._database.execute("COMMIT")

    def keep(self, path: Path) -> str | None:
        """Copy a returned file unchanged into ``returned/``.

        Returns
        -------
        str or None
            The name it is kept under, or None if this very file was kept before.
        """
        digest = checksum(path)
        known = self._database.execute(
            "SELECT kept_as FROM files WHERE sha256 = ?", (digest,)
        ).fetchone()
        if known:
            return None
        target = self.folder / RETURNED / f"{digest[:12]}-{path.name}"
        target.parent.mkdir(exist_ok=True)
        shutil.copyfile(path, target)
        self._database.execute(
            "INSERT INTO files (name, kept_as, sha256, read_at) VALUES (?, ?, ?, ?)",
            (path.name, target.name, digest, now()),
        )
        return target.name

    def known_file(self, path: Path) -> str | None:
        """Tell when this very file was read before, or None."""
        row = self._database.execute(
            "SELECT read_at FROM files WHERE sha256 = ?", (checksum(path),)
        ).fetchone()
        return str(row[0]) if row else None

    def add(
        self, answers: Iterable[Answer], *, correct: bool = False, decided_by: str = ""
    ) -> tuple[int, list[Fault]]:
        """Add answers; nothing that is there is overwritten.

        An answer equal to the one that stands is not added again. A different
        one is a fault, unless `correct` says that it replaces the old one.

        Returns
        -------
        int, list of Fault
            How many rows were added, and the cells with two different answers.
        """
        added = 0
        faults = []
        with self._transaction():
            standing = {
                (one.answer.assessor, one.answer.code, one.answer.attribute): one
                for one in self.answers()
            }
            disputed = {
                (fault.assessor, fault.code, fault.attribute)
                for fault in self.faults().values()
                if fault.kind == "two_answers"
            }
            for answer in answers:
                cell = (answer.assessor, answer.code, answer.attribute)
                old = standing.get(cell)
                same = old is not None and old.answer.value == answer.value
                if same and not (correct and cell in disputed):
                    continue
                if old is not None and not correct:
                    before = old.answer
                    found = f"{before.value} ({before.file}, {before.place}) / {answer.value}"
                    faults.append(
                        Fault(
                            kind="two_answers",
                            file=answer.file,
                            place=answer.place,
                            assessor=answer.assessor,
                            code=answer.code,
                            attribute=answer.attribute,
                            found=found,
                        )
                    )
                    continue
                row = self._insert(answer, old.row if old else None, decided_by)
                standing[cell] = Stored(answer=answer, row=row, corrections=0)
                added += 1
        return added, faults

    def _insert(self, answer: Answer, replaces: int | None, decided_by: str) -> int:
        number = answer.value if isinstance(answer.value, (int, float)) else None
        text = answer.value if isinstance(answer.value, str) else None
        cursor = self._database.execute(
            "INSERT INTO answers (session, assessor, code, attribute, number, text, written, "
            "confidence, file, place, entered_at, replaces, decided_by) "
            "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (
                answer.session,
                answer.assessor,
                answer.code,
                answer.attribute,
                number,
                text,
                answer.written,
                answer.confidence,
                answer.file,
                answer.place,
                now(),
                replaces,
                decided_by,
            ),
        )
        return int(cursor.lastrowid or 0)

    def answers(self) -> list[Stored]:
        """Return the answers that stand, in the order of their first entry."""
        rows = self._database.execute(
            "SELECT session, assessor, code, attribute, number, text, file, place, written, "
            "confidence, id, replaces FROM answers ORDER BY id"
        ).fetchall()
        standing: dict[tuple[str, str, str], Stored] = {}
        for session, assessor, code, attribute, number, text, *source, row, replaces in rows:
            file, place, written, confidence = source
            cell = (assessor, code, attribute)
            before = standing.get(cell)
            standing[cell] = Stored(
                answer=Answer(
                    session=session,
                    assessor=assessor,
                    code=code,
                    attribute=attribute,
                    value=number if text is None else text,
                    file=file,
                    place=place,
                    written=written,
                    confidence=confidence,
                ),
                row=row,
                corrections=before.corrections + 1 if before and replaces else 0,
            )
        return list(standing.values())

    def note_faults(self, faults: Iterable[Fault]) -> None:
        """Remember faults of reading, so that `status` can show what needs a person."""
        with self._transaction():
            self._database.executemany(
                "INSERT INTO faults (kind, file, place, assessor, code, attribute, found, "
                "expected, seen_at, after_row) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, "
                "(SELECT coalesce(max(id), 0) FROM answers))",
                [
                    (
                        fault.kind,
                        fault.file,
                        fault.place,
                        fault.assessor,
                        fault.code,
                        fault.attribute,
                        fault.found,
                        fault.expected,
                        now(),
                    )
                    for fault in faults
                ],
            )

    def faults(self) -> dict[int, Fault]:
        """Return the faults that still need a person, by their number.

        A fault is over when its cell was answered after it was seen, or any cell
        of a cup or sheet that had come back empty, or when a person settled it.
        """
        names = ("kind", "file", "place", "assessor", "code", "attribute", "found", "expected")
        rows = self._database.execute(
            "SELECT max(id), kind, file, place, assessor, code, attribute, found, expected "
            "FROM faults f WHERE id NOT IN "
            "(SELECT fault FROM settled) AND NOT EXISTS (SELECT 1 FROM answers a WHERE "
            "a.id > f.after_row AND a.assessor = f.assessor AND "
            "((a.code = f.code AND a.attribute = f.attribute) OR "
            "(f.kind = 'empty_cup' AND a.code = f.code) OR f.kind = 'empty_sheet')) "
            "GROUP BY kind, file, place, assessor, code, attribute, found, expected ORDER BY id"
        ).fetchall()
        return {number: Fault(**dict(zip(names, row, strict=True))) for number, *row in rows}

    def settle(self, number: int, why: str) -> bool:
        """Note that a person has dealt with a fault; False if there is no such fault open."""
        if number not in self.faults():
            return False
        self._database.execute(
            "INSERT INTO settled (fault, settled_at, why) VALUES (?, ?, ?)", (number, now(), why)
        )
        return True

    def note_opening(self, reason: str, sheets_out: int) -> Opening:
        """Log that the key was opened."""
        opening = Opening(
            opened_at=now(), reason=reason, sheets_out=sheets_out, answers=len(self.answers())
        )
        self._database.execute(
            "INSERT INTO openings (opened_at, reason, sheets_out, answers) VALUES (?, ?, ?, ?)",
            (opening.opened_at, reason, sheets_out, opening.answers),
        )
        return opening

    def openings(self) -> list[Opening]:
        """Return all openings of the key, first one first."""
        rows = self._database.execute(
            "SELECT opened_at, reason, sheets_out, answers FROM openings ORDER BY id"
        ).fetchall()
        return [
            Opening(opened_at=at, reason=reason, sheets_out=out, answers=n)
            for at, reason, out, n in rows
        ]

    def first_entry_after(self, moment: str) -> int:
        """Count the answers that were entered after a moment."""
        rows = self._database.execute("SELECT entered_at FROM answers").fetchall()
        limit = dt.datetime.fromisoformat(moment)
        return sum(dt.datetime.fromisoformat(at) > limit for (at,) in rows)
