"""Parts that all commands on a session folder share."""

from __future__ import annotations

import gc
import re
import sys
import warnings
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ...catalogue import as_pasted
from ..base.console import OWN_PROCESS
from ..base.errors import NotReady
from ..base.words import reader, say, speak

if TYPE_CHECKING:
    from ..session.session import Session


_LEFT_OPEN = re.compile(r"kikichoko [a-z]+ DIR( DIR/)?")
PARTS = ("plan", "sheets", "report", "open_flight/sheets")
"""Folders of a session that are renewed whole."""
PLAIN_WORDS = {"mode.string_storage": "python", "future.infer_string": False}
"""Options of pandas under which words in tables are objects of Python."""


def folder_argument(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the argument DIR, passed on as `folder`."""
    argument = click.argument(
        "folder", metavar="DIR", type=click.Path(path_type=Path), callback=_of_the_session
    )
    return argument(command)


def until_closed_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the hidden ``--until-closed``: what is served ends when the input is closed.

    The desk starts servers so: none goes on unseen when the desk is closed or killed.
    """
    return click.option("--until-closed", is_flag=True, hidden=True)(command)


def _of_the_session(_: click.Context, __: click.Parameter, folder: Path) -> Path:
    """Speak the language of the session, also where the rest of the command is wrong."""
    from ..session.session_folder import language_of

    speak(language_of(folder) or reader())
    return folder


def with_folder(text: str, folder: Path) -> str:
    """Put the session's folder into the commands of a text that leave it open as DIR."""
    own = as_pasted(str(folder))
    return _LEFT_OPEN.sub(lambda found: found[0].replace("DIR", own), text)


def progress(total: int, label: str) -> Any:
    """Return a progress bar on stderr, to use in a `with` statement."""
    return click.progressbar(length=total, label=label, file=sys.stderr)


@contextmanager
def one_report() -> Iterator[None]:
    """Spare a report what pays only for large tables and long lives.

    Words in tables are kept as Python has them, without a type of their own, also where pyarrow is
    there: both pay for millions of rows and take a fifth of the time of a report; what the tables
    say is the same. Garbage is not looked for: of a million objects that a report makes some ten
    thousand are garbage. In a process that ends with its command it is not looked for afterwards
    either, which took 0.4 s.
    """
    import pandas as pd

    context = click.get_current_context(silent=True)
    ends = context is not None and context.find_root().obj == OWN_PROCESS
    looked_for = gc.isenabled()
    gc.disable()
    try:
        with ExitStack() as spared:
            for name, value in PLAIN_WORDS.items():
                # A later pandas may not know it any more, and says so before.
                with suppress(KeyError), warnings.catch_warnings(action="ignore"):
                    spared.enter_context(pd.option_context(name, value))
            yield
    finally:
        if ends:
            gc.freeze()
        if looked_for:
            gc.enable()


def load_what_draws() -> None:
    """Load seaborn, matplotlib and scipy without what a report does not need of them.

    Seaborn as it is where scipy is not: it then draws densities and clusters by itself. We draw
    neither, and `scipy.stats` and `scipy.cluster` take 0.4 s of processor time to load. Matplotlib
    without the lists of settings that it writes into the documentation of its classes, 0.1 s. Scipy
    without numpy's translator of Fortran, which it takes along with all names of numpy, 0.2 s. For
    a process of one command only: others may want all. Whoever asks for one later gets it.
    """
    if "seaborn" in sys.modules:
        return
    held: dict[str, Any] = sys.modules  # None stands for "not there"
    numbers: Any = import_module("numpy")
    away = [name for name in ("scipy.stats", "scipy.cluster") if name not in held]
    artist: Any = import_module("matplotlib.artist")
    documented = artist.kwdoc
    held.update(dict.fromkeys(away))
    spared = "numpy.f2py" not in held
    if spared:
        numbers.f2py = None
    artist.kwdoc = lambda _: ""
    try:
        import_module("scipy.special")
        import_module("seaborn")
    finally:
        artist.kwdoc = documented
        if spared:
            del numbers.f2py
        for name in away:
            held.pop(name, None)


def load_session(folder: Path, *, quiet: bool = False, half_forgotten: bool = False) -> Session:
    """Read the session folder; show its cautions on stderr.

    A part that a kill left without its name gets it back first. A folder in which the
    forgetting of a person was broken off is refused, unless the command can go on with it.
    """
    from ..base.whole_files import restore
    from ..plan.codes_before import FORGETTING, content_or_nothing
    from ..session.session_folder import load

    begun = folder / FORGETTING
    if begun.exists() and not half_forgotten:
        person = str(content_or_nothing(begun).get("assessor", "–"))
        raise NotReady("forget.unfinished", folder=folder, assessor=person)

    with suppress(OSError):  # a folder that cannot be written is read as it is
        for name in PARTS:
            restore(folder / name)

    session = load(folder)
    if not quiet:
        for caution in session.cautions:
            click.echo(say("cli.caution", text=caution.to()), err=True)
    return session
