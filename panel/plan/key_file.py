"""The key as a file: what the server pours from.

Reading it to pour is no opening and is not logged; `kikichoko.panel.key.opening` is
the act. Nothing that an assessor sees may come from here.
"""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

from ..base.errors import NotReady
from ..session.session import Session
from .plan_file import KEY
from .pours import OpenPlan, Pour


def pours_with_key(session: Session, plan: OpenPlan) -> tuple[Pour, ...]:
    """Return the pours with their bottles, for the server's own lists and labels.

    The server has to know what to pour, so this is no opening and is not logged;
    it must be called for nothing that an assessor sees.
    """
    inside = {(cup["assessor"], cup["code"]): cup for cup in key_content(session)["cups"]}
    return tuple(
        replace(
            pour,
            bottle=inside[pour.assessor, pour.code]["bottle"],
            replicate=inside[pour.assessor, pour.code]["replicate"],
        )
        for pour in plan.pours
    )


def key_content(session: Session) -> dict[str, Any]:
    """Read the key of a session.

    Raises
    ------
    NotReady
        If the key file is missing.
    """
    path = session.folder / KEY
    if not path.is_file():
        raise NotReady("key.missing", path=KEY)
    content: dict[str, Any] = json.loads(path.read_text("utf-8"))
    return content
