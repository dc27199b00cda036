"""``--figure FILE``: save what a result draws."""

from __future__ import annotations

import re
import warnings
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..base.errors import InputRefused
from ..base.words import Sentence, reader, say

if TYPE_CHECKING:
    from matplotlib.figure import Figure

KINDS = (".png", ".pdf", ".svg")
_LACKING = re.compile(r"Glyph (\d+) .*missing from font")  # as matplotlib tells it


def figure_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add ``--figure FILE``, passed on as `figure`."""
    return click.option(
        "--figure",
        type=click.Path(path_type=Path, dir_okay=False),
        metavar="FILE",
        help=say("figure.option"),
    )(command)


def save_figure(draw: Callable[..., Figure], path: Path | None, language: str = "") -> None:
    """Draw in `language` or the reader's and save, if a file was named, and say so.

    Raises
    ------
    InputRefused
        If the kind of file is not one of `KINDS`, its folder is absent, or the face
        lacks a character of a name.
    """
    if path is None:
        return
    if path.suffix.lower() not in KINDS:
        raise InputRefused("figure.kind", path=path, kinds=KINDS)
    if not path.absolute().parent.is_dir():
        raise InputRefused("figure.folder", path=path)
    from ...analysis.core.look import save
    from ..base.report_face import set_figures_in_own_face
    from ..base.whole_files import whole_file

    set_figures_in_own_face()
    with whole_file(path) as aside, warnings.catch_warnings(record=True) as told:
        warnings.simplefilter("always")
        save(draw(language=language or reader()), aside)
        _refuse_lacking(told, path)
    click.echo(say("figure.saved", path=path), err=True)


def _refuse_lacking(told: Iterable[warnings.WarningMessage], path: Path) -> None:
    """Refuse a figure in which an empty box would stand for a character; pass on other warnings."""
    from ...forms.paper.typeset import named

    lacking = []
    for one in told:
        found = _LACKING.match(str(one.message))
        if found:
            lacking.append(chr(int(found[1])))
        else:
            warnings.warn_explicit(one.message, one.category, one.filename, one.lineno)
    if lacking:
        letters = list(map(named, dict.fromkeys(lacking)))
        place = _place(lacking[0])
        raise InputRefused("figure.no_letter", path=path, letters=letters, place=place or "–")


def _place(letter: str) -> str | Sentence:
    """Name the cell of the command's tables in which a character stands first."""
    from ..base.problems import cell
    from ..base.table_files import LARGEST
    from ..base.table_grid import BOOKS, TEXTS, read_grid, text_in

    given = click.get_current_context().params
    for path in given.values():
        if not isinstance(path, Path) or path.suffix.lower() not in (*TEXTS, *BOOKS):
            continue
        grid = read_grid(path, LARGEST, given.get("sheet"))
        for column, heading in enumerate(grid.heading):
            if letter in heading:
                return cell(path.name, grid.head, heading)
            for number, row in grid.rows:
                if letter in text_in(row[column]):
                    return cell(path.name, number, heading)
    return ""
