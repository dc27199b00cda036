"""Forgetting a person in the store: their code changes, words, marks and file names go.

The only place where rows of the store are changed. Scores stay, under a code that
nobody has seen before; all pages of the file are written anew, so that nothing of the
old ones is left in it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from .store import RETURNED, Store
from .timed_events import KIND as TIMED

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Iterator

REMOVED = "removed"
TABLE = Path("table")
"""Links and cards for telephones, in a session folder; they go when somebody is forgotten."""
_TABLES = ("answers", "faults", "settled", "uncertain", "decisions", "files", "readings",
           "named_pages", "touches")  # fmt: skip


def files_of(store: Store, assessor: str) -> dict[str, bool]:
    """Return the kept originals that hold something of a person, and whether of others too."""
    rows = store.database.execute("SELECT name, kept_as FROM files ORDER BY id").fetchall()
    found = {}
    for name, kept_as in rows:
        about = {
            who
            for table in ("answers", "faults", "uncertain")
            for (who,) in store.database.execute(
                f"SELECT DISTINCT assessor FROM {table} WHERE file IN (?, ?)",  # noqa: S608
                (name, kept_as),
            )
        } - {""}
        if assessor in about:
            found[str(kept_as)] = len(about) > 1
    return found


def forget_rows(
    store: Store, assessor: str, new: str, words: Iterable[str], originals: Mapping[str, str]
) -> None:
    """Forget a person in the store; running it again does no harm.

    Parameters
    ----------
    store : Store
    assessor, new : str
        The code that goes, and the one under which scores stay.
    words : iterable of str
        Attributes that are answered in free words.
    originals : mapping of str to str
        Kept originals that go, with their checksums.
    """
    database = store.database
    free = list(words)
    marks = ", ".join("?" * len(free))
    with _unlocked(database), store.transaction():
        for kept_as, digest in originals.items():
            (store.folder / RETURNED / kept_as).unlink(missing_ok=True)
            row = database.execute("SELECT name FROM files WHERE kept_as = ?", (kept_as,))
            (name,) = row.fetchone() or ("",)
            if not name:
                continue  # gone by an earlier call, or never in the store
            for table in ("answers", "faults", "uncertain"):
                database.execute(
                    f"UPDATE {table} SET file = ? WHERE file IN (?, ?)",  # noqa: S608
                    (REMOVED, name, kept_as),
                )
            database.execute(
                "UPDATE files SET name = ?, kept_as = ? WHERE kept_as = ?",
                (REMOVED, f"{digest[:12]}-{REMOVED}", kept_as),
            )
        database.execute(
            f"UPDATE answers SET replaces = NULL WHERE assessor = ? AND attribute IN ({marks})",  # noqa: S608
            (assessor, *free),
        )
        database.execute(
            f"DELETE FROM answers WHERE assessor = ? AND attribute IN ({marks})",  # noqa: S608
            (assessor, *free),
        )
        database.execute(
            "UPDATE answers SET assessor = ?, place = '', "
            "written = CASE WHEN text IS NULL THEN '' ELSE text END WHERE assessor = ?",
            (new, assessor),
        )
        database.execute(
            "DELETE FROM settled WHERE fault IN (SELECT id FROM faults WHERE assessor = ?)",
            (assessor,),
        )
        database.execute("DELETE FROM faults WHERE assessor = ?", (assessor,))
        database.execute(
            "DELETE FROM decisions WHERE uncertain IN "
            "(SELECT id FROM uncertain WHERE assessor = ?)",
            (assessor,),
        )
        database.execute("DELETE FROM uncertain WHERE assessor = ?", (assessor,))
        database.execute("DELETE FROM named_pages WHERE assessor = ?", (assessor,))
        _keep_sips(database, assessor, new)
        database.execute("DELETE FROM touches WHERE assessor = ?", (assessor,))
    database.execute("PRAGMA secure_delete = ON")
    database.execute("VACUUM")
    database.execute("PRAGMA wal_checkpoint(TRUNCATE)")


def _keep_sips(database: sqlite3.Connection, assessor: str, new: str) -> None:
    """Let what sips told stay like scores: under the new code, without the telephone."""
    sips = f"assessor = ? AND kind = '{TIMED}' AND outcome = 'saved'"
    devices = database.execute(
        f"SELECT device FROM touches WHERE {sips} GROUP BY device ORDER BY min(id)",  # noqa: S608
        (assessor,),
    ).fetchall()
    for number, (device,) in enumerate(devices, start=1):
        database.execute(
            f"UPDATE touches SET assessor = ?, device = ? WHERE {sips} AND device = ?",  # noqa: S608
            (new, f"{REMOVED}-{number}", assessor, device),
        )


@contextmanager
def _unlocked(database: sqlite3.Connection) -> Iterator[None]:
    """Take the locks against changes off, and put them on again as they were."""
    marks = ", ".join("?" * len(_TABLES))
    locks = database.execute(
        f"SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND tbl_name IN ({marks})",  # noqa: S608
        _TABLES,
    ).fetchall()
    database.execute("PRAGMA foreign_keys = OFF")
    try:
        for name, _ in locks:
            database.execute(f"DROP TRIGGER IF EXISTS {name}")
        yield
    finally:
        for _, sql in locks:
            database.execute(sql.replace("CREATE TRIGGER", "CREATE TRIGGER IF NOT EXISTS", 1))
        database.execute("PRAGMA foreign_keys = ON")
