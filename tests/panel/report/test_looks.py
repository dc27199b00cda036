"""A report in a browser: nothing beyond the width of a telephone, nothing serious.

`tests/tools/report_looks.py` looks at all demonstrations so; here are the largest report and the
one of two assessors, whose sheets stand side by side.
"""

from __future__ import annotations

import re
import sys
from importlib.resources import files
from pathlib import Path

import pypdfium2
import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "tools"))
from desk_visitor import seriously_wrong
from first_pages import reported
from kikichoko.panel.offer.files import html
from kikichoko.panel.offer.one_page import BuyersSheet
from playwright.sync_api import Browser, Page
from report_looks import SIDEWAYS, beyond, seen


@pytest.mark.parametrize(("width", "scheme"), [("phone", "dark"), ("desk", "light")])
def test_the_report_of_a_panel(browser: Browser, demo: Path, width: str, scheme: str):
    with seen(browser, demo / "report" / "report.html", width, scheme) as page:
        assert beyond(page) == []
        assert seriously_wrong(page) == []
        assert page.evaluate(SIDEWAYS) == [], "no column is out of sight"


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


LINES = """() => {
  const found = [];
  for (const cell of document.querySelectorAll("PLACES")) {
    const walk = document.createTreeWalker(cell, NodeFilter.SHOW_TEXT);
    for (let node; node = walk.nextNode();) {
      const range = document.createRange(), text = node.data;
      for (const whole of text.matchAll(PATTERN)) {
        range.setStart(node, whole.index);
        range.setEnd(node, whole.index + whole[0].length);
        const tops = [...range.getClientRects()].filter(one => one.width).map(one => one.top);
        if (tops.length && Math.max(...tops) - Math.min(...tops) > 3) found.push(whole[0]);
      }
    }
  }
  return found;
}"""
"""What in the cells of tables, of all that a pattern finds, stands on more than one line."""
NARROW = """td, thead th { min-width: 0 !important; word-break: normal !important }
  table { width: 1px !important }"""
NUMBERS = r"/[(（][−+]?[\d.]+\s?(?:to|–|～)\s?[−+]?[\d.]+|p\s[<=]\s[\d.]+|\d+,\s\d+|\d\s%/g"


CELLS, TEXT = "td, .sheets th, .sized th", "p, li, figcaption"


def parted(page: Page, pattern: str, places: str = CELLS) -> list[str]:
    """Open everything, and return what of a pattern is parted in cells of tables, or elsewhere."""
    page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true })")
    return list(page.evaluate(LINES.replace("PATTERN", pattern).replace("PLACES", places)))


@pytest.mark.parametrize("width", ["phone", "desk"])
def test_no_interval_is_parted(browser: Browser, demo: Path, width: str):
    with seen(browser, demo / "report" / "report.html", width, "light") as page:
        assert page.evaluate("document.body.textContent").count("p\u00a0") > 20
        assert parted(page, NUMBERS) == []
        page.evaluate("""document.querySelectorAll('td').forEach(
            one => { one.textContent = one.textContent.replaceAll('\u00a0', ' ') })""")
        page.add_style_tag(content=NARROW)
        assert parted(page, NUMBERS), "in narrow columns, with blanks that break, some would be"


IN_TEXT = r"/[−+]?[\d.]+\s?(?:to|～)\s?[−+]?[\d.]+|p\s[<=]\s[\d.]+|\d\s(?:%|points?|°C|[点名])/g"
BREAKING = """document.querySelectorAll('p, li, figcaption').forEach(one => {
  const walk = document.createTreeWalker(one, NodeFilter.SHOW_TEXT);
  for (let node; node = walk.nextNode();)
    node.data = node.data.replaceAll('\u00a0', ' ').replaceAll('\u2060', '');
})"""


@pytest.mark.parametrize("language", ["en", "ja"])
def test_no_number_of_running_text_is_parted(
    browser: Browser, demo: Path, tmp_path: Path, language: str
):
    """An interval, a p, a number with its unit: on a telephone, where most lines end."""
    path = demo / "report" / "report.html"
    if language == "ja":
        path = tmp_path / "page.html"
        told = reported(3, 2, "ja", tmp_path / "session", long=True, asked=6)
        path.write_text(told.page, "utf-8")

    def over_widths(page: Page) -> list[str]:
        found = []
        for width in (325, 360, 390):
            page.set_viewport_size({"width": width, "height": 800})
            found += parted(page, IN_TEXT, TEXT)
        return found

    with seen(browser, path, "phone", "light") as page:
        assert over_widths(page) == []
        page.evaluate(BREAKING)
        assert over_widths(page), "with blanks that break, some would be"


WORDS = r"/[ァ-ヺー]{2,}|[一-鿿]{2,4}|\w+-\w+/g"


@pytest.mark.parametrize("language", ["en", "ja"])
def test_no_word_of_the_bottles_is_parted_on_a_desk(
    browser: Browser, tmp_path: Path, language: str
):
    told = reported(6, 2, language, tmp_path / "session", long=False)
    path = tmp_path / "page.html"
    path.write_text(told.page, "utf-8")
    with seen(browser, path, "desk", "light") as page:
        page.evaluate("""for (const one of document.querySelectorAll('table'))
            if (!one.closest('#asked') || one.matches('.sheets')) one.remove()""")
        assert page.locator("#asked td").count() >= 12
        assert parted(page, WORDS) == []
        page.add_style_tag(content=NARROW)
        assert parted(page, WORDS), "in columns of one letter they would be"


def test_words_above_marks_stay_whole_and_marks_are_told_apart(browser: Browser, tmp_path: Path):
    told = reported(3, 2, "en", tmp_path / "session", long=False)
    path = tmp_path / "page.html"
    path.write_text(told.page, "utf-8")
    with seen(browser, path, "phone", "light") as page:
        assert parted(page, r"/middle|press|cloudy|clear|[\d.]+/g") == []
        assert beyond(page) == []
    cells = re.findall(r"<td class=.tastings[^>]*>([^<]+)</td>", told.page)
    assert cells
    assert {re.sub(r"[\d.\u2212]+", "", one) for one in cells} == {" ·\u00a0"}


@pytest.mark.parametrize("width", ["phone", "desk"])
def test_the_first_figure_is_seen_whole(browser: Browser, demo: Path, width: str):
    with seen(browser, demo / "report" / "report.html", width, "light") as page:
        figure = page.locator("#sure figure")
        drawn = [one for one in figure.locator("svg").all() if one.is_visible()]
        assert len(drawn) == 1
        box = drawn[0].bounding_box()
        assert box["x"] + box["width"] <= page.viewport_size["width"]
        points = [float(one) for one in drawn[0].get_attribute("viewBox").split()]
        assert 8 * box["width"] / points[2] > 10, "px of a letter of 8 pt"
        page.emulate_media(media="print")
        assert [one.is_visible() for one in figure.locator("svg").all()] == [True, False]


def test_a_wide_table_uses_the_margins_of_a_desktop(browser: Browser, tmp_path: Path):
    cells = "".join(f"<td>Gohyakumangoku{n}</td>" for n in range(9))
    style = files("kikichoko.panel.report").joinpath("templates", "report.css").read_text("utf-8")
    path = tmp_path / "page.html"
    for number in (2, 9):
        some = "".join(re.findall(r"<td>.*?</td>", cells)[:number])
        path.write_text(f"<!doctype html><style>{style}</style><section><div class='wide'><table>"
                        f"<tbody><tr>{some}</table></div></section>", "utf-8")  # fmt: skip
        with seen(browser, path, "desk", "light") as page:
            box, table = (page.locator(one).bounding_box() for one in (".wide", "table"))
            own = page.locator("section").bounding_box()
            assert beyond(page) == []
            assert table["width"] <= box["width"] + 1, "nothing is to be moved sideways"
            assert (box["width"] > own["width"] + 1) == (number == 9)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_sheet_for_a_buyer(browser: Browser, tmp_path: Path, scheme: str):
    sheet = BuyersSheet(
        language="en", sample="clear", name="clear", beside=(), title="Clear",
        subtitle="Example & Co.",
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


CELLS = "<th scope='row'>clear</th><td>sour milk nuts rice bran plum pear here</td>"


@pytest.mark.parametrize(
    ("style", "cell", "told"),
    [
        ("width: 24px", "", "one word a line"),
        ("", "", None),
        ("", "min-width: 500px", "moves sideways"),
        ("background-image: linear-gradient(red, blue)", "min-width: 500px", None),
    ],
)
def test_a_table_that_cannot_be_read_is_found(
    browser: Browser, tmp_path: Path, style: str, cell: str, told: str | None
):
    path = tmp_path / "page.html"
    cells = CELLS.replace("<td", f"<td style='{cell}'")
    path.write_text(f"<!doctype html><div class='wide' style='overflow-x: auto; {style}'>"
                    f"<table><tr>{cells}</tr></table></div>", "utf-8")  # fmt: skip
    with seen(browser, path, "phone", "light") as page:
        found = beyond(page)
    assert [one for one in found if told and one.startswith(told)] if told else found == []


@pytest.mark.parametrize(("key", "small"), [("brewed", False), ("asked", True)])
def test_long_words_in_the_batch_book_do_not_make_the_print_smaller(
    browser: Browser, tmp_path: Path, key: str, small: bool
):
    """A browser shrinks all of a document that is too wide for its paper."""
    style = files("kikichoko.panel.report").joinpath("templates", "report.css").read_text("utf-8")
    cells = "<td>Gohyakumangoku</td>" * 9
    page = browser.new_page()
    page.set_content(
        f"<style>{style}</style><section id='{key}'><div class='wide'><table><tr><th>rice</th>"
        f"{cells}</tr></table></div><p>Means</p></section>"
    )
    printed = tmp_path / "printed.pdf"
    page.pdf(path=printed, format="A4", prefer_css_page_size=True)
    page.close()
    with pypdfium2.PdfDocument(printed) as pdf:
        text = pdf[0].get_textpage()
        search = text.search("Means")
        at, _ = search.get_next()
        _, low, _, high = text.get_charbox(at)
        assert (high - low < 6.4) is small  # a capital of 10 pt is some 6.6 high


def test_headings_of_one_rank_look_alike_on_paper(browser: Browser):
    """What folds on a screen does not fold on paper, and is headed as what never does."""
    style = files("kikichoko.panel.report").joinpath("templates", "report.css").read_text("utf-8")
    page = browser.new_page()
    page.set_content(
        f"<style>{style}</style><section><h3>Means</h3><p>a</p>"
        "<details><summary>Pairs</summary><p>b</p></details></section>"
    )
    look = """one => { const own = getComputedStyle(document.querySelector(one));
        return [own.color, own.fontSize, own.fontFamily, own.fontWeight, own.marginTop] }"""
    assert page.evaluate(look, "h3") != page.evaluate(look, "summary"), "on the screen it opens"
    page.emulate_media(media="print")
    assert page.evaluate(look, "h3") == page.evaluate(look, "summary")
    page.close()
