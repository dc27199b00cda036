"""The two halves of a plan as files: the open half, and the key.

The open half knows assessors, codes and questions; sheets are made from it. The
key knows which bottle is behind a code.
"""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from typing import Any

from ..base.errors import NotReady
from ..session.roster import Assessor
from ..session.session import Session
from .planning import sheets
from .pours import OpenPlan, Plan, Pour

OPEN_HALF = Path("plan/plan.json")
KEY = Path("plan/server/key.json")


def save(plan: Plan, folder: Path) -> None:
    """Write the open half and the key into a session folder."""
    open_half = {
        "session": plan.session,
        "seed": plan.seed,
        "assessors": [asdict(one) for one in plan.assessors],
        "pours": [_without_bottle(pour) for pour in plan.pours],
        "fingerprints": {sheet.assessor: sheet.fingerprint for sheet in plan.sheets},
    }
    key = {
        "session": plan.session,
        "seed": plan.seed,
        "notes": [note.kept() for note in plan.notes],
        "cups": [
            {
                "assessor": pour.assessor,
                "presentation": pour.presentation,
                "code": pour.code,
                "bottle": pour.bottle,
                "replicate": pour.replicate,
            }
            for pour in plan.pours
        ],
    }
    for path, content in ((OPEN_HALF, open_half), (KEY, key)):
        target = folder / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_text(json.dumps(content, ensure_ascii=False, indent=1) + "\n", "utf-8")


def _without_bottle(pour: Pour) -> dict[str, Any]:
    known = asdict(pour)
    del known["bottle"], known["replicate"]
    return known


def load_open(session: Session) -> OpenPlan:
    """Read the open half of the plan of a session.

    Raises
    ------
    NotReady
        If nothing was planned yet, or the questions were changed after planning.
    """
    path = session.folder / OPEN_HALF
    if not path.is_file():
        raise NotReady("plan.none", folder=session.folder)
    content = json.loads(path.read_text("utf-8"))
    assessors = tuple(Assessor(**one) for one in content["assessors"])
    pours = tuple(Pour(bottle="", replicate=0, **pour) for pour in content["pours"])
    made = {sheet.assessor: sheet for sheet in sheets(session, assessors, pours)}
    changed = [
        code
        for code, sheet in made.items()
        if content["fingerprints"].get(code) != sheet.fingerprint
    ]
    if changed:
        raise NotReady("plan.changed", folder=session.folder, assessors=changed)
    return OpenPlan(session=content["session"], assessors=assessors, pours=pours, sheets=made)
