"""A flight on a telephone's screen, by touch, in a real browser (Debian's Chromium, headless).

Touch, networks that fail and dark screens are those of the browser's own developer tools.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from desk_visitor import seriously_wrong
from kikichoko.panel.plan.plan_file import load_table
from kikichoko.panel.returns.store import Store
from playwright.sync_api import Browser, BrowserContext, Error, Page, expect
from table_visitor import in_process, in_thread, links_of, planned

PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True,
         "locale": "en-GB"}  # fmt: skip


@pytest.fixture
def phone(browser: Browser) -> Iterator[BrowserContext]:
    context = browser.new_context(**PHONE)
    context.set_default_timeout(60_000)
    yield context
    context.close()


def cup(page: Page, name: str):
    return page.locator(f'section.cup[data-cup="{name}"]')


def tap_line(page: Page, name: str, attribute: str, share: float) -> None:
    track = cup(page, name).locator(f'[data-attribute="{attribute}"] [role=slider]')
    track.scroll_into_view_if_needed()
    box = track.bounding_box()
    page.touchscreen.tap(box["x"] + share * box["width"], box["y"] + box["height"] / 2)


def hear(page: Page) -> None:
    """Let a page ask at once how things stand, as when its network is back; else every 5 s.

    It may have asked by itself at this very moment, and be loading what it heard.
    """
    try:
        page.evaluate("window.dispatchEvent(new Event('online'))")
    except Error as fault:
        if "context was destroyed" not in str(fault):
            raise


def stored(place: Path) -> dict[tuple[str, str], object]:
    with Store(place, reading=True) as store:
        return {
            (one.answer.code, one.answer.attribute): one.answer.value for one in store.answers()
        }


def test_a_flight_by_touch_with_the_network_cut(phone: BrowserContext, tmp_path: Path):
    """P01, P03 to P06, P08, P10, P11, N01, N02, N07: touch, blank, cut, reload, language, rest."""
    place = planned(tmp_path / "session", flight_size=2)
    first, second, third = [one.name for one in load_table(place).own_sheets["T1"].presentations]
    with in_thread(place) as links:
        page = phone.new_page()
        faults: list[str] = []
        page.on("pageerror", lambda fault: faults.append(str(fault)))
        page.on("console", lambda told: faults.append(told.text) if "Content Security" in told.text
                else None)  # fmt: skip
        page.goto(links.of("T1"))
        assert seriously_wrong(page) == []
        expect(page.get_by_text("Spit: a spittoon stands beside you.")).to_be_visible()
        expect(page.get_by_text("Do not taste if you are under the legal age")).to_be_visible()
        page.get_by_text("I have read this: begin").tap()
        expect(cup(page, first)).to_be_visible()
        assert seriously_wrong(page) == []
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
        sweet = cup(page, first).get_by_role("slider", name="Sweetness", exact=True)
        expect(sweet).to_have_attribute("aria-valuetext", "no mark")
        expect(sweet.locator("i")).to_be_hidden()
        tap_line(page, first, "sweetness", 0.63)
        expect(page.locator("#state")).to_have_text("Saved")
        assert stored(place)[first, "sweetness"] == pytest.approx(6.3, abs=0.06)
        small = [
            one
            for one in page.locator(".cup:visible :is(button, label, [role=slider]):visible").all()
            if (box := one.bounding_box()) and box["height"] < 44
            and one.evaluate("one => !one.closest('.name')")
        ]  # fmt: skip
        assert small == [], "P01: 44 px (WCAG 2.2, 2.5.5)"
        phone.set_offline(True)
        tap_line(page, first, "acidity", 0.2)
        tap_line(page, first, "acidity", 0.3)
        cup(page, first).get_by_label("cannot tell").locator("xpath=..").tap()
        expect(page.locator("#state")).to_contain_text("3 waiting")
        cup(page, first).get_by_role("button", name="Go on").tap()
        expect(cup(page, first).get_by_text("Without an answer")).to_contain_text("Umami")
        cup(page, first).locator(".sure").tap()
        expect(cup(page, second)).to_be_visible()
        tap_line(page, second, "sweetness", 0.5)
        page.get_by_text("日本語").tap()
        expect(page.locator("#trouble")).to_contain_text("language can be changed when all is sent")
        assert (second, "sweetness") not in stored(place)
        with pytest.raises(Exception, match="ERR_INTERNET_DISCONNECTED"):
            page.reload()
        phone.set_offline(False)
        page.goto(links.of("T1"))
        expect(page.locator("#state")).to_have_text("Saved")
        expect(cup(page, second)).to_be_visible()
        found = stored(place)
        assert found[first, "acidity"] == pytest.approx(3, abs=0.06)
        assert found[first, "fault_unsure:cannot_tell"] == 1.0
        assert found[second, "sweetness"] == pytest.approx(5, abs=0.06)
        assert (first, "umami") not in found
        with Store(place, reading=True) as store:
            told = store.database.execute(
                "SELECT number, outcome FROM touches ORDER BY id"
            ).fetchall()
        assert told == [(number, "saved") for number in range(1, 7)], "in order, once"
        page.get_by_text("日本語").tap()
        expect(page.locator("html")).to_have_attribute("lang", "ja")
        sweet = cup(page, second).locator('[data-attribute="sweetness"]').get_by_role("slider")
        expect(sweet).to_have_attribute("aria-valuetext", "5")
        sweet.focus()
        for key in ("7", "ArrowRight", "PageDown"):
            sweet.press(key)
        expect(page.locator("#state")).to_have_text("保存しました")
        assert stored(place)[second, "sweetness"] == 6.1
        box = sweet.bounding_box()
        scroll = {"type": "touchStart", "touchPoints": [{"x": box["x"] + 20, "y": box["y"] + 30}]}
        tools = phone.new_cdp_session(page)
        umami = cup(page, second).locator('[data-attribute="umami"]').get_by_role("slider")
        umami.scroll_into_view_if_needed()
        box = umami.bounding_box()
        start = {"x": box["x"] + 100, "y": box["y"] + 30}
        tools.send("Input.dispatchTouchEvent", {**scroll, "touchPoints": [start]})
        for step in range(1, 9):
            moved = {"x": start["x"], "y": start["y"] - 20 * step}
            tools.send("Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": [moved]})
        tools.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
        expect(umami).to_have_attribute("aria-valuetext", "印なし")
        cup(page, second).get_by_role("button", name="次へ").tap()
        cup(page, second).locator(".sure").tap()
        expect(page.locator("#rest")).to_be_visible()
        expect(page.locator("#left")).to_have_text(re.compile(r"(10|\d):\d\d"))
        expect(page.locator("#state")).to_have_text("保存しました")
        page.reload()
        expect(page.locator("#rest")).to_be_visible()
        page.locator("#early").tap()
        expect(cup(page, third)).to_be_visible()
        assert faults == []
    assert (second, "umami") not in stored(place)


def test_the_server_is_killed_and_paused_and_a_receipt_is_lost(
    browser: Browser, phone: BrowserContext, tmp_path: Path
):
    """N03 to N06, N08, P09: the page stays open over all of it; nothing twice, nothing lost."""
    place = planned(tmp_path / "session", options="[]")
    first, second, _ = [one.name for one in load_table(place).own_sheets["T1"].presentations]
    links, page, lead = links_of(place), phone.new_page(), browser.new_page()
    lead.set_default_timeout(60_000)
    try:
        with in_process(place, links) as process:
            page.goto(links.of("T1") + "?begun=1")
            tap_line(page, first, "sweetness", 0.4)
            expect(page.locator("#state")).to_have_text("Saved")
            process.kill()
            tap_line(page, first, "acidity", 0.7)
            expect(page.locator("#state")).to_contain_text("1 waiting")
        lost = []

        def lose(route) -> None:
            if lost:
                route.continue_()
            else:
                lost.append(route.fetch().status)
                route.abort()

        page.route("**/touches", lose)
        with in_process(place, links):
            hear(page)
            expect(page.locator("#state")).to_have_text("Saved")
            assert lost == [200], "the server had it, the page did not hear of it"
            lead.goto(links.leaders)
            expect(lead.get_by_role("row", name="T1")).to_contain_text(f"cup {first} (1 of 3)")
            expect(lead.get_by_text("may be under pressure")).to_contain_text("away from faces")
            assert seriously_wrong(lead) == []
            lead.get_by_role("button", name="Pause").click()
            expect(lead.get_by_text("Paused.")).to_be_visible()
            hear(page)
            expect(page.locator("#paused")).to_be_visible()
            cup(page, first).get_by_role("button", name="Go on").tap()
            cup(page, first).locator(".sure").tap()
            expect(page.locator("#state")).to_have_text("Saved")
            expect(cup(page, second)).to_be_hidden()
            lead.get_by_role("button", name="Go on").click()
            expect(lead.get_by_text("Paused.")).to_be_hidden()
            hear(page)
            expect(cup(page, second)).to_be_visible()
            other = phone.browser.new_page()
            other.goto(links.of("T1"))
            expect(cup(other, second)).to_be_visible()
            expect(other.locator("#others")).to_be_visible()
            hear(page)
            expect(page.locator("#others")).to_be_visible()
            other.close()
            lead.reload()
            expect(lead.get_by_role("row", name="T1")).to_contain_text("Umami")
            lead.get_by_role("button", name="Back to the last cup: T1").click()
            expect(lead.get_by_role("row", name="T1")).to_contain_text(f"cup {first} (1 of 3)")
            expect(lead.get_by_text("may be under pressure")).to_contain_text("away from faces")
            hear(page)
            expect(cup(page, first)).to_be_visible()
            mark = cup(page, first).get_by_role("slider", name="Sweetness", exact=True)
            expect(mark).to_have_attribute("aria-valuetext", "4")
    finally:
        lead.close()
    with Store(place, reading=True) as store:
        told = store.database.execute(
            "SELECT number, kind FROM touches WHERE device NOT LIKE 'leader%' ORDER BY id"
        ).fetchall()
    assert told == [(1, "answer"), (2, "answer"), (3, "done")]


ALONE = "assessor,role,style,language\nM1,maker,likes,en\n"


def test_one_person_alone_turns_the_cups_over(
    browser: Browser, phone: BrowserContext, tmp_path: Path
):
    """A remark beside an answer; codes once a place each; the leader sees no fourth cup."""
    place = planned(tmp_path / "session", options="[]", more="alone = true", assessors=ALONE)
    *cups, row = load_table(place).own_sheets["M1"].presentations
    page = phone.new_page()
    with in_thread(place) as links:
        page.goto(links.of("M1") + "?begun=1")
        for number, name in enumerate(one.name for one in cups):
            expect(cup(page, name).locator(".of")).to_have_text(f"Cup {number + 1} of 3")
            tap_line(page, name, "sweetness", 0.2 + 0.2 * number)
            remark = cup(page, name).locator('details:has([data-attribute="sweetness:@remark"])')
            if number == 1:
                expect(remark.locator("textarea")).to_be_hidden()
                remark.locator("summary").tap()
                assert remark.locator("summary").bounding_box()["height"] >= 44
                remark.locator("textarea").fill("fades at once")
                assert seriously_wrong(page) == []
            cup(page, name).get_by_role("button", name="Go on").tap()
            cup(page, name).locator(".sure").tap()
        turned = cup(page, row.name)
        expect(turned.get_by_role("heading", name="Turn the cups over")).to_be_visible()
        expect(turned.locator(".of")).to_have_text("Flight 1")
        expect(turned.locator(".bar i.on")).to_have_count(3)
        assert seriously_wrong(page) == []
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
        lead = browser.new_page()
        try:
            lead.goto(links.leaders)
            line = lead.get_by_role("row", name="M1")
            expect(line).to_contain_text("Turn the cups over (Flight 1)")
            expect(line).not_to_contain_text("of 4")
            expect(line.get_by_role("button", name="Back to the last cup")).to_be_visible()
        finally:
            lead.close()
        first, second, third = row.codes
        turned.get_by_label(first).select_option("2")
        turned.get_by_label(second).select_option("2")
        expect(turned.get_by_label(first)).to_have_value("")
        turned.get_by_role("button", name="Go on").tap()
        expect(turned.get_by_text("Without an answer (2)")).to_be_visible()
        turned.locator(".stay").tap()
        turned.get_by_label(first).select_option("3")
        turned.get_by_label(third).select_option("1")
        turned.get_by_role("button", name="Go on").tap()
        expect(page.get_by_role("heading", name="That was all.")).to_be_visible()
        expect(page.locator("#state")).to_have_text("Saved")
    found = stored(place)
    assert found[cups[1].name, "sweetness:@remark"] == "fades at once"
    told = {code: found[row.name, f"beneath:{code}"] for code in row.codes}
    assert told == {first: 3.0, second: 2.0, third: 1.0}
