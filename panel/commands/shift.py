"""``kikichoko shift``."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from ..base.words import say
from ._table import load, result_options, show, table_options

SECTION, RANK = "cli.section_tables", 23


@click.command(help=say("shift.help"), short_help=say("shift.short"))
@table_options
@click.option("--group", default=None, metavar="A,B", help=say("shift.option_group"))
@click.option("--label", default="", help=say("shift.option_label"))
@result_options
def command(path: Path, *, as_json: bool, group: str | None, label: str, **names: Any) -> None:
    """Compare the maker and declared tastes with the others; its help stands in the catalogue."""
    from ..across.people import from_folder, from_table

    if path.is_dir():
        show(from_folder(path), as_json=as_json)
        return
    if not group:
        raise click.UsageError(say("shift.no_group"))
    codes = [code.strip() for code in group.split(",") if code.strip()]
    show(from_table(load(path, **names), codes, label), as_json=as_json)
