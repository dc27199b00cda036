"""The questions that were named before the tasting, answered first."""

from __future__ import annotations

from ..base.words import Sentence, sentence
from ..findings.statement import Statement
from .context import Context
from .parts import Section, caution, lead, method

RANK = 3


def section(context: Context) -> Section | None:
    """Answer what the session was held for; what follows is exploration."""
    said, changed = context.said("named"), _changed(context)
    if not said and changed is None:
        return None
    blocks = [lead(*said), method(sentence("report.named_method"))] if said else []
    statements = []
    if changed is not None:
        blocks.append(caution(changed))
        statements.append(
            Statement(kind="caution", about=(), sentence=changed, section="named", rank=RANK)
        )
    return Section(
        key="named",
        title=sentence("report.named"),
        blocks=tuple(blocks),
        statements=tuple(statements),
        data=[
            {"question": one.written, "kind": one.kind, "bottles": list(one.bottles)}
            for one in context.session.primary
        ],
    )


def _changed(context: Context) -> Sentence | None:
    """Say that session.toml names other questions now than the plan that was sealed."""
    planned = context.session.settings.questions.primary
    if sorted(planned) == sorted(context.named_now):
        return None
    values = {
        key: list(named) or sentence("report.named_nothing")
        for key, named in (("planned", planned), ("now", context.named_now))
    }
    return sentence("report.named_otherwise", **values)
