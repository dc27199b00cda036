"""Does the palate keep what the nose promised? Compared between bottles."""

from __future__ import annotations

from collections.abc import Hashable
from typing import TYPE_CHECKING, Any

from ...analysis.core.errors import AnalysisError
from ...analysis.core.wording import fixed, limit
from ..base.words import Sentence, sentence
from .budget import Budget, Weighed, gap_of
from .camps import camps_in
from .differences import above
from .evidence import Evidence, once
from .statement import Line, Statement, joined, signed

if TYPE_CHECKING:
    from ...analysis.profile.nose_and_palate import PalateAgainstNose

SECTION, STAGES = "nose", "stages"
RANK = 44


@once
def gaps(evidence: Evidence) -> PalateAgainstNose | AnalysisError | None:
    """Return palate minus nose of each product; None where it was not asked."""
    return _against(evidence, evidence.promise_pair)


def _against(
    evidence: Evidence, pair: tuple[str, str] | None
) -> PalateAgainstNose | AnalysisError | None:
    from ...analysis.profile.nose_and_palate import palate_against_nose

    if pair is None:
        return None
    try:
        return palate_against_nose(evidence.tidy(pair), *pair)
    except AnalysisError as refusal:
        return refusal


def judged(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say which bottle falls further below its nose than another."""
    claimed = _claimed("promise", evidence, budget)
    found = gaps(evidence) if claimed else None
    if found is None or isinstance(found, AnalysisError):
        return []
    return [_claim(evidence, one, found) for one in claimed]


def expected(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say in which bottle the sweetness lies further above what the smell let expect."""
    claimed = _claimed("expected", evidence, budget)
    found = _against(evidence, evidence.expected_pair) if claimed else None
    if found is None or isinstance(found, AnalysisError):
        return []
    clause, whole = "findings.expected_clause", "findings.expected_differs"
    return [
        _claim(evidence, one, found, clause, whole, section=STAGES, family="expected")
        for one in claimed
    ]


def _claimed(kind: str, evidence: Evidence, budget: Budget) -> list[Weighed]:
    about = gap_of(kind, evidence)
    return [one for one in budget.claimed("gap") if one.about == about]


def statements(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say what `judged` does, and describe each bottle."""
    found = gaps(evidence)
    if found is None:
        return []
    if isinstance(found, AnalysisError):
        return [Statement(kind="description", about=(), sentence=found.sentence, section=SECTION)]
    said = judged(evidence, budget)
    pair = evidence.promise_pair or ("", "")
    for row in _rows(evidence, found):
        sample = str(row["sample"])
        values = {
            "sample": sample,
            "nose_name": evidence.name(pair[0]),
            "palate_name": evidence.name(pair[1]),
            "by": fixed(abs(row["difference"])),
            "nose": fixed(row["nose"]),
            "palate": fixed(row["palate"]),
            "low": limit(row["low"]),
            "high": limit(row["high"]),
            "n": row["n"],
        }
        said.append(
            Statement(
                kind="description",
                about=(sample,),
                sentence=sentence(f"findings.promise_{_way(evidence, row)}", **values),
                section=SECTION,
            )
        )
    return said


Row = dict[Hashable, Any]


def _rows(evidence: Evidence, found: PalateAgainstNose) -> list[Row]:
    place = {name: rank for rank, name in enumerate(evidence.products)}
    table = found.table.sort_values("sample", key=lambda names: names.map(place), kind="stable")
    return table.to_dict("records")


def _way(evidence: Evidence, row: Row) -> str:
    """Name how the mouth compares with the nose, by the estimate: no claim."""
    pair = evidence.promise_pair
    if pair is not None and camps_in(evidence, pair[1], str(row["sample"]), less=pair[0]):
        return "camps"
    if limit(row["low"]) == limit(row["high"]):
        return "alike"
    difference = float(row["difference"])
    if fixed(abs(difference)) == "0.0":
        return "level"
    return "below" if difference < 0 else "over"


def _claim(
    evidence: Evidence,
    one: Weighed,
    found: PalateAgainstNose,
    clause: str = "findings.promise_clause",
    whole: str = "findings.promise_differs",
    *,
    section: str = SECTION,
    family: str = "promise",
) -> Statement:
    gap = found.table.set_index("sample")["difference"]
    clauses: list[Line] = [
        sentence(
            clause,
            n=len(low),
            high=high,
            low=low,
            high_gap=[signed(gap[name]) for name in high],
            low_gap=[signed(gap[name]) for name in low],
        )
        for high, low in above(one.pairs, evidence.products)
    ]
    return Statement(
        kind="claim",
        about=one.bottles,
        sentence=sentence(whole, clauses=joined(clauses)),
        section=section,
        p=one.p,
        p_adjusted=one.adjusted,
        family=family,
        rank=RANK,
    )


def cell(evidence: Evidence, budget: Budget, sample: str) -> Sentence:
    """Say for the table of decisions how the mouth of a bottle compares with its nose."""
    found = gaps(evidence)
    if found is None or isinstance(found, AnalysisError):
        return sentence("findings.cell_none")
    rows = found.table[found.table["sample"] == sample].to_dict("records")
    if not rows:
        return sentence("findings.cell_none")
    gap = signed(rows[0]["difference"])
    if _way(evidence, rows[0]) == "camps":
        return sentence("findings.cell_promise_camps", gap=gap)
    for one in _claimed("promise", evidence, budget):
        below = [high for high, low in one.pairs if low == sample]
        if below:
            return sentence("findings.cell_promise_below", gap=gap, others=below)
        over = [low for high, low in one.pairs if high == sample]
        if over:
            return sentence("findings.cell_promise_over", gap=gap, others=over)
    how = "open" if len(evidence.products) > 1 else "one"
    return sentence(f"findings.cell_promise_{how}", gap=gap)
