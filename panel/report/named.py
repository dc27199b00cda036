"""The questions that were named before the tasting, answered first."""

from __future__ import annotations

from ..base.words import sentence
from .context import Context
from .parts import Section, lead, method


def section(context: Context) -> Section | None:
    """Answer what the session was held for; what follows is exploration."""
    said = context.said("named")
    if not said:
        return None
    return Section(
        key="named",
        title=sentence("report.named"),
        blocks=(
            lead(*said),
            method(sentence("report.named_method")),
        ),
        data=[
            {"question": one.written, "kind": one.kind, "bottles": list(one.bottles)}
            for one in context.session.primary
        ],
    )
