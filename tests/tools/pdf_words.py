"""What a PDF holds of a page: its words, its faces, and whether it is tagged."""

from __future__ import annotations

import ctypes
import re
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path

import pypdfium2
from pypdfium2 import raw

TOLD = {"h1", "h2", "h3", "p", "li", "figcaption", "tr"}
"""Whose words stand one after the other; a row of a table is one text."""
ASIDE = {"style", "title", "svg", "nav", "summary", "footer"}
_BETWEEN = re.compile(r"[\s\u0002\u00ad\u200b\u2060\ufffe\-]+")
"""What a line's end may add or take."""


class _Texts(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.texts: list[str] = []
        self.open = False
        self.aside = ""

    def handle_starttag(self, tag, _attrs):
        if not self.aside and tag in ASIDE:
            self.aside = tag
        elif not self.aside and tag in TOLD:
            self.texts.append("")
            self.open = True

    def handle_endtag(self, tag):
        if tag == self.aside:
            self.aside = ""
        elif tag in TOLD:
            self.open = False

    def handle_data(self, data):
        if self.open and not self.aside:
            self.texts[-1] += data


def bare(text: str) -> str:
    """Return a text without blanks and hyphens, which the end of a line changes."""
    return _BETWEEN.sub("", text)


def words(path: Path) -> list[str]:
    """Return the words of each page of a PDF, bare."""
    with pypdfium2.PdfDocument(path) as pdf:
        return [bare(page.get_textpage().get_text_range()) for page in pdf]


def lacking(path: Path, page: str) -> list[str]:
    """Return the sentences, rows and headings of an HTML page that a PDF does not hold."""
    found = _Texts()
    found.feed(page)
    texts = [text for text in map(bare, found.texts) if text]
    pages = words(path)
    feet = (f"{texts[0]}{place}/{len(pages)}" for place in range(1, len(pages) + 1))
    own = [page.replace(foot, "") for page, foot in zip(pages, feet, strict=True)]
    held = "".join(own)
    return [text for text in texts if text not in held and not _over_two(text, own)]


def _over_two(text: str, pages: list[str]) -> bool:
    """Tell whether a text begins at the end of a page and goes on on the next, below a figure."""
    return any(
        first.endswith(text[:cut]) and text[cut:] in second
        for first, second in pairwise(pages)
        for cut in range(1, len(text))
    )


def faces(path: Path) -> set[tuple[str, bool]]:
    """Return the faces that a PDF is set in, each with whether it is embedded."""
    found = set()
    with pypdfium2.PdfDocument(path) as pdf:
        for page in pdf:
            for one in page.get_objects(filter=[raw.FPDF_PAGEOBJ_TEXT], max_depth=9):
                font = raw.FPDFTextObj_GetFont(one.raw)
                found.add((_name(font), bool(raw.FPDFFont_GetIsEmbedded(font))))
    return found


def _name(font) -> str:
    text = ctypes.create_string_buffer(100)
    raw.FPDFFont_GetBaseFontName(font, text, 100)
    return text.value.decode().partition("+")[2]


def tagged(path: Path) -> bool:
    """Return whether a PDF says what its parts are."""
    with pypdfium2.PdfDocument(path) as pdf:
        return bool(raw.FPDFCatalog_IsTagged(pdf.raw))


def sizes(path: Path) -> set[tuple[int, int]]:
    """Return the sizes of a PDF's pages in points."""
    with pypdfium2.PdfDocument(path) as pdf:
        return {(round(page.get_width()), round(page.get_height())) for page in pdf}
