"""The one gate for limits: without width, or beside their estimate, they are none.

Limits without width say that a number is known without error, which no panel
can know; they come from scores that leave no error to judge by. Tables that
results show and everything that is written to JSON pass here.
"""

from __future__ import annotations

import math
from typing import Any, TypeGuard

import numpy as np
import pandas as pd

ESTIMATES = ("estimate", "difference", "shift")
"""What plain ``low`` and ``high`` are limits of; ``x_low`` and ``x_high`` are those of ``x``,
or, where ``x`` is a count (a whole number by type), of the share it is."""
_TINY = 1e-9


def refused(low: object, high: object, estimate: object = None) -> bool:
    """Tell whether two limits are none: without width, crossed, or beside their estimate.

    Examples
    --------
    >>> refused(2.0, 2.0), refused(1.0, 3.0, 4.0), refused(1.0, 3.0, 3.0), refused(None, None)
    (True, True, False, False)
    >>> refused(0.1, 0.8, 3)  # limits of a share beside its count
    False
    """
    if not (_is_number(low) and _is_number(high)):
        return False
    small = _TINY * max(1.0, abs(low), abs(high)) if math.isfinite(low + high) else 0.0
    if high - low <= small:
        return True
    if isinstance(estimate, (int, np.integer)) or not _is_number(estimate):
        return False
    return not (low - small <= estimate <= high + small)


def _is_number(value: object) -> TypeGuard[float]:
    if isinstance(value, bool) or not isinstance(value, (int, float, np.floating, np.integer)):
        return False
    return not math.isnan(float(value))


def _ends(names: list[str]) -> list[tuple[str, str, str]]:
    """Return the columns of low end, high end and estimate ("" where it is not known)."""
    found = []
    for low in names:
        high = low.removesuffix("low") + "high"
        if not low.endswith("low") or high not in names:
            continue
        own = [low.removesuffix("_low")] if low != "low" else [*ESTIMATES]
        found.append((low, high, next((name for name in own if name in names), "")))
    return found


def sound_row(row: dict[str, Any]) -> dict[str, Any]:
    """Return a row with limits that are none as None.

    Examples
    --------
    >>> sound_row({"bias": 0.5, "bias_low": 0.5, "bias_high": 0.5, "n": 3})
    {'bias': 0.5, 'bias_low': None, 'bias_high': None, 'n': 3}
    """
    for low, high, estimate in _ends([*row]):
        if refused(row[low], row[high], row.get(estimate)):
            row = row | {low: None, high: None}
    return row


def sound_table(table: pd.DataFrame) -> pd.DataFrame:
    """Return a copy of a table in which limits that are none are missing."""
    kept = table.copy()
    for low, high, estimate in _ends([str(name) for name in table.columns]):
        middle = list(table[estimate]) if estimate else [None] * len(table)
        none = [refused(*cells) for cells in zip(table[low], table[high], middle, strict=True)]
        if any(none):
            for name in (low, high):
                kept[name] = np.where(none, np.nan, table[name].to_numpy(float))
    return kept
