"""``kikichoko anova TABLE``: whether samples differ, in what, and by how much."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Any

import click

from ..base.words import say
from ._figure import figure_option, save_figure
from ._table import level_option, load, result_options, show, table_options

SECTION = "cli.section_tables"
RANK = 10


@click.command(name="anova", help=say("anova.help"), short_help=say("anova.short"))
@table_options
@click.option("--attributes", metavar="A,B,C", help=say("anova.option_attributes"))
@click.option(
    "--df",
    type=click.Choice(["satterthwaite", "kenward-roger"]),
    default="satterthwaite",
    show_default=True,
    help=say("anova.option_df"),
)
@click.option(
    "--boundary",
    type=click.Choice(["design", "drop"]),
    default="design",
    show_default=True,
    help=say("anova.option_boundary"),
)
@click.option("--factors", metavar="COLUMN,COLUMN", help=say("anova.option_factors"))
@click.option(
    "--sessions",
    type=click.Choice(["pooled", "fixed", "random"]),
    default="pooled",
    show_default=True,
    help=say("anova.option_sessions"),
)
@click.option(
    "--order-effect", type=click.Choice(["linear", "each"]), help=say("anova.option_order")
)
@click.option("--carry-over", is_flag=True, help=say("anova.option_carry_over"))
@click.option("--reference", metavar="SAMPLE", help=say("anova.option_reference"))
@level_option
@click.option("--check", is_flag=True, help=say("anova.option_check"))
@figure_option
@result_options
def command(
    path: Path,
    *,
    attributes: str | None,
    df: str,
    boundary: str,
    factors: str | None,
    sessions: str,
    order_effect: str | None,
    reference: str | None,
    level: float,
    carry_over: bool,
    check: bool,
    figure: Path | None,
    as_json: bool,
    **columns: Any,
) -> None:
    """Run the command; its help stands in the catalogue."""
    from ...analysis.anova.whole_table import anova

    table = load(path, **columns)
    if check:
        from ...analysis.anova.residuals import residual_checks

        checks = residual_checks(table, None if attributes is None else _split(attributes))
        show(checks, as_json=as_json)
        save_figure(checks.figure, figure)
        return
    found = anova(
        table,
        attributes=None if attributes is None else _split(attributes),
        df=df,
        boundary=boundary,
        factors=None if factors is None else _factors(path, _split(factors), columns),
        sessions=sessions,
        position=order_effect,
        carry_over=carry_over,
        reference=reference,
        level=level,
    )
    show(found, as_json=as_json)
    save_figure(partial(found.figure, table), figure)


def _split(names: str) -> list[str]:
    return [name.strip() for name in names.split(",") if name.strip()]


def _factors(path: Path, names: list[str], columns: dict[str, Any]) -> Any:
    """Take the levels of the factors from columns of the table, one set a sample."""
    from ...analysis.core.tidy_table import tidy
    from ..base.errors import InputRefused
    from ..base.table_files import read_table

    table = read_table(path, columns.get("sheet"))
    sample = columns.get("sample") or "sample"
    absent = [name for name in names if name not in table.columns]
    if absent:
        have = [str(name) for name in table.columns]
        raise InputRefused("anova.no_factor", names=absent, have=have)
    if sample in names:
        raise InputRefused("anova.factor_is_sample", name=sample)
    rows = table[[sample, *names]].dropna().drop_duplicates()
    # the same spelling of sample names as in the tidy table
    spelled = tidy(
        rows[[sample]].assign(assessor="x", score=0.0, replicate=range(1, len(rows) + 1)),
        sample=sample,
        attribute=None,
    ).data.sort_values("replicate")["sample"]
    levels = rows[names].set_axis(spelled.to_list(), axis=0)
    twice = sorted({str(name) for name in levels.index[levels.index.duplicated()]})
    if twice:
        raise InputRefused("anova.factor_varies", samples=twice)
    return levels
