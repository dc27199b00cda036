"""Widths of a printed table's columns: every row as low as it can be, no column torn off."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import permutations

from ...forms.paper.typeset import width
from ...line_breaks import is_wide, pieces

SIZES = (0.94, 0.88)
"""Type of a table that is too wide, as a share of the usual, in the order in which it is tried:
of 8 pt, 7.5 and 7."""
LOWER, READABLE = 0.67, 7.0
"""A table whose rows have several lines is set smaller too where it then takes no more than this
share of the lines; no type of its is under so many pt for it."""
GAP, CLOSE = 2.2, 1.5
"""Between two columns, in mm; in a table that is too wide."""
WORD = 45.0
"""A longer word in a table may be broken; mm."""
SHORT = 4
"""Characters of a cell that is kept whole: a Japanese word of three or four is not broken."""
SHORT_HEAD = 6
"""Characters of a heading, or of a word of it, that is kept whole if it is Japanese."""
HEAD_LINES = 3
"""Lines of a Japanese heading at most, of whose words some are parted: no letter a line."""
NAME = 16.0
"""A name in the first column is not broken up to here; mm. Japanese could be anywhere."""
TOGETHER = 3
"""Lines of a table, in whole rows, that stand on a page at least, at its head and at its foot."""
STEPS = (1.0, 3.0, 8.0)
"""What one column gives to another at a time, in mm, while rows become lower by it."""
_HYPHEN = re.compile(r"(?<=[a-z]-)(?=[a-z])")


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintedColumns:
    """Some columns of a table: which, how wide in mm, in what type in pt, how far apart."""

    part: list[int]
    widths: list[float]
    size: float
    gap: float

    def ends(self, rows: list[list[str]]) -> tuple[int, int]:
        """Return how many of the first rows, and of the last, stay together on a page."""
        columns = list(zip(self.part, self.widths, strict=True))

        def lines(row: list[str]) -> int:
            return max(_lines(_sized(pieces(row[n]), self.size), wide) for n, wide in columns)

        first = [lines(row) for row in rows[:TOGETHER]]
        last = [lines(row) for row in rows[: -TOGETHER - 1 : -1]]
        return _together(first), _together(last)


def columns_of(
    head: list[str], rows: list[list[str]], room: float, size: float, *, parted: bool = True
) -> list[PrintedColumns]:
    """Share the line out among the columns of a table.

    One that is too wide is set smaller, but not under 7 pt, and so is one that becomes much lower
    by it (`LOWER`); what is too wide even so makes two tables or more, each with the first column
    and about as wide as the others.

    Parameters
    ----------
    head, rows : list
        Texts as they are printed.
    room : float
        Width of the line in mm.
    size : float
        Type in pt.
    parted : bool
        Whether more tables than one may be made.
    """
    columns = [list(cells) for cells in zip(head, *rows, strict=True)]
    made: list[PrintedColumns] = []
    lines = 0
    for share in (1.0, *SIZES):
        own, gap = size * share, GAP if share == 1.0 else CLOSE
        least, body, most = _wanted_by(columns, own)
        if not _fits(least, room, gap) or (made and own < READABLE):
            continue
        whole = list(range(len(columns)))
        widths = _widths(columns, least, body, most, Room(room, own, gap))
        now = int(_Heights(columns, own).table(widths))
        if not made or now <= LOWER * lines:
            made, lines = [PrintedColumns(part=whole, widths=widths, size=own, gap=gap)], now
        if _fits(body, room, gap):
            break
    if made:
        return made
    parts = _parts(least, room, gap) if parted else [list(range(len(columns)))]
    for part in parts:
        chosen = [columns[n] for n in part]
        narrow, best, widest = ([of[n] for n in part] for of in (least, body, most))
        widths = _widths(chosen, narrow, best, widest, Room(room, own, gap))
        made.append(PrintedColumns(part=part, widths=widths, size=own, gap=gap))
    return made


def turns(head: list[str], rows: list[list[str]], room: float, size: float) -> bool:
    """Tell whether a table that is too wide for one line has room if its columns become rows."""
    if not 1 <= len(rows) < len(head):
        return False
    columns = [head, *rows]
    return any(
        _fits(_wanted_by(columns, size * share)[0], room, GAP if share == 1.0 else CLOSE)
        for share in (1.0, *SIZES)
    )


@dataclass(frozen=True, slots=True)
class Room:
    """The room of a line in mm, the type in pt, and what stands between columns in mm."""

    room: float
    size: float
    gap: float


def _wanted_by(
    columns: list[list[str]], size: float
) -> tuple[list[float], list[float], list[float]]:
    """Return by column the least width, the best for its rows, and for its heading too."""
    least, body, most = (
        list(one) for one in zip(*(_wanted(one, size) for one in columns), strict=True)
    )
    least[0] = max(least[0], min(most[0], NAME))
    return least, list(map(max, least, body)), most


def _wanted(cells: list[str], size: float) -> tuple[float, float, float]:
    """Return the least width of a column, the best for its rows, and for its heading too, in mm.

    Rows come first: a heading in three lines is high once, a cell in two lines in every row.
    """
    cut = [piece for place, cell in enumerate(cells) for piece in _uncut(cell, head=place == 0)]
    words = [part for piece in cut for part in _HYPHEN.split(piece)]
    least = max((width(word.strip(), size, bold=True) for word in words), default=0.0)
    if len(pieces(cells[0])) > HEAD_LINES and any(map(is_wide, cells[0])):
        letter = max(width(one, size, bold=True) for one in cells[0])
        least = max(least, width(cells[0], size, bold=True) / HEAD_LINES + letter)
    head, *body = (width(cell, size, bold=True) + 0.5 for cell in cells)
    rows = max(body, default=head)
    return min(least, WORD) + 0.5, rows, max(head, rows)


def _uncut(cell: str, *, head: bool) -> list[str]:
    """Cut a cell where its lines may end; a short one nowhere."""
    if len(cell) <= SHORT:
        return [cell]
    if not head:
        return pieces(cell)
    words = re.split(r"(?<= )", cell)
    return [piece for word in words for piece in ([word] if _is_short(word) else pieces(word))]


def _is_short(word: str) -> bool:
    """Tell whether a word of a heading is Japanese and kept whole: 精米歩合 of 精米歩合 %."""
    return len(word.strip()) <= SHORT_HEAD and all(map(is_wide, word.strip()))


def _fits(widths: Sequence[float], room: float, gap: float) -> bool:
    return sum(widths) + gap * (len(widths) - 1) <= room


def whole_words(head: str) -> str:
    r"""Let no line of a Japanese heading end within a word: those between blanks, if short.

    >>> whole_words("精米歩合 %") == "精\u2060米\u2060歩\u2060合 %", whole_words("polishing %")
    (True, 'polishing %')
    """
    words = head.split(" ")
    return " ".join(
        "\u2060".join(one) if len(one) <= SHORT_HEAD and all(map(is_wide, one)) else one
        for one in words
    )


def breakable(cell: str, size: float) -> str:
    r"""Let a word that is longer than a column may be end anywhere, and no sign stand alone.

    >>> breakable("どうするか", 8.0).endswith("\u2060か"), breakable("yes", 8.0)
    (True, 'yes')
    """
    cut = [
        "\u200b".join(piece) if width(piece, size, bold=True) > WORD else piece
        for piece in pieces(_not_alone(cell))
    ]
    return "".join(cut)


def _not_alone(cell: str) -> str:
    """Keep the last two signs together where both are Japanese: a lone か is no line."""
    if len(cell) > SHORT and is_wide(cell[-1]) and is_wide(cell[-2]):
        return f"{cell[:-1]}\u2060{cell[-1]}"
    return cell


def _parts(least: Sequence[float], room: float, gap: float) -> list[list[int]]:
    """Part the columns into tables for which there is room, each with the first column.

    There are as few as there can be, and then the widest is as narrow as it can be.

    >>> _parts([10.0] * 6, 45.0, 0.0)
    [[0, 1, 2, 3], [0, 4, 5]]
    >>> _parts([10.0, 30.0, 30.0, 30.0], 99.0, 0.0), _parts([10.0] * 3, 30.0, 0.0)
    ([[0, 1, 2], [0, 3]], [[0, 1, 2]])
    """

    def filled(most: float) -> list[list[int]]:
        parts = [[0]]
        for place in range(1, len(least)):
            taken = sum(least[n] + gap for n in parts[-1]) + least[place]
            if taken > most and len(parts[-1]) > 1:
                parts.append([0])
            parts[-1].append(place)
        return parts

    fewest = len(filled(room))
    for most in range(1, int(room) + 1):
        parts = filled(float(most))
        widest = max(sum(least[n] + gap for n in part) - gap for part in parts)
        if len(parts) == fewest and widest <= room:
            return parts
    return filled(room)


def _widths(
    columns: list[list[str]],
    least: list[float],
    body: list[float],
    most: list[float],
    line: Room,
) -> list[float]:
    if _fits(body, line.room, line.gap):
        return _shared(body, most, line)
    if not _fits(least, line.room, line.gap):
        return _shared(least, body, line)
    heights = _Heights(columns, line.size)
    starts = [_shared(least, body, line, whole=n) for n in range(len(columns))]
    for root in (1.0, 0.5):
        long = [sum(width(cell, line.size) for cell in cells) ** root for cells in columns]
        spare = line.room - line.gap * (len(least) - 1) - sum(least)
        starts.append([one + spare * own / sum(long) for one, own in zip(least, long, strict=True)])
    best = sorted(starts, key=heights.table)[:BEST]
    return min((_lowered(heights, least, one) for one in best), key=heights.table)


BEST = 3
"""Of several ways to share a line out, how many are looked at more closely."""


def _shared(least: list[float], most: list[float], line: Room, whole: int = 0) -> list[float]:
    """Give each column its best width if the line has room for all, else a share above its least.

    The `whole` columns that lack least get all that they lack first, if there is room for it.

    >>> line = Room(100.0, 8.0, 2.0), Room(62.0, 8.0, 2.0), Room(47.0, 8.0, 2.0)
    >>> _shared([10.0, 20.0], [12.0, 30.0], line[0]), _shared([10.0, 20.0], [10.0, 80.0], line[1])
    ([12.0, 30.0], [10.0, 50.0])
    >>> _shared([10.0, 10.0], [20.0, 50.0], line[2])
    [15.0, 30.0]
    >>> _shared([10.0, 10.0], [20.0, 50.0], line[2], whole=1)
    [20.0, 25.0]
    """
    room = line.room - line.gap * (len(least) - 1)
    if sum(most) <= room:
        return list(most)
    spare = room - sum(least)
    if spare <= 0:
        return [one * room / sum(least) for one in least]
    lacks = [best - one for one, best in zip(least, most, strict=True)]
    first = sorted(range(len(lacks)), key=lacks.__getitem__)[:whole]
    given = sum(lacks[n] for n in first)
    if given > spare:
        return _shared(least, most, line)
    rest = sum(lacks) - given
    shares = [1.0 if n in first else (spare - given) / rest for n in range(len(lacks))]
    return [one + part * lack for one, part, lack in zip(least, shares, lacks, strict=True)]


def _together(lines: Sequence[int]) -> int:
    """Count the rows that stay together, from how many lines each has.

    >>> _together([1, 1, 1, 1]), _together([1, 2, 1]), _together([3, 1, 1]), _together([1])
    (3, 2, 1, 1)
    """
    return next((n for n in range(1, len(lines)) if sum(lines[:n]) >= TOGETHER), len(lines))


class _Heights:
    """How many lines the cells of a table take, from how wide their pieces are."""

    def __init__(self, columns: list[list[str]], size: float) -> None:
        self.columns = [
            [
                _sized(_uncut(cell, head=place == 0), size, bold=bold)
                for place, cell in enumerate(cells)
                for bold in [number == 0 or place == 0]
            ]
            for number, cells in enumerate(columns)
        ]
        self.seen: dict[tuple[int, float], list[int]] = {}

    def column(self, number: int, wide: float) -> list[int]:
        """Return the lines of each cell of a column that is so wide."""
        key = number, round(wide, 1)
        if key not in self.seen:
            self.seen[key] = [_lines(cell, wide) for cell in self.columns[number]]
        return self.seen[key]

    def table(self, widths: Sequence[float]) -> float:
        """Return the lines of all rows; of two tables as high, that with fewer lines in cells."""
        lines = [self.column(number, wide) for number, wide in enumerate(widths)]
        high: int = sum(max(row) for row in zip(*lines, strict=True))
        return high + sum(map(sum, lines)) / FEWER


FEWER = 1000
"""Lines of single cells that count as one of the table."""


def _sized(cut: Sequence[str], size: float, *, bold: bool = False) -> list[tuple[float, float]]:
    """Return how wide pieces are, each with the blank after it, and without."""
    return [(width(one, size, bold=bold), width(one.rstrip(), size, bold=bold)) for one in cut]


def _lines(cell: Sequence[tuple[float, float]], room: float) -> int:
    """Count the lines of pieces, each as wide as it is with the blank after it, and without.

    >>> _lines([(6.0, 5.0), (6.0, 5.0), (5.0, 5.0)], 11.0), _lines([(6.0, 5.0), (5.0, 5.0)], 10.9)
    (2, 2)
    """
    lines, taken = 1, 0.0
    for whole, ending in cell:
        if taken and taken + ending > room:
            lines, taken = lines + 1, 0.0
        taken += whole
    return lines


def _lowered(heights: _Heights, least: Sequence[float], widths: Sequence[float]) -> list[float]:
    """Let columns give width to others as long as that makes the table lower."""
    best, high = list(widths), heights.table(widths)
    moved = True
    while moved:
        moved = False
        for step in STEPS:
            for giver, taker in permutations(range(len(best)), 2):
                if best[giver] - step < least[giver]:
                    continue
                tried = list(best)
                tried[giver] -= step
                tried[taker] += step
                now = heights.table(tried)
                if now < high:
                    best, high, moved = tried, now, True
    return best
