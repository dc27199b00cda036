"""A table in lines of a terminal: as wide as it is, or broken to a width."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ...line_breaks import broken, columns, pieces
from .wording import short

if TYPE_CHECKING:
    import pandas as pd

NONE = "–"
"""Stands for what there is none of, such as the limits of one value."""
_KEYS = 2
"""Columns of text at the left, at most, that say whose a row is where the table goes on below."""
_TEXT = 16
"""Columns of the terminal that a longer text is given at least."""


@dataclass(frozen=True, slots=True)
class _Column:
    """One column: its heading, its cells as they are written, and whether they are numbers."""

    heading: str
    cells: list[str]
    number: bool

    @property
    def most(self) -> int:
        """The width in which nothing is broken."""
        return max(map(columns, [self.heading, *self.cells]))

    @property
    def least(self) -> int:
        """The width that it needs: of its numbers, of the longest word that cannot be broken."""
        heading = max(columns(piece.rstrip()) for piece in pieces(self.heading) or [""])
        if self.number:
            return max([heading, *map(columns, self.cells)])
        words = (columns(p.rstrip()) for cell in set(self.cells) for p in pieces(cell))
        return min(self.most, max(heading, _TEXT, *words, 0))


def table_lines(table: pd.DataFrame, width: int | None = None) -> str:
    """Write a table in lines; with `width`, of no more columns of a terminal than that.

    What is too wide gets its headings and texts broken within their cells; what is too wide
    still goes on below, each part with the columns that say whose the rows are.

    Examples
    --------
    >>> import pandas as pd
    >>> table = pd.DataFrame({"sample": ["free-run", "cloudy"], "lower limit": [1.5, 2.25]})
    >>> print(table_lines(table, 15))
    sample    lower
              limit
    free-run   1.50
    cloudy     2.25
    """
    whole = _unbroken(table)
    if width is None or max(map(columns, whole.split("\n"))) <= width:
        return whole
    made = [_column(table, place) for place in range(table.shape[1])]
    return "\n\n".join(_lines(part, width) for part in _parts(made, width))


def _unbroken(table: pd.DataFrame) -> str:
    import pandas as pd

    lines = table.to_string(index=False, float_format=short, na_rep=NONE)
    # Names may be Japanese in any language: their signs are two columns wide.
    if lines.isascii() or columns(lines) == len(lines):
        return lines
    with pd.option_context("display.unicode.east_asian_width", True):
        return table.to_string(index=False, float_format=short, na_rep=NONE)


def _column(table: pd.DataFrame, place: int) -> _Column:
    one = table.iloc[:, [place]]
    written = one.to_string(index=False, header=False, float_format=short, na_rep=NONE).split("\n")
    cells = [cell.strip() for cell in written] if len(one) else []
    return _Column(str(one.columns[0]), cells, number=one.dtypes.iloc[0].kind in "iuf")


def _parts(made: Sequence[_Column], width: int) -> list[list[_Column]]:
    """Put columns side by side while there is room; begin each part with the keys."""
    numbers = [column.number for column in made]
    leading = numbers.index(True) if any(numbers) else 1
    keys = list(made[: max(1, min(leading, _KEYS))])
    parts = [list(keys)]
    for column in made[len(keys) :]:
        if sum(one.least + 1 for one in parts[-1]) + column.least > width and parts[-1] != keys:
            parts.append(list(keys))
        parts[-1].append(column)
    return parts


def _lines(part: Sequence[_Column], width: int) -> str:
    """Write columns side by side, texts broken, numbers at the right."""
    wide = [column.least for column in part]
    left = width - sum(wide) - len(part) + 1
    for place in sorted(range(len(part)), key=lambda place: part[place].most - wide[place]):
        given = max(0, min(part[place].most - wide[place], left))
        wide[place] += given
        left -= given
    lines = []
    for row in zip(*([column.heading, *column.cells] for column in part), strict=True):
        cells = [broken(cell, room) for cell, room in zip(row, wide, strict=True)]
        for place in range(max(map(len, cells))):
            at = [cell[place] if place < len(cell) else "" for cell in cells]
            line = " ".join(
                " " * (room - columns(text)) + text
                if column.number
                else text + " " * (room - columns(text))
                for text, room, column in zip(at, wide, part, strict=True)
            )
            lines.append(line.rstrip())
    return "\n".join(lines)
