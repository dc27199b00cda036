"""``kikichoko threshold TABLE``: from which concentration on it is noticed."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from ..base.words import say
from ._figure import figure_option, save_figure
from ._table import result_options, show

if TYPE_CHECKING:
    import pandas as pd

SECTION = "cli.section_tables"
RANK = 56


@click.command(help=say("threshold.help"))
@click.argument("path", metavar="TABLE", type=click.Path(path_type=Path))
@click.option("--assessor", default="assessor", help=say("cli.option_assessor"))
@click.option(
    "--concentration", default="concentration", help=say("threshold.option_concentration")
)
@click.option("--correct", default="correct", help=say("threshold.option_correct"))
@click.option("--cups", type=click.IntRange(2), default=3, help=say("threshold.option_cups"))
@click.option("--sheet", default=None, help=say("cli.option_sheet"))
@figure_option
@result_options
def command(
    path: Path,
    *,
    assessor: str,
    concentration: str,
    correct: str,
    cups: int,
    sheet: str | None,
    figure: Path | None,
    as_json: bool,
) -> None:
    """Print the threshold of each assessor and of the group."""
    from ...analysis.difference.thresholds import threshold
    from ..base.table_files import read_table

    names = {assessor: "assessor", concentration: "concentration", correct: "correct"}
    result = threshold(_named(read_table(path, sheet), names), guess=1 / cups)
    show(result, as_json=as_json)
    save_figure(result.figure, figure)


def _named(table: pd.DataFrame, names: dict[str, str]) -> pd.DataFrame:
    """Take the columns that were named; an absent one is told by the name that was given."""
    from ...analysis.core.errors import TableError
    from ...analysis.core.words import Sentence

    have = [str(column) for column in table.columns]
    absent = [name for name in names if name not in table.columns]
    if absent:
        faults = (Sentence.of("table.no_column", column=name, have=have) for name in absent)
        raise TableError(tuple(faults))
    return table[list(names)].rename(columns=names)
