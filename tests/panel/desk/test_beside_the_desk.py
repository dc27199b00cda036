"""What the desk starts beside itself, and what a kill leaves: telephones, pages of marks, commands.

Cases S01 to S08, V01 to V04, E07, E09 and K02, K05 of tests/outside/desk, in Debian's Chromium, at
the width of a telephone; each page is looked at by axe-core.
"""

from __future__ import annotations

import re
import shutil
import socket
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from desk_visitor import DeskProcess, desk, filled, multipart, seriously_wrong
from kikichoko.forms.answers.uncertain_marks import Uncertain
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.desk.desk_server import DeskServer
from kikichoko.panel.plan.plan_file import load_open
from kikichoko.panel.returns.open_marks import decisions, mark, waiting
from kikichoko.panel.returns.store import Store
from kikichoko.panel.session.session_folder import load
from playwright.sync_api import Browser, Page, expect


@pytest.fixture(scope="module")
def shelf(folder_once: Callable[..., Path], tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("shelf")
    folder_once(replicates=1, short=True).rename(place / "spring")
    for word in ("plan", "sheets"):
        assert CliRunner().invoke(kikichoko, [word, str(place / "spring")]).exit_code == 0
    shutil.copytree(place / "spring", place / "quiet")
    return place


@pytest.fixture(scope="module")
def server(shelf: Path) -> Iterator[DeskServer]:
    with desk(shelf) as running:
        yield running


@pytest.fixture
def page(browser: Browser, server: DeskServer) -> Iterator[Page]:
    """Come in by the link, with a small dark screen."""
    context = browser.new_context(
        viewport={"width": 390, "height": 844}, color_scheme="dark", locale="en-GB"
    )
    opened = context.new_page()
    opened.set_default_timeout(60_000)
    opened.goto(server.address)
    expect(opened.get_by_role("heading", level=1)).to_have_text("Tasting sessions")
    yield opened
    context.close()


def fine(page: Page) -> None:
    """Hold that a checker finds nothing serious, and that nothing lies to the side."""
    assert seriously_wrong(page) == []
    width = page.evaluate("document.documentElement.scrollWidth")
    assert width <= 390, page.evaluate(
        "[...document.querySelectorAll('*')].filter(one => one.getBoundingClientRect().right > 390)"
        ".map(one => one.outerHTML.slice(0, 120)).slice(0, 5)"
    )


def at(server: DeskServer, path: str) -> str:
    return f"http://{server.host}{server.visitors.root}{path}"


def listens(link: str) -> bool:
    """Tell whether somebody listens where a link leads."""
    host, port = re.match(r"http://([\d.]+):(\d+)/", link).groups()
    with socket.socket() as line:
        return line.connect_ex((host, int(port))) == 0


def test_telephones_from_the_desk(page: Page, server: DeskServer, shelf: Path):
    """S01 to S05: started twice it is one table; a mark arrives; stopped, nobody listens."""
    page.goto(at(server, "s/spring/phones"))
    expect(page.get_by_text("can be read along there")).to_be_visible()
    fine(page)
    page.get_by_label("under another name").check()
    page.get_by_label("Name or address", exact=True).fill("192.0.2.77")
    page.get_by_role("button", name="Start the table").click()
    expect(page.locator("#told")).to_contain_text("192.0.2.77")
    beside = page.context.new_page()
    beside.goto(at(server, "s/spring/phones"))
    for one in (page, beside):
        one.get_by_label("on this machine only").check()
        one.get_by_role("button", name="Start the table").click()
        expect(one.locator("#serving")).to_be_visible()
    leader = page.locator("main .code-link a").first.inner_text()
    assert beside.locator("main .code-link a").first.inner_text() == leader
    beside.close()
    page.locator(".seat summary", has_text="T1").click()
    expect(page.get_by_role("img", name="Square code of the link of T1")).to_be_visible()
    fine(page)
    cards = page.request.get(at(server, "s/spring/file/table/cards.pdf"))
    assert cards.body() == (shelf / "spring/table/cards.pdf").read_bytes()
    with page.expect_popup() as popup:
        page.locator(".seat", has_text="T1").get_by_role("link").first.click()
    seat = popup.value
    seat.get_by_text("I have read this: begin").click()
    sweet = seat.locator("section.cup:visible").get_by_role("slider").first
    sweet.focus()
    seat.keyboard.press("5")
    expect(seat.get_by_text("saved", exact=False).first).to_be_visible()
    with Store(shelf / "spring", reading=True) as store:
        assert [one.answer.assessor for one in store.answers()] == ["T1"]
    seat.close()
    assert listens(leader)
    page.get_by_role("button", name="Stop the table").click()
    expect(page.locator("#told")).to_contain_text("links hold")
    assert not listens(leader)


def test_a_mark_of_a_photo_is_settled(
    page: Page, server: DeskServer, shelf: Path, simulator, tmp_path: Path
):
    """V01 to V04: a scan with one line marked twice; what is clear goes in."""
    place = shelf / "spring"
    printed = simulator.printed(load_open(load(place)).sheets["T2"])
    sheet, picture = next(one for one in printed if one[0].scales)
    hand = simulator.Hand(np.random.default_rng(5), tool="blue pen", line="upright", box="cross")
    scale = sheet.scales[0]
    given = {(one.code, one.attribute): (one.low + one.high) / 2 for one in sheet.scales}
    paper = simulator.fill_in(sheet, picture, hand, given)
    paper.line_mark(scale, scale.x + 0.9 * scale.length)
    scan = tmp_path / "scan.jpg"
    scan.write_bytes(simulator.Camera.scanner(np.random.default_rng(6), 150).jpeg(paper.picture))

    def drop() -> None:
        page.goto(at(server, "s/spring/returns"))
        page.locator("#files").set_input_files(scan)
        page.get_by_role("button", name="Take them in").click()
        expect(page.locator("#told")).to_be_visible()

    def numbers() -> list[int]:
        with Store(place, reading=True) as store:
            return waiting(store)

    def asked() -> list[Uncertain]:
        with Store(place, reading=True) as store:
            return [mark(store, number) for number in waiting(store)]

    drop()
    fine(page)
    pending = asked()
    double = [(one.assessor, one.code, one.attribute) for one in pending if one.reason == "double"]
    assert double == [("T2", scale.code, scale.attribute)]
    with page.expect_popup() as popup:
        page.get_by_role("button", name="Look at them").click()
    review = popup.value
    review.set_default_timeout(60_000)
    review.set_viewport_size({"width": 390, "height": 844})
    review.get_by_role("button", name="No more pages").click()
    expect(review.locator("img.picture")).to_be_visible()
    fine(review)
    for number in numbers():
        expect(review.locator(f"input[name=number][value='{number}']")).to_be_attached()
        review.locator("button[data-key='1']").click()
    expect(review.get_by_role("heading", level=1)).to_have_text("All marks are looked at.")
    fine(review)
    review.close()
    with Store(place, reading=True) as store:
        assert len(decisions(store)) == len(pending)
        (answer,) = [
            found.answer.value
            for found in store.answers()
            if found.answer.assessor == "T2"
            and (found.answer.code, found.answer.attribute) == (scale.code, scale.attribute)
        ]
        assert answer == pytest.approx((scale.low + scale.high) / 2, abs=0.3)
        before = len(store.answers())
    assert asked() == []
    drop()
    expect(page.get_by_role("button", name="Look at them")).to_be_hidden()
    with Store(place, reading=True) as store:
        assert len(store.answers()) == before, "nothing twice"


def test_every_kind_of_page_of_commands_is_fine(page: Page, server: DeskServer, tmp_path: Path):
    """E01 to E09: a list, a form with a table and its figure, a late change, who is forgotten."""
    page.get_by_role("link", name="All commands").click()
    fine(page)
    table = tmp_path / "own.csv"
    rows = [f"P{who},{bottle},sweet,{5 + place % 2 + who * (3 + place) % 4}"
            for who in range(6) for place, bottle in enumerate("ABC")]  # fmt: skip
    table.write_text("\n".join(["assessor,sample,attribute,score", *rows]), "utf-8")
    page.get_by_role("link", name="anova", exact=True).click()
    page.get_by_label("Table (CSV or XLSX)").set_input_files(table)
    page.locator("#f-figure").select_option("svg")
    page.get_by_role("button", name="Do it").click()
    expect(page.locator("#answer")).to_contain_text("the samples differ in sweet")
    expect(page.get_by_role("img", name="Figure of anova")).to_be_visible()
    fine(page)
    page.goto(at(server, "s/spring/commands"))
    fine(page)
    page.get_by_role("link", name="change left", exact=True).click()
    page.get_by_label("Assessor (code)").fill("T3")
    page.locator("#f-place").fill("2")
    page.get_by_role("button", name="Do it").click()
    expect(page.locator("#told")).to_contain_text("Done")
    page.goto(at(server, "s/spring/do/forget"))
    page.get_by_label("Assessor (code)").fill("T3")
    page.get_by_role("button", name="Do it").click()
    expect(page.locator("#told")).to_contain_text("Nothing is done yet")
    fine(page)


def test_a_desk_that_is_killed(shelf: Path, tmp_path: Path):
    """K02, K05, S06: alone, the command goes on to its end; the table ends with the desk."""
    own = tmp_path / "shelf"
    shutil.copytree(shelf, own)
    paths = filled(own / "quiet", tmp_path / "inbox")
    content, kind = multipart(*(("files", path.name, path.read_bytes()) for path in paths))
    with DeskProcess(own) as running:
        text = running.send("s/quiet/phones", b"how=start&host=")
        leader = re.search(r"http://127\.0\.0\.1:\d+/l/", text)[0]
        assert listens(leader)
        begun = running.begin("s/quiet/returns", content, Content_Type=kind)
        running.kill(with_all=False)
        begun.close()
    assert not listens(leader), "nothing goes on unseen"
    with DeskProcess(own) as running:
        running.send("s/quiet/returns", content, Content_Type=kind)
    with Store(own / "quiet", reading=True) as store:
        who = {one.answer.assessor for one in store.answers()}
        assert store.database.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert who == {path.stem for path in paths}
    checked = CliRunner().invoke(kikichoko, ["check", str(own / "quiet")])
    assert checked.exit_code == 0, checked.output
