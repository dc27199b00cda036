"""What this tasting could have found, by the rule that the report itself claims by."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ...analysis.claims.claim_members import gap_name
from ...analysis.core.wording import fixed
from ..base.words import sentence
from .budget import Budget
from .evidence import SCALED, Evidence
from .statement import Statement

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd

SECTION = "limits"
RANK = 60
MOSTLY = 0.667
"""Share of the scatter from which on it is told whether own repeats or views make it up."""


def detectable(evidence: Evidence, budget: Budget) -> pd.DataFrame:
    """Return the smallest difference each scale would have shown: see `Claims.detectable`.

    What is wider than the scale is left missing: no such difference can be marked.
    """
    import pandas as pd

    if budget.found is None:
        return pd.DataFrame(columns=["kind", "about", "unnamed", "named", "alone"])
    table = budget.found.detectable()
    spans = [
        span(evidence, kind, about)
        for kind, about in zip(table["kind"], table["about"], strict=True)
    ]
    for column in ("unnamed", "named", "alone"):
        table[column] = table[column].where(table[column] <= spans)
    return table


def span(evidence: Evidence, kind: str, about: str) -> float:
    """Return the widest difference that can be marked in one question, or between two."""
    if kind == "gap":
        pairs = (evidence.promise_pair, evidence.expected_pair)
        first = next(pair for pair in pairs if pair and gap_name(pair[1], pair[0]) == about)[0]
        return 2 * (evidence.question(first).high - evidence.question(first).low)
    question = evidence.question(about)
    return question.high - question.low


def statements(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say which difference 8 of 10 such tastings would claim, in words of this scale."""
    if len(evidence.products) < 2:
        return []
    table = detectable(evidence, budget)
    if len(evidence.people) == 1 and evidence.attributes(*SCALED):
        return [_said("power_alone", RANK)]
    table, others = _by_scale(evidence, table)
    if table.empty:
        words = any(one.kind == "word" for one in budget.judged)
        scales = any(one.kind in ("scale", "balance") for one in budget.judged)
        if scales or not words:
            return [_said("power_none", RANK)]
        return []
    able = table["unnamed"].dropna().sort_values()
    if able.empty:
        named = table["named"].dropna().sort_values()
        if named.empty:
            return [_said("power_nothing", RANK), *others]
        return [_said("power_only_named", RANK, named=fixed(named.median())), *others]
    values = {
        "middle": fixed(able.median()),
        "least": fixed(able.iloc[0]),
        "most": fixed(able.iloc[-1]),
    }
    alike = values["least"] == values["most"]
    key = "power_one" if alike else "power"
    if len(able) < len(table):
        key = "power_some_one" if alike else "power_some"
    said = [_said(key, RANK, **values, n=len(able), of=len(table))]
    named = table.loc[able.index, "named"].dropna()  # of the same attributes
    if len(named):
        said.append(_said("power_named", None, named=fixed(named.median())))
    return [*said, *others, *_what_hides(evidence, budget, list(table["about"]))]


def _by_scale(evidence: Evidence, table: pd.DataFrame) -> tuple[pd.DataFrame, list[Statement]]:
    """Return the rows on the scale that most attributes have, and sentences on all others.

    Points of two scales make no range: sweet against acid runs from -3 to 3, most lines to 10.
    """
    table = table[table["kind"].isin(("scale", "balance"))]
    spans = [
        span(evidence, kind, about)
        for kind, about in zip(table["kind"], table["about"], strict=True)
    ]
    lines = [one for one, kind in zip(spans, table["kind"], strict=True) if kind == "scale"]
    if not lines:
        return table[:0], []
    most = max(dict.fromkeys(lines), key=lines.count)
    of_most = [
        kind == "scale" and one == most for one, kind in zip(spans, table["kind"], strict=True)
    ]
    said = [
        _said(
            "power_other_none" if np.isnan(row["unnamed"]) else "power_other",
            None,
            attribute=evidence.name(str(row["about"])),
            span=f"{one:g}",
            by=fixed(row["unnamed"]),
        )
        for row, one, own in zip(table.to_dict("records"), spans, of_most, strict=True)
        if not own
    ]
    return table[of_most], said


def _what_hides(evidence: Evidence, budget: Budget, names: Sequence[str]) -> list[Statement]:
    """Say whether smaller differences hide in marks not repeated or in views that differ.

    The variance of a cell is that of one assessor's repeats over their number, and of
    assessors who see the bottles differently.
    """
    if budget.found is None or len({span(evidence, "scale", name) for name in names}) != 1:
        return []
    marks = evidence.rows(names).groupby(["attribute", "assessor", "sample"])["score"]
    cells = marks.agg(["size", "var", "min", "max"])
    twice = cells[cells["size"] > 1]
    if twice.empty:
        return []
    own = float((twice["var"] * (twice["size"] - 1)).sum() / (twice["size"] - 1).sum())
    repeats = own * float((1 / cells["size"]).mean())
    table = budget.found.table
    views = table.loc[(table["kind"] == "scale") & table["about"].isin(names), "sd"]
    share = repeats / float((views**2).mean())
    key = hidden_in(share)
    by = float((twice["max"] - twice["min"]).mean())
    return [_said(f"hidden_{key}", None, by=fixed(by))] if key else []


def hidden_in(share: float) -> str:
    """Name what makes up most of the scatter, given the share of own repeats; "" for neither."""
    return "repeats" if share >= MOSTLY else "views" if share <= 1 - MOSTLY else ""


def _said(key: str, rank: int | None, **values: object) -> Statement:
    return Statement(
        kind="description",
        about=(),
        sentence=sentence(f"findings.{key}", **values),
        section=SECTION,
        rank=rank,
    )
