"""The serving process: it never has the key, loses nothing that it called saved, keeps its links.

Cases N03, N04, N12, N13, H11, H12 of tests/outside/table.
"""

from __future__ import annotations

import http.client
import json
import signal
import sqlite3
import subprocess
import sys
import threading
from contextlib import suppress
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
import zxingcpp
from click.testing import CliRunner
from kikichoko.panel.base.errors import InputRefused
from kikichoko.panel.base.session_log import read_log
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.plan.plan_file import load_table
from kikichoko.panel.returns.logged_answers import compare
from kikichoko.panel.returns.store import Store
from kikichoko.panel.table.table_links import HERE, make_links, read_links
from kikichoko.panel.table.touches import take
from table_visitor import (
    SENTINELS,
    Phone,
    ask,
    in_process,
    in_thread,
    links_of,
    planned,
)

WATCH = """
import os, sys
out = os.open(os.environ["OPENED"], os.O_WRONLY | os.O_CREAT | os.O_APPEND)
def hook(event, args):
    if event in ("open", "sqlite3.connect", "os.listdir", "os.scandir"):
        os.write(out, (str(args[0]) + "\\n").encode())
sys.addaudithook(hook)
"""


def memory(process: int) -> bytes:
    """Return all that a process can write to, and so may have put there."""
    found = []
    with (
        Path(f"/proc/{process}/maps").open() as maps,
        Path(f"/proc/{process}/mem").open("rb") as held,
    ):
        for line in maps:
            place, rights = line.split()[:2]
            if not rights.startswith("rw"):
                continue
            first, last = (int(part, 16) for part in place.split("-"))
            try:
                held.seek(first)
                found.append(held.read(last - first))
            except (OSError, ValueError):
                continue
    return b"".join(found)


def test_what_was_called_saved_survives_kills_and_no_bottle_is_known(tmp_path: Path):
    """N03, N04, H11: killed (SIGKILL) while it saves, served again, everything sent again."""
    place = planned(tmp_path / "session")
    cups = [one.name for one in load_table(place).own_sheets["T1"].presentations]
    (tmp_path / "sitecustomize.py").write_text(WATCH, "utf-8")
    watched = {"PYTHONPATH": str(tmp_path), "OPENED": str(tmp_path / "opened")}
    links, rng = links_of(place), np.random.default_rng(16)
    phone, sent, saved = Phone(links, "T1"), [], []
    attributes = ["sweetness", "acidity", "umami", "body"]

    def touch() -> None:
        told = phone.touch(
            code=cups[0], attribute=str(rng.choice(attributes)), value=int(rng.integers(100)) / 10
        )
        sent.append(told)
        assert phone.send(told).told["done"] == [[told["n"], "saved"]]
        saved.append(told)

    for _ in range(2):
        with in_process(place, links, **watched) as process:
            for told in sent:  # what the telephone did not hear of is sent again
                assert phone.send(told).told["done"] == [[told["n"], "saved"]]
            for _ in range(5):
                touch()
            pages = [phone.page("?begun=1").text, ask(links, f"/l/{links.leader}/").text,
                     json.dumps(phone.state())]  # fmt: skip
            held = memory(process.run.pid)
            killer = threading.Timer(rng.uniform(0.02, 0.2), process.kill)
            killer.start()
            with suppress(OSError, http.client.HTTPException):
                while True:
                    touch()
            killer.join()
            assert process.run.returncode == -signal.SIGKILL
        assert b"Spring tasting" in held, "the search looks where the program is"
        for word in SENTINELS:
            for form in (word.encode(), word.encode("utf-16-le"), word.encode("utf-32-le")):
                assert form not in held, word
            assert not any(word in page for page in pages), word
        with Store(place, reading=True) as store:
            found = dict(store.database.execute("SELECT number, value FROM touches"))
        assert {one["n"]: float(one["value"]) for one in saved}.items() <= {
            number: float(value) for number, value in found.items()
        }.items()
        assert set(found) <= {one["n"] for one in sent}
    opened = {
        Path(line).resolve().relative_to(place).as_posix()
        for line in (tmp_path / "opened").read_text("utf-8").splitlines()
        if line.startswith(str(place))
    }
    allowed = {"table/links.json", "plan/plan.json", "plan/changes.json", "log.jsonl",
               "answers.sqlite"}  # fmt: skip
    assert {"plan/plan.json", "answers.sqlite"} <= opened <= allowed
    for name in opened:
        for path in place.glob(f"{name}*"):
            content = path.read_bytes()
            assert not any(word.encode() in content for word in SENTINELS), path
    with Store(place) as store:
        assert store.database.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        numbers = [n for (n,) in store.database.execute("SELECT number FROM touches ORDER BY id")]
        assert numbers == sorted(set(numbers)), "in order, once"


def test_the_command_serves_tells_and_ends(tmp_path: Path):
    """Cards, links, log, the word at the end; `forget` takes links and touches along."""
    place = planned(tmp_path / "session")
    first = load_table(place).own_sheets["T1"].presentations[0].name
    # Ctrl-C means what it means at a terminal, though whoever runs the tests may ignore it.
    start = (
        "import signal; signal.signal(signal.SIGINT, signal.default_int_handler); "
        "from kikichoko.panel.cli import main; main()"
    )
    run = subprocess.Popen(
        [sys.executable, "-c", start, "serve", str(place)],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    try:
        assert run.stdout
        leader = run.stdout.readline()
        links = read_links(place)
        assert links is not None
        assert leader == f"Leader: {links.leaders}\n"
        phone = Phone(links, "T1")
        assert phone.mark(first, "sweetness", 5) == "saved"
        phone.mark(first, "words", "plums")
        assert ask(links, "/t/guess/").status == 404
        run.send_signal(signal.SIGINT)
        _, told = run.communicate(timeout=200)
    finally:
        run.kill()
    assert run.returncode == 0, told
    assert "Only this machine can open these links" in told
    assert "2 rows of answers came in" in told
    assert "Refused with 404: a request from 127.0.0.1" in told
    assert not any(secret in told for secret in links.seats.values())
    for path in (place / "table/links.json", place / "table/cards.pdf", place / "table"):
        assert path.stat().st_mode & 0o077 == 0, "H12"
    page = pypdfium2.PdfDocument(place / "table/cards.pdf")[0]
    codes = {one.text for one in zxingcpp.read_barcodes(page.render(scale=3).to_pil())}
    assert codes == {links.of(code) for code in links.seats}
    with Store(place) as store:
        assert compare(store, read_log(place)) == []
    gone = CliRunner().invoke(kikichoko, ["forget", str(place), "T1", "--yes"])
    assert gone.exit_code in (0, 3), gone.output
    assert not (place / "table").exists()
    with Store(place, reading=True) as store:
        assert store.database.execute("SELECT count(*) FROM touches").fetchone() == (0,)


def test_links_stay_and_can_be_made_anew(tmp_path: Path):
    place = planned(tmp_path / "session")
    links = links_of(place)
    assert len({links.leader, *links.seats.values()}) == 4
    assert min(map(len, links.seats.values())) >= 22, "128 bits"
    assert links_of(place) == links
    with in_thread(place):
        with pytest.raises(InputRefused, match="Cannot serve"):
            make_links(place, ["T1"], HERE, links.port)
        assert make_links(place, ["T1"], HERE).port != links.port, "taken: another one"
    new = make_links(place, ["T1", "T2"], HERE, anew=True)
    assert not {new.leader, *new.seats.values()} & {links.leader, *links.seats.values()}
    for host in ("0.0.0.0", "192.0.2.7", "no.such.host.invalid"):  # noqa: S104
        with pytest.raises(InputRefused):
            make_links(place, ["T1"], host)


def test_sixty_at_once_lose_nothing(tmp_path: Path):
    """N13: 60 assessors, 5 touches each, all at once; latency stands in docs/promises.md."""
    people = "".join(f"P{number:02d},student,,en\n" for number in range(60))
    place = planned(tmp_path / "session", assessors="assessor,role,style,language\n" + people)
    cups = {
        code: sheet.presentations[0].name for code, sheet in load_table(place).own_sheets.items()
    }
    done: dict[str, list[str]] = {}
    with in_thread(place) as links:

        def work(code: str) -> None:
            phone = Phone(links, code)
            done[code] = [phone.mark(cups[code], "sweetness", value) for value in range(5)]

        threads = [threading.Thread(target=work, args=(code,)) for code in cups]
        for one in threads:
            one.start()
        for one in threads:
            one.join(200)
    assert done == {code: ["saved"] * 5 for code in cups}
    with Store(place, reading=True) as store:
        rows = store.database.execute("SELECT assessor, number, text FROM answers ORDER BY id")
        values: dict[str, list[float]] = {}
        for who, value, _ in rows:
            values.setdefault(who, []).append(value)
    assert values == {code: [0.0, 1.0, 2.0, 3.0, 4.0] for code in cups}


def test_a_disk_that_is_full_is_not_called_saved(tmp_path: Path, monkeypatch):
    """N12: nothing of a request is taken; the others are, and it is taken when it comes again."""
    place = planned(tmp_path / "session")
    first = load_table(place).own_sheets["T1"].presentations[0].name
    full = True

    def failing(store, seat, device, touch):
        outcome = take(store, seat, device, touch)
        if full and touch.value == 9:
            raise sqlite3.OperationalError("database or disk is full")
        return outcome

    monkeypatch.setattr("kikichoko.panel.table.table_server.take", failing)
    with in_thread(place) as links:
        phone = Phone(links, "T1")
        told = [phone.touch(code=first, attribute="sweetness", value=value) for value in (8, 9)]
        reply = phone.send(*told)
        assert reply.status == 503
        assert "trouble" in reply.told
        with Store(place, reading=True) as store:
            assert store.answers() == []
        full = False
        assert phone.send(*told).told["done"] == [[1, "saved"], [2, "saved"]]
