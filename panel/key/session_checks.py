"""The whole state of a session in words: what was lost, changed or cut since it was planned."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import dataclass, replace
from pathlib import Path

from ...analysis.core.words import Sentence
from ...forms.reading import read_file
from ..base.errors import NotReady
from ..base.private_files import is_closed
from ..base.session_log import Log, read_log
from ..base.whole_files import changed_files, made_files
from ..base.words import sentence
from ..open_flight.flight import load_flight
from ..open_flight.flight_state import untold_change
from ..open_flight.named_sheets import SHEETS
from ..packs.merging import MERGED, merged_logs
from ..packs.packing import without_key
from ..plan.codes_before import EARLIER, KEY
from ..plan.key_file import change_parts, key_content
from ..plan.late_changes import plain
from ..plan.measured_later import COLUMNS, is_as_logged
from ..plan.open_plan import OpenPlan
from ..plan.sealing import fingerprint, seal
from ..plan.since_planning import differences
from ..returns.closed_flights import FOLDER, closed
from ..returns.logged_answers import compare, openings_broken_off, settings_mark
from ..returns.opened_store import open_database
from ..returns.session_status import answered_unserved
from ..returns.store import FILE, RETURNED, Store, checksum
from ..session.session import Session
from .forgetting import going, is_begun

NAMES = "names.csv"
_LISTED = 20
"""Answers that are named one by one."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that `check` tells.

    Attributes
    ----------
    what : Sentence
    person : bool
        Whether somebody has to look at it; else it is only said.
    about : str
        ``log``, ``key``, ``plan``, ``files``, ``bottles``, ``assessors`` or ``settings``.
    """

    what: Sentence
    person: bool
    about: str


def check(session: Session, plan: OpenPlan, store: Store) -> list[Finding]:
    """Look at everything that can be checked without opening the key; write nothing."""
    log = read_log(session.folder)
    return [
        *_log(log, store),
        *_plans(session, plan, log),
        *_since(session, plan, log),
        *_originals(session.folder, store, log),
        *(_changed_rows(plan, store) if _has_other_rows(store, log) else ()),
        *_files(session.folder, store),
        *_merged(session.folder),
        *(
            _found("unserved_answered", "plan", assessor=who, n=count)
            for who, count in answered_unserved(plan, store).items()
        ),
        *_open_flight(session, plan, store),
    ]


def _open_flight(session: Session, plan: OpenPlan, store: Store) -> list[Finding]:
    """Tell whether the blind part is as it was closed, and the open flight as it was opened."""
    folder = session.folder
    if closed(folder) is None:
        early = (folder / SHEETS).is_dir()
        return [Finding(sentence("open_flight.check_early"), True, "log")] if early else []
    told = []
    entry = untold_change(session, store)
    if entry is not None:
        told.append(Finding(sentence("open_flight.check_blind", at=entry.at), True, "files"))
    try:
        load_flight(session, plan)
    except NotReady:
        told.append(Finding(sentence("open_flight.check_file"), True, "files"))
    with Store(folder / FOLDER, reading=True) as own:
        log = read_log(folder / FOLDER)
        found = [*(_log(log, own) if own.answers() or log.there else ())]
        removed = {
            digest for one in read_log(folder).of("forget") for digest in one.values["removed"]
        }
        found += _originals(folder / FOLDER, own, log, frozenset(removed))
    told += [replace(one, what=sentence("open_flight.check_store", what=one.what)) for one in found]
    told += [
        _found("file_changed", "files", file=f"{SHEETS.as_posix()}/{name}")
        for name in changed_files(folder / SHEETS)
    ]
    return told


def _found(key: str, about: str, *, person: bool = True, **values: object) -> Finding:
    return Finding(sentence(f"check.{key}", **values), person, about)


def _log(log: Log, store: Store) -> list[Finding]:
    told = [
        _found(f"log_{one.kind}", "log", person=one.kind == "broken", line=one.line)
        for one in log.breaks
    ]
    if not log.there:
        return [_found("no_log", "log")]
    for found in compare(store, log):
        values = {"number": found.number, "told": found.told, "found": found.found}
        told.append(_found(found.kind, "log", person=found.kind != "untold", **values))
    opened = len(log.of("open"))
    known = sum(one.after_row is not None for one in store.openings())  # else from before logs
    if opened > known and opened - known == len(openings_broken_off(store, log)):
        told.append(_found("openings_broken_off", "log", person=False, n=opened - known))
    elif opened > known:
        told.append(_found("openings_lost", "log", told=opened, found=known))
    elif known > opened:
        told.append(_found("openings_untold", "log", told=opened, found=known))
    return told


def _plans(session: Session, plan: OpenPlan, log: Log) -> list[Finding]:
    told = []
    logged, changes = _sealed(log)
    if is_begun(session.folder):
        told.append(_found("forgetting_begun", "files"))
    for version in plan.versions:
        if not version.sealed:
            told.append(_found("plan_unsealed", "plan", person=False, number=version.number))
            continue
        if log.there and version.sealed not in logged:
            told.append(_found("plan_untold", "plan", number=version.number))
        try:
            content = key_content(session, version)
            change_parts(session, version)
        except NotReady as refusal:
            closed = refusal.sentence.key == "key.closed"
            if without_key(session.folder):
                told.append(_found("co_leader", "key", person=False))
                break
            told.append(Finding(refusal.sentence, person=not closed, about="key"))
            continue
        open_half = {name: value for name, value in version.content.items() if name != "sealed"}
        if content["open_half"] != seal(open_half):
            told.append(_found("plan_changed", "plan", number=version.number))
    if logged and plan.sealed and logged[-1] != plan.sealed:
        told.append(_found("plan_not_last", "plan", mark=fingerprint(plan.sealed)))
    for version in plan.versions:
        made = version.course.changes
        for change in made:
            logged_as = changes.pop((version.number, change.number), "")
            if not logged_as and change is made[-1] and version is plan:
                told.append(_found("change_untold", "plan", person=False, number=change.number))
            elif logged_as != seal(plain(change)):
                told.append(_found("change_other", "plan", number=change.number))
    told += [_found("change_lost", "plan", number=number) for _, number in changes]
    return told


def _sealed(log: Log) -> tuple[list[str], dict[tuple[int, int], str]]:
    """Return the seals that the log tells of plans and late changes, the last ones that hold."""
    plans: dict[int, str] = {}
    changes: dict[tuple[int, int], str] = {}
    for entry in log.entries:
        told = entry.values
        if entry.act == "plan":
            plans.pop(told["plan"], None)
            plans[told["plan"]] = str(told["sealed"])
        elif entry.act == "change":
            changes[told["plan"], told["number"]] = str(told["sealed"])
        elif entry.act == "forget":
            plans |= {int(number): str(one) for number, one in told["sealed"].items()}
            for name, one in told["changes"].items():
                plan, _, number = name.partition(".")
                changes[int(plan), int(number)] = str(one)
    return list(plans.values()), changes


def _since(session: Session, plan: OpenPlan, log: Log) -> list[Finding]:
    try:
        found = differences(session, plan)
    except NotReady:
        return []
    told = []
    for one in found:
        about = one.kind.partition("_")[0] + "s"
        kind, person = one.kind, one.kind != "setting_harmless"
        if kind == "bottle_changed" and one.field in COLUMNS:
            kind = "bottle_measured"
        if kind == "assessor_new":
            person = False
        told.append(
            _found(
                kind,
                about,
                person=person,
                what=one.what,
                field=one.field,
                planned=one.planned,
                now=one.now,
            )
        )
    if any(one.kind == "setting_changed" for one in found):
        told += _settings_when(session.folder, log)
    if not is_as_logged(session.folder):
        told.append(_found("measured_other", "bottles"))
    return told


def _settings_when(folder: Path, log: Log) -> list[Finding]:
    """Say how much was in when the settings became what they are, as far as the log tells."""
    now = settings_mark(folder)
    telling = [entry for entry in log.entries if entry.values.get("settings")]
    before = [entry for entry in telling if entry.values["settings"] != now]
    if not before:
        return [_found("settings_first", "settings", person=False)] if telling else []
    last = before[-1]
    opened = any(entry.number <= last.number for entry in log.of("open"))
    kind = "settings_opened" if opened else "settings_late"
    return [_found(kind, "settings", n=last.values["rows"], at=last.at)]


def _changed_rows(plan: OpenPlan, store: Store) -> list[Finding]:
    """Name the answers that are not what their unchanged originals say."""
    rows = store.database.execute("SELECT name, kept_as, sha256 FROM files").fetchall()
    said: dict[tuple[str, str, str, str], object] = {}
    for name, kept_as, digest in rows:
        path = store.folder / RETURNED / kept_as
        if path.is_file() and checksum(path) == digest:
            for one in read_file(path, plan.sheets).answers:
                said[name, one.assessor, one.code, one.attribute] = one.value
    told = []
    for stored in store.answers():
        one = stored.answer
        there = said.get((one.file, one.assessor, one.code, one.attribute), one.value)
        if there != one.value and not stored.corrections:
            told.append(
                _found(
                    "row_other", "files", file=one.file, assessor=one.assessor, code=one.code,
                    attribute=one.attribute, told=there, found=one.value,
                )
            )  # fmt: skip
    return told[:_LISTED]


def _originals(
    folder: Path, store: Store, log: Log, others: frozenset[str] = frozenset()
) -> list[Finding]:
    told = []
    removed = {digest for entry in log.of("forget") for digest in entry.values.get("removed", ())}
    removed |= others
    removed |= going(folder)
    rows = store.database.execute("SELECT kept_as, sha256 FROM files ORDER BY id").fetchall()
    gone = 0
    for name, digest in rows:
        path = folder / RETURNED / name
        if digest in removed:
            gone += 1
        elif not path.is_file():
            told.append(_found("original_gone", "files", file=name))
        elif checksum(path) != digest:
            told.append(_found("original_changed", "files", file=name))
    if gone:
        told.append(_found("original_removed", "files", person=False, n=gone))
    told += [_found("original_unread", "files", file=name) for name in store.unread()]
    return told


def _files(folder: Path, store: Store) -> list[Finding]:
    told = [
        _found("file_changed", "files", file=f"{place}/{name}")
        for place in ("plan", "plan/server", "sheets", "report")
        for name in changed_files(folder / place)
    ]
    listed = made_files(folder / "sheets")
    told += [
        _found("sheets_old", "files", number=kept.parent.name)
        for kept in sorted((folder / EARLIER).glob("*/sheets"))
        if listed and listed == made_files(kept)
    ]
    told += [
        _second_store(path, store)
        for path in sorted(folder.glob("*.sqlite"))
        if path.name != FILE and not path.name.startswith("answers-before-version-")
    ]
    told += [
        _found("readable", "files", person=False, file=name)
        for name in (KEY.as_posix(), NAMES)
        if (folder / name).is_file() and not is_closed(folder / name)
    ]
    return told


def _merged(folder: Path) -> list[Finding]:
    """Tell whether the logs of other places are as they were laid beside ours."""
    told = []
    for name, digest in merged_logs(folder):
        path = folder / MERGED / name
        if not path.is_file():
            told.append(_found("merged_gone", "log", file=name))
        elif checksum(path) != digest:
            told.append(_found("merged_changed", "log", file=name))
    return told


def _has_other_rows(store: Store, log: Log) -> bool:
    return any(found.kind == "rows_changed" for found in compare(store, log))


def _second_store(path: Path, store: Store) -> Finding:
    """Say how many answers another store holds that this one has not."""
    wanted = "SELECT assessor, code, attribute, number, text FROM answers"
    try:
        database, _ = open_database(path, reading=True)
        with closing(database):
            other = set(database.execute(wanted))
    except sqlite3.Error:
        return _found("second_store_torn", "files", file=path.name)
    more = len(other - set(store.database.execute(wanted)))
    return _found("second_store", "files", file=path.name, n=more)
