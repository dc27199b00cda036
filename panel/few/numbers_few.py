"""The measured numbers beside what few assessors tasted."""

from __future__ import annotations

from ...analysis.core.wording import fixed, same_decimals
from ..base.words import Sentence, sentence
from ..findings import design, measured
from ..findings.evidence import Evidence
from ..findings.statement import Line, Statement
from . import bottles
from .bottles import row_of
from .side_by_side import ALIKE, SERVED, SHEETS, people
from .tasters import inside, said
from .together import SWEET

RANK_ASKED = 29
"""Place in the box of what the session's question asks of sweet and acid."""
NEARLY = {"meter_value": 1.0, "acidity": 0.1, "abv": 0.3}
"""Spans of the numbers of all bottles up to which they are called nearly the same (a convention,
no source)."""


def statements(evidence: Evidence) -> list[Statement]:
    """Tell which numbers all bottles share, and whether sweet and acid taste as they measure."""
    acidity = _acidity(evidence)
    told = any(
        isinstance(one.sentence, Sentence) and one.sentence.key == "few_report.acidity_alike"
        for one in acidity
    )
    return [*_numbers(evidence, told=told), *_sweetness(evidence), *acidity]


def _sweetness(evidence: Evidence) -> list[Statement]:
    """Name the sweetest to everybody beside the index, where sweet or cloying is asked."""
    row, found = row_of(evidence, SWEET), measured.places(evidence)
    asked = any(design.question_names(evidence, f"asks_{one}") for one in ("sweet", "balance"))
    if not asked or row is None or found is None or len(people(evidence)) == 1:
        return []
    bottle = row.end(1)
    if not bottle or set(found.index) != set(evidence.products):
        return []
    top = found.at_end("index", sweetest=True)
    if top != [bottle] and bottle in top:  # It shares the end with another.
        return []
    key = "sweet_with" if top == [bottle] else "sweet_against"
    return [
        said("caution" if key == "sweet_against" else "description", key, (SWEET, bottle),
             section=SHEETS, rank=RANK_ASKED, bottle=bottle, who=inside(evidence), other=top,
             index=fixed(found.index[bottle], 2))
    ]  # fmt: skip


def _numbers(evidence: Evidence, *, told: bool) -> list[Statement]:
    """Tell which numbers all bottles share: what is tasted cannot come of those.

    Not of the acidity where that is `told` beside how acid they taste.
    """
    if not measured.chemistry_of(evidence):
        return []
    listed = []
    for field in ("meter_value", *([] if told else ["acidity"]), "abv"):
        values = {getattr(evidence.bottle(name), field) for name in evidence.products}
        if len(values) == 1 and None not in values:
            listed.append(sentence(f"few_report.number_{field}", value=f"{values.pop():g}"))
    near = _nearly(evidence)
    made = [said("description", "same_number", section=SERVED, listed=listed)] if listed else []
    known = measured.chemistry_of(evidence)
    lees = [name for name in known if measured.with_lees(evidence.bottle(name))]
    minded = [said("caution", "with_lees", tuple(lees), section=SERVED, samples=lees)]
    return (near or made) + (minded if lees else [])


def _acidity(evidence: Evidence) -> list[Statement]:
    """Hold the bottle that tastes most or least acid to everybody against what was measured."""
    row = row_of(evidence, bottles.ACIDITY)
    values = {name: evidence.bottle(name).acidity for name in evidence.products}
    known = {name: float(value) for name, value in values.items() if value is not None}
    if row is None or len(people(evidence)) == 1 or len(known) < len(values):
        return []
    written = dict(zip(known, same_decimals(known.values()), strict=True))
    made: list[Statement] = []
    for way, sign in (("most", 1), ("least", -1)):
        bottle = row.end(sign)
        if not bottle:
            continue
        others = [value for name, value in known.items() if name != bottle]
        ends = [
            written[name] for name in sorted(known, key=lambda one: known[one]) if name != bottle
        ]
        ahead = [sign * (known[bottle] - value) for value in others]
        if min(ahead) > ALIKE:
            key = "acidity_with"
        elif min(ahead) < -ALIKE or max(ahead) <= ALIKE:
            key = "acidity_against" if len(set(written.values())) > 1 else "acidity_alike"
        else:  # It shares the end with another: neither with nor against it.
            continue
        if made:  # Of two bottles the one is most and the other least acid.
            break
        made.append(
            said("description" if key == "acidity_with" else "caution", key,
                 (bottles.ACIDITY, bottle), section=SHEETS,
                 rank=RANK_ASKED if design.question_names(evidence, "asks_acid") else None,
                 bottle=bottle, who=inside(evidence),
                 way=sentence(f"few_report.acidity_{way}"),
                 value=written[bottle], others=_ends(ends[0], ends[-1]))
        )  # fmt: skip
    return made


def _span(values: list[float]) -> Line:
    return _ends(f"{min(values):g}", f"{max(values):g}")


def _ends(low: str, high: str) -> Line:
    return low if low == high else sentence("few_report.span", low=low, high=high)


def _nearly(evidence: Evidence) -> list[Statement]:
    """Say that all numbers nearly agree: by those the bottles are one sake."""
    listed, apart = [], False
    for field, least in NEARLY.items():
        known = [getattr(evidence.bottle(name), field) for name in evidence.products]
        if None in known:
            return []
        values = [float(value) for value in known]
        if max(values) - min(values) > least + ALIKE:
            return []
        apart = apart or max(values) - min(values) > ALIKE
        listed.append(sentence(f"few_report.number_{field}", value=_span(values)))
    return [said("description", "nearly_same", section=SERVED, listed=listed)] if apart else []
