"""The whole state of a session in words: what was lost, changed or cut since it was planned."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from ...analysis.core.words import Sentence
from ..base.errors import NotReady
from ..base.private_files import is_closed
from ..base.session_log import Log, read_log
from ..base.whole_files import changed_files, made_files
from ..base.words import sentence
from ..plan.codes_before import EARLIER, KEY
from ..plan.key_file import change_parts, key_content
from ..plan.late_changes import plain
from ..plan.measured_later import COLUMNS, is_as_logged
from ..plan.open_plan import OpenPlan
from ..plan.sealing import fingerprint, seal
from ..plan.since_planning import differences
from ..returns.logged_answers import compare, openings_broken_off
from ..returns.store import FILE, RETURNED, Store, checksum
from ..session.session import Session
from .forgetting import is_begun

NAMES = "names.csv"


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
        *_since(session, plan),
        *_originals(session.folder, store, log),
        *_files(session.folder),
    ]


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
            told.append(Finding(refusal.sentence, person=True, about="key"))
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


def _since(session: Session, plan: OpenPlan) -> list[Finding]:
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
    if not is_as_logged(session.folder):
        told.append(_found("measured_other", "bottles"))
    return told


def _originals(folder: Path, store: Store, log: Log) -> list[Finding]:
    told = []
    removed = {digest for entry in log.of("forget") for digest in entry.values.get("removed", ())}
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


def _files(folder: Path) -> list[Finding]:
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
        _found("second_store", "files", file=path.name)
        for path in sorted(folder.glob("*.sqlite"))
        if path.name != FILE and not path.name.startswith("answers-before-version-")
    ]
    told += [
        _found("readable", "files", person=False, file=name)
        for name in (KEY.as_posix(), NAMES)
        if (folder / name).is_file() and not is_closed(folder / name)
    ]
    return told
