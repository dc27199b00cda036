"""Which bottles nobody may call alike, and which give no ground for a price step."""

from __future__ import annotations

from itertools import combinations

from ..base.words import sentence
from ..findings import design, tainted
from ..findings.evidence import QUALITY, Evidence
from ..findings.statement import Line, Statement, joined
from . import directions, tasters
from .bottles import row_of
from .side_by_side import SURE, people, rows
from .tasters import inside, said

RANK_PRICE = 20
TWICE = 2.0
"""Times the next one's distance from the other bottles by which one sets the last in quality below,
from which that one is asked (a convention, no source)."""
MOST_PAIRS = 6
"""Pairs without ground for a price step up to which they are named one by one."""
APART = 1.0
"""Points by which everybody sets two bottles apart the same way where that is counted (a
convention, no source)."""
MOST_APART = 3
"""Attributes in which two bottles are set apart up to which they are called the closest."""


def statements(evidence: Evidence) -> list[Statement]:
    """Say that what is not named is not alike, and where quality gives no ground for a price."""
    made = []
    agreed, apart = _price(evidence)
    if _told(agreed, apart):
        listed = [
            sentence("few_report.pair", first=first, second=second) for first, second in apart
        ]
        key = "price" if agreed or len(evidence.products) == 2 else "price_any"
        made.append(
            said("advice", key, tuple(dict.fromkeys(name for pair in apart for name in pair)),
                 section=SURE, rank=RANK_PRICE if answers_price(evidence) else None,
                 listed=joined(listed))
        )  # fmt: skip
    return [*made, *_price_lead(evidence), *_closest(evidence)]


def _told(agreed: list[tuple[str, str]], apart: list[tuple[str, str]]) -> bool:
    """Tell whether the pairs without ground for a price step are few enough to be named."""
    return bool(apart) and (not agreed or len(apart) <= MOST_PAIRS)


def answers_price(evidence: Evidence) -> bool:
    """Tell whether the session asks about a price, and pairs are named that give no ground.

    The answer then stands in the box, in place of how the marks part on quality.
    """
    return _told(*_price(evidence)) and design.question_names(evidence, "asks_price")


def _price_lead(evidence: Evidence) -> list[Statement]:
    """Say what it is worth that everybody puts one bottle first, or last, in quality."""
    row = row_of(evidence, QUALITY)
    if row is None or len(row.marks) == 1 or len(evidence.products) < 2:
        return []
    if any(one.attribute == QUALITY for one in directions.sure(evidence)):
        return []
    first, last = row.end(1), row.end(-1)
    if not first and last in tainted.held(evidence):  # Its fault may be why.
        return []
    if not first and not last:
        return []
    key = "price_first" if first else "price_last"
    ask: Line = ""
    if not first:
        gaps = row.from_others(last).sort_values()
        if float(gaps.iloc[0]) <= TWICE * float(gaps.iloc[1]):
            ask = sentence("few_report.ask_last", assessor=str(gaps.index[0]))
    return [said("advice", key, (QUALITY, first or last), section=SURE, who=inside(evidence),
                 bottle=first or last, ask=ask)]  # fmt: skip


def _closest(evidence: Evidence) -> list[Statement]:
    """Name the two bottles that lie closest, and say that they are not shown to be alike."""
    found = []
    for first, second in combinations(evidence.products, 2):
        both = [row for row in rows(evidence) if {first, second} <= set(row.marks.columns)]
        gaps = {row.attribute: row.marks[first] - row.marks[second] for row in both}
        apart = [
            name for name, gap in gaps.items()
            if not gap.isna().any() and ((gap >= APART).all() or (gap <= -APART).all())
        ]  # fmt: skip
        size = sum(float(gap.mean()) ** 2 for gap in gaps.values())
        found.append((len(apart), size, apart, first, second))
    if len(people(evidence)) == 1 or len(found) < 2 or tasters.mirrored(evidence):
        return [said("caution", "alike", section=SURE)]
    n, _, apart, first, second = min(found, key=lambda one: one[:2])
    if n > MOST_APART:
        return [said("caution", "alike", section=SURE)]
    names = [evidence.name(name).lower() for name in apart]
    where = sentence("few_report.closest_in", attributes=names) if names else ""
    key = "closest" if names else "closest_none"
    return [
        said("caution", key, (first, second), section=SURE, first=first, second=second,
             who=inside(evidence), where=where)
    ]  # fmt: skip


def _price(evidence: Evidence) -> tuple[list[tuple[str, str]], list[tuple[str, str]]]:
    """Return the pairs whose quality everybody puts in one order, and those that not all do."""
    row = row_of(evidence, QUALITY)
    if row is None or not row.whole or len(row.marks) == 1:
        return [], []
    agreed = row.agreed
    every = combinations([str(name) for name in row.marks.columns], 2)
    apart = [(a, b) for a, b in every if (a, b) not in agreed and (b, a) not in agreed]
    return agreed, apart
