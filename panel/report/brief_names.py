"""Long names of bottles, cut to what tells them apart, for tables that repeat them in each row."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from ...analysis.core.words import Sentence
from ...line_breaks import columns

if TYPE_CHECKING:
    import pandas as pd

LONG = 14
"""Columns of a terminal that a name may take before all of them are cut; Japanese counts double."""
LEAST = 6
"""Columns that a cut name has at least."""
MOST = 18
"""Columns of a cut name, its dots included: what is told apart by more letters only stays whole."""
_PIECE = re.compile(r"[\u2e80-\uffef]|[^\s\u2e80-\uffef]+\s*|\s+")
_LOOSE = " ,;:.-–、，・（(［["


def brief_names(names: Sequence[str]) -> dict[str, str]:
    """Return what stands for each name: its beginning, or where those are alike, its end.

    Names that are all short stay, and so do those that no beginning or end tells apart. What all
    names end with is left out without dots.

    >>> brief_names(["tank 1 of year 3", "tank 2 of year 3"])
    {'tank 1 of year 3': 'tank 1', 'tank 2 of year 3': 'tank 2'}

    >>> brief_names(["free-run of tank 4, raw", "clear of tank 4", "clear of tank 5, raw"])
    {'free-run of tank 4, raw': 'free-run…', 'clear of tank 4': '…tank 4', 'clear of tank 5, raw': 'clear of tank 5…'}
    >>> brief_names(["荒走り無濾過生原酒", "中取り純米大吟醸"]), brief_names(["clear", "cloudy"])
    ({'荒走り無濾過生原酒': '荒走り…', '中取り純米大吟醸': '中取り…'}, {'clear': 'clear', 'cloudy': 'cloudy'})
    """  # noqa: E501 - a line of an example
    if max(map(columns, names), default=0) <= LONG:
        return {name: name for name in names}
    heads = _without_tail(names)
    if heads and all(LEAST <= columns(one) < MOST for one in heads):
        return dict(zip(names, heads, strict=True))
    return {name: _brief(name, [one for one in names if one != name]) for name in names}


def with_brief(value: Any, brief: Mapping[str, str]) -> Any:
    """Write cut names wherever a sentence, or a list in it, holds whole ones."""
    if isinstance(value, Sentence):
        said = tuple((name, with_brief(one, brief)) for name, one in value.values)
        return replace(value, values=said)
    if isinstance(value, (list, tuple)):
        return [with_brief(one, brief) for one in value]
    return brief.get(value, value) if isinstance(value, str) else value


def brief_cells(table: pd.DataFrame, names: Sequence[str]) -> pd.DataFrame:
    """Cut the names in all columns of a table but the first, in which they stand whole."""
    brief = brief_names(names)
    shown = table.copy()
    for place in range(1, table.shape[1]):
        shown.isetitem(place, [with_brief(one, brief) for one in table.iloc[:, place]])
    return shown


def _without_tail(names: Sequence[str]) -> list[str]:
    """Return the names without the whole words that all end with; none where there are none."""
    pieces = [_PIECE.findall(name) for name in names]
    shared = 0
    while len({tuple(one[-shared - 1 :]) for one in pieces}) == 1 and all(
        len(one) > shared + 1 for one in pieces
    ):
        shared += 1
    # A tail begins with a word: Japanese signs have no room between them.
    while shared and not all(one[-shared - 1][-1].isspace() for one in pieces):
        shared -= 1
    if len(names) == 1 or not shared:
        return []
    return ["".join(one[:-shared]).rstrip(_LOOSE) for one in pieces]


def _brief(name: str, others: Sequence[str]) -> str:
    pieces = _PIECE.findall(name)
    begins = ["".join(pieces[:n]).rstrip(_LOOSE) for n in range(1, len(pieces))]
    ends = ["".join(pieces[-n:]).strip(_LOOSE) for n in range(1, len(pieces))]
    apart = [
        *(f"{one}…" for one in begins if not any(other.startswith(one) for other in others)),
        *(f"…{one}" for one in ends if not any(other.endswith(one) for other in others)),
    ]
    fair = [one for one in apart if LEAST < columns(one) <= MOST]
    return fair[0] if fair else name
