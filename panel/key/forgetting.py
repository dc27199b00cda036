"""Forgetting a person: a new code, no originals, no words, no name; on the record.

Scores stay under the new code, so that results stay what they were. Plans and keys are
written anew with it and sealed again, which the log tells: afterwards the fingerprint
that was noted before the tasting can no longer be shown, only that it was replaced here.
"""

from __future__ import annotations

import csv
import io
import json
import re
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ...forms.answers.answer import REMARK
from ...forms.answers.table_text import laid_out
from ...forms.questions.question_types import Kind
from ...forms.reading import read_file
from ..base.errors import InputRefused
from ..base.private_files import close
from ..base.records import LARGEST
from ..base.session_log import append, read_log
from ..base.table_grid import read_grid, text_in, text_of
from ..base.whole_files import MADE, list_made, remove_folder, whole_file, write_bytes, write_text
from ..open_flight.flight import FILE as FLIGHT
from ..open_flight.flight import as_plan
from ..open_flight.named_sheets import SHEETS as NAMED_SHEETS
from ..plan.asked_questions import Asked, sheets
from ..plan.codes_before import (
    CHANGES,
    EARLIER,
    EARLIER_KEYS,
    FORGETTING,
    GROWING,
    KEY,
    KEY_CHANGES,
    OPEN_HALF,
)
from ..plan.late_changes import brought_back, plain
from ..plan.open_plan import OpenPlan
from ..plan.plan_file import content_of
from ..plan.pours import Pour
from ..plan.sealing import seal, written
from ..returns.closed_flights import FOLDER
from ..returns.forgotten_rows import TABLE, files_of, forget_rows
from ..returns.logged_answers import held, remember
from ..returns.store import RETURNED, Store
from ..session.roster import Assessor
from ..session.session import Session

NAMES = "names.csv"
_LETTERS = "ABCDEFGHJKMNPQRTUVWXYZ2346789"


@dataclass(frozen=True, slots=True, kw_only=True)
class Forgetting:
    """What forgetting a person takes away.

    Attributes
    ----------
    assessor : str
    originals : dict of str to bool
        Kept files, and whether they hold answers of others too.
    words : int
        Answers in free words.
    scores : int
        Answers that stay, without words.
    named : bool
        Whether ``names.csv`` has a line.
    """

    assessor: str
    originals: dict[str, bool]
    words: int
    scores: int
    named: bool


def look(session: Session, plan: OpenPlan, store: Store, assessor: str) -> Forgetting:
    """Say what would go and what would stay.

    Raises
    ------
    InputRefused
        If nobody has that code.
    """
    known = {one.code for version in plan.versions for one in version.assessors}
    if assessor not in known and _begun(session.folder).get("assessor") != assessor:
        raise InputRefused("forget.nobody", assessor=assessor, known=sorted(known))
    free = set(_words(session, plan))
    known_as = {assessor, _begun(session.folder).get("new", assessor)}
    own = [one for one in store.answers() if one.answer.assessor in known_as]
    originals = _originals(plan, store, assessor)
    with _named(session.folder, plan) as named:
        if named is not None:
            own += [one for one in named[1].answers() if one.answer.assessor in known_as]
            originals |= _originals(*named, assessor)
    words = sum(one.answer.attribute in free for one in own)
    return Forgetting(
        assessor=assessor,
        originals=originals,
        words=words,
        scores=len(own) - words,
        named=assessor in _names(session.folder),
    )


def forget(session: Session, plan: OpenPlan, store: Store, found: Forgetting) -> str:
    """Forget a person; return the new code. What was broken off is finished by another call.

    Parameters
    ----------
    session : Session
    plan : OpenPlan
    store : Store
    found : Forgetting
        What `look` said.
    """
    folder, assessor = session.folder, found.assessor
    begun = _begun(folder)
    new = str(begun.get("new") or _new_code(plan, session))
    mine = [name for name in found.originals if (store.folder / RETURNED / name).is_file()]
    going = {**store.digests(mine), **begun.get("originals", {})}
    content = {"assessor": assessor, "new": new, "originals": going}
    _note(folder, content)
    with store.transaction():  # a reading that began before the note is over, and none begins now
        going |= store.digests(_originals(plan, store, assessor))
    with _named(folder, plan) as named:
        if named is not None:
            going |= named[1].digests(_originals(*named, assessor))
    _note(folder, content)
    words = _words(session, plan)
    forget_rows(store, assessor, new, words, going)
    flight = _forget_named(folder, plan, assessor, new, words, going)
    _clear(folder)
    remove_folder(folder / TABLE)
    _roster(folder, assessor, new)
    _forget_name(folder, assessor)
    seals, changes = _plans(folder, assessor, new)
    entry = append(
        folder,
        "forget",
        sealed=seals,
        changes=changes,
        removed=sorted(going.values()),
        **flight,
        **held(store).told(),
    )
    remember(store, entry)
    (folder / FORGETTING).unlink()
    return new


@contextmanager
def _named(folder: Path, plan: OpenPlan) -> Iterator[tuple[OpenPlan, Store] | None]:
    """Give the open flight and its store, where there is one; its seal may be of before."""
    if not (folder / FLIGHT).is_file():
        yield None
        return
    with Store(folder / FOLDER) as store:
        yield as_plan(content_of(folder / FLIGHT, FLIGHT), plan), store


def _forget_named(  # noqa: PLR0917
    folder: Path, plan: OpenPlan, assessor: str, new: str, words: list[str], going: dict[str, str]
) -> dict[str, str]:
    """Forget a person in the open flight; return its new seal for the log."""
    with _named(folder, plan) as named:
        if named is None:
            return {}
        store = named[1]
        forget_rows(store, assessor, new, words, going)
        if read_log(store.folder).there:
            told = append(store.folder, "forget", removed=sorted(going.values()),
                          **held(store).told())  # fmt: skip
            remember(store, told)
    content = _renamed(content_of(folder / FLIGHT, FLIGHT), assessor, new)
    write_bytes(folder / FLIGHT, written(content))
    return {"flight": seal(content)}


def _note(folder: Path, content: dict[str, Any]) -> None:
    write_bytes(folder / FORGETTING, written(content))
    close(folder / FORGETTING)


def is_begun(folder: Path) -> bool:
    """Tell whether a forgetting was broken off."""
    return (folder / FORGETTING).exists()


def going(folder: Path) -> set[str]:
    """Return the checksums of originals that a forgetting which was broken off takes away."""
    return set(_begun(folder).get("originals", {}).values())


def still_named(folder: Path, words: list[str]) -> list[str]:
    """Name the files of the folder that still hold one of some words, as far as text shows it."""
    found = []
    wanted = [_alone(word) for word in words if word]
    for path in sorted(folder.rglob("*")):
        if not path.is_file() or path.stat().st_size > 20_000_000:
            continue
        text = f"{path.name}\n{path.read_bytes().decode('utf-8', 'replace')}"
        if any(one.search(text) for one in wanted):
            found.append(path.relative_to(folder).as_posix())
    return found


def _alone(word: str) -> re.Pattern[str]:
    """Find a word that is not a part of a longer one, where its script parts words (A90)."""
    before = r"(?<![^\W\d_])" if word[0].isascii() else ""
    after = r"(?![^\W\d_])" if word[-1].isascii() else ""
    return re.compile(before + re.escape(word) + after)


def name_of(folder: Path, assessor: str) -> str:
    """Return the name behind a code, to be told what else holds it; never kept."""
    return _names(folder).get(assessor, "")


def _begun(folder: Path) -> dict[str, Any]:
    if not is_begun(folder):
        return {}
    content: dict[str, Any] = json.loads((folder / FORGETTING).read_text("utf-8"))
    return content


def _originals(plan: OpenPlan, store: Store, assessor: str) -> dict[str, bool]:
    """Return the kept originals that tell of a person, and whether of others too.

    What repeated answers that stood already left no row; so each file is looked into.
    """
    found = files_of(store, assessor)
    inside = store.folder / RETURNED
    for path in sorted(inside.iterdir()) if inside.is_dir() else ():
        if path.name in found or path.name.startswith("."):
            continue
        reading = read_file(path, plan.sheets)
        about = {one.assessor for one in reading.answers}
        about |= {one.assessor for one in reading.faults} - {""}
        if assessor in about:
            found[path.name] = len(about) > 1
    return found


def _words(session: Session, plan: OpenPlan) -> list[str]:
    cards = [session.scorecard]
    cards += [sheet.scorecard for version in plan.versions for sheet in version.own_sheets.values()]
    free = {one.key for card in cards for one in card if one.kind is Kind.WORDS}
    beside = {name + REMARK for card in cards for one in card for name in one.attributes}
    return sorted(free | beside)


def _new_code(plan: OpenPlan, session: Session) -> str:
    taken = {one.code.upper() for version in plan.versions for one in version.assessors}
    taken |= {one.code.upper() for one in session.assessors}
    while True:
        code = "X" + "".join(secrets.choice(_LETTERS) for _ in range(5))
        if code not in taken:
            return code


def _clear(folder: Path) -> None:
    """Remove what can be written anew and bears the old code: sheets, lists, report, copies."""
    for name in ("sheets", "report", "teaching", NAMED_SHEETS):
        remove_folder(folder / name)
    for path in (
        folder / "scores.csv",
        folder / FOLDER / "scores.csv",
        *folder.glob("answers-before-version-*.sqlite"),
    ):
        path.unlink(missing_ok=True)
    for path in (folder / "plan").rglob("*"):
        if path.is_file() and path.suffix != ".json":
            path.unlink()
    for path in (folder / EARLIER).glob("*/sheets"):
        remove_folder(path)


def _roster(folder: Path, old: str, new: str) -> None:
    """Put the new code into the roster; an ODS workbook becomes a CSV table."""
    for path in (folder / "assessors.csv", folder / "assessors.ods"):
        if path.is_file():
            rows = [[new if cell == old else cell for cell in row] for row in _rows(path)]
            _write_rows(path.with_suffix(".csv"), rows)
            if path.suffix == ".ods":
                path.unlink()
    book = folder / "assessors.xlsx"
    if book.is_file():
        from openpyxl import load_workbook

        opened = load_workbook(book)
        for sheet in opened.worksheets:
            for row in sheet.iter_rows():
                for cell in row:
                    if cell.value == old:
                        cell.value = new
        with whole_file(book) as aside:
            opened.save(aside)


def _names(folder: Path) -> dict[str, str]:
    path = folder / NAMES
    if not path.is_file():
        return {}
    return {row[0].strip(): ",".join(row[1:]).strip() for row in _rows(path) if row}


def _forget_name(folder: Path, assessor: str) -> None:
    path = folder / NAMES
    if assessor in _names(folder):
        _write_rows(path, [row for row in _rows(path) if not row or row[0].strip() != assessor])
    close(path)


def _rows(path: Path) -> list[list[str]]:
    if path.suffix == ".ods":
        grid = read_grid(path, LARGEST)
        return [list(grid.heading), *([text_in(cell) for cell in row] for _, row in grid.rows)]
    return list(laid_out(text_of(path)).rows())


def _write_rows(path: Path, rows: list[list[str]]) -> None:
    sign = laid_out(text_of(path)).separator if path.is_file() else ","
    out = io.StringIO()
    csv.writer(out, delimiter=sign, lineterminator="\n").writerows(rows)
    write_text(path, out.getvalue(), "utf-8-sig")


def _plans(folder: Path, old: str, new: str) -> tuple[dict[str, str], dict[str, str]]:
    """Write plans, keys and late changes anew with the new code; return their new seals."""
    places = [(folder / "plan", folder / KEY.parent)]
    earlier = sorted((folder / EARLIER).glob("*"))
    places += [(path, folder / EARLIER_KEYS / path.name) for path in earlier]
    seals: dict[str, str] = {}
    changes: dict[str, str] = {}
    for open_place, key_place in places:
        name = open_place / OPEN_HALF.name
        if not name.is_file():
            continue
        content = _renamed(content_of(name, OPEN_HALF), old, new)
        content.pop("sealed", None)
        number = str(content.get("plan", 1))
        parts = {}
        for path in sorted((key_place / KEY_CHANGES.name).glob("*.json")):
            part = _renamed(content_of(path, path), old, new)
            write_bytes(path, written(part))
            close(path)
            parts[int(path.stem)] = seal(part)
        listed = open_place / CHANGES.name
        if listed.is_file():
            late = _renamed(content_of(listed, CHANGES), old, new)
            for change in late["changes"]:
                change["sealed"] = parts.get(change["number"], change["sealed"])
                changes[f"{number}.{change['number']}"] = seal(plain(brought_back(change)))
            write_bytes(listed, written(late))
        if content.get("format", 1) > 1:
            content["fingerprints"] = _fingerprints(content)
        key = _renamed(content_of(key_place / KEY.name, KEY), old, new)
        if "open_half" in key:
            key["open_half"] = seal(content)
            content["sealed"] = seals[number] = seal(key)
        write_bytes(key_place / KEY.name, written(key))
        close(key_place / KEY.name)
        write_bytes(name, written(content))
        if (open_place / MADE).is_file():
            list_made(open_place, GROWING)
            list_made(key_place, GROWING)
            close(key_place / MADE)
    return seals, changes


def _fingerprints(content: dict[str, Any]) -> dict[str, str]:
    assessors = [Assessor(**one) for one in content["assessors"]]
    pours = [Pour(bottle="", replicate=0, **pour) for pour in content["pours"]]
    made = sheets(Asked.brought_back(content["asked"]), assessors, pours, int(content["plan"]))
    return {sheet.assessor: sheet.fingerprint for sheet in made}


def _renamed(value: Any, old: str, new: str, field: str = "") -> Any:
    """Put the new code wherever plain values hold an assessor's code; cups keep theirs."""
    if isinstance(value, dict):
        inside = {
            (new if field == "fingerprints" and name == old else name): _renamed(
                one, old, new, name
            )
            for name, one in value.items()
        }
        if "role" in inside and inside.get("code") == old:
            inside["code"] = new
        return inside
    if isinstance(value, list):
        return [_renamed(inside, old, new, field) for inside in value]
    return new if value == old and field == "assessor" else value
