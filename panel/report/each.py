"""Each assessor: who needs practice in what."""

from __future__ import annotations

from ...analysis.core.errors import AnalysisError
from ...analysis.core.tidy_table import tidy
from ...analysis.performance.assessor_findings import assessors
from ...forms.questions.question_types import Kind
from ..base.words import sentence
from .context import Context
from .parts import Block, Picture, Points, Section, caution, lead, method

COLUMNS = 5
"""Attributes to draw: more would be too small to read on paper."""


def section(context: Context) -> Section | None:
    """Judge everybody who answered against the rest, by code, with advice and no ranking."""
    attributes = context.attributes(Kind.LINE, Kind.CATEGORY)
    table = tidy(context.shown(context.table(attributes, everybody=True)))
    try:
        found = assessors(table)
    except AnalysisError:
        return None
    if not found.compared:
        return None
    first, *others = found.sentences()
    blocks: list[Block] = [lead(first)]
    if others:
        blocks.append(Points(tuple(others)))
    blocks += [
        Picture(
            "assessors",
            found.overview(table, _telling(context), language=context.language),
            sentence("report.each_alt"),
            sentence("report.each_caption"),
        ),
        caution(*found.warnings),
        method(sentence("report.each_method", rate=f"{100 * found.alpha:g}")),
    ]
    return Section(
        key="each",
        title=sentence("report.each"),
        blocks=tuple(blocks),
        tables={"assessors": found.measures, "findings": found.findings},
        data=found.to_dict(),
    )


def _telling(context: Context) -> list[str]:
    """Choose the attributes on which the bottles differ most: there an assessor can be judged."""
    if isinstance(context.anova, AnalysisError):
        return [context.name(one) for one in context.attributes(Kind.LINE)[:COLUMNS]]
    tests = context.anova.tests().sort_values("p", kind="stable")
    scaled = set(context.attributes(Kind.LINE, Kind.CATEGORY))
    return [context.name(str(one)) for one in tests["attribute"] if one in scaled][:COLUMNS]
