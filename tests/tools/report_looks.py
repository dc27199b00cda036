"""How a report looks in a browser and on paper: ``python tests/tools/report_looks.py OUT``.

All demonstrations in English and Japanese, on a desktop (1,280 px) and a telephone (390 px), light
and dark: what axe-core finds serious, what lies beyond the width, words that are cut off; printed
on A4 and Letter by the browser, and as our own PDF. OUT gets the demonstrations, a picture of
every page, and the list of faults in ``looks.txt``. Looking at the pictures is left to a person.
"""

from __future__ import annotations

import argparse
import itertools
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pypdfium2
from desk_visitor import seriously_wrong
from kikichoko.panel.desk.acts import RUN
from playwright.sync_api import Browser, Page, sync_playwright

DEMOS = ("classroom", "difference", "fractions", "screening", "serving", "two", "vintages")
LANGUAGES = ("en", "ja")
WIDTHS = {"desk": (1280, 900), "phone": (390, 844)}
SCHEMES = ("light", "dark")
PAPERS = ("A4", "Letter")
PIECE = 12_000
"""Pixels of a page that one picture holds."""
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"]
BEYOND = """() => {
  const wide = document.documentElement.clientWidth, found = [];
  if (document.documentElement.scrollWidth > wide)
    found.push(`the page is ${document.documentElement.scrollWidth} px wide`);
  const moves = one => /auto|scroll/.test(getComputedStyle(one).overflowX);
  for (const one of document.body.querySelectorAll("*:not(svg *)")) {
    const style = getComputedStyle(one), box = one.getBoundingClientRect();
    if (!box.width || style.visibility === "hidden") continue;
    let within = one.parentElement;
    while (within && !moves(within)) within = within.parentElement;
    const told = `${one.tagName} ${one.textContent.trim().slice(0, 40)}`;
    if (!within && (box.right > wide + 1 || box.left < -1)) found.push(`beyond the page: ${told}`);
    if (/hidden|clip/.test(style.overflowX + style.overflowY)
        && (one.scrollWidth > one.clientWidth + 1 || one.scrollHeight > one.clientHeight + 1))
      found.push(`cut off: ${told}`);
    const own = [...one.childNodes].some(node => node.nodeType === 3 && node.data.trim());
    if (own && style.display !== "inline" && !moves(one) && one.scrollWidth > one.clientWidth + 1)
      found.push(`leaves its box: ${told}`);
  }
  for (const box of document.querySelectorAll(".wide")) {
    if (box.scrollWidth <= box.clientWidth + 1) continue;
    const edge = box.getBoundingClientRect(), told = box.getAttribute("aria-label");
    const unseen = [...box.querySelectorAll("td, th")].filter(
      one => one.offsetWidth && one.getBoundingClientRect().right > edge.right + 1);
    const sign = getComputedStyle(box).backgroundImage !== "none";
    if (unseen.length && !sign) found.push(`moves sideways without a sign: ${told}`);
  }
  const long = text => [...text].reduce((n, one) => n + (one > "\u2e80" ? 2 : 1), 0);
  for (const cell of document.querySelectorAll("td, tbody th")) {
    if (getComputedStyle(cell).display !== "table-cell") continue;
    const range = document.createRange();
    range.selectNodeContents(cell);
    const lines = new Set([...range.getClientRects()].map(one => Math.round(one.top))).size;
    if (lines >= LINES && long(cell.textContent) < LETTERS * lines)
      found.push(`one word a line: ${cell.textContent.trim().slice(0, 40)}`);
  }
  return found;
}""".replace("LINES", "5").replace("LETTERS", "9")
"""Horizontal scrolling of the page, what lies beyond it, words that leave their box or are cut;
tables that move sideways and do not show it, and cells of 5 lines and more with fewer than 9
letters (a Japanese one counts as two) in each."""
SIDEWAYS = """() => [...document.querySelectorAll(".wide")].filter(
  one => one.scrollWidth > one.clientWidth + 1).map(one => one.getAttribute("aria-label"))"""
"""Tables that move sideways, with a sign or without."""


def beyond(page: Page) -> list[str]:
    """Name what does not fit the width of a page as it is shown."""
    page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true })")
    return list(page.evaluate(BEYOND))


@contextmanager
def seen(browser: Browser, path: Path, width: str, scheme: str) -> Iterator[Page]:
    """Show a file of this machine on a screen of `WIDTHS`, light or dark."""
    across, down = WIDTHS[width]
    context = browser.new_context(
        viewport={"width": across, "height": down}, color_scheme=scheme, locale="en-GB"
    )
    page = context.new_page()
    page.goto(path.resolve().as_uri())
    yield page
    context.close()


def printed(page: Page, paper: str, to: Path) -> list[str]:
    """Print a page as the browser does, and return the words of each sheet of paper."""
    page.pdf(path=to, format=paper, prefer_css_page_size=False)
    return words_of(to)


def words_of(pdf: Path) -> list[str]:
    """Return the words of each page of a PDF file."""
    document = pypdfium2.PdfDocument(pdf)
    return [page.get_textpage().get_text_range() for page in document]


def _drawn(pdf: Path, to: Path) -> None:
    for number, page in enumerate(pypdfium2.PdfDocument(pdf)):
        picture = page.render(scale=1.4).to_pil()
        picture.save(to.with_name(f"{to.name}-{number + 1:02d}.png"))


def _shown(page: Page, to: Path) -> None:
    """Draw a page whole; a long one in pieces, for Chromium leaves 16,384 px and more unpainted."""
    wide, high = page.evaluate(
        "[document.documentElement.clientWidth, document.documentElement.scrollHeight]"
    )
    for number, top in enumerate(range(0, high, PIECE)):
        piece = {"x": 0, "y": 0, "width": wide, "height": min(PIECE, high - top)}
        page.set_viewport_size({"width": wide, "height": int(piece["height"])})
        page.evaluate("top => window.scrollTo(0, top)", top)
        drawn_to = page.evaluate("window.scrollY")
        page.screenshot(
            path=to.with_stem(f"{to.stem}-{number + 1}") if high > PIECE else to,
            clip={**piece, "y": top - drawn_to},
        )


def _make(out: Path, demo: str, language: str) -> Path:
    folder = out / f"{demo}-{language}"
    if not folder.exists():
        run = [sys.executable, "-c", RUN, "--language", language]
        subprocess.run([*run, "demo", demo, "--folder", folder], check=True, capture_output=True)
    return folder


def _report_again(folder: Path, paper: str) -> None:
    """Write every report below a folder by the program of now, with its PDF files."""
    for page in sorted(folder.rglob("report.html")):
        run = [sys.executable, "-c", RUN, "report", page.parents[1], "--pdf", "--paper", paper]
        subprocess.run(run, check=True, capture_output=True)


def _draw_pdfs(folder: Path, pictures: Path, paper: str) -> None:
    """Draw what the program set itself; of pages for each person the first."""
    for pdf in sorted(folder.rglob("*.pdf")):
        within = pdf.relative_to(folder)
        if not {"sheets", "plan", "table", "blind"} & set(within.parts):
            name = "-".join((folder.name, *within.with_suffix("").parts, "own", paper))
            if not pdf.name.startswith("feedback-") or pdf == min(pdf.parent.glob("feedback-*")):
                _drawn(pdf, pictures / name)


def main() -> int:
    """Look at all reports; return how many faults there are."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("out", type=Path)
    options.add_argument("only", nargs="*", default=DEMOS, help="demonstrations, all by default")
    options.add_argument("--language", choices=LANGUAGES, action="append", help="both by default")
    given = options.parse_args()
    pictures = given.out / "pictures"
    pictures.mkdir(parents=True, exist_ok=True)
    faults = []
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        for demo, language in itertools.product(given.only, given.language or LANGUAGES):
            folder = _make(given.out, demo, language)
            for paper in reversed(PAPERS):
                _report_again(folder, paper)
                _draw_pdfs(folder, pictures, paper)
            for path in sorted(folder.rglob("*.html")):
                name = "-".join((folder.name, *path.relative_to(folder).with_suffix("").parts))
                for width, scheme in itertools.product(WIDTHS, SCHEMES):
                    with seen(browser, path, width, scheme) as page:
                        found = [*beyond(page), *seriously_wrong(page)]
                        faults += [f"{name} {width} {scheme}: {one}" for one in found]
                        _shown(page, pictures / f"{name}-{width}-{scheme}.png")
                for paper in PAPERS:
                    with seen(browser, path, "desk", "light") as page:
                        sheet = pictures / f"{name}-{paper}.pdf"
                        printed(page, paper, sheet)
                        _drawn(sheet, sheet.with_suffix(""))
        browser.close()
    (given.out / "looks.txt").write_text("\n".join([*faults, ""]), "utf-8")
    sys.stdout.write("\n".join([*faults, f"{len(faults)} faults\n"]))
    return len(faults)


if __name__ == "__main__":
    sys.exit(1 if main() else 0)
