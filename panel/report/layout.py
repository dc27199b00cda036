"""How the bottles lie to each other: a map of the whole profile."""

from __future__ import annotations

from functools import partial

from ...analysis.core.errors import AnalysisError
from ...analysis.maps.map_result import Map
from ...analysis.maps.principal_components import profile_map
from ..base.words import sentence
from ..findings.budget import Budget
from ..findings.differences import only_overall
from ..findings.evidence import Evidence
from ..overview.gaps import Gap, gaps
from .context import SCALED, Context
from .parts import Block, Picture, Section, caution, lead, method, plain

FEWEST = 3
"""Bottles from which on a map is drawn."""
TESTS = ("maps.real", "maps.noise", "maps.apart", "maps.none_apart", "maps.pairs_could_not")
"""Tests of the map's own; the report claims by its budget alone and does not tell them."""


def section(context: Context) -> Section | None:
    """Map the bottles by their mean profiles, where the report shows that they differ."""
    attributes = context.attributes(*SCALED)
    if len(attributes) < 2 or len(context.products) < FEWEST:
        return None
    title = sentence("report.layout")
    budget = context.findings.budget
    if not budget.claimed("scale", "balance") and not only_overall(budget):
        said = sentence("report.layout_unseen")
        return Section(key="layout", title=title, blocks=(plain(said),), data=said)
    try:
        found = profile_map(context.findings.evidence.tidy(attributes), attributes=attributes)
    except AnalysisError as refusal:
        why = context.named(refusal.sentence)
        return Section(key="layout", title=title, blocks=(plain(why),), data=why)
    told = [context.named(line) for line in found.sentences() if line.key not in TESTS]
    blocks: list[Block] = [
        lead(sentence("report.layout_seen")),
        plain(*told),
        *context.picture(lambda: _figure(context, found)),
        caution(*(context.named(warning) for warning in found.warnings)),
        method(sentence("report.layout_method")),
    ]
    return Section(
        key="layout",
        title=title,
        blocks=tuple(blocks),
        tables={
            "map_points": found.points,
            "map_attributes": context.shown(found.arrows.rename(columns={"name": "attribute"})),
        },
        data={
            "points": found.points.to_dict("records"),
            "arrows": found.arrows.to_dict("records"),
            "eigenvalues": found.eigenvalues.to_dict("records"),
            "assessors": found.assessors,
        },
    )


def _figure(context: Context, found: Map) -> Picture:
    budget = context.findings.budget
    told = [str(one.about) for one in budget.claimed("scale", "balance")]
    draw = partial(
        found.figure,
        names={name: context.name(name) for name in context.attributes(*SCALED)},
        order=context.products,
        told_apart=told,
        surest=surest(context.findings.evidence, budget),
        language=context.language,
    )
    bold = found.arrows["name"].isin(told).any()
    return Picture(
        "map",
        draw(),
        sentence("report.layout_alt", bottles=context.products),
        sentence("report.layout_caption_bold" if bold else "report.layout_caption"),
        draw(narrow=True),
    )


def surest(evidence: Evidence, budget: Budget) -> list[str]:
    """Order attributes by p within the budget, then by their widest gap for its limits.

    On a map of three bottles all arrows are equally long, and their lengths order nothing.
    """
    if budget.found is None:
        return []
    table = budget.found.table
    table = table[table["kind"].isin(("scale", "balance"))]
    p = {str(name): float(x) for name, x in zip(table["about"], table["p_adjusted"], strict=True)}
    wide = dict.fromkeys(p, 0.0)
    for one in gaps(evidence, budget):
        wide[one.attribute] = max(wide.get(one.attribute, 0.0), clear_of(one))
    return sorted(p, key=lambda name: (p[name], -wide[name]))


def clear_of(one: Gap) -> float:
    """Return the middle of a gap's limits in half widths of them; 0 where they have no width."""
    return (one.least + one.most) / (one.most - one.least) if one.most > one.least else 0.0
