"""``kikichoko rank TABLE``: do the samples differ in rank, or follow an expected order."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from ..base.words import say
from ._figure import figure_option, save_figure
from ._table import load, result_options, show, table_options

SECTION = "cli.section_tables"
RANK = 55


@click.command(help=say("rank.help"))
@table_options
@click.option("--rank-by", default=None, metavar="ATTRIBUTE", help=say("rank.option_by"))
@click.option("--order", default=None, metavar="A,B,C", help=say("rank.option_order"))
@click.option("--alpha", type=float, default=0.05, show_default=True, help=say("rank.option_alpha"))
@click.option("--seed", type=int, default=8587, show_default=True, help=say("rank.option_seed"))
@figure_option
@result_options
def command(
    path: Path,
    *,
    rank_by: str | None,
    order: str | None,
    alpha: float,
    seed: int,
    figure: Path | None,
    as_json: bool,
    **names: Any,
) -> None:
    """Print the test of ranks that the table allows."""
    from ...analysis.ranking.page_trend import page
    from ...analysis.ranking.test_of_ranks import rank_test

    checked = load(path, **names)
    if order is not None:
        expected = [name.strip() for name in order.split(",")]
        trend = page(checked, expected, rank_by, alpha=alpha)
        if figure is not None:
            raise click.UsageError(say("rank.no_figure"))
        show(trend, as_json=as_json)
        return
    result = rank_test(checked, rank_by, alpha=alpha, seed=seed)
    show(result, as_json=as_json)
    save_figure(result.figure, figure)
