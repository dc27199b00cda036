"""A whole session at the desk, from an empty folder to the report, in a real browser.

Cases D01 to D22 of tests/outside/desk. Debian's Chromium, headless; each page is looked at by
axe-core, an automated checker of accessibility, and nothing serious may be found.
"""

from __future__ import annotations

import csv
import json
import re
import tomllib
from pathlib import Path

import pytest
from desk_visitor import desk, filled, seriously_wrong
from kikichoko.panel.base.session_log import read_log
from kikichoko.panel.returns.store import Store
from playwright.sync_api import Browser, Page, expect

BUSY = 240_000


def step(page: Page, name: str) -> None:
    page.get_by_role("navigation").get_by_role("link", name=name, exact=True).click()
    expect(page.get_by_role("heading", level=1)).to_have_text(name)


def press(page: Page, name: str, told: str) -> None:
    page.get_by_role("button", name=name, exact=True).first.click()
    expect(page.locator("#told")).to_contain_text(told, timeout=BUSY)


def fill(page: Page, line: int, **cells: str) -> None:
    for column, text in cells.items():
        cell = page.get_by_label(f"{column}, line {line}", exact=True)
        if cell.evaluate("one => one.tagName") == "SELECT":
            cell.select_option(text)
        else:
            cell.fill(text)


@pytest.mark.timeout(900)
def test_a_session_from_an_empty_folder_to_the_report(browser: Browser, tmp_path: Path):
    """D01 to D06, D08, D09, D11, D12, D15 to D19, D21, D22; F06, F08."""
    context = browser.new_context(viewport={"width": 1200, "height": 900}, locale="en-GB")
    page = context.new_page()
    page.set_default_timeout(60_000)
    wrong: dict[str, list[str]] = {}
    trouble: list[str] = []
    page.on("pageerror", lambda fault: trouble.append(str(fault)))
    page.on("console", lambda told: trouble.append(told.text) if "Security" in told.text else None)

    def looked_at(name: str) -> None:
        wrong[name] = seriously_wrong(page)

    place = tmp_path / "shelf" / "spring"
    with desk(tmp_path / "shelf") as server:
        page.goto(server.address)
        expect(page.get_by_text("There is no session in this folder yet.")).to_be_visible()
        looked_at("shelf")
        page.get_by_role("link", name="Cellar").click()
        for summary in page.locator("summary").all():
            summary.click()
        looked_at("cellar")
        page.get_by_role("link", name="kikichoko", exact=True).click()
        page.get_by_role("link", name="New session").click()
        looked_at("new")
        page.get_by_label("Folder").fill("../spring")
        press(page, "Make the session", "cannot be the name of a folder")
        page.get_by_label("Folder").fill("spring")
        page.get_by_label("Heading of the sheets").fill('<b>"Spring"</b>')
        page.get_by_label("Date").fill("2026-04-01")
        page.get_by_label("What do you want to decide?").fill("Do they differ?")
        page.get_by_label("Card").select_option("brewery")
        page.get_by_label("Millilitres in each cup").fill("20")
        page.get_by_label("Spare sheets").fill("0")
        press(page, "Make the session", "The session is made")
        settings = tomllib.loads((place / "session.toml").read_text("utf-8"))
        assert settings["title"] == '<b>"Spring"</b>'
        assert (settings["questions"]["card"], settings["serving"]["pour_ml"]) == ("brewery", 20)
        assert "# Stands on every sheet" in (place / "session.toml").read_text("utf-8")

        fill(page, 2, bottle="Quellwolke", acidity="1,6x", available="3")
        fill(page, 3, bottle="QUELLWOLKE", fraction="clear", available="3")
        fill(page, 4, bottle="", fraction="cloudy", available="3")
        press(page, "Save", "3 faults")
        cell = page.get_by_label("acidity, line 2", exact=True)
        expect(cell).to_have_value("1,6x")
        expect(cell).to_have_attribute("aria-invalid", "true")
        told = page.locator(f"#{cell.get_attribute('aria-describedby')}").inner_text()
        assert "1,6x" in told, "in the words of the command line"
        looked_at("bottles with faults")
        step(page, "Plan")
        expect(page.get_by_text(told)).to_be_visible()
        step(page, "Bottles")
        fill(page, 2, acidity="1,6")
        fill(page, 3, bottle="Kellerwort")
        fill(page, 4, bottle="Reiswort")
        beside = context.new_page()
        beside.goto(page.url)
        press(page, "Save", "Saved.")
        with (place / "bottles.csv").open(encoding="utf-8") as file:
            rows = list(csv.DictReader(file))
        assert [row["bottle"] for row in rows] == ["Quellwolke", "Kellerwort", "Reiswort"]
        assert rows[0]["acidity"] == "1,6", "letter by letter"

        fill(beside, 2, bottle="Reiswolke")
        press(beside, "Save", "the file was changed meanwhile")
        expect(beside.get_by_label("bottle, line 2", exact=True)).to_have_value("Reiswolke")
        assert "Quellwolke" in (place / "bottles.csv").read_text("utf-8")
        beside.close()

        step(page, "People")
        looked_at("people")
        page.get_by_role("button", name="One more line").click()
        fill(page, 7, assessor="A4", role="expert")
        press(page, "Save", "Saved.")
        assert "A4,expert" in (place / "assessors.csv").read_text("utf-8")
        step(page, "Settings")
        looked_at("settings")
        page.get_by_label("Minutes of rest").fill("soon")
        press(page, "Save", "1 fault")
        expect(page.get_by_text(re.compile("rest_minutes.*whole number"))).to_be_visible()
        page.get_by_label("Minutes of rest").fill("5")
        page.get_by_label("When clarity and colour").select_option("off")
        press(page, "Save", "Saved.")

        step(page, "Plan")
        expect(page.get_by_text("4 sheets, 3 bottles compared")).to_be_visible()
        looked_at("plan")
        assert not (place / "plan").exists(), "nothing is written by looking"
        page.get_by_role("link", name="日本語").click()
        expect(page.get_by_role("heading", level=1)).to_have_text("計画")
        looked_at("plan in Japanese")
        page.get_by_role("link", name="English").click()
        stale = context.new_page()
        stale.goto(page.url)
        press(page, "Make the plan", "Planned.")
        press(stale, "Make the plan", "planned already")
        stale.close()
        assert [one.act for one in read_log(place).entries] == ["plan"]
        press(page, "Write the sheets", "The sheets are written.")
        looked_at("sheets")
        with page.expect_popup() as popup:
            page.locator(".code-link a").click()
        for name in ("A1.pdf", "A1.xlsx", "cup_labels.pdf"):
            folder = "plan" if name.startswith("cup") else "sheets"
            label = "Labels for the cups" if folder == "plan" else name
            path = page.get_by_role("link", name=label, exact=True).get_attribute("href")
            reply = page.request.get(f"{page.url.partition('?')[0].removesuffix('sheets')}{path}")
            assert reply.body() == (place / folder / name).read_bytes()
        pour = popup.value
        expect(pour.get_by_role("heading", level=1)).to_have_text("Pour list: who looks?")
        assert "Quellwolke" not in pour.content()
        wrong["pour"] = seriously_wrong(pour)
        pour.get_by_label("whoever pours").check()
        pour.get_by_role("button", name="Show the pour list").click()
        expect(pour.get_by_role("cell", name="Quellwolke").first).to_be_visible()
        wrong["pour list"] = seriously_wrong(pour)
        pour.close()
        with Store(place, reading=True) as store:
            assert store.openings() == []

        step(page, "Returns")
        looked_at("returns")
        paths = filled(place, tmp_path / "inbox")
        letter = tmp_path / "inbox" / "R&amp;D letter.txt"
        letter.write_text("Thank you for a lovely evening!", "utf-8")
        page.locator("#files").set_input_files([*paths[:3], letter])
        press(page, "Take them in", "Taken in.")
        expect(page.locator("#told")).to_contain_text("R&amp;D letter.txt")
        with Store(place, reading=True) as store:
            answers = len(store.answers())
        assert answers > 100
        looked_at("returns with a fault")
        page.get_by_label(re.compile("letter.txt")).check()
        page.get_by_label("Why", exact=True).fill("a thank-you letter")
        press(page, "Settle these", "Settled, and kept")
        page.locator("#files").set_input_files(paths[:1])
        press(page, "Take them in", "read")
        with Store(place, reading=True) as store:
            assert len(store.answers()) == answers, "nothing twice"

        step(page, "Key and report")
        expect(page.get_by_text("Nothing has come back yet from A4.")).to_be_visible()
        looked_at("before opening")
        for act in ("bottles", "plan", "returns", "open"):
            page.goto(f"{page.url.partition('/s/')[0]}/s/spring/{act}")
        assert not read_log(place).of("open"), "nothing is opened by looking at a page"
        page.get_by_label("Yes, open the key").check()
        press(page, "Open the key and write the report", "the report is written")
        (opening,) = read_log(place).of("open")
        assert opening.values["sheets_out"] == 1
        inside = page.frame_locator("iframe")
        expect(inside.get_by_role("heading", level=1)).to_contain_text("Spring")
        looked_at("report inside the page")
        page.goto(f"{page.url.partition('?')[0].removesuffix('open')}report/report.html")
        looked_at("report")
        content = json.loads((place / "report" / "results.json").read_text("utf-8"))
        assert content["session"] == "tasting-1"
        page.goto(page.url.partition("/s/")[0] + "/")
        expect(page.get_by_role("row", name="spring")).to_contain_text("reported")
    context.close()
    assert {name: found for name, found in wrong.items() if found} == {}
    assert trouble == []


def test_by_keyboard_on_a_small_dark_screen_and_without_script(browser: Browser, tmp_path: Path):
    """D22: 390 px, dark, Japanese, no script: the same fields, and nothing lies to the side."""
    context = browser.new_context(
        viewport={"width": 390, "height": 844}, color_scheme="dark", java_script_enabled=False
    )
    page = context.new_page()
    page.set_default_timeout(60_000)
    with desk(tmp_path / "shelf") as server:
        page.goto(f"{server.address}?language=ja")
        page.goto(f"http://{server.host}{server.visitors.root}new?language=ja")
        page.keyboard.press("Tab")
        expect(page.locator(":focus")).to_have_text("本文へ")
        page.locator("#folder").focus()
        page.keyboard.type("春の会")
        page.keyboard.press("Enter")
        expect(page.get_by_role("heading", level=1)).to_have_text("瓶")
        assert (tmp_path / "shelf" / "春の会" / "session.toml").is_file()
        fields = page.locator(".typed input:visible, .typed select:visible, button:visible")
        boxes = [one.bounding_box() for one in fields.all()]
        assert min(box["height"] for box in boxes) >= 44, "WCAG 2.2, 2.5.5"
        assert max(box["x"] + box["width"] for box in boxes) <= 390
    context.close()
    lit = browser.new_context(viewport={"width": 390, "height": 844}, color_scheme="dark")
    page = lit.new_page()
    page.set_default_timeout(60_000)
    with desk(tmp_path / "shelf") as server:
        page.goto(server.address)
        for path in ("bottles", "settings", "plan"):
            page.goto(f"http://{server.host}{server.visitors.root}s/春の会/{path}")
            assert seriously_wrong(page) == []
            assert page.evaluate("document.documentElement.scrollWidth") <= 390
    lit.close()
