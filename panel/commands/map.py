"""``kikichoko map TABLE``: the samples on a map, with its uncertainty."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..base.words import say
from ._figure import figure_option, save_figure
from ._table import load, result_options, show, table_options

if TYPE_CHECKING:
    from ...analysis.core.tidy_table import Tidy
    from ...analysis.maps.map_result import Map

SECTION = "cli.section_tables"
RANK = 45
KINDS = ("components", "canonical", "procrustes", "sections", "words", "ticks")


@click.command(help=say("map.help"))
@table_options
@click.option(
    "--by",
    type=click.Choice(KINDS),
    default="components",
    show_default=True,
    help=say("map.option_by"),
)
@click.option("--part", "parts", multiple=True, metavar="NAME=A,B", help=say("map.option_part"))
@click.option("--seed", type=int, default=1, show_default=True, help=say("map.option_seed"))
@figure_option
@result_options
def command(
    path: Path,
    *,
    by: str,
    parts: tuple[str, ...],
    seed: int,
    figure: Path | None,
    as_json: bool,
    **names: Any,
) -> None:
    """Print a map and its uncertainty."""
    result = _made(load(path, **names), by, parts, seed)
    show(result, as_json=as_json)
    save_figure(result.figure, figure)


def _made(table: Tidy, by: str, parts: tuple[str, ...], seed: int) -> Map:
    if by == "words":
        from ...analysis.citations.citation_counts import citations
        from ...analysis.maps.correspondence_analysis import word_map

        return word_map(citations(table), seed=seed)
    if by == "ticks":
        from ...analysis.citations.citation_counts import citations
        from ...analysis.maps.correspondence_analysis import tick_map

        return tick_map(citations(table), seed=seed)
    if by == "canonical":
        from ...analysis.maps.canonical_variates import canonical_map

        return canonical_map(table, seed=seed)
    if by == "procrustes":
        from ...analysis.maps.procrustes import procrustes_map

        return procrustes_map(table, seed=seed)
    if by == "sections":
        from ...analysis.maps.multiple_factor_analysis import section_map

        return section_map(table, dict(_part(part) for part in parts), seed=seed)
    from ...analysis.maps.principal_components import profile_map

    return profile_map(table, seed=seed)


def _part(given: str) -> tuple[str, list[str]]:
    """Read ``aroma=apple,pear``."""
    name, equals, listed = given.partition("=")
    attributes = [one.strip() for one in listed.split(",") if one.strip()]
    if not (name.strip() and equals and attributes):
        raise click.BadParameter(say("map.bad_part", given=given), param_hint="--part")
    return name.strip(), attributes
