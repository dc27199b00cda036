"""What chemistry does to the scores, and when these bottles can tell."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Any

import click

from ..base.words import say
from ._figure import figure_option, save_figure
from ._table import (
    level_option,
    load,
    result_options,
    show,
    shuffles_option,
    table_options,
    tell_near,
)

SECTION = "cli.section_tables"
RANK = 72


@click.command(help=say("link.help"), short_help=say("link.short"))
@table_options
@click.argument("bottles", metavar="BOTTLES", type=click.Path(path_type=Path))
@click.option("--predictors", metavar="A,B", help=say("link.option_predictors"))
@click.option("--attributes", metavar="A,B", help=say("link.option_attributes"))
@click.option("--batch", help=say("link.option_batch"))
@click.option("--sweet", help=say("link.option_sweet"))
@click.option("--scale", type=float, nargs=2, metavar="LOW HIGH", help=say("link.option_scale"))
@click.option("--target", type=float, help=say("link.option_target"))
@click.option("--solve", default="acidity", show_default=True, help=say("link.option_solve"))
@click.option("--given", multiple=True, metavar="NAME=VALUE", help=say("link.option_given"))
@level_option
@shuffles_option
@figure_option
@result_options
def command(path: Path, bottles: Path, *, as_json: bool, figure: Path | None, **given: Any) -> None:
    """Link scores and chemistry; its help stands in the catalogue."""
    from ...analysis.link.score_on_chemistry import link
    from ..base.table_files import read_table
    from ..session.bottles import COLUMNS

    own = ("predictors", "attributes", "batch", "sweet", "scale", "target", "solve", "given")
    chosen = {name: given.pop(name) for name in (*own, "level", "seed")}
    numbers = read_table(bottles, known=COLUMNS, named=[chosen["batch"] or ""])
    tell_near(bottles, map(str, numbers.columns), COLUMNS)
    result = link(
        load(path, **given),
        numbers,
        predictors=_listed(chosen["predictors"]),
        attributes=_listed(chosen["attributes"]),
        batch=chosen["batch"],
        sweet=chosen["sweet"],
        scale=chosen["scale"],
        level=chosen["level"],
        seed=chosen["seed"],
    )
    attribute = chosen["sweet"] or result.main_attribute
    save_figure(partial(result.plane, attribute, wanted=chosen["target"]), figure)
    wanted, given_numbers = chosen["target"], _pairs(chosen["given"])
    if wanted is None and not given_numbers:
        show(result, as_json=as_json)
        return
    from ...analysis.link.inverse_prediction import target
    from ...analysis.link.new_bottle import prediction

    fitted, level = result.fit(attribute), chosen["level"]
    if wanted is None:
        show(prediction(fitted, attribute, given_numbers, level=level), as_json=as_json)
        return
    solved = target(
        fitted, attribute, wanted, solve=chosen["solve"], given=given_numbers, level=level
    )
    show(solved, as_json=as_json)


def _listed(written: str | None) -> list[str] | None:
    return [name.strip() for name in written.split(",")] if written else None


def _pairs(written: tuple[str, ...]) -> dict[str, float]:
    pairs = {}
    for pair in written:
        name, equals, value = (piece.strip() for piece in pair.partition("="))
        try:
            pairs[name.replace("-", "_")] = float(value)
        except ValueError:
            equals = ""
        if not equals:
            raise click.UsageError(say("link.bad_given", found=pair))
    return pairs
