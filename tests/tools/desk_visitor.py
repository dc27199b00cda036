"""The desk as it is served, and what a visitor needs: a browser's request, a filled workbook."""

from __future__ import annotations

import http.client
import os
import re
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from html import unescape
from pathlib import Path
from typing import Self
from urllib.parse import urlencode

import numpy as np
from axe_playwright_python.sync_playwright import Axe
from kikichoko.forms.questions.question_types import Kind
from kikichoko.panel.demos._tools import fill_workbook
from kikichoko.panel.desk.acts import RUN
from kikichoko.panel.desk.desk_server import HERE, DeskServer
from kikichoko.panel.open_flight.flight import load_flight
from kikichoko.panel.open_flight.named_sheets import SHEETS
from kikichoko.panel.plan.plan_file import load_open
from kikichoko.panel.session.session_folder import load
from playwright.sync_api import Page

FORM = "application/x-www-form-urlencoded"
SELECT = re.compile(r'<select[^>]* name="([^"]+)".*?>(.*?)</select>', re.DOTALL)
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
    """Ask a desk once, as a browser does; `_` stands for `-` in the names of headers."""
    return asked(int(server.host.rpartition(":")[2]), path, content, **headers)


def asked(
    port: int, path: str, content: bytes | None = None, **headers: str
) -> tuple[int, str, dict[str, str]]:
    """Ask whoever listens at a port of this machine."""
    line = sent_to(port, path, content, **headers)
    reply = line.getresponse()
    found = reply.status, reply.read().decode("utf-8", "replace"), dict(reply.getheaders())
    line.close()
    return found


def sent_to(
    port: int, path: str, content: bytes | None, **headers: str
) -> http.client.HTTPConnection:
    """Send a request, and do not wait for what comes back."""
    line = http.client.HTTPConnection(HERE, port, timeout=60)
    line.putrequest("GET" if content is None else "POST", path, skip_host=True)
    sent = {
        "Host": f"{HERE}:{port}",
        **{name.replace("_", "-"): one for name, one in headers.items()},
    }
    if content is not None:
        sent.setdefault("Content-Type", FORM)
        sent.setdefault("Content-Length", str(len(content)))
    for name, one in sent.items():
        line.putheader(name, one)
    line.endheaders(content)
    return line


def come_in(server: DeskServer) -> str:
    """Come in by the link of a desk, and return the cookie."""
    return ask(server, server.visitors.entry)[2]["set-cookie"].partition(";")[0]


def sent(
    server: DeskServer, cookie: str, at: str, /, *files: tuple[str, str, bytes], **given: object
) -> str:
    """Send a form and return the text of the page that follows, or the status."""
    told = {"Cookie": cookie}
    content = urlencode(given, doseq=True).encode()
    if files:
        content, told["Content-Type"] = multipart(*files, **given)
    status, _, headers = ask(server, server.visitors.root + at, content, **told)
    if status != 303:
        return str(status)
    page = ask(server, headers["location"], Cookie=cookie)[1]
    return unescape(page.partition("<main")[2].partition("<script")[0])


class DeskProcess:
    """A desk as a terminal starts it, in a group of processes of its own."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def __enter__(self) -> Self:
        """Start it and come in by its link."""
        self.process = subprocess.Popen(
            [sys.executable, "-c", RUN, "desk", "--no-browser", str(self.folder)],
            stderr=subprocess.PIPE, text=True, start_new_session=True,
        )  # fmt: skip
        line = self.process.stderr.readline()
        found = re.search(r"http://127\.0\.0\.1:(\d+)(/\S+?/)(enter/\S+)", line)
        assert found, line
        self.port, self.root, self.cookie = int(found[1]), found[2], ""
        self.cookie = self.ask(found[3])[2]["set-cookie"].partition(";")[0]
        return self

    def ask(
        self, path: str, content: bytes | None = None, **headers: str
    ) -> tuple[int, str, dict[str, str]]:
        return asked(self.port, self.root + path, content, Cookie=self.cookie, **headers)

    def begin(self, path: str, content: bytes, **headers: str) -> http.client.HTTPConnection:
        """Send a form, and do not wait for the page that follows."""
        return sent_to(self.port, self.root + path, content, Cookie=self.cookie, **headers)

    def send(self, path: str, content: bytes, **headers: str) -> str:
        """Send a form; return the page that follows, or the form with what is wrong in it."""
        status, text, told = self.ask(path, content, **headers)
        assert status in (200, 303), status
        if status == 200:
            return text
        return self.ask(told["location"].removeprefix(self.root))[1]

    def form(self, path: str) -> dict[str, str]:
        """Return what stands in the fields of a page's first form."""
        text = self.ask(path)[1].partition("<form")[2].partition("</form>")[0]
        fields = dict(re.findall(r'name="([^"]+)"[^>]*? value="([^"]*)"', text))
        for name, inside in re.findall(
            r'<select[^>]* name="([^"]+)".*?>(.*?)</select>', text, re.DOTALL
        ):
            chosen = re.search(r'value="([^"]*)" selected', inside)
            fields[name] = chosen[1] if chosen else ""
        return {name: unescape(value) for name, value in fields.items()}

    def kill(self, *, with_all: bool) -> None:
        """Kill it, and all that it started or not; wait until nothing of it runs any more."""
        kill = os.killpg if with_all else os.kill
        kill(self.process.pid, signal.SIGKILL)
        self.process.wait()
        until = time.monotonic() + 60
        while time.monotonic() < until and _alive(self.process.pid):
            time.sleep(0.02)
        assert not _alive(self.process.pid)

    def __exit__(self, *_: object) -> None:
        """End it as Ctrl-C does, if it still runs."""
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGINT)
            self.process.wait(60)
        self.process.stderr.close()


def _alive(group: int) -> bool:
    """Tell whether a process of a group still runs."""
    try:
        os.killpg(group, 0)
    except ProcessLookupError:
        return False
    return True


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


def filled(
    place: Path, inbox: Path, seed: int = 16, sheets: Path | None = None, *, named: bool = False
) -> list[Path]:
    """Fill the workbooks of a folder by chance: lines, and what one chooses among.

    Those of its open flight where they are `named`.
    """
    session = load(place)
    plan = load_open(session)
    if named:
        plan, sheets = load_flight(session, plan), place / SHEETS
    sheets = sheets or place / "sheets"
    rng = np.random.default_rng(seed)
    paths = []
    for code, sheet in plan.own_sheets.items():
        if not (sheets / f"{code}.xlsx").is_file():
            continue
        answers = {}
        for shown in sheet.presentations:
            for one in sheet.scorecard:
                if one.kind is Kind.LINE:
                    answers[shown.name, one.key] = float(rng.integers(one.low, one.high + 1))
                elif one.kind in (Kind.CATEGORY, Kind.BALANCE):
                    values = [option.value for option in one.options]
                    answers[shown.name, one.key] = float(rng.choice(values))
        paths.append(inbox / f"{code}.xlsx")
        fill_workbook(sheet, sheets / f"{code}.xlsx", paths[-1], answers)
    return paths


def seriously_wrong(page: Page) -> list[str]:
    """Return what axe-core (by its package, MPL-2.0) finds serious or critical on a page."""
    found = Axe().run(page, options={"resultTypes": ["violations"]})
    return [
        f"{one['id']}: {one['help']}: {one['nodes'][0]['html'][:200]}"
        for one in found.response["violations"]
        if one["impact"] in SERIOUS
    ]
