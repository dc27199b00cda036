"""Measuring and breaking text in the faces that sheets are printed in.

Widths come from the same font files that the PDF embeds, so what is measured
here is what is printed. Lengths are in millimetres, sizes in points.
"""

from __future__ import annotations

import atexit
import re
import tempfile
import unicodedata
from collections.abc import Iterable
from functools import cache, lru_cache
from importlib.resources import as_file, files
from pathlib import Path
from typing import TYPE_CHECKING

from ...catalogue import FALLBACK
from ...line_breaks import is_wide, pieces

if TYPE_CHECKING:
    from fontTools.ttLib import TTFont

HOUSE = "kikichoko.forms"
FACE = "BIZUDPGothic"
POINT = 25.4 / 72
_LAST_LINE = 4  # letters that the last line of Japanese has at least
_LONG_LINE = 12  # and the line above it, if letters are taken from it
_UNKNOWN = ("Co", "Cn")  # private characters, and ones of a later Unicode


def font_path(*, bold: bool = False) -> Path:
    """Return where a face lies on disk."""
    name = f"{FACE}-{'Bold' if bold else 'Regular'}.ttf"
    with as_file(files(HOUSE).joinpath("fonts", name)) as path:
        return Path(path)


class LackingLetters(ValueError):
    """The faces have no form for some characters, which would be missing on paper.

    Attributes
    ----------
    letters : str
        The characters as `named` tells them.
    text : str
        Where they stand.
    """

    def __init__(self, letters: str, text: str) -> None:
        super().__init__(f"the faces lack {letters} in {text!r}")
        self.letters = letters
        self.text = text


def lacking(text: str) -> tuple[str, ...]:
    """Return the characters of `text` that the faces cannot print, each once.

    Examples
    --------
    >>> lacking("酒井醸造 No. 3"), lacking("𠮷野"), lacking("鷗")
    ((), ('𠮷',), ())
    """
    table, _ = _advances(False)
    shown = (c for c in text if c.isprintable() or unicodedata.category(c) in _UNKNOWN)
    return tuple(dict.fromkeys(c for c in shown if ord(c) not in table))


def named(letter: str) -> str:
    """Tell a character by itself, its code point and its name.

    Examples
    --------
    >>> named("한")
    '한 (U+D55C, HANGUL SYLLABLE HAN)'
    """
    name = unicodedata.name(letter, "")
    return f"{letter} (U+{ord(letter):04X}{', ' if name else ''}{name})"


def refuse_lacking(texts: Iterable[str]) -> None:
    """Refuse texts that the faces cannot print whole.

    Raises
    ------
    LackingLetters
        With the characters of the first text that has any.
    """
    texts = list(texts)
    if not lacking("".join(set().union(*texts))):
        return
    for text in texts:
        found = lacking(text)
        if found:
            raise LackingLetters(", ".join(map(named, found)), text)


def stood_in(text: str) -> str:
    """Put 〓, the printers' stand-in, where the faces lack a character.

    Examples
    --------
    >>> stood_in("good 🍶")
    'good 〓'
    """
    without = set(lacking(text))
    return "".join("〓" if letter in without else letter for letter in text)


def small_face(text: str, *, bold: bool = False) -> Path:
    """Return a face that holds the characters of `text` and those of catalogues.

    Of the English ones where they suffice, else of all. A small face is loaded twenty times as
    fast as a whole one. It lies in a folder that goes with the process, and serves all papers
    that need no other characters.
    """
    table, _ = _advances(bold)
    needed = frozenset(letter for letter in set(text) if ord(letter) in table)
    usual = _usual_characters(FALLBACK)
    return _subset(bold, needed | (usual if needed <= usual else _usual_characters()))


@cache
def _usual_characters(*languages: str) -> frozenset[str]:
    """Return the characters of the catalogues of some languages, or of all."""
    found = {chr(code) for code in range(32, 256)} | set("ー・ァィゥェォャュョッ…—–")
    for source in files(HOUSE).joinpath("words").iterdir():
        if languages and source.name not in languages:
            continue
        for topic in source.iterdir():
            found.update(topic.read_text("utf-8"))
    return frozenset(found)


@cache
def _folder() -> Path:
    folder = tempfile.TemporaryDirectory(prefix="kikichoko-")
    atexit.register(folder.cleanup)
    return Path(folder.name)


def _opened(bold: bool) -> TTFont:
    from fontTools.ttLib import TTFont

    kept = {"recalcTimestamp": False, "recalcBBoxes": False}  # letters stay as the face has them
    font = TTFont(font_path(bold=bold), lazy=True, **kept)
    # The face names no glyphs; to make names up from what they stand for takes the most time.
    font.setGlyphOrder([".notdef", *map(str, range(1, font["maxp"].numGlyphs))])
    return font


@lru_cache(maxsize=32)
def _subset(bold: bool, characters: frozenset[str]) -> Path:
    from fontTools.subset import Options, Subsetter

    options = Options(notdef_outline=True, name_IDs=["*"], recalc_timestamp=False)
    subsetter = Subsetter(options)
    subsetter.populate(text="".join(sorted(characters)))
    path = _folder() / f"{'bold' if bold else 'regular'}-{_subset.cache_info().misses}.ttf"
    with _opened(bold) as font:
        subsetter.subset(font)
        font.save(path)
    return path


@cache
def _advances(bold: bool) -> tuple[dict[int, float], float]:
    """Return each character's width as a share of the size, and that of the empty box."""
    with _opened(bold) as font:
        unit = font["head"].unitsPerEm
        widths = font["hmtx"].metrics
        table = {code: widths[name][0] / unit for code, name in font.getBestCmap().items()}
        return table, widths[".notdef"][0] / unit


@lru_cache(maxsize=20000)
def width(text: str, size: float, *, bold: bool = False) -> float:
    """Return how long `text` is when printed.

    Examples
    --------
    >>> width("", 9.0), width("甘味", 9.0) > width("甘", 9.0)
    (0.0, True)
    """
    table, other = _advances(bold)
    seen = text.replace("\u2060", "")  # joins words, and is not printed
    return sum(table.get(ord(letter), other) for letter in seen) * size * POINT


def printable(text: str) -> str:
    """Return `text` with line breaks and control characters as blanks."""
    kept = "".join(c if c.isprintable() or c == "\u3000" else " " for c in text)
    return re.sub(" +", " ", kept).strip()


def spoken(text: str, language: str) -> str:
    """Return `text` as this face writes it best: its ellipsis is a Japanese one."""
    return text if language == "ja" else text.replace("…", "...")


def wrap(text: str, room: float, size: float, *, bold: bool = False) -> list[str]:
    """Break `text` into lines no longer than `room`; a longer word is cut.

    Examples
    --------
    >>> wrap("a little too sweet", 16.0, 7.5)
    ['a little too', 'sweet']
    >>> wrap("水と無味のパンを取ってください。", 38.0, 7.5)
    ['水と無味のパンを取ってく', 'ださい。']
    """
    return list(_wrap(text, room, size, bold))


@lru_cache(maxsize=5000)
def _wrap(text: str, room: float, size: float, bold: bool) -> tuple[str, ...]:
    lines = [""]
    for piece in pieces(printable(text)):
        if width(lines[-1] + piece.rstrip(), size, bold=bold) <= room:
            lines[-1] += piece
            continue
        if lines[-1]:
            lines.append("")
        for letter in piece:
            if lines[-1] and width(lines[-1] + letter, size, bold=bold) > room:
                lines.append("")
            lines[-1] += letter
    return tuple(_kept_together([line.strip() for line in lines if line.strip()])) or ("",)


def _kept_together(lines: list[str]) -> list[str]:
    """Take letters of Japanese down to a last line that would hold one or two of them."""
    if len(lines) < 2 or len(lines[-1]) >= _LAST_LINE or not is_wide(lines[-2][-1]):
        return lines
    *before, upper, last = lines
    parts = pieces(upper)
    if len(parts) < _LONG_LINE:
        return lines  # a label: see `evened`
    while len(last) < _LAST_LINE and is_wide(last[0]):
        last = parts.pop() + last
    return [*before, "".join(parts).strip(), last]


def fit(
    text: str, room: float, size: float, *, lines: int, smallest: float = 6.5, bold: bool = False
) -> tuple[list[str], float]:
    """Break `text` into at most `lines` lines, in smaller letters if it must be.

    Below the smallest size it takes as many lines as it needs: nothing is cut off.
    """
    while True:
        broken = wrap(text, room, size, bold=bold)
        if len(broken) <= lines or size <= smallest:
            return broken, size
        size = max(smallest, size - 0.5)


def evened(lines: list[str], size: float) -> list[str]:
    """Break a word of Japanese anew whose last letter stands alone, in as many lines.

    Examples
    --------
    >>> evened(["やや甘すぎ", "る"], 8.0), evened(["too", "dry"], 8.0)
    (['やや甘', 'すぎる'], ['too', 'dry'])
    """
    if len(lines) < 2 or len(lines[-1]) > 1 or not is_wide(lines[-1]):
        return lines
    text = "".join(lines)
    room = width(text, size) / len(lines)
    while len(broken := wrap(text, room, size)) > len(lines):
        room += 0.5
    return broken
