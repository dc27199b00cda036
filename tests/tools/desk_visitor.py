"""The desk as it is served, and what a visitor needs: a browser's request, a filled workbook."""

from __future__ import annotations

import http.client
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
from axe_playwright_python.sync_playwright import Axe
from kikichoko.forms.questions.question_types import Kind
from kikichoko.panel.demos._tools import fill_workbook
from kikichoko.panel.desk.desk_server import HERE, DeskServer
from kikichoko.panel.plan.plan_file import load_open
from kikichoko.panel.session.session_folder import load
from playwright.sync_api import Page

FORM = "application/x-www-form-urlencoded"
SERIOUS = {"serious", "critical"}


@contextmanager
def desk(folder: Path) -> Iterator[DeskServer]:
    """Serve a folder for as long as the block lasts."""
    server, up = DeskServer(folder), threading.Event()
    running = threading.Thread(target=server.run, args=(up.set,))
    running.start()
    try:
        assert up.wait(30)
        yield server
    finally:
        server.stop()
        running.join(30)


def ask(
    server: DeskServer, path: str, content: bytes | None = None, **headers: str
) -> tuple[int, str, dict[str, str]]:
    """Ask once, as a browser does; `_` stands for `-` in the names of headers."""
    line = http.client.HTTPConnection(HERE, int(server.host.rpartition(":")[2]), timeout=60)
    line.putrequest("GET" if content is None else "POST", path, skip_host=True)
    sent = {"Host": server.host, **{name.replace("_", "-"): one for name, one in headers.items()}}
    if content is not None:
        sent.setdefault("Content-Type", FORM)
        sent.setdefault("Content-Length", str(len(content)))
    for name, one in sent.items():
        line.putheader(name, one)
    line.endheaders(content)
    reply = line.getresponse()
    found = reply.status, reply.read().decode("utf-8", "replace"), dict(reply.getheaders())
    line.close()
    return found


def multipart(*files: tuple[str, str, bytes], **given: object) -> tuple[bytes, str]:
    """Write a form with files (field, name, content) as a browser does; and its media type."""
    border = "kikichoko-border"
    parts = [(f'name="{name}"', str(value).encode()) for name, value in given.items()] + [
        (f'name="{field}"; filename="{name}"', content) for field, name, content in files
    ]
    written = [
        f"--{border}\r\nContent-Disposition: form-data; {head}\r\n\r\n".encode() + content + b"\r\n"
        for head, content in parts
    ]
    end = f"--{border}--\r\n".encode()
    return b"".join(written) + end, f"multipart/form-data; boundary={border}"


def filled(place: Path, inbox: Path, seed: int = 16) -> list[Path]:
    """Fill everybody's workbook by chance: lines, and what one chooses among."""
    rng = np.random.default_rng(seed)
    paths = []
    for code, sheet in load_open(load(place)).own_sheets.items():
        answers = {}
        for shown in sheet.presentations:
            for one in sheet.scorecard:
                if one.kind is Kind.LINE:
                    answers[shown.name, one.key] = float(rng.integers(one.low, one.high + 1))
                elif one.kind in (Kind.CATEGORY, Kind.BALANCE):
                    values = [option.value for option in one.options]
                    answers[shown.name, one.key] = float(rng.choice(values))
        paths.append(inbox / f"{code}.xlsx")
        fill_workbook(sheet, place / "sheets" / f"{code}.xlsx", paths[-1], answers)
    return paths


def seriously_wrong(page: Page) -> list[str]:
    """Return what axe-core (by its package, MPL-2.0) finds serious or critical on a page."""
    found = Axe().run(page, options={"resultTypes": ["violations"]})
    return [
        f"{one['id']}: {one['help']}: {one['nodes'][0]['html'][:200]}"
        for one in found.response["violations"]
        if one["impact"] in SERIOUS
    ]
