"""``--figure FILE``: save what a result draws."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..base.errors import InputRefused
from ..base.words import say

if TYPE_CHECKING:
    from matplotlib.figure import Figure

KINDS = (".png", ".pdf", ".svg")


def figure_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add ``--figure FILE``, passed on as `figure`."""
    return click.option(
        "--figure",
        type=click.Path(path_type=Path, dir_okay=False),
        metavar="FILE",
        help=say("figure.option"),
    )(command)


def save_figure(draw: Callable[[], Figure], path: Path | None) -> None:
    """Draw and save, if a file was named, and say so.

    Raises
    ------
    InputRefused
        If the kind of file is not one of `KINDS`, or its folder is absent.
    """
    if path is None:
        return
    if path.suffix.lower() not in KINDS:
        raise InputRefused("figure.kind", path=path, kinds=", ".join(KINDS))
    if not path.absolute().parent.is_dir():
        raise InputRefused("figure.folder", path=path)
    from ...analysis.core.look import save
    from ..base.report_face import set_figures_in_own_face
    from ..base.whole_files import whole_file

    set_figures_in_own_face()
    with whole_file(path) as aside:
        save(draw(), aside)
    click.echo(say("figure.saved", path=path), err=True)
