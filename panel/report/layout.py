"""How the bottles lie to each other: a map of the whole profile."""

from __future__ import annotations

from ...analysis.core.errors import AnalysisError
from ...analysis.maps.principal_components import profile_map
from ..base.words import sentence
from .context import SCALED, Context
from .parts import Block, Picture, Section, caution, lead, method, plain


def section(context: Context) -> Section | None:
    """Map the bottles by their mean profiles, or say why there is no map."""
    attributes = context.attributes(*SCALED)
    if not attributes:
        return None
    title = sentence("report.layout")
    try:
        found = profile_map(context.tidy(attributes), attributes=attributes)
    except AnalysisError as refusal:
        said = context.named(refusal.sentence)
        return Section(key="layout", title=title, blocks=(plain(said),), data=str(said))
    lines = [context.named(line) for line in found.sentences()]
    figure = found.figure(
        names={attribute: context.name(attribute) for attribute in attributes},
        order=context.samples,
        language=context.language,
    )
    blocks: list[Block] = [
        lead(lines[0]),
        Picture(
            "map",
            figure,
            sentence("report.layout_alt", listed=lines[:3]),
            sentence("report.layout_caption"),
        ),
        plain(*lines[1:3]),
        caution(*(context.named(warning) for warning in found.warnings)),
        method(sentence("report.layout_method"), *lines[3:]),
    ]
    return Section(
        key="layout",
        title=title,
        blocks=tuple(blocks),
        tables={
            "map_points": found.points,
            "map_pairs": found.pairs,
            "map_attributes": context.shown(found.arrows.rename(columns={"name": "attribute"})),
        },
        data=found.to_dict(),
    )
