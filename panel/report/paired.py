"""Two questions about the same cups, paired within assessors, as sections show them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...analysis.core.errors import AnalysisError
from ...analysis.core.wording import fixed, limit
from ...analysis.profile.nose_and_palate import palate_against_nose
from ..base.words import sentence
from .context import Context
from .parts import Line, from_to, sized

if TYPE_CHECKING:
    import pandas as pd


def paired(
    context: Context, rows: pd.DataFrame, asked: tuple[str, str], heads: tuple[str, str]
) -> tuple[pd.DataFrame, pd.DataFrame] | None:
    """Set the second of two questions against the first, bottle by bottle.

    Parameters
    ----------
    context : Context
    rows : DataFrame
        Answers to both.
    asked, heads : tuple of str
        The questions, and the ends of the keys of their columns' heads.

    Returns
    -------
    tuple of DataFrame, or None
        The table to show and the one to keep; None where nobody answered both.
    """
    import pandas as pd

    try:
        found = palate_against_nose(rows, *asked)
    except AnalysisError:
        return None
    place = {name: rank for rank, name in enumerate(context.products)}
    table = found.table.sort_values("sample", key=lambda names: names.map(place))
    shown = table[["sample", "n", "nose", "palate", "difference"]].copy()
    for column in ("nose", "palate", "difference"):
        shown[column] = [fixed(value) for value in shown[column]]
    ends = zip(table["low"], table["high"], strict=True)
    written = [from_to(limit(low), limit(high)) if low < high else "–" for low, high in ends]
    shown = shown.assign(interval=pd.Series(written, shown.index, dtype=object))
    names = ("bottle", "n", *heads, "difference", "interval")
    shown.columns = [sentence(f"report.col_{name}") for name in names]
    return shown, table.drop(columns="verdict")


def with_limits(row: pd.Series) -> Line:
    """Write a mean with its limits, or alone where there are none or no width between them."""
    low, high = (limit(row[end]) for end in ("low", "high"))
    mean = fixed(row["mean"])
    return sized(mean, low, high) if row["low"] < row["high"] and low != high else mean
