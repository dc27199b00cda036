"""One file for a taster, with that taster's sheets; one for a co-leader, with all but the key.

What goes in is listed here by name. A file that this program does not know stays at home: it
could tell what is in a cup, or who is behind a code.
"""

from __future__ import annotations

import sqlite3
import tempfile
import zipfile
from collections.abc import Iterator
from pathlib import Path, PurePosixPath

from ..base.errors import InputRefused, NotReady
from ..base.session_log import FILE as LOG
from ..base.session_log import append, read_log
from ..base.whole_files import changed_files, made_files, whole_file
from ..base.words import say
from ..handouts.sheet_files import SHEETS
from ..plan.codes_before import CHANGES, EARLIER, KEY, OPEN_HALF
from ..plan.open_plan import OpenPlan
from ..returns.logged_answers import held, note_answers
from ..returns.store import FILE as STORE
from ..returns.store import RETURNED, Store
from ..session.session import Session

ACT = "pack"
"""What the log calls a pack for a co-leader; from its entry on there are two logs."""
READ_ME = "READ_ME.txt"
CO_LEADER = "co-leader.txt"
"""The same words inside the folder: by this file it is known that the key is not missed there."""
OPEN_FILES = ("session.toml", "bottles.csv", "assessors.csv", "plan/orders.csv",
              "plan/cup_labels.pdf", OPEN_HALF.as_posix(), CHANGES.as_posix())  # fmt: skip
"""Files of a session that neither tell what is in a cup nor who is behind a code."""
OLD = (1980, 1, 1, 0, 0, 0)


def pack_for_taster(session: Session, plan: OpenPlan, assessor: str, target: Path) -> list[str]:
    """Write one file with the sheets of one assessor and nothing else of the session.

    Parameters
    ----------
    session : Session
    plan : OpenPlan
    assessor : str
        A code of the plan.
    target : Path
        The file to write; what stood there gives way to it.

    Returns
    -------
    list of str
        The names of the files in it.

    Raises
    ------
    InputRefused
        If no such assessor is planned.
    NotReady
        If the sheets were not written yet, or not as the plan stands.
    """
    if assessor not in plan.sheets:
        raise InputRefused("pack.no_assessor", assessor=assessor, known=sorted(plan.sheets))
    folder = session.folder / SHEETS
    names = [f"{assessor}.pdf", f"{assessor}.xlsx"]
    made = made_files(folder) if folder.is_dir() else {}
    planned = [entry.values.get("plan") for entry in read_log(session.folder).of("sheets")]
    stale = planned[-1:] != [plan.number]
    if stale or not set(names) <= set(made) or set(names) & set(changed_files(folder)):
        raise NotReady("pack.no_sheets", folder=session.folder)
    language = plan.sheets[assessor].language
    words = say("pack.to_taster", language, assessor=assessor, title=session.settings.title)
    with whole_file(target) as aside, zipfile.ZipFile(aside, "w", zipfile.ZIP_DEFLATED) as pack:
        _lay(pack, READ_ME, words.encode())
        for name in names:
            _lay(pack, name, (folder / name).read_bytes())
    return [READ_ME, *names]


def pack_for_co_leader(session: Session, store: Store, target: Path) -> list[str]:
    """Write one file with everything but the key, and log that it was handed out.

    To be called while no other command works in the folder. The pack holds the log up to its
    own entry: what comes back is told by it.

    Parameters
    ----------
    session : Session
    store : Store
    target : Path

    Returns
    -------
    list of str
        The names of the files in it.
    """
    folder = session.folder
    note_answers(store, "found")
    append(folder, ACT, **held(store).told())
    language = session.settings.language
    own = Path(folder.resolve().name)
    words = say("pack.to_co_leader", language, title=session.settings.title, folder=own).encode()
    names = [READ_ME, CO_LEADER]
    with whole_file(target) as aside, zipfile.ZipFile(aside, "w", zipfile.ZIP_DEFLATED) as pack:
        _lay(pack, READ_ME, words)
        _lay(pack, f"{own}/{CO_LEADER}", words)
        for name in _open_files(folder):
            _lay(pack, f"{own}/{name}", (folder / name).read_bytes())
            names.append(str(name))
        _lay(pack, f"{own}/{STORE}", _whole_store(store))
    return [*names, STORE]


def without_key(folder: Path) -> bool:
    """Tell whether a folder is a co-leader's, which has no key and misses none."""
    return (folder / CO_LEADER).is_file() and not (folder / KEY).exists()


def _open_files(folder: Path) -> Iterator[PurePosixPath]:
    """Name what may leave: listed files, earlier open plans, sheets as written, originals."""
    for name in (*OPEN_FILES, LOG):
        if (folder / name).is_file():
            yield PurePosixPath(name)
    for inside in (EARLIER, SHEETS, Path(RETURNED)):
        for path in sorted((folder / inside).rglob("*")):
            if path.is_file() and not path.is_symlink() and not path.name.startswith("."):
                yield PurePosixPath(path.relative_to(folder).as_posix())


def _whole_store(store: Store) -> bytes:
    """Return the store as one file, whatever lies in the log ahead of it."""
    with tempfile.TemporaryDirectory() as place:
        path = Path(place, STORE)
        copy = sqlite3.connect(path)
        try:
            store.database.backup(copy)
            copy.execute("PRAGMA journal_mode = DELETE")
        finally:
            copy.close()
        return path.read_bytes()


def _lay(pack: zipfile.ZipFile, name: str, content: bytes) -> None:
    """Lay a file into a pack; the hour of its making is nobody's business."""
    pack.writestr(zipfile.ZipInfo(name, OLD), content, zipfile.ZIP_DEFLATED)
