"""Can this panel be trusted?"""

from __future__ import annotations

import pandas as pd

from ...analysis.agreement.panel_agreement import agreement
from ...analysis.core.errors import AnalysisError
from ...analysis.core.wording import short
from ...forms.questions.question_types import Kind
from ..base.words import say, sentence
from .context import Context
from .parts import Block, Grid, Line, Section, caution, lead, method, plain


def section(context: Context) -> Section:
    """Show how far the assessors agree, and what each needs."""
    attributes = context.attributes(Kind.LINE, Kind.CATEGORY)
    try:
        found = agreement(context.tidy(attributes))
    except AnalysisError as refusal:
        return Section(
            key="trust",
            title=sentence("report.trust"),
            blocks=(lead(context.named(refusal.sentence)),),
            short=(context.named(refusal.sentence),),
        )
    main = found.tables()["agreement.heading_main"]
    strong = main.loc[main["low"] > 0, "attribute"].tolist()
    weak = main.loc[~(main["low"] > 0), "attribute"].tolist()
    said: list[Line] = []
    if strong:
        said.append(sentence("report.trust_strong", attributes=_names(context, strong)))
    if weak:
        said.append(sentence("report.trust_weak", attributes=_names(context, weak)))
    if found.no_variation:
        names = _names(context, found.no_variation)
        said.append(sentence("report.trust_same", attributes=names))
    language = context.language
    shown = pd.DataFrame(
        {
            say("report.col_attribute", language): [context.name(a) for a in main["attribute"]],
            say("report.col_measure", language): main["measure"],
            say("report.col_agreement", language): [short(x) for x in main["estimate"]],
            say("report.col_from", language): [short(x) for x in main["low"]],
            say("report.col_to", language): [short(x) for x in main["high"]],
        }
    )
    blocks: list[Block] = [
        lead(*said),
        plain(sentence("report.trust_plain")),
        Grid(sentence("report.trust_table"), shown, folded=True),
        method(*{str(item.choice): item.choice for item in found.attributes.values()}.values()),
        caution(*(context.named(warning) for warning in found.warnings)),
    ]
    return Section(
        key="trust",
        title=sentence("report.trust"),
        blocks=tuple(blocks),
        short=tuple(said[:1]),
        tables={
            "agreement": context.shown(found.tables()["agreement.heading_measures"]),
        },
        data=found.to_dict(),
    )


def _names(context: Context, attributes: list[str]) -> list[str]:
    return [context.name(one).lower() for one in attributes]
