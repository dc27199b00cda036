"""The two halves of a plan as files: the open half, and the key.

The open half knows assessors, codes and questions; sheets are made from it. The
key knows which bottle is behind a code. The open half holds the seal of the key and
the key the seal of the open half, so that neither can be changed unseen. Earlier
plans of a session are kept with their keys.
"""

from __future__ import annotations

import json
import re
import shutil
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

from ...forms.questions.hidden_codes import place_aliases
from ...forms.questions.sheet import Sheets
from ..base.clock import now
from ..base.errors import NotReady
from ..base.private_files import close, private_folder
from ..base.session_log import append, read_log
from ..session.roster import Assessor
from ..session.session import Session
from .asked_questions import Asked, sheets
from .codes_before import CHANGES, EARLIER, EARLIER_KEYS, KEY, MEASURED, OPEN_HALF
from .late_changes import Change, brought_back, follow, plain
from .open_plan import OpenPlan
from .pours import Plan, Pour
from .sealing import seal, written

FORMAT = 2
"""Of both halves; 1 had a seed in the open instead of a secret with the key."""


def halves(plan: Plan, made_at: str) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return the open half and the key of a plan as plain values, each with the other's seal."""
    open_half = {
        "format": FORMAT,
        "session": plan.session,
        "plan": plan.number,
        "made_at": made_at,
        "asked": plan.asked,
        "assessors": [asdict(one) for one in plan.assessors],
        "pours": [_without_bottle(pour) for pour in plan.pours],
        "fingerprints": {sheet.assessor: sheet.fingerprint for sheet in plan.sheets},
    }
    cups = [
        {
            "assessor": pour.assessor,
            "presentation": pour.presentation,
            "code": pour.code,
            "bottle": pour.bottle,
            "replicate": pour.replicate,
        }
        for pour in plan.pours
    ]
    key = {
        "format": FORMAT,
        "session": plan.session,
        "plan": plan.number,
        "secret": plan.secret.hex(),
        "open_half": seal(open_half),
        "notes": [note.kept() for note in plan.notes],
        "cups": sorted(cups, key=lambda cup: (cup["code"], cup["assessor"], cup["presentation"])),
        "planned": plan.planned,
    }
    return {**open_half, "sealed": seal(key)}, key


def save(plan: Plan, folder: Path) -> str:
    """Write a plan into a session folder, and log it; an earlier plan is set aside.

    Returns
    -------
    str
        The seal of the key.
    """
    sealed = write_halves(plan, folder)
    append(folder, "plan", plan=plan.number, sealed=sealed)
    return sealed


def write_halves(plan: Plan, folder: Path) -> str:
    """Write the open half and the key; an earlier plan is set aside. To be logged afterwards.

    Returns
    -------
    str
        The seal of the key.
    """
    made_at = now()
    open_half, key = halves(plan, made_at)
    set_aside(folder)
    (folder / OPEN_HALF).parent.mkdir(parents=True, exist_ok=True)
    private_folder((folder / KEY).parent)
    (folder / KEY).write_bytes(written(key))
    close(folder / KEY)
    (folder / OPEN_HALF).write_bytes(written(open_half))
    return str(open_half["sealed"])


def note_broken_off(folder: Path) -> None:
    """Log a plan, and a late change, that stood when the power failed before they were logged."""
    _note_plan(folder)
    changes = read_changes(folder / CHANGES)
    if not changes:
        return
    number, last = content_of(folder / OPEN_HALF, OPEN_HALF).get("plan", 1), changes[-1]
    log = read_log(folder)
    told = [(one.values.get("plan"), one.values.get("number")) for one in log.of("change")]
    forgotten = [name for one in log.of("forget") for name in one.values.get("changes", ())]
    if (number, last.number) in told or f"{number}.{last.number}" in forgotten:
        return
    append(
        folder,
        "change",
        plan=number,
        number=last.number,
        kind=last.kind,
        sealed=seal(plain(last)),
        found=True,
    )


def _note_plan(folder: Path) -> None:
    if not (folder / OPEN_HALF).is_file():
        return
    content = content_of(folder / OPEN_HALF, OPEN_HALF)
    sealed = content.get("sealed")
    if sealed and sealed not in [one.values.get("sealed") for one in read_log(folder).of("plan")]:
        forgotten = [one.values.get("sealed", {}) for one in read_log(folder).of("forget")]
        if not any(sealed in seals.values() for seals in forgotten):
            append(folder, "plan", plan=content["plan"], sealed=sealed, found=True)


def _without_bottle(pour: Pour) -> dict[str, Any]:
    known = asdict(pour)
    del known["bottle"], known["replicate"]
    return known


def content_of(path: Path, name: Path) -> dict[str, Any]:
    """Read one half of a plan.

    Raises
    ------
    NotReady
        If the file is damaged.
    """
    try:
        content = json.loads(path.read_text("utf-8"))
    except (OSError, ValueError, RecursionError) as fault:
        raise NotReady("plan.damaged", path=name.as_posix(), why=fault) from fault
    if not isinstance(content, dict):
        raise NotReady("plan.damaged", path=name.as_posix(), why="–")
    if content.get("format", 1) > FORMAT:
        raise NotReady("plan.later_version", path=name.as_posix())
    return content


def numbers(folder: Path) -> list[int]:
    """Return the versions of a session's plans, the one that holds last; empty without a plan."""
    earlier = sorted(int(path.name) for path in _earlier_folders(folder))
    if not (folder / OPEN_HALF).is_file():
        return earlier
    now = content_of(folder / OPEN_HALF, OPEN_HALF).get("plan", 1)
    return [*(number for number in earlier if number != now), int(now)]


def _earlier_folders(folder: Path) -> list[Path]:
    found = [
        path for path in (folder / EARLIER).glob("*") if re.fullmatch(r"[1-9]\d{0,5}", path.name)
    ]
    return sorted(found, key=lambda path: int(path.name))


def set_aside(folder: Path) -> None:
    """Move the plan that holds, its lists and its sheets to the earlier ones."""
    if not (folder / OPEN_HALF).is_file():
        return
    number = str(content_of(folder / OPEN_HALF, OPEN_HALF).get("plan", 1))
    for place, kept in ((OPEN_HALF.parent, EARLIER), (KEY.parent, EARLIER_KEYS)):
        target = folder / kept / number
        target.mkdir(parents=True, exist_ok=True)
        for path in sorted((folder / place).iterdir()):
            if path.name not in (kept.name, KEY.parent.name, MEASURED.name):
                shutil.move(path, target / path.name)
    if (folder / "sheets").is_dir():
        shutil.move(folder / "sheets", folder / EARLIER / number / "sheets")


def load_open(session: Session) -> OpenPlan:
    """Read the open half of the plan of a session, with those of its earlier plans.

    Raises
    ------
    NotReady
        If nothing was planned yet, the questions were changed after planning, or the plan
        is damaged.
    """
    if not (session.folder / OPEN_HALF).is_file():
        raise NotReady("plan.none", folder=session.folder)
    try:
        return _loaded(session)
    except (TypeError, ValueError, LookupError, AttributeError) as fault:
        raise NotReady("plan.damaged", path=OPEN_HALF.as_posix(), why=fault) from fault


def _loaded(session: Session) -> OpenPlan:
    folder = session.folder
    content = content_of(folder / OPEN_HALF, OPEN_HALF)
    now = _open_plan(content, _asked(content, session), folder / CHANGES)
    here = Asked.of(session)
    number = _marked(now.content)
    given = now.content["fingerprints"]
    changed = [
        sheet.assessor
        for sheet in sheets(here, *now.course.steps[0], number)
        if given.get(sheet.assessor) != sheet.fingerprint
    ]
    if changed:
        raise NotReady("plan.changed", folder=folder, assessors=changed)
    earlier = []
    for path in reversed(_earlier_folders(folder)):
        name = EARLIER / path.name / OPEN_HALF.name
        content = content_of(path / OPEN_HALF.name, name)
        earlier.append(_open_plan(content, _asked(content, session), path / CHANGES.name))
    before = [
        sheet for plan in earlier for sheet in (*plan.own_sheets.values(), *plan.own_sheets.earlier)
    ]
    also = dict(now.own_sheets.also)
    for plan in earlier:
        also = {**plan.own_sheets.also, **also}
    return replace(
        now,
        sheets=Sheets(now.own_sheets, (*now.own_sheets.earlier, *before), also),
        earlier=tuple(earlier),
    )


def load_table(folder: Path) -> OpenPlan:
    """Read the plan that holds from its own two files: no settings, no bottle, no key is read.

    What was planned in an earlier version, without its questions, cannot be read so.

    Raises
    ------
    NotReady
        If nothing was planned yet, or the plan is damaged or from an earlier version.
    """
    if not (folder / OPEN_HALF).is_file():
        raise NotReady("plan.none", folder=folder)
    content = content_of(folder / OPEN_HALF, OPEN_HALF)
    try:
        if "asked" not in content:
            raise NotReady("serve.early_plan", folder=folder)
        return _open_plan(content, Asked.brought_back(content["asked"]), folder / CHANGES)
    except (TypeError, ValueError, LookupError, AttributeError) as fault:
        raise NotReady("plan.damaged", path=OPEN_HALF.as_posix(), why=fault) from fault


def _marked(content: dict[str, Any]) -> int:
    """Return the version that the sheets of a plan say; 0 where sheets said none."""
    return int(content["plan"]) if content.get("format", 1) > 1 else 0


def _asked(content: dict[str, Any], session: Session) -> Asked:
    return Asked.brought_back(content["asked"]) if "asked" in content else Asked.of(session)


def _open_plan(content: dict[str, Any], asked: Asked, changes: Path) -> OpenPlan:
    assessors = tuple(Assessor(**one) for one in content["assessors"])
    pours = tuple(Pour(bottle="", replicate=0, **pour) for pour in content["pours"])
    course = follow(assessors, pours, read_changes(changes))
    number = _marked(content)
    made = {
        sheet.assessor: sheet for sheet in sheets(asked, course.assessors, course.pours, number)
    }
    dealt = course.steps if len(course.steps) > 1 else ()
    before = [sheet for step in dealt for sheet in sheets(asked, *step, number)]
    places = [place_aliases(sheet) for sheet in (*before, *made.values()) if sheet.alone]
    also = dict(course.also)
    for one in places:
        also |= one
    own = Sheets(made, reversed(before), also)
    return OpenPlan(
        session=content["session"],
        number=int(content.get("plan", 1)),
        version=str(content["plan"]) if content.get("format", 1) > 1 else "",
        sealed=content.get("sealed", ""),
        assessors=course.assessors,
        pours=course.pours,
        sheets=own,
        own_sheets=own,
        content=content,
        course=course,
    )


def read_changes(path: Path) -> tuple[Change, ...]:
    """Read the late changes of a plan; empty where there are none."""
    if not path.is_file():
        return ()
    content = content_of(path, CHANGES)
    try:
        return tuple(brought_back(change) for change in content["changes"])
    except (KeyError, TypeError) as fault:
        raise NotReady("plan.damaged", path=CHANGES.as_posix(), why=fault) from fault
