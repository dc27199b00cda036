"""``kikichoko desk [FOLDER]``."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

import click

from ..base.words import reader, say

SECTION, RANK = "cli.section_session", 1


@click.command(help=say("desk.help"))
@click.argument("folder", metavar="[FOLDER]", default=".", type=click.Path(path_type=Path))
@click.option("--port", default=0, show_default=False, help=say("desk.port"))
@click.option("--browser/--no-browser", default=True, help=say("desk.browser"))
def command(folder: Path, *, port: int, browser: bool) -> None:
    """Open the desk in the browser of this machine."""
    import webbrowser
    from importlib.util import find_spec

    from ..base.errors import NotReady

    needed = ("starlette", "uvicorn", "python_multipart")
    if any(find_spec(name) is None for name in needed):
        raise NotReady("desk.no_desk")
    from ..desk.desk_server import DeskServer

    server = DeskServer(folder, port)

    def ready() -> None:
        click.echo(say("desk.address", reader(), address=server.address), err=True)
        if browser:
            webbrowser.open(server.address)

    with suppress(KeyboardInterrupt):
        server.run(ready)
