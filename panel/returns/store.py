"""The store of a session: every answer and every correction, append-only.

``answers.sqlite`` in the session folder. Rows are never changed or deleted
(triggers forbid it): a correction is a new row that names the one it replaces,
with source, time and who decided. Originals lie unchanged in ``returned/``.
The tables stand in `store_versions`.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import sqlite3
from collections.abc import Callable, Hashable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Self, TypeVar

from ...forms.answers.answer import Answer, Fault
from ..base.clock import now
from ..base.file_names import safe_name, text_of
from ..base.whole_files import whole_file
from . import open_faults
from .closed_flights import refuse_closed
from .opened_store import open_database
from .store_versions import migrate

T = TypeVar("T")
FILE = "answers.sqlite"
RETURNED = "returned"
PHONE = "phone"
"""Named as the file of answers that came from a telephone."""


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
    plan : str
        Version of the plan whose code the answer names; '' from before there were any.
    """

    answer: Answer
    row: int
    corrections: int
    plan: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """One opening of the key.

    Attributes
    ----------
    opened_at, reason : str
    sheets_out : int
        Sheets from which nothing had come back.
    answers : int
        Answers that stood.
    after_row : int or None
        The last row of an answer before it; None where an earlier version did not note it.
    """

    opened_at: str
    reason: str
    sheets_out: int
    answers: int
    after_row: int | None = None


def checksum(path: Path) -> str:
    """Return the SHA-256 of a file."""
    with path.open("rb") as opened:
        return hashlib.file_digest(opened, "sha256").hexdigest()


class Store:
    """Answers, faults, returned files and openings of the key of one session.

    Parameters
    ----------
    folder : Path
        The session folder.
    reading : bool
        Whether the store is only looked at: nothing in the folder is touched then.

    Raises
    ------
    NotReady
        If the store was written by a later version of this program.
    sqlite3.DatabaseError
        If it is damaged, or in use for longer than half a minute.
    """

    def __init__(self, folder: Path, *, reading: bool = False) -> None:
        self.folder = folder
        self._inside = 0
        self._kept: dict[Hashable, tuple[tuple[int, ...], Any]] = {}
        self._beside = 0
        self._database, in_place = open_database(folder / FILE, reading=reading)
        try:
            migrate(self._database, folder if in_place else None)
            self._database.execute("PRAGMA foreign_keys = ON")
        except BaseException:
            self._database.close()
            raise

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

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """Do all of a block or nothing of it; a block inside a block is part of it."""
        if self._inside:
            yield
            return
        self._database.execute("BEGIN IMMEDIATE")
        self._inside = 1
        try:
            yield
            self._database.execute("COMMIT")
        except BaseException:
            if self._database.in_transaction:
                self._database.execute("ROLLBACK")
            raise
        finally:
            self._inside = 0

    def kept(self, what: Hashable, make: Callable[[], T]) -> T:
        """Return what `make` makes of the answers; made anew when somebody has written since.

        What is made within a transaction is not kept: the transaction may be taken back.
        """
        others = self._database.execute("PRAGMA data_version").fetchone()
        state = (*others, self._database.total_changes - self._beside)
        known = self._kept.get(what)
        if known is not None and known[0] == state:
            found: T = known[1]
            return found
        made = make()
        if not self._database.in_transaction:
            self._kept[what] = (state, made)
        return made

    @contextmanager
    def beside(self) -> Iterator[None]:
        """Let what is written in a block leave standing what is known of the answers."""
        before = self._database.total_changes
        yield
        self._beside += self._database.total_changes - before

    def keep(self, path: Path) -> str | None:
        """Copy a returned file unchanged into ``returned/``.

        Returns
        -------
        str or None
            The name it is kept under, or None if this very file was kept before.
        """
        digest = checksum(path)
        with self.transaction():
            if self._file(digest) is not None:
                return None
            mark = f"{digest[:12]}-"
            name = path.name.removeprefix(
                mark
            )  # kept before: its reading was broken off, or a copy
            here = self.folder / RETURNED
            target = here / f"{mark}{safe_name(name)}"
            here.mkdir(exist_ok=True)
            with whole_file(target) as aside, aside.open("wb") as out:
                copied = hashlib.sha256()
                with path.open("rb") as original:
                    while piece := original.read(1 << 20):
                        copied.update(piece)
                        out.write(piece)
                if copied.hexdigest() != digest:
                    raise OSError(None, "the file was changed while it was read", str(path))
            self._database.execute(
                "INSERT INTO files (name, kept_as, sha256, read_at) VALUES (?, ?, ?, ?)",
                (text_of(name), target.name, digest, now()),
            )
        return target.name

    def _file(self, digest: str) -> int | None:
        row = self._database.execute("SELECT id FROM files WHERE sha256 = ?", (digest,)).fetchone()
        return int(row[0]) if row else None

    def digests(self, kept: Iterable[str]) -> dict[str, str]:
        """Return the checksums of kept originals by their names in ``returned/``.

        Those of files that are in no row of the store are taken from the files.
        """
        known = dict(self._database.execute("SELECT kept_as, sha256 FROM files"))
        return {name: known.get(name) or checksum(self.folder / RETURNED / name) for name in kept}

    def known_file(self, path: Path, plan: str = "") -> str | None:
        """Tell when this very file was last read to the end under this plan, or None."""
        row = self._database.execute(
            "SELECT max(r.read_at) FROM readings r JOIN files f ON f.id = r.file "
            "WHERE f.sha256 = ? AND r.plan = ?",
            (checksum(path), plan),
        ).fetchone()
        return str(row[0]) if row[0] else None

    def note_reading(
        self, path: Path, plan: str = "", *, answers: int = 0, faults: int = 0, marks: int = 0
    ) -> None:
        """Keep a file and note that it was read to the end.

        To be called in the transaction that takes in what was read.
        """
        with self.transaction():
            self.keep(path)
            self._database.execute(
                "INSERT INTO readings (file, plan, read_at, answers, faults, marks) "
                "VALUES (?, ?, ?, ?, ?, ?)",
                (self._file(checksum(path)), plan, now(), answers, faults, marks),
            )

    def unread(self) -> list[str]:
        """Name the originals in ``returned/`` that were kept, but whose reading was broken off."""
        known = {
            name
            for (name,) in self._database.execute(
                "SELECT f.kept_as FROM files f JOIN readings r ON r.file = f.id"
            )
        }
        inside = self.folder / RETURNED
        if not inside.is_dir():
            return []
        here = (one.name for one in inside.iterdir() if not one.name.startswith("."))
        return sorted(text_of(name) for name in here if name not in known)

    def add(
        self,
        answers: Iterable[Answer],
        *,
        plan: str = "",
        correct: bool = False,
        decided_by: str = "",
    ) -> tuple[int, list[Fault]]:
        """Add answers; nothing that is there is overwritten.

        An answer equal to the one that stands is not added again. A different
        one is a fault, unless `correct` says that it replaces the old one.

        Parameters
        ----------
        answers : iterable of Answer
        plan : str
            Version of the plan whose codes the answers name.
        correct : bool
        decided_by : str
            Who decided on the correction.

        Returns
        -------
        int, list of Fault
            How many rows were added, and the cells with two different answers.

        Raises
        ------
        NotReady
            If the blind flights are closed and this is their store.
        """
        added = 0
        faults = []
        with self.transaction():
            refuse_closed(self.folder)
            standing = {
                (one.answer.assessor, one.answer.code, one.answer.attribute): one
                for one in self.answers()
                if one.plan == plan
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
                    place = f"{before.file}, {before.place}"
                    found = f"{before.as_written()} ({place}) / {answer.as_written()}"
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
                row = self._insert(answer, plan, old.row if old else None, decided_by)
                standing[cell] = Stored(answer=answer, row=row, corrections=0, plan=plan)
                added += 1
        return added, faults

    def at(self, cell: tuple[str, str, str, str]) -> Stored | None:
        """Return the answer that stands at a cell (plan, assessor, code, attribute), or None."""
        row = self._database.execute(
            "SELECT session, number, text, file, place, written, confidence, id FROM answers "
            "WHERE plan = ? AND assessor = ? AND code = ? AND attribute = ? "
            "ORDER BY id DESC LIMIT 1",
            cell,
        ).fetchone()
        if row is None or (row[1] is None and row[2] is None):
            return None
        session, number, text, file, place, written, confidence, at = row
        plan, assessor, code, attribute = cell
        answer = Answer(
            session=session, assessor=assessor, code=code, attribute=attribute,
            value=number if text is None else text, file=file, place=place, written=written,
            confidence=confidence,
        )  # fmt: skip
        return Stored(answer=answer, row=int(at), corrections=0, plan=plan)

    def put(self, answer: Answer, *, plan: str, old: Stored | None, blank: bool = False) -> int:
        """Add one answer as it is entered, in place of the `old` one that `at` returned.

        To be called in a transaction; who calls has compared the two.

        Parameters
        ----------
        answer : Answer
        plan : str
        old : Stored or None
        blank : bool
            Whether the old one is only taken back; the value of `answer` does not count then.

        Returns
        -------
        int
            The row.
        """
        return self._insert(answer, plan, old.row if old else None, "", withdrawn=blank)

    def withdraw(self, answer: Answer, *, plan: str = "", decided_by: str) -> bool:
        """Let the answer to a question stand no longer; its rows stay, and one without a value.

        Parameters
        ----------
        answer : Answer
            Which question is meant; its value does not count.
        plan : str
        decided_by : str

        Returns
        -------
        bool
            Whether there was one.
        """
        cell = (plan, answer.assessor, answer.code, answer.attribute)
        with self.transaction():
            refuse_closed(self.folder)
            for one in self.answers():
                here = one.answer
                if cell == (one.plan, here.assessor, here.code, here.attribute):
                    self._insert(answer, plan, one.row, decided_by, withdrawn=True)
                    return True
        return False

    def _insert(
        self,
        answer: Answer,
        plan: str,
        replaces: int | None,
        decided_by: str,
        *,
        withdrawn: bool = False,
    ) -> int:
        number = answer.value if isinstance(answer.value, (int, float)) else None
        text = answer.value if isinstance(answer.value, str) else None
        if withdrawn:
            number = text = None
        cursor = self._database.execute(
            "INSERT INTO answers (session, assessor, code, attribute, number, text, written, "
            "confidence, file, place, entered_at, replaces, decided_by, plan) "
            "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (
                answer.session,
                answer.assessor,
                answer.code,
                answer.attribute,
                number,
                None if text is None else text_of(text),
                text_of(answer.written),
                answer.confidence,
                text_of(answer.file),
                text_of(answer.place),
                now(),
                replaces,
                text_of(decided_by),
                plan,
            ),
        )
        return int(cursor.lastrowid or 0)

    def answers(self) -> list[Stored]:
        """Return the answers that stand, in the order of their first entry.

        Who changes their mind on a telephone corrects nothing.
        """
        return list(self.kept("answers", self._standing))

    def _standing(self) -> list[Stored]:
        rows = self._database.execute(
            "SELECT session, assessor, code, attribute, number, text, file, place, written, "
            "confidence, plan, id, replaces FROM answers ORDER BY id"
        ).fetchall()
        standing: dict[tuple[str, str, str, str], Stored] = {}
        for session, assessor, code, attribute, number, text, *source, plan, row, replaces in rows:
            file, place, written, confidence = source
            cell = (plan, assessor, code, attribute)
            if number is None and text is None:
                standing.pop(cell, None)  # withdrawn
                continue
            before = standing.get(cell)
            corrections = 0
            if before is not None and replaces:
                corrections = before.corrections + (not before.answer.file == file == PHONE)
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
                corrections=corrections,
                plan=plan,
            )
        return list(standing.values())

    def note_faults(self, faults: Iterable[Fault], plan: str = "") -> None:
        """Remember faults of reading, so that `status` can show what needs a person."""
        with self.transaction():
            open_faults.note(self._database, faults, plan, now())

    def faults(self) -> dict[int, Fault]:
        """Return the faults that still need a person, by their number; see `open_faults`."""
        return open_faults.standing(self._database)

    def settle(self, number: int, why: str) -> bool:
        """Note that a person has dealt with a fault; False if there is no such fault open."""
        with self.transaction():
            if number not in self.faults():
                return False
            self._database.execute(
                "INSERT INTO settled (fault, settled_at, why) VALUES (?, ?, ?)",
                (number, now(), text_of(why)),
            )
        return True

    def note_opening(
        self, reason: str, sheets_out: int, after_row: int | None = None, at: str = ""
    ) -> Opening:
        """Note that the key was opened: now, or after a row at a time that is known."""
        with self.transaction():
            (last,) = self._database.execute("SELECT coalesce(max(id), 0) FROM answers").fetchone()
            opening = Opening(
                opened_at=at or now(),
                reason=reason,
                sheets_out=sheets_out,
                answers=len(self.answers()),
                after_row=int(last) if after_row is None else after_row,
            )
            with self.beside():
                self._database.execute(
                    "INSERT INTO openings (opened_at, reason, sheets_out, answers, after_row) "
                    "VALUES (?, ?, ?, ?, ?)",
                    (
                        opening.opened_at,
                        text_of(reason),
                        sheets_out,
                        opening.answers,
                        opening.after_row,
                    ),
                )
        return opening

    def openings(self) -> list[Opening]:
        """Return all openings of the key, first one first."""
        rows = self._database.execute(
            "SELECT opened_at, reason, sheets_out, answers, after_row FROM openings ORDER BY id"
        ).fetchall()
        return [
            Opening(opened_at=at, reason=reason, sheets_out=out, answers=n, after_row=row)
            for at, reason, out, n, row in rows
        ]

    def entered_after(self, opening: Opening) -> int:
        """Count the answers that were entered after an opening, whatever the clock said."""
        if opening.after_row is not None:
            (late,) = self._database.execute(
                "SELECT count(*) FROM answers WHERE id > ?", (opening.after_row,)
            ).fetchone()
            return int(late)
        rows = self._database.execute("SELECT entered_at FROM answers").fetchall()
        limit = dt.datetime.fromisoformat(opening.opened_at)
        return sum(dt.datetime.fromisoformat(at) > limit for (at,) in rows)
