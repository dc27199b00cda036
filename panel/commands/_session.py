"""Parts that all commands on a session folder share."""

from __future__ import annotations

import sys
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..base.words import say

if TYPE_CHECKING:
    from ..session.session import Session


PARTS = ("plan", "sheets", "report")
"""Folders of a session that are renewed whole."""


def folder_argument(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the argument DIR, passed on as `folder`."""
    argument = click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
    return argument(command)


def progress(total: int, label: str) -> Any:
    """Return a progress bar on stderr, to use in a `with` statement."""
    return click.progressbar(length=total, label=label, file=sys.stderr)


def load_session(folder: Path, *, quiet: bool = False) -> Session:
    """Read the session folder; show its cautions on stderr.

    A part that a kill left without its name gets it back first.
    """
    from ..base.whole_files import restore
    from ..session.session_folder import load

    with suppress(OSError):  # a folder that cannot be written is read as it is
        for name in PARTS:
            restore(folder / name)

    session = load(folder)
    if not quiet:
        for caution in session.cautions:
            click.echo(say("cli.caution", text=caution.to(session.settings.language)), err=True)
    return session
