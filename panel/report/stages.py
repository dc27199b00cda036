"""Sweetness as a sip goes by: what the fractions of one tank differ in."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...analysis.profile.stages_figure import draw_stages
from ...forms.questions.cards import STAGES
from ..base.words import sentence
from .context import Context
from .paired import paired, with_limits
from .parts import Block, Grid, Picture, Section, method, plain

if TYPE_CHECKING:
    import pandas as pd

EXPECTED, FOUND = STAGES[0], STAGES[2]


def section(context: Context) -> Section | None:
    """Draw the means at each stage, and set what was expected against what was found."""
    scored = set(context.answers.scores["attribute"])
    asked = [name for name in STAGES if name in scored]
    if len(asked) < 2 or not context.products:
        return None
    rows = context.table(asked)
    rows = rows[rows["sample"].isin(context.products)]
    if rows.empty:
        return None
    means = context.panel_means([name for name in asked if name in set(rows["attribute"])])
    blocks: list[Block] = [plain(sentence("report.stages_plain"))]
    blocks += context.picture(lambda: _figure(context, means))
    blocks.append(Grid(sentence("report.stages_table"), _shown(context, means)))
    tables = {"stages": means}
    if {EXPECTED, FOUND} <= set(rows["attribute"]):
        expected = paired(context, rows, (EXPECTED, FOUND), ("expected", "found"))
        if expected is not None:
            claimed = context.said("stages", "claim")
            several = len(context.products) > 1
            open_line = (sentence("report.expected_open"),) if several else ()
            blocks.append(plain(*(claimed or open_line)))
            heading = sentence("report.expected_table")
            shown, tables["expected"] = expected
            blocks.append(Grid(heading, shown, sentence("report.expected_note")))
    blocks.append(method(sentence("report.stages_method")))
    return Section(
        key="stages",
        title=sentence("report.stages"),
        blocks=tuple(blocks),
        tables=tables,
        data=means.to_dict("records"),
    )


def _figure(context: Context, means: pd.DataFrame) -> Picture:
    wide, narrow = (
        draw_stages(
            means,
            samples=context.products,
            names={name: context.name(name) for name in means["attribute"].unique()},
            language=context.language,
            narrow=one,
        )
        for one in (False, True)
    )
    alt, caption = sentence("report.stages_alt"), sentence("report.stages_caption")
    return Picture("stages", wide, alt, caption, narrow)


def _shown(context: Context, means: pd.DataFrame) -> pd.DataFrame:
    """One row a bottle, one column a stage: mean and limits."""
    import pandas as pd

    cells = [with_limits(row) for _, row in means.iterrows()]
    made = means.assign(cell=pd.Series(cells, means.index, dtype=object))
    wide = made.pivot_table(index="sample", columns="attribute", values="cell", aggfunc="first")
    wide = wide.reindex(index=context.products, columns=list(means["attribute"].unique()))
    shown = pd.DataFrame({sentence("report.col_bottle"): wide.index})
    for name in wide.columns:
        shown[context.name(name)] = wide[name].fillna("–").to_numpy()
    return shown
