"""Where on paper a figure stands in its chapter: no page is left half empty before it.

A figure is never parted, so where it has no room it goes to the next page. Then it is made a little
smaller, or what follows it in its chapter comes first, or it comes before what it followed, but
not before the plain answer; what leaves least of a page empty is done. Nothing leaves its chapter,
and no figure parts a table.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import groupby
from typing import Any

SMALL_GAP = 0.12
"""Share of a page that may stay empty before a figure."""
TYPE = 7.0
"""No type of a figure is printed smaller, in pt."""
SCALED, PASSED, OVERLEAF, SPLIT = 0.03, 0.015, 0.1, 0.3
"""What is as bad as so much of a page left empty: a figure made smaller; one block between it and
where it was told of; a page between them; a care or a method before the figure that it is about."""
WORTH, TRIED = 0.05, 5
"""How much less of a page must be empty for a figure to be moved; how many places are tried."""
AIR = 14.0
"""Above and below a figure, in pt."""
SPARE = 10.0
"""Free beside it after it was made smaller, in pt: what stands before one that stays keeps its
distance."""
ABOUT = ("caution", "method")
"""Kinds of what speaks of the figure before it."""
STAYS = ("picture", "lead")
"""Kinds of what no figure comes before: another figure, and the plain answer of the chapter."""
_TYPE = re.compile(r"font(?:-size)?: ?(?:[a-z0-9]+ )*([\d.]+)px")

Content = dict[str, Any]
Ask = Callable[[Content], list[dict[str, Any]]]


def least_scale(svg: str) -> float:
    """Return how small a figure may be made so that its type stays readable.

    >>> least_scale('style="font: 8px x"'), least_scale('style="font-size: 7px; font: 9px x"')
    (0.875, 1.0)
    """
    found = [float(size) for size in _TYPE.findall(svg)]
    return min(1.0, TYPE / min(found)) if found else 1.0


def with_figures_placed(content: Content, ask: Ask) -> Content:
    """Move the figures of a report within their chapters until no page is half empty before one.

    Parameters
    ----------
    content : dict
        As the template reads it.
    ask : callable
        Sets a content and returns its marks: by chapter and block where it begins (`page`, `y`),
        the `top` and `bottom` of a page, and how high a figure is (`high`), in pt; of the chapter
        that `measured` names, how high each line of a text is too, and each other block.
    """
    settled: set[str] = set()
    while True:
        trouble = next(_troubles(content, _marks(content, ask), settled), None)
        if trouble is None:
            return content
        at, place = trouble
        settled.add(content["rest"][at]["blocks"][place]["file"])
        content = _mended(content, at, place, ask)


def emptiest(content: Content, ask: Ask) -> float:
    """Return the most that is left empty before a figure of the report, as a share of its page."""
    marks = _marks(content, ask)
    held = [one for one in content["rest"] if _figures(one)]
    return max((_gap(section, marks) for section in held), default=0.0)


def _marks(content: Content, ask: Ask) -> dict[tuple[str, int], Any]:
    return {(one["key"], one["n"]): one for one in ask(content)}


def _mended(content: Content, at: int, place: int, ask: Ask) -> Content:
    """Move a figure; leave it where nothing is better."""
    section, before = content["rest"][at], content["rest"][:at]
    measured = {**content, "rest": [*before, section], "measured": section["key"]}
    marks = _marks(measured, ask)
    left = _left(marks[section["key"], place])
    for blocks in _better(section, place, marks)[:TRIED]:
        tried = {**section, "blocks": blocks}
        # Later chapters change nothing in this one.
        if _gap(tried, _marks({**content, "rest": [*before, tried]}, ask)) < left - WORTH:
            return {**content, "rest": [*before, tried, *content["rest"][at + 1 :]]}
    return content


def _troubles(
    content: Content, marks: dict[tuple[str, int], Any], settled: set[str]
) -> Iterator[tuple[int, int]]:
    """Find figures, by chapter and place in it, before which much of a page is empty."""
    for at, section in enumerate(content["rest"]):
        for place, block in enumerate(section["blocks"]):
            if block["kind"] == "picture" and block["file"] not in settled:
                mark = marks[section["key"], place]
                if not _fits(mark) and _left(mark) > SMALL_GAP:
                    yield at, place


def _fits(mark: dict[str, Any]) -> bool:
    return bool(mark["y"] + sum(mark["high"]) + AIR <= mark["bottom"])


def _left(mark: dict[str, Any]) -> float:
    """Return what is left of a page, as a share of it; nothing where the block has room."""
    body = mark["bottom"] - mark["top"]
    return 0.0 if _fits(mark) else max(0.0, mark["bottom"] - mark["y"]) / body


def _gap(section: Content, marks: dict[tuple[str, int], Any]) -> float:
    """Return the most that is left empty before a figure of a chapter."""
    return max(_left(marks[section["key"], n]) for n in _figures(section))


def _figures(section: Content) -> list[int]:
    """Return the places of a chapter's figures among its blocks."""
    return [n for n, one in enumerate(section["blocks"]) if one["kind"] == "picture"]


@dataclass(frozen=True, slots=True)
class Atom:
    """What is moved as a whole: a line of a text, or a block; of which block, how high, where."""

    origin: int
    block: Content
    high: float
    page: int
    y: float


def _better(section: Content, place: int, marks: dict[tuple[str, int], Any]) -> list[list[Content]]:
    """Return the blocks of a chapter in orders that may be better, the best first."""
    key, blocks = section["key"], section["blocks"]
    figure, mark = blocks[place], marks[section["key"], place]
    atoms = [a for n, one in enumerate(blocks) for a in _atoms(n, one, marks[key, n])]
    own = next(n for n, one in enumerate(atoms) if one.origin == place)
    before, after = atoms[:own], atoms[own + 1 :]
    body, high = mark["bottom"] - mark["top"], sum(mark["high"])
    beside = high - figure["height"] + AIR

    def cost(y: float) -> tuple[float, float]:
        """Return how bad it is that a figure is told of here, and how large it is then."""
        room = mark["bottom"] - y
        if high + AIR <= room:
            return 0.0, 1.0
        scale = (room - beside - SPARE) / figure["height"]
        return (SCALED, scale) if scale >= figure["least"] else (max(0.0, room) / body, 1.0)

    options = [(*cost(mark["y"]), 0)]
    page, y = 0, mark["y"]
    for n, atom in enumerate(after, start=1):
        if atom.block["kind"] == "picture":
            break
        y += atom.high
        while y > mark["bottom"]:
            page, y = page + 1, y - body
        bad, scale = cost(y)
        split = SPLIT if any(one.block["kind"] in ABOUT for one in after[:n]) else 0.0
        passed = len({one.origin for one in after[:n]})
        options.append((bad + PASSED * passed + OVERLEAF * page + split, scale, n))
    for n, atom in enumerate(reversed(before), start=1):
        if atom.block["kind"] in STAYS:
            break
        bad, scale = cost(atom.y)
        passed = len({one.origin for one in before[-n:]})
        pages = OVERLEAF * (mark["page"] - atom.page)
        options.append((bad + PASSED * (passed + 1) + pages, scale, -n))
    made = []
    for bad, scale, moved in sorted(options):
        if bad < _left(mark) and (moved != 0 or scale != 1.0):
            order = [*before, *after]
            order.insert(own + moved, replace(atoms[own], block={**figure, "scale": scale}))
            made.append(_joined(order))
    return made


def _atoms(origin: int, block: Content, mark: dict[str, Any]) -> list[Atom]:
    """Part a text into its lines; leave other blocks whole."""
    texts = block["kind"] in ("lead", "plain", "points")
    parts = [{**block, "lines": [line]} for line in block["lines"]] if texts else [block]
    page, y, made = mark["page"], mark["y"], []
    for part, high in zip(parts, mark["high"], strict=True):
        if y > mark["bottom"]:
            page, y = page + 1, y - mark["bottom"] + mark["top"]
        made.append(Atom(origin, part, high, page, y))
        y += high
    return made


def _joined(atoms: list[Atom]) -> list[Content]:
    """Join lines again that stand one after the other and are of one block."""
    made = []
    for _, some in groupby(atoms, key=lambda one: one.origin):
        group = [one.block for one in some]
        lines = [line for one in group for line in one.get("lines", ())]
        made.append({**group[0], "lines": lines} if len(group) > 1 else group[0])
    return made
