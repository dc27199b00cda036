"""Draw the ways of marking of tests/outside/attacks/hands.md, and count how they are read.

Kinds that begin with SH were sealed until 2026-11-27 (hands_sealed.md beside it).

    python benchmarks/hands_on_paper.py PAGES SEED [KIND ...] > hands.jsonl

Each kind is drawn into the rows of four circles on so many pages, photographed at 200 dpi, and
read. One line a kind: how many rows were taken as a person with the paper in hand takes them,
taken otherwise, sent to a person, or left without an answer. What a kind asks for stands in
hands.md; kinds about whole pages, the paper and the picture stand in `hands_on_pages.py`.
"""

from __future__ import annotations

import json
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
from photo_reading import load

ROWS = "fault:"
BESIDE = ("H10", "H34")
CLEAN = ("H01", "H02", "H03", "H05", "H06", "H22", "H28", "H31", "H36")


class Row:
    """One row of circles, and the pen of the one who fills it in."""

    def __init__(self, paper, group) -> None:
        self.paper, self.group = paper, group
        self.rng = paper.hand.rng
        self.at = int(self.rng.integers(len(group)))
        self.box = group[self.at]
        self.half = self.box.size / 2

    def other(self):
        """Return another circle of the row."""
        return self.group[(self.at + int(self.rng.integers(1, len(self.group)))) % len(self.group)]

    def line(self, *points, **how) -> None:
        """Draw through points that are given from the middle of the circle."""
        self.paper.stroke([(self.box.x + x, self.box.y + y) for x, y in points], **how)

    def tick(self, box=None) -> None:
        """Tick a circle, this one if none is named."""
        self.paper.box_mark(box or self.box, style="tick")

    def cross(self, box=None) -> None:
        """Cross a circle, this one if none is named."""
        self.paper.box_mark(box or self.box, style="cross")

    def grey(self, x: float, y: float, wide: float, high: float, share: float) -> None:
        """Darken or lighten a patch, as tape, smears and prints from behind do."""
        px = 300 / 25.4
        part = np.s_[round((y - high / 2) * px) : round((y + high / 2) * px),
                     round((x - wide / 2) * px) : round((x + wide / 2) * px)]  # fmt: skip
        picture = self.paper.picture
        picture[part] = picture[part] * (1 - share) if share >= 0 else 0.97

    def letters(self, text: str, x: float, y: float, high: float = 3.2) -> None:
        """Write by hand, in strokes of digits and signs."""
        px = 300 / 25.4
        layer = np.zeros(self.paper.picture.shape, np.uint8)
        cv2.putText(layer, text, (round(x * px), round(y * px)), cv2.FONT_HERSHEY_SIMPLEX,
                    high * px / 21, 255, 5, cv2.LINE_AA)  # fmt: skip
        self.paper.picture *= 1 - layer.astype(np.float32) / 255 * 0.85


def _between(row: Row) -> None:
    row.box = row.group[min(row.at, len(row.group) - 2)]
    gap = (row.group[1].x - row.group[0].x) / 2
    row.line((gap - 1.2, -1.4), (gap, 1.6), (gap + 2, -2.4))


def _ring(row: Row, wide: float) -> None:
    angles = np.linspace(0, 2 * np.pi * 1.03, 40)
    row.line(*[(wide * np.cos(a), (row.half + 0.9) * np.sin(a)) for a in angles])


def _twice(row: Row, strike: int) -> float | None:
    other = row.other()
    row.tick(other)
    row.tick()
    row.paper.strike(other.x, other.y, other.size)
    if strike == 2:
        row.paper.strike(row.box.x, row.box.y, row.box.size)
    return row.box.value if strike == 1 else None


def _black(row: Row) -> float:
    other = row.other()
    row.tick(other)
    for _ in range(2):
        row.paper.fill(other.x, other.y, other.size * 1.05)
    row.tick()
    return float(row.box.value)


def _rubbed(row: Row, again: bool) -> float | None:
    other = row.other()
    row.paper.box_mark(other, style="tick", faint=True)
    if again:
        row.tick()
    return float(row.box.value) if again else None


def _tape(row: Row, where: str) -> float | None:
    other = row.other() if where == "else" else row.box
    row.tick(other)
    row.grey(other.x, other.y, 7, 5, -1)
    row.grey(other.x, other.y + 2.6, 7, 0.4, 0.25)
    if where:
        row.tick()
    return float(row.box.value) if where else None


def _then(draw: Callable[[Row], object], *, asked: bool = False) -> Callable[[Row], float | None]:
    def made(row: Row) -> float | None:
        draw(row)
        return None if asked else float(row.box.value)

    return made


def _cross_out_rest(row: Row) -> None:
    for box in row.group:
        if box is not row.box:
            row.cross(box)


def _no_and_yes(row: Row) -> None:
    other = row.other()
    row.tick(other)
    row.letters("no", other.x + 2.4, other.y + 1.2, 2)
    row.tick()
    row.letters("yes", row.box.x + 2.4, row.box.y + 1.2, 2)


def _begun_beside(row: Row) -> float:
    """SH01: a long stroke begins in the left neighbour, the corner lies in this one."""
    row.at = max(row.at, 1)
    row.box = row.group[row.at]
    gap = row.group[1].x - row.group[0].x
    row.line((-gap + 0.3, -0.4), (-0.2, 1.5), (1.8, -2.4))
    return float(row.box.value)


def _ring_or_dot(row: Row) -> None:
    """SH02: a ring on some lines, a filled circle on others."""
    if row.rng.random() < 0.5:
        _ring(row, row.half + 0.9)
    else:
        row.paper.fill(row.box.x, row.box.y, row.box.size)


def _double_ring(row: Row) -> None:
    """SH03: two rings around one, one ring around another."""
    one, row.box = row.box, row.other()
    _ring(row, row.half + 0.9)
    row.box = one
    _ring(row, row.half + 0.7)
    _ring(row, row.half + 1.6)


def _rest_crossed_one_ringed(row: Row) -> None:
    """SH05: all others are crossed out, the one that is left is ringed."""
    _cross_out_rest(row)
    _ring(row, row.half + 0.9)


def _dry_pen(row: Row) -> None:
    """SH06: a stroke that hardly wrote, and a second try."""
    row.line((-1.4, -0.2), (-0.3, 1.4), faint=True)
    row.tick()


def _torn(row: Row) -> None:
    """SH07: the pen tore the paper at the corner of the tick: a hole, dark or bright."""
    row.line((-1.5, -0.3), (-0.2, 1.4), (2.2, -2.5))
    row.grey(row.box.x - 0.2, row.box.y + 1.2, 0.9, 0.9, float(row.rng.choice((-1, 0.9))))


def _corrected_twice(row: Row) -> None:
    """SH10: struck, another struck, the first marked again with initials beside."""
    other = row.other()
    for box in (row.box, other):
        row.tick(box)
        row.paper.strike(box.x, box.y, box.size)
    row.tick()
    row.letters("AB", row.box.x + 2.6, row.box.y - 0.6, 1.8)


def _descender(row: Row) -> None:
    """SH15: the tail of a letter from the line above ends in another circle."""
    other = row.other()
    row.tick()
    angles = np.linspace(0, 1.3 * np.pi, 12)
    tail = [(other.x + 0.5 * np.cos(a), other.y - 0.6 + 0.5 * np.sin(a)) for a in angles]
    row.paper.stroke([(other.x + 0.5, other.y - 3.4), *tail])


def _upright_writing(row: Row) -> None:
    """SH16: a column of letters runs down between the circles, and a stroke of it through one."""
    row.tick()
    other = row.other()
    for down in (-2.2, 0.0, 2.2):
        row.paper.stroke([(other.x + 2.4, other.y + down - 0.8), (other.x + 4.2, other.y + down)])
        row.paper.stroke([(other.x + 3.3, other.y + down - 1), (other.x + 3.2, other.y + down + 1)])
    row.paper.stroke([(other.x + 0.4, other.y - 2.7), (other.x + 0.3, other.y + 2.7)])


KINDS: dict[str, Callable[[Row], float | None]] = {
    "H01": _then(Row.tick),
    "H02": _then(Row.cross),
    "H03": _then(lambda row: _ring(row, row.half + 0.9)),
    "H04": _then(lambda row: _ring(row, row.group[1].x - row.group[0].x)),
    "H05": _then(lambda row: row.paper.fill(row.box.x, row.box.y, row.box.size * 1.3)),
    "H06": _then(lambda row: [row.paper.speck(row.box.x, row.box.y) for _ in range(2)]),
    "H07": _then(lambda row: row.paper.speck(row.box.x, row.box.y), asked=True),
    "H08": _then(lambda row: row.line((-1.5, -0.5), (-0.2, 1.6), (5.4, -2.4))),
    "H09": _then(lambda row: (row.line((-4.5, -2), (4.5, 2)), row.line((-4.5, 2), (4.5, -2)))),
    "H10": _then(lambda row: row.line((0.3, row.half + 0.6), (0.6, row.half + 1.6),
                                      (1.6, row.half + 0.4))),
    "H11": _then(_between, asked=True),
    "H12": _then(lambda row: row.paper.stroke([(row.group[1].x - 1, row.box.y),
                                               (row.group[-1].x + 1, row.box.y)]), asked=True),
    "H13": _then(lambda row: (row.tick(), row.tick(row.other())), asked=True),
    "H14": _black,
    "H15": lambda row: _twice(row, 1),
    "H16": lambda row: _twice(row, 2),
    "H17": _then(_no_and_yes),
    "H18": _then(lambda row: (row.tick(row.group[0]), row.paper.stroke(
        [(row.group[0].x + 2.6, row.box.y), (row.group[2].x - 2.6, row.box.y)])), asked=True),
    "H19": _then(lambda row: (row.paper.fill(row.box.x, row.box.y, row.box.size),
                              _ring(row, row.half + 1)), asked=True),
    "H20": lambda row: _rubbed(row, True),
    "H21": lambda row: _rubbed(row, False),
    "H24": lambda row: _tape(row, "else"),
    "H25": lambda row: _tape(row, ""),
    "H26": lambda row: _tape(row, "here"),
    "H27": _then(lambda row: row.letters("?", row.box.x - 1, row.box.y + 1.6), asked=True),
    "H28": _then(lambda row: row.letters(f"{row.box.value:g}", row.box.x - 1, row.box.y + 1.6)),
    "H29": _then(lambda row: row.letters(f"{row.other().value:g}", row.box.x - 1,
                                         row.box.y + 1.6), asked=True),
    "H30": _then(lambda row: row.letters("1-2", row.group[-1].x + 3.4, row.box.y + 1.6),
                 asked=True),
    "H31": _then(lambda row: row.paper.stroke([(row.group[0].x - 3, row.box.y),
                                               (row.group[-1].x + 3, row.box.y)]), asked=True),
    "H33": _then(lambda row: [row.line((x, -0.8), (x - 0.1, 0.6)) for x in (-0.5, 0.5)],
                 asked=True),
    "H34": _then(lambda row: row.line((-2, row.half + 0.5), (2, row.half + 0.5))),
    "H35": _then(_cross_out_rest),
    "H38": _then(lambda row: (row.tick(), row.grey(row.box.x + 5, row.box.y, 9, 1.6, 0.13))),
    "H39": _then(lambda row: (row.paper.box_mark(row.other(), style="cross", faint=True),
                              row.tick())),
    "SH01": _begun_beside,
    "SH02": _then(_ring_or_dot),
    "SH03": _then(_double_ring, asked=True),
    "SH04": _then(lambda row: row.line((-1.3, 1.1), (0, -1.3), (1.3, 1.1), (-1.3, 1.1)),
                  asked=True),
    "SH05": _then(_rest_crossed_one_ringed),
    "SH06": _then(_dry_pen),
    "SH07": _then(_torn),
    "SH10": _then(_corrected_twice, asked=True),
    "SH15": _then(_descender),
    "SH16": _then(_upright_writing),
}  # fmt: skip


def main(pages: int, seed: int, names: list[str]) -> None:
    from kikichoko.forms.photo.photo_reader import read_photos

    simulator = load("simulator")
    sheet = load("paper_sheets").sheet_maker()("en")
    printed = simulator.printed(sheet)
    for kind in names or list(KINDS):
        rng = np.random.default_rng([seed, int(kind.lstrip("SH"))])
        counts = dict.fromkeys(("rows", "right", "wrong", "asked", "none"), 0)
        told = []
        for number in range(pages):
            page, picture = printed[2 + number % 4]
            hand = simulator.Hand(rng, tool=("blue pen", "black pen", "dark pencil")[number % 3],
                                  box="tick", line="upright")  # fmt: skip
            paper = simulator.Paper(page, picture.copy(), hand)
            for scale in page.scales:
                paper.line_mark(scale, scale.x + rng.uniform(5, 75))
            meant = {}
            for place, group in enumerate(page.groups):
                row = Row(paper, group)
                if not group[0].attribute.startswith(ROWS):
                    row.tick()
                elif kind in BESIDE and place % 2:
                    pass  # a mark beside a circle must not be asked about for the next row's sake
                elif kind == "H07" and place % 3:
                    row.cross()
                else:
                    meant[group[0].attribute] = KINDS[kind](row)
            with tempfile.TemporaryDirectory() as folder:
                path = Path(folder) / "page.jpg"
                path.write_bytes(simulator.Camera.any(rng, 200).jpeg(paper.picture))
                reading = read_photos([path], [sheet])
            code = page.presentation.name
            read = {one.attribute: one.value for one in reading.answers if one.code == code}
            asked = {one.attribute: one.reason for one in reading.uncertain}
            for attribute, value in meant.items():
                got = read.get(attribute)
                how = ("asked" if attribute in asked else "none" if got is None
                       else "right" if got == value else "wrong")  # fmt: skip
                counts["rows"] += 1
                counts[how] += 1
                if how in ("wrong", "none"):
                    told.append((f"{seed}/{number}", attribute, value, got))
        print(json.dumps({"kind": kind, **counts, "told": told[:4]}), flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]), sys.argv[3:])
