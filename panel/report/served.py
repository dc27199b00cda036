"""What serving does: the same bottles in several conditions, and what could not be blind."""

from __future__ import annotations

import pandas as pd

from ...analysis.core.wording import p_words
from ..base.words import sentence
from ..findings.factors import SERVED, spoken_level
from ..session.conditions import not_blind
from .context import Context
from .parts import Block, Grid, Line, Lines, Section, caution, lead, method


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
        blocks = [lead(sentence("serving.not_crossed"))]
    elif found is not None and len(found.effects):
        table = found.effects
        blocks.append(
            Grid(sentence("serving.table"), _shown(context, table), sentence("serving.note"),
                 folded=True)
        )  # fmt: skip
        tables["effects"] = context.shown(
            table.assign(levels=[str(dict(one)) for one in table["levels"]])
        )
        blocks.append(method(sentence("serving.method", n=int(table["n"].max()))))
    blocks.insert(
        1, caution(*not_blind(context.session.bottles), sentence("serving.these_bottles"))
    )
    return Section(
        key=SERVED,
        title=sentence("serving.title"),
        blocks=tuple(blocks),
        tables=tables,
        data=tables["effects"].to_dict("records") if tables else [],
    )


def _shown(context: Context, table: pd.DataFrame) -> pd.DataFrame:
    """Write one row an attribute and effect."""
    rows = []
    for row in table.to_dict("records"):
        names = str(row["effect"]).split(":")
        ends = [f"{row[end]:+.1f}".replace("-", "−") for end in ("estimate", "low", "high")]
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
                sentence("serving.col_size"): f"{ends[0]} ({ends[1]} – {ends[2]})",
                sentence("methods.col_f"): f"{row['F']:.2f}",
                sentence("methods.col_df"): f"{row['df_num']:g}, {row['df_den']:g}",
                sentence("methods.col_p"): p_words(row["p"]),
                sentence("report.col_p_budget"): p_words(row["p_adjusted"]),
            }
        )
    return pd.DataFrame(rows)
