"""What this design could not have found."""

from __future__ import annotations

import pandas as pd

from ...analysis.core.errors import AnalysisError
from ...analysis.core.wording import short
from ...analysis.power.detectable_difference import Detectable, detectable_in
from ...forms.questions.question_types import Kind
from ..base.words import say, sentence
from .context import Context
from .parts import Block, Grid, Line, Points, Section, lead, method


def section(context: Context) -> Section:
    """Say the smallest difference that would have been found, and what would find less."""
    attributes = context.attributes(Kind.LINE, Kind.CATEGORY)
    found: dict[str, Detectable] = {}
    refused: dict[str, Line] = {}
    table = context.tidy(attributes)
    for attribute in attributes:
        try:
            found[attribute] = detectable_in(table, attribute)
        except AnalysisError as refusal:
            refused[str(refusal.sentence)] = context.named(refusal.sentence)
    blocks: list[Block] = []
    short_lines: list[Line] = []
    if found:
        sizes = sorted(one.difference for one in found.values())
        middle = sizes[len(sizes) // 2]
        said = sentence(
            "report.limits_lead",
            least=f"{sizes[0]:.1f}",
            middle=f"{middle:.1f}",
            most=f"{sizes[-1]:.1f}",
        )
        short_lines.append(said)
        blocks.append(lead(said))
        blocks.append(Grid(sentence("report.limits_table"), _table(context, found), folded=True))
        blocks.append(method(sentence("report.limits_method")))
    else:
        blocks.append(lead(sentence("report.limits_none"), *refused.values()))
        short_lines.append(sentence("report.limits_none"))
    blocks.append(Points(tuple(_would_take(context))))
    return Section(
        key="limits",
        title=sentence("report.limits"),
        blocks=tuple(blocks),
        short=tuple(short_lines),
        tables={"detectable": _numbers(found)} if found else {},
        data={name: one.to_dict() for name, one in found.items()} or list(map(str, refused)),
    )


def _table(context: Context, found: dict[str, Detectable]) -> pd.DataFrame:
    language = context.language
    return pd.DataFrame(
        {
            say("report.col_attribute", language): [context.name(name) for name in found],
            say("report.col_smallest", language): [short(o.difference) for o in found.values()],
        }
    )


def _numbers(found: dict[str, Detectable]) -> pd.DataFrame:
    return pd.DataFrame(
        [
            {
                "attribute": name,
                "smallest_difference": one.difference,
                "power": one.power,
                "assessors": one.assessors,
                "samples": one.samples,
                "replicates": one.replicates,
            }
            for name, one in found.items()
        ]
    )


def _would_take(context: Context) -> list[Line]:
    """Name what these data cannot answer at all, and what would make it answerable."""
    serving = context.session.settings.serving
    said: list[Line] = []
    bottles = [context.session.bottle(name) for name in context.samples]
    if len(context.counted) < 3:
        said.append(sentence("report.take_assessors", n=len(context.counted)))
    if serving.replicates < 2:
        said.append(sentence("report.take_replicates"))
    if len({bottle.tank for bottle in bottles}) == 1:
        said.append(sentence("report.take_tanks"))
    if len(bottles) < 10:
        said.append(sentence("report.take_bottles", n=len(bottles)))
    said.append(sentence("report.take_drinkers"))
    return said
