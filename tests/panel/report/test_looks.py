"""A report in a browser: nothing beyond the width of a telephone, nothing serious.

`tests/tools/report_looks.py` looks at all demonstrations so; here are the largest report and the
one of two assessors, whose sheets stand side by side.
"""

from __future__ import annotations

import re
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "tools"))
from desk_visitor import seriously_wrong
from first_pages import reported
from kikichoko.panel.offer.files import html
from kikichoko.panel.offer.one_page import BuyersSheet
from playwright.sync_api import Browser, Page
from report_looks import beyond, seen


@pytest.mark.parametrize(("width", "scheme"), [("phone", "dark"), ("desk", "light")])
def test_the_report_of_a_panel(browser: Browser, demo: Path, width: str, scheme: str):
    with seen(browser, demo / "report" / "report.html", width, scheme) as page:
        assert beyond(page) == []
        assert seriously_wrong(page) == []


def test_the_report_of_two_in_japanese(browser: Browser, tmp_path: Path):
    told = reported(3, 2, "ja", tmp_path / "session", long=True, asked=6)
    path = tmp_path / "page.html"
    path.write_text(told.page, "utf-8")
    with seen(browser, path, "phone", "light") as page:
        assert beyond(page) == []
        assert seriously_wrong(page) == []
        marks = page.locator("#asked .sheets tbody tr").first.locator("td")
        tops = [one.bounding_box()["y"] for one in marks.all()]
        assert len(tops) == 6
        assert len(set(tops)) == 1, "each mark below its own heading, none on a line of its own"


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_sheet_for_a_buyer(browser: Browser, tmp_path: Path, scheme: str):
    sheet = BuyersSheet(
        language="en", sample="clear", title="Clear", subtitle="Example & Co.",
        groups=(("Made of", (("Rice", "60 %"),)),), found=("More acid than the cloudy.",),
        basis="8 people.", serving=("At 10 °C.",), keeping=("Keep cold.",), small=("Small.",),
    )  # fmt: skip
    path = tmp_path / "sheet.html"
    path.write_text(html(sheet), "utf-8")
    with seen(browser, path, "phone", scheme) as page:
        assert beyond(page) == []
        assert seriously_wrong(page) == []
        assert brightness(page) == (255 if scheme == "light" else pytest.approx(24, abs=12))
        page.emulate_media(media="print")
        assert brightness(page) == 255, "paper stays white"


def brightness(page: Page) -> float:
    """Return how bright the page is behind its words, 0 to 255."""
    colour = page.evaluate("getComputedStyle(document.body).backgroundColor")
    return sum(int(one) for one in re.findall(r"\d+", colour)[:3]) / 3


@pytest.mark.parametrize(
    ("style", "told"),
    [
        ("width: 700px", "the page is"),
        ("width: 50px; overflow: hidden; white-space: nowrap", "cut off"),
        ("width: 50px", "leaves its box"),
        ("", None),
    ],
)
def test_what_does_not_fit_is_found(browser: Browser, tmp_path: Path, style: str, told: str | None):
    path = tmp_path / "page.html"
    path.write_text(f"<!doctype html><p style='{style}'>unpasteurised words</p>", "utf-8")
    with seen(browser, path, "phone", "light") as page:
        found = beyond(page)
    assert [one for one in found if told and one.startswith(told)] if told else found == []
