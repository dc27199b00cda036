"""The open flight at the desk, at the width of a telephone, in the dark, in Debian's Chromium.

From the user's side: who leads closes the blind flights by a box and a button, is told before what
is lacking, takes the named sheets from the page, and drops what comes back like any sheet.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner
from desk_visitor import come_in, desk, filled, sent, seriously_wrong
from kikichoko.panel.base.session_log import read_log
from kikichoko.panel.base.words import say
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.returns.store import Store
from openpyxl import load_workbook
from playwright.sync_api import Browser, Page, expect

WANTED = """open_flight = true
[questions]
drop = ["fault", "aroma_intensity", "bitterness", "astringency", "texture", "carbonation",
        "alcohol_warmth", "flavour_intensity", "finish_length", "clean_cut", "lingering_aroma",
        "cloying", "aroma", "sweetness_balance", "umami", "body", "words"]
"""
PEOPLE = "assessor,role,style,language\nM1,maker,likes,en\nT1,expert,dislikes,ja\n"
BOTTLES = ("early", "middle", "late")


@pytest.fixture
def shelf(folder_once: Callable[..., Path], tmp_path: Path) -> Path:
    """Return a folder with a session of two, planned and its sheets written."""
    made = folder_once(replicates=1, more=WANTED, assessors=PEOPLE)
    made.rename(tmp_path / "known")
    for word in ("plan", "sheets"):
        assert CliRunner().invoke(kikichoko, [word, str(tmp_path / "known")]).exit_code == 0
    return tmp_path


def test_closing_the_blind_flights_is_an_act_of_its_own(browser: Browser, shelf: Path):
    place = shelf / "known"
    context = browser.new_context(
        viewport={"width": 390, "height": 844}, color_scheme="dark", locale="en-GB"
    )
    page = context.new_page()
    page.set_default_timeout(60_000)

    def at(step: str) -> None:
        page.goto(f"http://{server.host}{server.visitors.root}s/known/{step}")

    def files() -> list[str]:
        links = page.locator("main a[href*='file/named/']")
        return [one.get_attribute("href").rpartition("/")[2] for one in links.all()]

    with desk(shelf) as server:
        page.goto(server.address)
        at("open")
        expect(page.get_by_text("Nothing was answered blind")).to_be_visible()
        expect(page.get_by_role("button", name=re.compile("Close the blind"))).to_have_count(0)
        first, second = filled(place, shelf / "inbox")
        assert CliRunner().invoke(kikichoko, ["read", str(place), str(first)]).exit_code == 0

        at("open")
        expect(page.get_by_text(say("unblind.closes", "en"))).to_be_visible()
        expect(page.get_by_text(re.compile(r"Cups without an answer: T1 \("))).to_be_visible()
        assert fine(page)
        close = page.get_by_role("button", name="Close the blind flights and write named sheets")
        close.click()
        assert page.locator("#sure").evaluate("one => one.validity.valueMissing")
        untold = page.request.post(page.url.replace("/open", "/unblind"), form={"incomplete": "1"})
        assert "no name was told" in untold.text()
        page.get_by_label("Yes, close the blind flights and tell the names").check()
        close.click()
        expect(page.locator("#told")).to_contain_text("The blind part is not finished")
        assert read_log(place).of("open_flight") == []
        assert not (place / "open_flight/sheets").exists()
        assert files() == []
        here = page.url.partition("?")[0].removesuffix("open")
        assert page.request.get(f"{here}file/named/all-sheets.pdf").status == 404

        at("returns")
        page.locator("#files").set_input_files(second)
        page.get_by_role("button", name="Take them in").click()
        expect(page.locator("#told")).to_contain_text("Taken in.")
        at("open")
        expect(page.get_by_label(say("unblind.option_incomplete", "en"))).to_have_count(0)
        asked = sent(server, come_in(server), "s/known/do/unblind")
        assert "Nothing is done yet" in asked, "the form of the command asks first, too"
        assert say("unblind.closes", "en") in asked
        assert read_log(place).of("open_flight") == []
        page.get_by_label("Yes, close the blind flights and tell the names").check()
        close.click()
        expect(page.locator("#told")).to_contain_text("closed for good")
        assert fine(page)
        (entry,) = read_log(place).of("open_flight")
        assert entry.values["cups_missing"] == 0
        assert not read_log(place).of("open"), "the key is not opened by it"
        named = ["all-sheets.pdf", "orders.csv", "M1.pdf", "M1.xlsx", "T1.pdf", "T1.xlsx"]
        assert files() == named
        bodies = {name: page.request.get(f"{here}file/named/{name}").body() for name in named}
        for name, body in bodies.items():
            assert body == (place / "open_flight/sheets" / name).read_bytes()
        rows = csv.reader(io.StringIO(bodies["orders.csv"].decode("utf-8-sig")))
        assert {tuple(sorted(row[1:])) for row in list(rows)[1:]} == {tuple(sorted(BOTTLES))}
        book = load_workbook(io.BytesIO(bodies["M1.xlsx"]))
        told = {cell.value for sheet in book for row in sheet.iter_rows() for cell in row}
        assert {*BOTTLES} <= told

        page.locator("#paper").select_option("Letter")
        page.get_by_role("button", name="Write the named sheets again").click()
        expect(page.locator("#told")).to_contain_text("written again")
        assert len(read_log(place).of("open_flight")) == 1, "closed once"
        at("sheets")
        expect(page.get_by_text("no longer written")).to_be_visible()
        assert files() == named
        assert fine(page)

        with Store(place, reading=True) as store:
            blind = store.answers()
        at("returns")
        page.locator("#files").set_input_files(filled(place, shelf / "after", 17, named=True)[0])
        page.get_by_role("button", name="Take them in").click()
        expect(page.locator("#told")).to_contain_text("Taken in.")
        expect(page.get_by_role("heading", name="The flight with names")).to_be_visible()
        expect(page.get_by_text("Open flight: opened")).to_be_visible()
        assert fine(page)
        with Store(place, reading=True) as store:
            assert store.answers() == blind
        with Store(place / "open_flight", reading=True) as store:
            assert {one.answer.code for one in store.answers()} == {*BOTTLES}
        at("open?language=ja")
        expect(page.get_by_role("heading", name="酒名を明かすきき酒")).to_be_visible()
        assert fine(page)
    context.close()


def fine(page: Page) -> bool:
    """Hold that a checker finds nothing serious, and that nothing lies to the side."""
    assert seriously_wrong(page) == []
    return page.evaluate("document.documentElement.scrollWidth") <= 390
