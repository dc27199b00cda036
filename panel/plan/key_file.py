"""The key as a file: what the server pours from.

Reading it to pour is no opening and is not logged; `kikichoko.panel.key.opening` is
the act. Nothing that an assessor sees may come from here.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from ..base.errors import NotReady
from ..session.session import Session
from .codes_before import EARLIER_KEYS, KEY, KEY_CHANGES
from .open_plan import OpenPlan
from .plan_file import content_of
from .pours import Pour
from .sealing import seal


def pours_with_key(session: Session, plan: OpenPlan) -> tuple[Pour, ...]:
    """Return the pours with their bottles, for the server's own lists and labels.

    The server has to know what to pour, so this is no opening and is not logged;
    it must be called for nothing that an assessor sees.
    """
    inside = {(cup["assessor"], cup["code"]): cup for cup in key_cups(session, plan)}
    return tuple(
        replace(
            pour,
            bottle=inside[pour.assessor, pour.code]["bottle"],
            replicate=inside[pour.assessor, pour.code]["replicate"],
        )
        for pour in plan.pours
    )


def key_content(session: Session, plan: OpenPlan) -> dict[str, Any]:
    """Read the key of a plan of a session, the one that holds or an earlier one.

    Raises
    ------
    NotReady
        If the key file is missing, closed or damaged, or is not the one that was planned.
    """
    try:
        return _content(session, plan)
    except PermissionError as closed:
        raise NotReady("key.closed", path=KEY.parent.as_posix()) from closed


def _content(session: Session, plan: OpenPlan) -> dict[str, Any]:
    path = session.folder / KEY
    name = KEY
    kept = session.folder / EARLIER_KEYS / str(plan.number) / KEY.name
    if kept.is_file():
        path, name = kept, EARLIER_KEYS / str(plan.number) / KEY.name
    if not path.is_file():
        raise NotReady("key.missing", path=name.as_posix())
    content = content_of(path, name)
    if plan.sealed and seal(content) != plan.sealed:
        raise NotReady("key.other", path=name.as_posix(), number=plan.number)
    return content


def key_cups(session: Session, plan: OpenPlan) -> list[dict[str, Any]]:
    """Return what is in every cup of a plan, those of its late changes last.

    Raises
    ------
    NotReady
        If a part of the key is missing or damaged, or is not what was sealed.
    """
    cups = list(key_content(session, plan)["cups"])
    for part in change_parts(session, plan):
        cups += part["cups"]
    return cups


def change_parts(session: Session, plan: OpenPlan) -> list[dict[str, Any]]:
    """Return the parts of the key that belong to the late changes of a plan."""
    folder = KEY_CHANGES
    kept = EARLIER_KEYS / str(plan.number) / KEY_CHANGES.name
    if (session.folder / EARLIER_KEYS / str(plan.number) / KEY.name).is_file():
        folder = kept
    parts = []
    for change in plan.course.changes:
        if not change.sealed:
            continue
        name = folder / f"{change.number}.json"
        if not (session.folder / name).is_file():
            raise NotReady("key.missing", path=name.as_posix())
        content = content_of(session.folder / name, name)
        if seal(content) != change.sealed:
            raise NotReady("key.other", path=name.as_posix(), number=plan.number)
        parts.append(content)
    return parts
