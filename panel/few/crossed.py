"""Bottles that cross two things, such as pressing and pasteurising: what each of them does."""

from __future__ import annotations

from ...analysis.core.wording import fixed
from ..base.words import sentence
from ..findings.evidence import Evidence, once
from ..findings.statement import Line, Statement
from . import directions
from .contrasts import Contrast, contrasts, form_of
from .side_by_side import ALIKE, SERVED, SHEETS, SURE, people, rows
from .tasters import inside, points, said
from .words_few import probability

RANK, RANK_SURE = 31, 34
SHOWN = 4
"""Attributes that are named for each way, the likeliest first."""
MEASURED = (("meter_value", 0), ("acidity", 1), ("amino_acidity", 1), ("abv", 1))
"""Numbers of a bottle, with the decimals that a difference of two is written with."""


def statements(evidence: Evidence) -> list[Statement]:
    """Say of each thing in which attributes all assessors go one way, with everybody's sizes."""
    found = contrasts(evidence)
    several = len(people(evidence)) > 1
    made = [line for one in found if several for line in _one_way(evidence, one)]
    if any(one.rank is not None for one in made):
        ways = 2 ** (len(people(evidence)) - 1)
        made.append(said("caution", "crossed_chance", section=SHEETS, ways=ways))
    if len(found) > 1:
        factors = [sentence(f"few_report.factor_{one.factor}") for one in found]
        made.append(said("caution", "crossed_both", section=SHEETS, factors=factors))
    return made


def _one_way(evidence: Evidence, one: Contrast) -> list[Statement]:
    """Say it the way round in which more attributes are higher, and what is sure of it."""
    ways = _ways(evidence, one)
    if len(ways["lower"]) > len(ways["higher"]):
        one, ways = one.turned, {"higher": ways["lower"], "lower": ways["higher"]}
    parts = [
        sentence(f"few_report.crossed_{way}", listed=[told for *_, told in own[:SHOWN]])
        for way, own in ways.items()
        if own
    ]
    high, low = form_of(one.factor, one.high, one.low), form_of(one.factor, one.low, one.high)
    return [
        said(
            "description",
            "crossed",
            tuple(attribute for own in ways.values() for _, attribute, _ in own[:SHOWN]),
            section=SHEETS,
            rank=RANK if parts else None,
            high=high,
            low=low,
            pairs=[sentence("few_report.crossed_pair", high=a, low=b) for a, b in one.pairs],
            who=inside(evidence),
            parts=parts or sentence("few_report.crossed_none"),
        ),
        *_claims(evidence, one),
        *_numbers(evidence, one, high, low),
    ]


def _ways(evidence: Evidence, one: Contrast) -> dict[str, list[tuple[float, str, Line]]]:
    """Return the attributes in which everybody goes one way, the likeliest first."""
    ways: dict[str, list[tuple[float, str, Line]]] = {"higher": [], "lower": []}
    for row in rows(evidence):
        if not row.whole or len(row.marks.columns) < len(evidence.products):
            continue
        gaps = one.gaps(row.marks)
        for way, sign in (("higher", 1), ("lower", -1)):
            if not (sign * gaps > ALIKE).all():
                continue
            own = directions.of_contrast(evidence, row.attribute, one if sign > 0 else one.turned)
            listed = [
                sentence("few_report.nose_each", assessor=str(code), by=points(abs(gap)))
                for code, gap in gaps.items()
            ]
            above = own.above if own is not None else 0.0
            likely = sentence("few_report.likely", above=probability(above)) if above else ""
            name = evidence.name(row.attribute).lower()
            told = sentence("few_report.crossed_one", attribute=name, listed=listed, likely=likely)
            ways[way].append((-above, row.attribute, told))
    return {way: sorted(own, key=_first) for way, own in ways.items()}


def _first(item: tuple[float, str, Line]) -> float:
    return item[0]


@once
def sure(evidence: Evidence) -> list[tuple[Contrast, directions.Pair]]:
    """Return what the report says "surely" of things that are crossed, and of which."""
    found = []
    for one in contrasts(evidence):
        for name in directions.panels(evidence):
            for way in (one, one.turned):
                pair = directions.of_contrast(evidence, name, way)
                if pair is not None and pair.sure:
                    found.append((way, pair))
    return found


def _claims(evidence: Evidence, one: Contrast) -> list[Statement]:
    made = []
    for way, pair in sure(evidence):
        if way.factor != one.factor:
            continue
        values = {
            "attribute": evidence.name(pair.attribute),
            "high": form_of(way.factor, way.high, way.low),
            "low": form_of(way.factor, way.low, way.high),
            "above": probability(pair.above),
        }
        about = dict.fromkeys(name for both in way.pairs for name in both)
        made.append(
            Statement(
                kind="claim",
                about=(pair.attribute, *about),
                sentence=sentence(
                    "few_report.leans", listed=[sentence("few_report.sure_one", **values)]
                ),
                section=SURE,
                p=1 - pair.above,
                p_adjusted=pair.risk,
                family="scale",
                rank=RANK_SURE,
                box="few_report.box_sure",
                brief=sentence("few_report.brief_sure", **values),
            )
        )
    return made


def _numbers(evidence: Evidence, one: Contrast, high: Line, low: Line) -> list[Statement]:
    """Say which numbers change the same way in every pair: they go with it too."""
    listed = []
    for field, digits in MEASURED:
        values = [[getattr(evidence.bottle(name), field) for name in pair] for pair in one.pairs]
        if any(value is None for pair in values for value in pair):
            continue
        gaps = [a - b for a, b in values]
        if all(gap > ALIKE for gap in gaps) or all(gap < -ALIKE for gap in gaps):
            written = fixed(sum(gaps) / len(gaps), digits, sign=True)
            listed.append(sentence(f"few_report.number_{field}", value=written))
    if not listed:
        return []
    return [said("description", "crossed_numbers", section=SERVED, high=high, low=low,
                 listed=listed)]  # fmt: skip
