"""What a co-leader's folder has gathered since its pack, taken into the session it came from.

Neither log is touched by the other: theirs must hold the entry by which the pack was handed out,
and be whole from there on; it is laid beside ours, and ours says that it was, with its head.
Answers go in under the rules by which sheets do: the same again is nothing new, another one of
the same question is a fault, and a correction made there of what stood here counts.
"""

from __future__ import annotations

import sqlite3
import tempfile
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from ...forms.answers.answer import Answer, Fault
from ..base.errors import InputRefused
from ..base.session_log import FILE as LOG
from ..base.session_log import Log, append, read_log
from ..base.whole_files import write_bytes
from ..plan.open_plan import OpenPlan
from ..returns.logged_answers import note_answers
from ..returns.open_marks import waiting
from ..returns.store import FILE as STORE
from ..returns.store import RETURNED, Store, checksum
from ..returns.timed_events import KIND as TIMED
from .packing import ACT

MERGE = "merge"
"""What the log calls it."""
MERGED = Path("merged")
_MARK = ("key", "session", "assessor", "code", "attribute", "file", "place", "reason", "picture",
         "choices", "low", "high", "seen_at", "plan")  # fmt: skip
LARGEST = 4 << 30
"""Bytes that a pack may hold unpacked; more is no pack of a tasting (no source)."""
Cell = tuple[str, str, str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Merged:
    """The outcome of one merging.

    Attributes
    ----------
    added : int
        Rows added to the store: answers, corrections, withdrawals.
    files : int
        Originals that were not here yet.
    disputed : int
        Questions that were answered differently in the two places since the pack.
    strangers : tuple of str
        Codes of people of whom nothing was taken in, since they are in no plan any more.
    marks : int
        Marks in pictures that came along and wait for a person.
    """

    added: int
    files: int
    disputed: int
    strangers: tuple[str, ...]
    marks: int


def merge(plan: OpenPlan, store: Store, pack: Path) -> Merged:
    """Take in what came back, all of it or nothing; doing it again adds nothing.

    To be called while no other command works in the folder.

    Parameters
    ----------
    plan : OpenPlan
    store : Store
        The one of the session that the pack came from.
    pack : Path
        A pack for a co-leader that was made in the other place, or that place's folder.

    Raises
    ------
    InputRefused
        If it is no such pack, comes from another session, was planned again or changed there,
        or its log is not whole.
    """
    with _unpacked(pack) as theirs, _their_store(theirs, pack) as other:
        their_log = _their_log(theirs, pack)
        fork = _fork(read_log(store.folder), their_log, pack)
        _originals_whole(other, theirs, pack)
        note_answers(store, "found")
        kept = write_bytes(_kept_log(store.folder, their_log), (theirs / LOG).read_bytes())
        with store.transaction():
            before = set(waiting(store))
            files = _take_files(store, other, theirs)
            merged = _take_answers(store, plan, other, _row_at(other, fork))
            _take_sips(store, plan, other)
            _take_marks(store, other)
            _take_faults(store, other)
            marks = len(set(waiting(store)) - before)
        _log_merge(store.folder, their_log, kept)
        note_answers(store)
    return replace(merged, files=files, marks=marks)


@contextmanager
def _unpacked(pack: Path) -> Iterator[Path]:
    """Give the session folder in a pack, unpacked aside; a folder is taken as it is."""
    if pack.is_dir():
        yield pack
        return
    try:
        with zipfile.ZipFile(pack) as content, tempfile.TemporaryDirectory() as place:
            names = content.infolist()
            logs = [one.filename for one in names if Path(one.filename).name == LOG]
            if len(logs) != 1 or sum(one.file_size for one in names) > LARGEST:
                raise InputRefused("merge.no_pack", file=pack.name)
            content.extractall(place)  # leaves no place but this one: names are made harmless
            yield Path(place, logs[0]).parent
    except (zipfile.BadZipFile, RuntimeError, EOFError, NotImplementedError) as fault:
        raise InputRefused("merge.no_pack", file=pack.name) from fault


def _their_store(theirs: Path, pack: Path) -> Store:
    """Open their store to look at it, brought to this version."""
    if not (theirs / STORE).is_file():
        raise InputRefused("merge.no_pack", file=pack.name)
    try:
        return Store(theirs, reading=True)
    except sqlite3.DatabaseError as fault:
        raise InputRefused("merge.no_pack", file=pack.name) from fault


def _their_log(theirs: Path, pack: Path) -> Log:
    log = read_log(theirs)
    if not log.there:
        raise InputRefused("merge.no_pack", file=pack.name)
    broken = [one for one in log.breaks if one.kind != "clock"]
    if broken:
        raise InputRefused("merge.broken_log", file=pack.name, line=broken[0].line)
    return log


def _fork(ours: Log, theirs: Log, pack: Path) -> int:
    """Return the rows that the store held when the last pack that both logs know was made."""
    known = {entry.head for entry in theirs.entries}
    common = [entry for entry in ours.of(ACT) if entry.head in known]
    if not common:
        raise InputRefused("merge.other_session", file=pack.name)
    last = common[-1]
    if any(entry.number > last.number for entry in theirs.of("plan", "change")):
        raise InputRefused("merge.other_plan", file=pack.name)
    return int(last.values["rows"])


def _row_at(other: Store, rows: int) -> int:
    """Return the number of the last answer that was there at the fork."""
    found = other.database.execute(
        "SELECT max(id) FROM (SELECT id FROM answers ORDER BY id LIMIT ?)", (rows,)
    ).fetchone()
    return int(found[0] or 0)


def _originals_whole(other: Store, theirs: Path, pack: Path) -> None:
    for name, digest in other.database.execute("SELECT kept_as, sha256 FROM files"):
        path = theirs / RETURNED / name
        if path.is_file() and checksum(path) != digest:
            raise InputRefused("merge.altered", file=pack.name, original=name)


def _take_files(store: Store, other: Store, theirs: Path) -> int:
    """Keep originals that are not here, and note what was read from them there."""
    known = {digest for (digest,) in store.database.execute("SELECT sha256 FROM files")}
    taken = 0
    there = other.database
    for number, name, digest in there.execute("SELECT id, kept_as, sha256 FROM files").fetchall():
        path = theirs / RETURNED / name
        if digest in known or not path.is_file():
            continue  # one that is gone was removed with a person who was forgotten
        store.keep(path)
        taken += 1
        for plan, *counts in there.execute(
            "SELECT plan, answers, faults, marks FROM readings WHERE file = ? ORDER BY id",
            (number,),
        ):
            answers, faults, marks = counts
            store.note_reading(path, plan, answers=answers, faults=faults, marks=marks)
    return taken


def _take_answers(store: Store, plan: OpenPlan, other: Store, fork: int) -> Merged:
    added = disputed = 0
    strangers = set()
    for cell in _changed(other, fork):
        version, assessor, code, _ = cell
        if not _is_served(plan, version, assessor, code):
            strangers.add(assessor)
            continue
        told, by = _last(other, cell)
        stands, was = store.at(cell), _values(store, cell)
        there = _values(other, cell)
        if stands is None and was and there[-1] is not None:
            # taken back here, answered there: a person has to say which of the two holds
            disputed += _dispute(store, told, version, "–")
        elif stands is None and there[-1] is not None:
            added += store.add([told], plan=version, decided_by=by)[0]
        elif stands is not None and stands.answer.value in there[:-1]:
            added += _correct(store, told, version, by, blank=there[-1] is None)
        elif stands is not None and there[-1] is None:
            disputed += _dispute(store, told, version, stands.answer.as_written())
        elif stands is not None:
            _, faults = store.add([told], plan=version)
            store.note_faults(faults, version)
            disputed += len(faults)
    return Merged(added=added, files=0, disputed=disputed, strangers=tuple(sorted(strangers)),
                  marks=0)  # fmt: skip


def _correct(store: Store, told: Answer, version: str, by: str, *, blank: bool) -> int:
    """Let what stands give way to what was put in its place in the other place."""
    if blank:
        return int(store.withdraw(told, plan=version, decided_by=by))
    return store.add([told], plan=version, correct=True, decided_by=by)[0]


def _dispute(store: Store, told: Answer, version: str, here: str) -> int:
    """Note that a question was answered in one place and taken back in the other."""
    found = f"{here} / {told.as_written() if told.value != '' else '–'}"
    store.note_faults(
        [
            Fault(kind="two_answers", file=told.file, place=told.place, assessor=told.assessor,
                  code=told.code, attribute=told.attribute, found=found)
        ],
        version,
    )  # fmt: skip
    return 1


def _changed(other: Store, fork: int) -> list[Cell]:
    """Return the questions that were answered there since the pack, first one first."""
    return [
        (str(plan), str(assessor), str(code), str(attribute))
        for plan, assessor, code, attribute in other.database.execute(
            "SELECT plan, assessor, code, attribute FROM answers WHERE id > ? "
            "GROUP BY plan, assessor, code, attribute ORDER BY min(id)",
            (fork,),
        )
    ]


def _values(store: Store, cell: Cell) -> list[float | str | None]:
    """Return what a question was answered in turn; None where the answer was taken back."""
    return [
        number if text is None else text
        for number, text in store.database.execute(
            "SELECT number, text FROM answers WHERE plan = ? AND assessor = ? AND code = ? "
            "AND attribute = ? ORDER BY id",
            cell,
        )
    ]


def _last(other: Store, cell: Cell) -> tuple[Answer, str]:
    """Return the last row of a question there, and who decided on it."""
    session, number, text, file, place, written, confidence, by = other.database.execute(
        "SELECT session, number, text, file, place, written, confidence, decided_by FROM answers "
        "WHERE plan = ? AND assessor = ? AND code = ? AND attribute = ? ORDER BY id DESC LIMIT 1",
        cell,
    ).fetchone()
    blank = number is None and text is None
    _, assessor, code, attribute = cell
    answer = Answer(
        session=session, assessor=assessor, code=code, attribute=attribute,
        value="" if blank else number if text is None else text, file=file, place=place,
        written=written, confidence=confidence,
    )  # fmt: skip
    return answer, str(by)


def _take_sips(store: Store, plan: OpenPlan, other: Store) -> None:
    """Take along what telephones told there of sips; a number of a device is taken once.

    Nobody comes back by it who is in no plan any more.
    """
    listed = "plan, assessor, device, number, kind, code, attribute, value, outcome, at"
    rows = other.database.execute(
        f"SELECT {listed} FROM touches WHERE kind = ? AND outcome = 'saved' ORDER BY id",  # noqa: S608
        (TIMED,),
    ).fetchall()
    store.database.executemany(
        f"INSERT OR IGNORE INTO touches ({listed}) VALUES ({', '.join('?' * 10)})",  # noqa: S608
        [row for row in rows if _is_served(plan, row[0], row[1], row[5])],
    )


def _is_served(plan: OpenPlan, version: str, assessor: str, code: str) -> bool:
    """Tell whether an assessor was served a cup by a version of the plan."""
    served = plan.holding(assessor, code)
    return served is not None and served.version == version


def _take_marks(store: Store, other: Store) -> None:
    """Take marks in pictures along, with what was decided about them there."""
    here, there = store.database, other.database
    known = dict(here.execute("SELECT key, id FROM uncertain"))
    listed = ", ".join(_MARK)
    for number, *told in there.execute(f"SELECT id, {listed} FROM uncertain ORDER BY id"):  # noqa: S608 - our names
        key = told[0]
        if key not in known:
            known[key] = here.execute(
                f"INSERT INTO uncertain ({listed}) VALUES ({', '.join('?' * len(told))})",  # noqa: S608
                told,
            ).lastrowid
        made = _decisions(here, known[key])
        here.executemany(
            "INSERT INTO decisions (uncertain, number, text, decided_at, decided_by) "
            "VALUES (?, ?, ?, ?, ?)",
            [(known[key], *one) for one in _decisions(there, number) if one not in made],
        )


def _decisions(database: sqlite3.Connection, number: int) -> list[tuple[object, ...]]:
    return database.execute(
        "SELECT number, text, decided_at, decided_by FROM decisions WHERE uncertain = ? "
        "ORDER BY id",
        (number,),
    ).fetchall()


def _take_faults(store: Store, other: Store) -> None:
    """Take along what needs a person there and is not open here."""
    here = list(store.faults().values())
    versions = dict(other.database.execute("SELECT id, plan FROM faults"))
    for number, fault in other.faults().items():
        if fault not in here:
            store.note_faults([fault], versions[number])


def _kept_log(folder: Path, log: Log) -> Path:
    """Return where the log of the other place is laid."""
    (folder / MERGED).mkdir(exist_ok=True)
    return folder / MERGED / f"{log.head[:16]}-{LOG}"


def _log_merge(folder: Path, theirs: Log, log: Path) -> None:
    """Tell our log that another one was laid beside it, once."""
    told = [entry.values.get("theirs") for entry in read_log(folder).of(MERGE)]
    if theirs.head not in told:
        append(
            folder,
            MERGE,
            theirs=theirs.head,
            entries=len(theirs.entries),
            log=log.name,
            sha256=checksum(log),
        )


def merged_logs(folder: Path) -> list[tuple[str, str]]:
    """Return the logs of other places that lie beside ours: name and checksum as logged."""
    told = read_log(folder).of(MERGE)
    return [(str(entry.values["log"]), str(entry.values["sha256"])) for entry in told]
