"""``kikichoko descriptors TABLE``: which words tell the samples apart."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..base.words import say
from ._figure import figure_option, save_figure
from ._table import load, patience, result_options, show, table_options

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from ...analysis.citations.ticked_words import Descriptors

SECTION = "cli.section_tables"
RANK = 40


@click.command(help=say("descriptors.help"))
@table_options
@click.option("--words", default=None, metavar="A,B,C", help=say("descriptors.option_words"))
@click.option("--only-ticks", is_flag=True, help=say("descriptors.option_only_ticks"))
@click.option(
    "--replicates-as",
    "rule",
    type=click.Choice(["half", "any", "all"]),
    default="half",
    show_default=True,
    help=say("descriptors.option_rule"),
)
@click.option("--liking", default=None, metavar="ATTRIBUTE", help=say("descriptors.option_liking"))
@figure_option
@result_options
def command(
    path: Path,
    *,
    words: str | None,
    only_ticks: bool,
    rule: str,
    liking: str | None,
    figure: Path | None,
    as_json: bool,
    **names: Any,
) -> None:
    """Print the frequencies, tests and agreement of ticked words."""
    from ...analysis.citations.ticked_words import descriptors

    checked = load(path, **names)
    chosen = [word.strip() for word in words.split(",")] if words else None
    with patience(checked, 15):
        result = descriptors(
            checked, attributes=chosen, rule=rule, only_ticks=only_ticks, liking=liking
        )
    show(result, as_json=as_json)
    save_figure(partial(_wheel, result), figure)


def _wheel(result: Descriptors, *, language: str) -> Figure:
    from ..session.term_tree import word_tree

    return result.figure(word_tree(result.citations.attributes, language), language=language)
