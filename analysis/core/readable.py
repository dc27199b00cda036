"""Tables for people: heads in words, limits beside their estimate, as wide as a page at most."""

from __future__ import annotations

import math
from collections.abc import Hashable, Mapping, Sequence
from typing import NamedTuple, TypeGuard

import pandas as pd

from ...rounding import rounded
from .limits import refused
from .words import Sentence


class Column(NamedTuple):
    """One column to show.

    Attributes
    ----------
    head : str
        Catalogue key of its head.
    of : str
        Column of the table it is made from.
    low, high : str
        Columns of its limits, which stand in brackets behind it.
    form : str
        How a number is written, as in a format string; ``p`` for a p value.
    times : float
        What numbers are multiplied with.
    """

    head: str
    of: str
    low: str = ""
    high: str = ""
    form: str = ".2f"
    times: float = 1.0


def readable(table: pd.DataFrame, columns: Sequence[Column]) -> pd.DataFrame:
    """Return a table to show, its heads and cells as sentences and text.

    Examples
    --------
    >>> table = pd.DataFrame({"sd": [0.0682], "low": [0.0436], "high": [0.109]})
    >>> shown = readable(table, [Column("memory.col_sample", "sd", "low", "high", ".1f", 100)])
    >>> str(shown.columns[0]), str(shown.iloc[0, 0])
    ('bottles', '6.8 (4.4 to 10.9)')
    """
    heads = pd.Index([Sentence.of(one.head) for one in columns], dtype=object)
    rows = [[_cell(row, one) for one in columns] for row in table.to_dict("records")]
    return pd.DataFrame(rows, columns=heads)


def _cell(row: Mapping[Hashable, object], column: Column) -> object:
    value = row[column.of]
    if isinstance(value, bool):
        return Sentence.of("common.yes" if value else "common.no")
    if isinstance(value, pd.Timestamp):
        return f"{value:%Y-%m-%d}"
    if isinstance(value, Sentence):
        return value
    if not isinstance(value, float):
        return str(value)
    if math.isnan(value):
        return "–"
    if column.form == "p":
        return "< 0.001" if value < 0.001 else rounded(value, ".3f" if value < 0.1 else ".2f")
    low, high = row.get(column.low), row.get(column.high)
    shown = [written(column.times * one, column.form) for one in (value, low, high) if _number(one)]
    if len(shown) < 3 or refused(low, high, value):
        return shown[0]
    return Sentence.of("common.with_limits", value=shown[0], low=shown[1], high=shown[2])


def _number(value: object) -> TypeGuard[float]:
    return isinstance(value, float) and not math.isnan(value)


def written(value: float, form: str) -> str:
    """Write a number of a table; what rounds to nothing bears no sign.

    Examples
    --------
    >>> written(0.314, "+.2f"), written(-0.004, "+.2f")
    ('+0.31', '0.00')
    """
    text = rounded(value, form)
    return text if text.strip("+-0.") else text.lstrip("+-")
