"""The store's tables, version by version: named steps, each one transaction.

A step is never changed once it was released; what a later version needs is a new
step at the end. `PRAGMA user_version` holds how many steps a store has had, and
the table ``migrations`` their names and times. Before a store of an earlier
version is changed, a copy of it is laid beside it.
"""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass
from pathlib import Path

from ..base.clock import now
from ..base.errors import NotReady
from ..base.whole_files import whole_file


@dataclass(frozen=True, slots=True)
class Step:
    """One change of the tables."""

    name: str
    script: str


def _append_only(*tables: str) -> str:
    return "".join(
        f"CREATE TRIGGER {table}_no_{act} BEFORE {act} ON {table} "
        f"BEGIN SELECT RAISE(ABORT, '{table} are append-only'); END;\n"
        for table in tables
        for act in ("update", "delete")
    )


STEPS = (
    Step(
        "answers",
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
        + _append_only("answers", "faults", "files", "openings", "settled"),
    ),
    Step(
        "marks in pictures",
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
        + _append_only("uncertain", "decisions"),
    ),
    # Every answer belongs to a version of the plan, '' in stores from before there were any; a
    # file counts as read from the reading that took its answers, faults and marks in with it.
    # Files that left a trace in an earlier store were read to the end as far as it can tell.
    Step(
        "plan versions and finished readings",
        """
        CREATE TABLE migrations (name TEXT NOT NULL, applied_at TEXT NOT NULL);
        ALTER TABLE answers ADD COLUMN plan TEXT NOT NULL DEFAULT '';
        ALTER TABLE faults ADD COLUMN plan TEXT NOT NULL DEFAULT '';
        ALTER TABLE uncertain ADD COLUMN plan TEXT NOT NULL DEFAULT '';
        ALTER TABLE openings ADD COLUMN after_row INTEGER;
        CREATE TABLE readings (
            id INTEGER PRIMARY KEY, file INTEGER NOT NULL REFERENCES files (id),
            plan TEXT NOT NULL, read_at TEXT NOT NULL, answers INTEGER NOT NULL,
            faults INTEGER NOT NULL, marks INTEGER NOT NULL);
        INSERT INTO readings (file, plan, read_at, answers, faults, marks)
            SELECT f.id, '', f.read_at,
                (SELECT count(*) FROM answers a WHERE a.file = f.name),
                (SELECT count(*) FROM faults b WHERE b.file = f.name),
                (SELECT count(*) FROM uncertain u WHERE u.file = f.name)
            FROM files f WHERE EXISTS (SELECT 1 FROM answers a WHERE a.file = f.name)
                OR EXISTS (SELECT 1 FROM faults b WHERE b.file = f.name)
                OR EXISTS (SELECT 1 FROM uncertain u WHERE u.file = f.name);
        DROP INDEX answers_cell;
        CREATE INDEX answers_cell ON answers (plan, assessor, code, attribute);
        """  # noqa: S608 - nothing is put into it
        + _append_only("migrations", "readings"),
    ),
    # The store remembers the heads of the log, so that a log that was cut short is told.
    Step(
        "heads of the log",
        """
        CREATE TABLE log_heads (
            number INTEGER NOT NULL, head TEXT NOT NULL, noted_at TEXT NOT NULL);
        """
        + _append_only("log_heads"),
    ),
    # What a person has looked at is not shown again; no code of an assessor stands here.
    Step(
        "pages that were looked at",
        """
        CREATE TABLE looks (
            id INTEGER PRIMARY KEY, file INTEGER NOT NULL REFERENCES files (id),
            code TEXT NOT NULL, page INTEGER NOT NULL, pages INTEGER NOT NULL,
            looked_at TEXT NOT NULL, looked_by TEXT NOT NULL);
        """
        + _append_only("looks"),
    ),
    # Which page a picture shows whose code cannot be read, as a person says.
    Step(
        "pages that were named",
        """
        CREATE TABLE named_pages (
            id INTEGER PRIMARY KEY, file INTEGER NOT NULL REFERENCES files (id),
            picture INTEGER NOT NULL, assessor TEXT NOT NULL, page INTEGER NOT NULL,
            paper TEXT NOT NULL, fingerprint TEXT NOT NULL, mark TEXT NOT NULL,
            named_at TEXT NOT NULL, named_by TEXT NOT NULL);
        """
        + _append_only("named_pages"),
    ),
    # What came from telephones, touch by touch: a number of a device is taken once.
    Step(
        "touches of telephones",
        """
        CREATE TABLE touches (
            id INTEGER PRIMARY KEY, plan TEXT NOT NULL, assessor TEXT NOT NULL,
            device TEXT NOT NULL, number INTEGER NOT NULL, kind TEXT NOT NULL, code TEXT NOT NULL,
            attribute TEXT NOT NULL, value TEXT NOT NULL, outcome TEXT NOT NULL, at TEXT NOT NULL,
            UNIQUE (assessor, device, number));
        """
        + _append_only("touches"),
    ),
)


def version(database: sqlite3.Connection) -> int:
    """Return how many steps a store has had."""
    return int(database.execute("PRAGMA user_version").fetchone()[0])


def migrate(database: sqlite3.Connection, folder: Path | None) -> None:
    """Bring a store up to this version.

    Parameters
    ----------
    database : Connection
        In autocommit mode.
    folder : Path or None
        Where the copy of an earlier store is laid; None for a store in memory.

    Raises
    ------
    NotReady
        If the store was written by a later version of this program.
    """
    found = version(database)
    if found > len(STEPS):
        raise NotReady("store.later_version", found=found, known=len(STEPS))
    if 0 < found < len(STEPS) and folder is not None:
        _copy(database, folder / f"answers-before-version-{len(STEPS)}.sqlite")
    while (done := version(database)) < len(STEPS):
        _apply(database, done)


def _copy(database: sqlite3.Connection, target: Path) -> None:
    """Lay a whole copy beside the store; one that is there already stays."""
    if target.exists():
        return
    with whole_file(target) as aside:
        copy = sqlite3.connect(aside)
        try:
            database.backup(copy)
        finally:
            copy.close()


def _apply(database: sqlite3.Connection, done: int) -> None:
    """Take one step, unless another process has taken it meanwhile."""
    database.execute("BEGIN IMMEDIATE")
    try:
        if version(database) == done:
            step = STEPS[done]
            for statement in _statements(step.script):
                database.execute(statement)
            if database.execute("SELECT 1 FROM sqlite_master WHERE name = 'migrations'").fetchone():
                at = now()
                database.execute("INSERT INTO migrations VALUES (?, ?)", (step.name, at))
            database.execute(f"PRAGMA user_version = {done + 1}")
    except BaseException:
        database.execute("ROLLBACK")
        raise
    database.execute("COMMIT")


def _statements(script: str) -> list[str]:
    """Split a script; `executescript` would commit before it begins."""
    statements = [""]
    for piece in script.split(";"):
        statements[-1] += piece + ";"
        if sqlite3.complete_statement(statements[-1]):
            statements.append("")
    return [one for one in statements if one.strip(" \n;")]
