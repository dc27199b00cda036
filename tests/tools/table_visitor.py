"""The table as it is served, and telephones of it in a few lines."""

from __future__ import annotations

import http.client
import json
import os
import secrets
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlencode

from click.testing import CliRunner
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.plan.plan_file import load_table
from kikichoko.panel.table.table_links import HERE, Links, make_links
from kikichoko.panel.table.table_server import TableServer

FORM = "application/x-www-form-urlencoded"


@dataclass
class Reply:
    status: int
    text: str
    headers: dict[str, str]

    @property
    def told(self) -> dict[str, object]:
        return json.loads(self.text)


def ask(
    links: Links, path: str, body: bytes | None = None, *, wait: float = 200, **headers: str
) -> Reply:
    """Ask once, as a browser does; headers say what else is sent, `_` for `-`."""
    with closing(http.client.HTTPConnection(links.host, links.port, timeout=wait)) as line:
        line.putrequest("GET" if body is None else "POST", path, skip_host=True)
        sent = {"Host": links.place}
        sent |= {name.replace("_", "-"): one for name, one in headers.items()}
        if body is not None:
            sent.setdefault("Content-Type", "application/json")
            sent.setdefault("Content-Length", str(len(body)))
        for name, one in sent.items():
            line.putheader(name, one)
        line.endheaders(body)
        with line.getresponse() as reply:  # a killed server breaks it off
            text = reply.read().decode("utf-8", "replace")
            return Reply(reply.status, text, dict(reply.getheaders()))


@dataclass
class Phone:
    """A telephone: it counts its touches, and keeps them until they were taken."""

    links: Links
    code: str
    device: str = field(default_factory=lambda: secrets.token_hex(16))
    number: int = 0

    @property
    def path(self) -> str:
        return f"/t/{self.links.seats[self.code]}/"

    def touch(self, kind: str = "answer", **told: object) -> dict[str, object]:
        self.number += 1
        return {"n": self.number, "kind": kind, **told}

    def send(self, *touches: dict[str, object], **headers: str) -> Reply:
        content = json.dumps({"device": self.device, "touches": touches}).encode()
        return ask(self.links, self.path + "touches", content, **headers)

    def mark(self, cup: str, attribute: str, value: object) -> str:
        reply = self.send(self.touch(code=cup, attribute=attribute, value=value))
        assert reply.status == 200, reply
        return reply.told["done"][0][1]

    def go_on(self, cup: str = "") -> str:
        told = self.touch("done", code=cup) if cup else self.touch("finish")
        return self.send(told).told["done"][0][1]

    def page(self, query: str = "") -> Reply:
        return ask(self.links, self.path + query)

    def state(self) -> dict[str, object]:
        return ask(self.links, f"{self.path}state?device={self.device}").told

    def form(self, fields: dict[str, str]) -> Reply:
        return ask(self.links, self.path, urlencode(fields).encode(), Content_Type=FORM)


SESSION = """name = "table-1"
title = "Spring tasting"
date = 2026-03-14
question = "Do they differ?"
{top}
[serving]
replicates = 1
appearance = "off"
rest_minutes = 10
flight_size = {flight_size}
{more}
[questions]
card = "{card}"
options = {options}
"""
BOTTLES = """bottle,tank,fraction,lot,available
Zaubertrank,TANKW99,Quellwolke,LOTQ77,9
Xylophon,TANKW99,Kellerwort,LOTQ78,9
Wackelpudding,TANKW99,Reiswort,LOTQ79,9
"""
SENTINELS = ("Zaubertrank", "Xylophon", "Wackelpudding", "TANKW99", "Quellwolke", "Kellerwort",
             "Reiswort", "LOTQ7")  # fmt: skip
ASSESSORS = "assessor,role,style,language\nT1,trained,likes,en\nT2,maker,likes,ja\nT3,student,,en\n"


def planned(
    place: Path, *, card: str = "brewery", options: str = '["choice"]', more: str = "",
    flight_size: int = 6, assessors: str = ASSESSORS, top: str = "",
) -> Path:  # fmt: skip
    """Write and plan a session of three bottles."""
    place.mkdir(parents=True, exist_ok=True)
    text = SESSION.format(top=top, card=card, options=options, more=more, flight_size=flight_size)
    if top:  # a test brings its own questions
        text = text.partition("[questions]")[0]
    (place / "session.toml").write_text(text, "utf-8")
    (place / "bottles.csv").write_text(BOTTLES, "utf-8")
    (place / "assessors.csv").write_text(assessors, "utf-8")
    done = CliRunner().invoke(kikichoko, ["plan", str(place)])
    assert done.exit_code == 0, done.output
    return place


def links_of(place: Path) -> Links:
    return make_links(place, load_table(place).own_sheets, HERE)


@contextmanager
def in_thread(place: Path) -> Iterator[Links]:
    """Serve from a thread until the block ends."""
    links, ready = links_of(place), threading.Event()
    server = TableServer(place, links)
    worker = threading.Thread(target=server.run, args=(ready.set,))
    worker.start()
    assert ready.wait(200)
    try:
        yield links
    finally:
        server.stop()
        worker.join(200)
    assert not worker.is_alive()


@dataclass
class Process:
    """The serving process, as `kikichoko serve` starts it."""

    place: Path
    links: Links
    run: subprocess.Popen[str]

    def kill(self) -> None:
        os.kill(self.run.pid, signal.SIGKILL)
        self.run.wait(200)


@contextmanager
def in_process(place: Path, links: Links | None = None, **environment: str) -> Iterator[Process]:
    """Serve from a process of its own until the block ends."""
    links = links or links_of(place)
    run = subprocess.Popen(
        [sys.executable, "-m", "kikichoko.panel.table", str(place)],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        env={**os.environ, **environment},
    )  # fmt: skip
    try:
        assert run.stdout
        assert run.stdout.readline() == "ready\n"
        yield Process(place, links, run)
    finally:
        assert run.stdin
        run.stdin.close()
        try:
            run.wait(200)
        finally:
            run.kill()
            run.stdout.close()
