"""The serving process, ``python -m kikichoko.panel.table DIR [LANGUAGE]``.

`kikichoko serve` starts it. It is a process of its own so that what it holds in memory is only
what it opened: the plan's open half, late changes, the log, the store and the links. It ends when
its input is closed.
"""

from __future__ import annotations

import sys
import threading
from contextlib import suppress
from pathlib import Path

from ..base.console import guard
from ..base.errors import REFUSED, PanelError
from ..base.words import say, speak
from .table_links import read_links

READY = "ready"


def main(folder: Path) -> int:
    """Serve a folder until the input is closed; return the exit code."""
    from .table_server import TableServer

    links = read_links(folder)
    if links is None:
        sys.stderr.write(say("serve.no_links") + "\n")
        return REFUSED
    try:
        server = TableServer(folder, links)
    except PanelError as refusal:
        sys.stderr.write(say("cli.refused", text=refusal.sentence) + "\n")
        return REFUSED

    def wait() -> None:
        sys.stdin.buffer.read()
        server.stop()

    def ready() -> None:
        sys.stdout.write(READY + "\n")
        sys.stdout.flush()
        threading.Thread(target=wait, daemon=True).start()

    with suppress(KeyboardInterrupt):
        server.run(ready)
    return 0


if __name__ == "__main__":
    guard()
    for given in sys.argv[2:3]:
        speak(given)
    sys.exit(main(Path(sys.argv[1])))
