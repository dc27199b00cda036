"""The page of marks: served to this machine alone, and nobody can block or misuse it.

Status codes: RFC 9110 (400, 403, 404, 413, 415). Content security policy: W3C CSP level 3.
"""

from __future__ import annotations

import re
import socket
import sys
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner
from kikichoko.forms.answers.uncertain_marks import Choice, Uncertain
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.plan.plan_file import load_open
from kikichoko.panel.returns.open_marks import decide, decisions, note
from kikichoko.panel.returns.review_page import Review
from kikichoko.panel.returns.store import Store
from kikichoko.panel.session.session_folder import load

sys.path.insert(0, str(Path(__file__).parents[2] / "tools"))
from review_visitor import FORM, Page, served

MARK = Uncertain(
    session="test-1", assessor="T1", code="381", attribute="sweetness", file="p.jpg",
    place="page 3", reason="double", picture=b"\x89PNG", low=0.0, high=10.0,
    choices=(Choice("the mark at 2", 2.0), Choice("the mark at 7", 7.0), Choice("nothing", None)),
)  # fmt: skip
WORDS = replace(MARK, attribute="words", reason="words", choices=(), low=0.0, high=0.0)


@pytest.fixture
def page(folder) -> Iterator[Page]:
    place = folder(replicates=1)
    outcome = CliRunner().invoke(kikichoko, ["plan", str(place)])
    assert outcome.exit_code == 0, outcome.output
    plan = load_open(load(place))
    code = plan.sheets["T1"].presentations[0].name

    def review_of(store: Store) -> Review:
        note(store, [replace(MARK, code=code), replace(WORDS, code=code)], plan.version)
        return Review(store, plan, "M1", "en")

    with served(place, review_of) as page:
        yield page


def test_the_page_shows_and_takes(page):
    status, text, _ = page.ask()
    assert status == 200
    assert re.search(r"Sweetness – cup \d+, assessor T1", text)
    assert 'data-key="2"' in text
    assert "http" not in text, "nothing from elsewhere"
    assert page.ask("1")[1] == "\ufffdPNG"
    assert (
        "not an answer here" in page.ask(data={"number": "1", "choice": "type", "typed": "12"})[1]
    )
    assert "Type them as they stand" in page.ask(data={"number": "1", "choice": "2"})[1]
    _, done, _ = page.ask(data={"number": "2", "choice": "type", "typed": "<b>梨"})
    assert "All marks are looked at" in done
    assert "<b>" not in page.ask("?n=2")[1]
    with Store(page.place) as store:
        assert [made.value for made in decisions(store)] == [7.0, "<b>梨"]


def test_a_page_that_is_out_of_date_changes_nothing(page):
    state = re.search(r'name="state" value="(\w+)"', page.ask("?n=1")[1])[1]
    with Store(page.place) as store:
        decide(store, 1, 2.0, decided_by="T9")
    text = page.ask(data={"number": "1", "choice": "2", "state": state})[1]
    assert "decided or answered meanwhile" in text
    with Store(page.place) as store:
        assert [made.value for made in decisions(store)] == [2.0]
    state = re.search(r'name="state" value="(\w+)"', text)[1]
    page.ask(data={"number": "1", "choice": "2", "state": state})
    with Store(page.place) as store:
        assert [made.value for made in decisions(store)] == [2.0, 7.0]


@pytest.mark.parametrize(
    ("wanted", "path", "data", "headers"),
    [
        (404, "../guess/", None, {}),
        (404, "9" * 23, None, {}),
        (404, "-1", None, {}),
        (200, "?n=" + "9" * 23, None, {}),
        (200, "?n=x", None, {}),
        (400, "", None, {"Host": "evil.example"}),
        (400, "", None, {"Host": "localhost.evil.example:80"}),
        (403, "", {"number": "1", "choice": "2"}, {"Origin": "http://evil.example"}),
        (403, "", {"number": "1", "choice": "2"}, {"Sec_Fetch_Site": "cross-site"}),
        (415, "", b"number=1", {"Content_Type": "text/plain"}),
        (413, "", b"a=" + b"x" * 30_000, {}),
        (400, "", b"", {"Content_Length": "-5"}),
        (400, "", b"", {"Content_Length": "many"}),
        (405, "1", {"number": "1"}, {}),
        (200, "", {"number": "9" * 400, "choice": "2"}, {}),
        (200, "", {"number": "1", "choice": "9" * 5000}, {}),
    ],
)
def test_what_does_not_come_from_the_page_is_refused(page, wanted, path, data, headers):
    status, _, _ = page.ask(path, data, **headers)
    assert status == wanted
    with Store(page.place) as store:
        assert decisions(store) == []
    assert page.ask()[0] == 200, "the page is still there"


def test_every_answer_carries_the_headers_of_a_closed_page(page):
    for path, data in (("", None), ("nothing", None), ("", {"number": "1", "choice": "x"})):
        _, text, headers = page.ask(path, data)
        told = {name.lower(): value for name, value in headers.items()}
        assert told["content-security-policy"].startswith("default-src 'none'")
        assert "frame-ancestors 'none'" in told["content-security-policy"]
        assert told["x-content-type-options"] == "nosniff"
        assert told["referrer-policy"] == "no-referrer"
        assert told["cache-control"] == "no-store"
        assert "server" not in told
        for nonce in re.findall(r'nonce="([^"]*)"', text):
            assert f"'nonce-{nonce}'" in told["content-security-policy"]


@pytest.mark.parametrize("sent", [b"", b"GET / HTTP/1.1\r\nHost:", b"POST"])
def test_idle_and_half_requests_lock_nobody_out(page, sent):
    host, port = page.host.split(":")
    body = sent
    if sent == b"POST":
        body = (f"POST {page.path} HTTP/1.1\r\nHost: {page.host}\r\nContent-Type: {FORM}\r\n"
                "Content-Length: 900\r\n\r\nnumber=1").encode()  # fmt: skip
    idle = []
    for _ in range(260):
        line = socket.create_connection((host, int(port)), timeout=200)
        line.sendall(body)
        idle.append(line)
    began = time.monotonic()
    for _ in range(5):
        assert page.ask()[0] == 200
    assert time.monotonic() - began < 10
    for line in idle:
        line.close()


def test_a_port_that_is_taken_is_told_in_words(page):
    outcome = CliRunner().invoke(
        kikichoko, ["review", str(page.place), "--no-browser", "--port", page.host.split(":")[1]]
    )
    assert outcome.exit_code == 1
    assert "Address already in use" in outcome.output
