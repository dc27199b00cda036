"""Codes that were dealt before, in this session and in the sessions beside it."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from .code_draw import Used, folded

OPEN_HALF = Path("plan/plan.json")
KEY = Path("plan/server/key.json")
EARLIER = Path("plan/earlier")
EARLIER_KEYS = Path("plan/server/earlier")
CHANGES = Path("plan/changes.json")
KEY_CHANGES = Path("plan/server/changes")
MEASURED = Path("plan/server/measured.json")
FORGETTING = Path("plan/server/forgetting.json")
GROWING = (CHANGES.name, MEASURED.name, FORGETTING.name)
"""Files of a plan that go on changing; the log holds their seals."""


def codes_used(folder: Path) -> Used:
    """Gather the codes of a session's earlier plans and of the sessions in the folders beside it.

    A file that cannot be read is passed over: it belongs to another session, or
    `kikichoko check` tells of it.
    """
    last: dict[str, str] = {}
    met: dict[str, set[str]] = defaultdict(set)
    for other in _beside(folder):
        for path in _plans(other):
            content = content_or_nothing(path)
            at = str(content.get("made_at", ""))
            for code in _codes(content):
                last[code] = max(at, last.get(code, ""))
        for path in _keys(other):
            for cup in content_or_nothing(path).get("cups", ()):
                met[str(cup.get("code", ""))].add(folded(str(cup.get("bottle", ""))))
    return Used(
        here=frozenset(
            code for path in _plans(folder) for code in _codes(content_or_nothing(path))
        ),
        last=last,
        met={code: frozenset(bottles) for code, bottles in met.items()},
    )


def _beside(folder: Path) -> list[Path]:
    own = folder.resolve()
    try:
        found = [path for path in own.parent.iterdir() if path != own and path.is_dir()]
        return sorted(path for path in found if (path / OPEN_HALF).is_file())
    except OSError:
        return []


def _plans(folder: Path) -> Iterator[Path]:
    yield folder / OPEN_HALF
    yield folder / CHANGES
    yield from sorted((folder / EARLIER).glob("*/plan.json"))
    yield from sorted((folder / EARLIER).glob("*/changes.json"))


def _keys(folder: Path) -> Iterator[Path]:
    yield folder / KEY
    yield from sorted((folder / KEY_CHANGES).glob("*.json"))
    yield from sorted((folder / EARLIER_KEYS).glob("*/**/*.json"))


def content_or_nothing(path: Path) -> dict[str, Any]:
    """Read plain values; nothing where the file is not there or cannot be read."""
    try:
        content = json.loads(path.read_text("utf-8"))
    except (OSError, ValueError, RecursionError):
        return {}
    return content if isinstance(content, dict) else {}


def _codes(content: dict[str, Any]) -> list[str]:
    """Return every code that a plan or a list of late changes names."""
    found = [pour.get("code", "") for pour in content.get("pours", ()) if isinstance(pour, dict)]
    for change in content.get("changes", ()):
        if isinstance(change, dict):
            found += [str(code) for code in change.get("codes", ())]
    return [str(code) for code in found]
