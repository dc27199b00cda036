"""Does the palate keep what the nose promised?"""

from __future__ import annotations

from ...analysis.core.errors import AnalysisError
from ...analysis.core.wording import fixed, limit
from ..base.words import sentence
from ..findings.promise import gaps
from .context import Context
from .parts import Grid, Lines, Section, from_to, lead, method


def section(context: Context) -> Section | None:
    """Compare the mouth with the smell, bottle by bottle and between bottles."""
    import pandas as pd

    found = gaps(context.findings.evidence)
    if found is None:
        return None
    title = sentence("report.nose")
    if isinstance(found, AnalysisError):
        why = context.named(found.sentence)
        return Section(key="nose", title=title, blocks=(lead(why),), data=why)
    order = {name: place for place, name in enumerate(context.products)}
    table = found.table.sort_values("sample", key=lambda column: column.map(order))
    shown = table[["sample", "n", "nose", "palate", "difference"]].copy()
    for column in ("nose", "palate", "difference"):
        shown[column] = [fixed(value) for value in shown[column]]
    ends = [
        (limit(low), limit(high)) for low, high in zip(table["low"], table["high"], strict=True)
    ]
    written = [from_to(low, high) if low != high else "–" for low, high in ends]
    shown = shown.assign(interval=pd.Series(written, shown.index, dtype=object))
    shown.columns = [sentence(f"report.col_{name}") for name in shown.columns]
    claimed = context.said("nose", "claim")
    others = context.said("nose", "description")
    several = len(context.products) > 1
    open_line = (sentence("report.nose_open"),) if several else ()
    return Section(
        key="nose",
        title=title,
        blocks=(
            lead(*(claimed or open_line or others)),
            Lines(others if claimed or open_line else ()),
            Grid(sentence("report.nose_table"), shown),
            method(sentence("report.nose_method")),
        ),
        tables={"nose_palate": table.drop(columns="verdict")},
        data=found,
    )
