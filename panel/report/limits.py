"""What this tasting could not have found."""

from __future__ import annotations

import pandas as pd

from ...analysis.core.wording import fixed
from ..base.words import sentence
from ..findings.power import detectable
from .context import Context
from .parts import Block, Grid, Section, lead, method, plain


def section(context: Context) -> Section | None:
    """Say the smallest difference that the report's own rule would have found."""
    said = context.said("limits")
    if not said:
        return None
    evidence = context.findings.evidence
    table = detectable(evidence, context.findings.budget)
    scales = table[table["kind"].isin(("scale", "balance"))]
    blocks: list[Block] = [lead(*said[:1]), plain(*said[1:])]
    if len(scales):
        shown = pd.DataFrame(
            {
                sentence("report.col_attribute"): [context.name(a) for a in scales["about"]],
                sentence("report.col_unnamed"): [_points(x) for x in scales["unnamed"]],
                sentence("report.col_named"): [_points(x) for x in scales["named"]],
            }
        )
        blocks.append(Grid(sentence("report.limits_table"), shown, folded=True))
    beyond = bool(scales[["unnamed", "named"]].isna().to_numpy().any())
    dash = [sentence("report.limits_dash")] if beyond else []
    blocks.append(method(sentence("report.limits_method"), *dash))
    return Section(
        key="limits",
        title=sentence("report.limits"),
        blocks=tuple(blocks),
        tables={"detectable": table} if len(table) else {},
        data=table.to_dict("records"),
    )


def _points(value: float) -> str:
    return "–" if pd.isna(value) else fixed(value)
