"""Each assessor: who needs practice in what."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from ...analysis.core.errors import AnalysisError
from ...analysis.core.tidy_table import tidy
from ...forms.questions.question_types import Kind
from ..base.words import Sentence, sentence
from ..findings.budget import ASSESSORS
from ..findings.people import assessors_found, followed, judged_people
from .context import Context
from .parts import Block, Picture, Points, Section, caution, lead, method

if TYPE_CHECKING:
    from ...analysis.performance.assessors_result import Assessors

OWN_TEST = "assessors.same_samples"
"""A warning by a test of its own; the report says by its budget where the bottles differ."""
COLUMNS = 5
"""Attributes to draw: more would be too small to read on paper."""


def section(context: Context) -> Section | None:
    """Judge everybody who answered against the rest, by code, with advice and no ranking."""
    found = assessors_found(context.findings.evidence)
    said = context.said("each", "claim", "description", "hint")
    minded = context.said("each", "caution")
    if not said and not minded:
        return None
    blocks: list[Block] = [lead(*said[:1]) if said else lead(*minded)]
    blocks.append(Points((*said[1:], *(minded if said else ()))))
    if isinstance(found, AnalysisError):
        return Section(key="each", title=sentence("report.each"), blocks=tuple(blocks))
    found = followed(found, context.findings.budget)
    if found.compared:
        blocks += context.picture(lambda: _figure(context, found))
    blocks += [
        _care(context, found.warnings),
        method(sentence("report.each_method", rate=f"{100 * ASSESSORS:g}")),
    ]
    return Section(
        key="each",
        title=sentence("report.each"),
        blocks=tuple(blocks),
        tables={
            "assessors": context.shown(found.measures),
            "findings": context.shown(found.findings[found.findings["shown"].astype(bool)]),
        },
        data=found,
    )


def _figure(context: Context, found: Assessors) -> Picture:
    attributes = context.attributes(Kind.LINE, Kind.CATEGORY)
    evidence = context.findings.evidence
    rows = evidence.rows(attributes, everybody=True, twins=True)
    table = tidy(context.shown(rows[rows["assessor"].isin(judged_people(evidence))]))
    shown = found.findings["shown"].astype(bool)
    found = replace(
        found,
        measures=context.shown(found.measures),
        findings=context.shown(found.findings[shown]),
        hints_by_chance=0.0,
    )
    telling = _telling(context)
    claimed = {one.about for one in context.findings.budget.claimed("scale")}
    unshown = [one for one in telling if one not in claimed]
    draw = partial(
        found.overview, table, [context.name(one) for one in telling], language=context.language
    )
    return Picture(
        "assessors",
        draw(),
        sentence("report.each_alt"),
        context.named(sentence("report.each_caption_unshown", names=unshown))
        if unshown
        else sentence("report.each_caption"),
        draw(narrow=True),
    )


def _care(context: Context, warnings: Iterable[Sentence]) -> Block:
    """Write what needs care, but for what rests on a test of the bottles beside the budget."""
    return caution(*(context.named(one) for one in warnings if one.key != OWN_TEST))


def _telling(context: Context) -> list[str]:
    """Choose the attributes on which the bottles differ most: there an assessor can be judged."""
    if isinstance(context.anova, AnalysisError):
        return context.attributes(Kind.LINE)[:COLUMNS]
    tests = context.anova.tests().sort_values("p", kind="stable")
    claimed = {one.about for one in context.findings.budget.claimed("scale")}
    scaled = set(context.attributes(Kind.LINE, Kind.CATEGORY))
    judged = [str(one) for one in tests["attribute"] if one in scaled]
    return sorted(judged, key=lambda name: name not in claimed)[:COLUMNS]
