"""What serving does: the same bottles in several conditions, and what could not be blind."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial

import pandas as pd

from ...analysis.core.wording import p_words, with_ends
from ...analysis.profile.changes_by_level import level_changes
from ...analysis.profile.conditions_figure import draw_conditions
from ...rounding import rounded
from ..base.words import sentence
from ..findings.factors import SERVED, spoken_level
from ..session.conditions import estimable, in_order, lines_over, not_blind, spoken, written
from .context import SCALED, Context
from .parts import Block, Grid, Line, Lines, Picture, Points, Section, caution, lead, method, sized

MOST_LINES, MOST_FIELDS, MOST_PICTURES = 6, 4, 2
"""Bottles in a field, attributes in a figure, and conditions, up to which they can be read."""


def section(context: Context) -> Section | None:
    """Tell the effects of crossed conditions, or why there are none."""
    evidence = context.findings.evidence
    if not evidence.varied:
        return None
    said = context.said(SERVED, "claim")
    rest = context.said(SERVED, "description", "hint")
    blocks: list[Block] = [lead(*said), Lines(rest)] if said else [lead(*rest[:1]), Lines(rest[1:])]
    found = context.findings.budget.found
    tables: dict[str, pd.DataFrame] = {}
    if evidence.factors is None:
        told = estimable(evidence.bottles, context.language)
        blocks = [lead(sentence("serving.not_crossed")), Points(tuple(told))]
    elif found is not None and len(found.effects):
        table = found.effects
        blocks.append(
            Grid(
                sentence("serving.table"),
                _shown(context, table),
                sentence("serving.note", column=sentence("report.col_p_budget")),
                folded=True,
            )
        )
        tables["effects"] = context.shown(
            table.assign(levels=[str(dict(one)) for one in table["levels"]])
        )
        blocks.append(method(sentence("serving.method", n=int(table["n"].max()))))
    blocks.insert(
        1, caution(*not_blind(context.session.bottles), sentence("serving.these_bottles"))
    )
    blocks += pictures(context) if context.figures else []
    return Section(
        key=SERVED,
        title=sentence("serving.title"),
        blocks=tuple(blocks),
        tables=tables,
        data=tables["effects"].to_dict("records") if tables else [],
    )


def pictures(context: Context) -> list[Block]:
    """Draw what each condition does to each bottle, for the attributes in which most moved."""
    made: list[Block] = []
    evidence = context.findings.evidence
    names = context.attributes(*SCALED)
    scores = evidence.rows(names)
    for condition in evidence.varied:
        lines = {
            line: own
            for line, own in lines_over(evidence.bottles, condition, context.language).items()
            if len(own) > 1
        }
        if not lines or len(lines) > MOST_LINES:
            continue
        cells = level_changes(scores, lines)
        first = _most_moved(context, cells, condition)
        if not first:
            continue
        levels = in_order(condition, cells["level"])
        kept = cells[cells["attribute"].isin(first)]
        rank = {name: place for place, name in enumerate(first)}
        kept = kept.sort_values("attribute", key=lambda column: column.map(rank), kind="stable")
        draw = partial(
            draw_conditions,
            kept.assign(attribute=[context.name(one) for one in kept["attribute"]]),
            lines=list(lines),
            levels=levels,
            names=[spoken(written(condition, one), context.language) for one in levels],
            places=_places(context, lines),
            language=context.language,
        )
        what = sentence(f"overview.by_{condition}")
        made.append(
            Picture(
                f"over_{condition}",
                draw(),
                sentence("serving.figure_alt", condition=what, bottles=list(lines)),
                sentence("serving.figure", condition=what),
                draw(narrow=True),
            )
        )
    return made[:MOST_PICTURES]


def _places(context: Context, lines: Mapping[str, Mapping[str, str]]) -> list[int]:
    """Return for each line the place of its first cup, whose sign it bears in every figure."""
    places = {name: place for place, name in enumerate(context.products)}
    first = [next((places[one] for one in own.values() if one in places), -1)
             for own in lines.values()]  # fmt: skip
    known = len(set(first)) == len(first) and min(first) >= 0
    return first if known else list(range(len(first)))


def _most_moved(context: Context, cells: pd.DataFrame, condition: str) -> list[str]:
    """Return the attributes to draw: those claimed of this condition, then what moved most."""
    claimed = [
        one.about
        for one in context.findings.budget.claimed("effect")
        if condition in one.sample.split(":")
    ]
    wide = (cells["high"] - cells["low"]) / 2
    moved = (cells["change"].abs() / wide).where(wide > 0)
    most = moved.groupby(cells["attribute"]).max().dropna().sort_values(ascending=False)
    return list(dict.fromkeys([*claimed, *most.index]))[:MOST_FIELDS]


def _shown(context: Context, table: pd.DataFrame) -> pd.DataFrame:
    """Write one row an attribute and effect."""
    rows = []
    for row in table.to_dict("records"):
        names = str(row["effect"]).split(":")
        ends = with_ends([row[end] for end in ("estimate", "low", "high")], sign=True)
        (first, last), *others = row["levels"]
        ways: Line = sentence(
            "serving.way",
            first=spoken_level(names[0], first),
            last=spoken_level(names[0], last),
        )
        for less, more in others:
            ways = sentence(
                "serving.ways",
                way=ways,
                less=spoken_level(names[1], less),
                more=spoken_level(names[1], more),
            )
        rows.append(
            {
                sentence("report.col_attribute"): context.name(str(row["attribute"])),
                sentence("serving.col_effect"): ways,
                sentence("serving.col_size"): sized(*ends),
                sentence("methods.col_f"): rounded(row["F"], ".2f"),
                sentence("methods.col_df"): f"{row['df_num']:g}, {row['df_den']:g}",
                sentence("methods.col_p"): p_words(row["p"]),
                sentence("report.col_p_budget"): p_words(row["p_adjusted"]),
            }
        )
    return pd.DataFrame(rows)
