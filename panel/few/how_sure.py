"""What is sure, what chance alone would do, and which next step would settle what."""

from __future__ import annotations

import math
from typing import Any

from ...analysis.core.wording import percent, short
from ...forms.questions.question_types import Kind
from ...rounding import half_up
from ..base.words import Sentence, sentence
from ..findings import tainted
from ..findings.evidence import QUALITY, Evidence
from ..findings.statement import Line, Statement
from . import crossed, directions, one_against, suspected
from .side_by_side import SURE, people, rows
from .tasters import end, points, said
from .words_few import apart, probability

RANK_SURE, RANK_NEXT = 34, 60
POINT = 1.0
"""Points that so many assessors are to find."""
LIKELIEST = 2
"""Orders that are named where none is sure."""
ASKED = 4
"""Attributes that a next tasting is to ask."""
WORTH = 0.5
"""Chance from which on a next step is worth its cups."""


def statements(evidence: Evidence) -> list[Statement]:
    """Say what is sure, what chance would do, and what would settle the rest."""
    return [*_sure(evidence), *_by_chance(evidence), *_next(evidence)]


def basis(evidence: Evidence) -> list[Statement]:
    """Say how much it takes to find a point, to be sure, and what was known beforehand."""
    return [*_needed(evidence), *_findable(evidence), *_prior(evidence)]


def _sure(evidence: Evidence) -> list[Statement]:
    """Claim what is sure over the whole report; else name the likeliest orders as such."""
    claims = [
        Statement(
            kind="claim",
            about=(one.attribute, one.high, one.low),
            sentence=sentence("few_report.leans", listed=[_order(evidence, one, "sure_one")]),
            section=SURE,
            p=1 - one.above,
            p_adjusted=one.risk,
            family="scale",
            rank=RANK_SURE,
            box="few_report.box_sure",
            brief=_order(evidence, one, "brief_sure"),
            name=evidence.name(one.attribute),
        )
        for one in directions.sure(evidence)
    ]
    if claims or crossed.sure(evidence) or len(people(evidence)) == 1:
        return claims
    tops = [directions.widest(evidence, row.attribute) for row in rows(evidence)]
    likely = sorted((one for one in tops if one is not None), key=lambda one: -one.above)
    if not likely:
        return [said("description", "none_likely", section=SURE, rank=RANK_SURE)]
    listed = [_order(evidence, one, "likely_one") for one in likely[:LIKELIEST]]
    return [said("description", "none_sure", section=SURE, rank=RANK_SURE, listed=listed)]


def _order(evidence: Evidence, one: directions.Pair, key: str) -> Sentence:
    return sentence(
        f"few_report.{key}",
        attribute=evidence.name(one.attribute),
        high=one.high,
        low=one.low,
        above=probability(one.above),
    )


def _by_chance(evidence: Evidence) -> list[Statement]:
    n, products = len(people(evidence)), len(evidence.products)
    if n == 1:
        return [said("caution", "chance_one", section=SURE)]
    order = (
        sentence("few_report.chance_order", ways=math.factorial(products) ** (n - 1))
        if products > 2
        else ""
    )
    return [
        said("caution", "chance_lowest", section=SURE, n=n, bottles=products,
             one=products ** (n - 1), five=products**4, order=order)
    ]  # fmt: skip


def _next(evidence: Evidence) -> list[Statement]:
    """Say what is not settled, and what would settle it with what chance."""
    made = [_unsettled(evidence, pair) for pair in directions.open_pairs(evidence)]
    weighed = directions.steps(evidence)
    if not weighed:
        return made
    cheap = [(pair, one) for pair, found in weighed for one in found if one.step != "five"]
    pair, best = max(cheap, key=lambda each: each[1].chance)
    key = "box_next" if best.chance >= WORTH else "box_next_weak"
    made.append(
        said("advice", key, (pair.attribute, pair.high, pair.low), section=SURE,
             rank=RANK_NEXT, attribute=evidence.name(pair.attribute), high=pair.high,
             low=pair.low, step=_brief(best.step), n=int(half_up(100 * best.chance, 0)))
    )  # fmt: skip
    return [*made, *_ask(evidence)]


def _unsettled(evidence: Evidence, pair: directions.Pair) -> Statement:
    """Say what is likely and not sure, with the probability that it would take."""
    bar = directions.bar(evidence, pair.attribute)
    above, needed = apart(pair.above, bar) if bar is not None else (probability(pair.above), "")
    by = directions.plain_gap(evidence, pair)
    weighed = by <= 0  # Only by widths that are remembered does it lie above at all.
    return said(
        "description", "unsettled_one" if bar is None else "unsettled",
        (pair.attribute, pair.high, pair.low), section=SURE,
        high=pair.high, low=pair.low, attribute=evidence.name(pair.attribute), above=above,
        bar=needed, by=points(pair.raw if weighed else by), mean=points(pair.mean),
        least=end(pair.least), most=end(pair.most),
        weighed=sentence("few_report.unsettled_weighed") if weighed else "",
    )  # fmt: skip


def _ask(evidence: Evidence) -> list[Statement]:
    """Say how the next tasting is poured, and which few attributes it asks: those worth it."""
    first = [pair.attribute for pair in directions.open_pairs(evidence)]
    against = one_against.one_against(evidence)
    if against is not None:  # The means hide what two of three say.
        first += [name for _, name, *_ in one_against.of_two(evidence, against[1])]
    tops = [directions.widest(evidence, row.attribute) for row in rows(evidence)]
    likely = sorted((one for one in tops if one and not one.sure), key=lambda one: -one.above)
    names = list(dict.fromkeys([*first, *(one.attribute for one in likely)]))[:ASKED]
    if len(rows(evidence)) <= ASKED:
        return []
    faults = [sentence("few_report.quoted", name=name) for name in _faults(evidence)]
    written = [*faults, *(evidence.name(name).lower() for name in names)]
    style: Line = ""
    liking = any(one.style in ("likes", "dislikes") for one in evidence.people)
    if liking and QUALITY in names:  # Of other marks a liking is no part.
        style = sentence("few_report.ask_style")
    return [said("advice", "ask", tuple(names), section=SURE, attributes=written, style=style)]


def _faults(evidence: Evidence) -> list[str]:
    """Name the faults that somebody noted: they are asked again."""
    if not evidence.attributes(Kind.FAULTS):
        return []
    table = evidence.rows(evidence.attributes(Kind.FAULTS), everybody=True)
    table = table[table["score"] > 0]
    held = table["sample"].isin(tainted.held(evidence))
    found = (table[held] if held.any() else table)["attribute"].astype(str).unique()
    return [evidence.name(str(name)) for name in found]


def _brief(step: str) -> Sentence:
    return sentence("few_report.step_short_triangle") if step == "triangle" else step_name(step)


def step_name(step: str) -> Sentence:
    """Name a next step."""
    return sentence(f"few_report.step_{step}")


def _worth_a_step(evidence: Evidence) -> bool:
    """Tell whether a cheap next step may settle something."""
    chances = [
        one.chance for _, found in directions.steps(evidence) for one in found if one.step != "five"
    ]
    return max(chances, default=0.0) >= WORTH


def _needed(evidence: Evidence) -> list[Statement]:
    """Say how many assessors find a whole point in most tastings, as these marks scatter."""
    panel = directions.middle_taste(evidence)
    if tainted.held(evidence) or suspected.suspected(evidence):  # A fault comes first.
        return []
    if panel is None or directions.sure(evidence) or _worth_a_step(evidence):
        return []
    from ...analysis.power.power_of_tests import assessors_for_scores

    n = assessors_for_scores(
        POINT, samples=panel.samples, interaction=panel.error_sd**2, residual=0.0
    )
    return [said("description", "needed", section=SURE, n=n)]


def _findable(evidence: Evidence) -> list[Statement]:
    """Say how wide a difference would have had to be, where none as wide is left open.

    It is known for one usual taste: beside a wider difference that is not sure, in an attribute
    whose marks scatter more, it would contradict.
    """
    found = directions.smallest_sure(evidence)
    if found is None:
        return []
    open_ = [one.raw for one in directions.pairs(evidence) if not one.sure]
    if round(max(open_, default=0.0), 1) >= round(found, 1):  # As both would be written.
        return []
    key = "found_none" if math.isinf(found) else "found_from"
    return [said("description", key, section=SURE, by="" if math.isinf(found) else points(found))]


def _prior(evidence: Evidence) -> list[Statement]:
    """Say what was known beforehand, and what becomes of the answer if it is off by two."""
    left = directions.open_pairs(evidence)
    if not left:
        return []
    pair = directions.widest(evidence, left[-1].attribute) or left[-1]
    panel = directions.panels(evidence)[pair.attribute]
    half, double = panel.sensitivity.iloc[3], panel.sensitivity.iloc[4]
    values: dict[str, Any] = {
        "error": short(panel.prior.error_sd, 2),
        "sample": short(panel.prior.sample_sd, 2),
        "length": f"{panel.length:g}",
        "kept": percent(panel.kept),
        "attribute": evidence.name(pair.attribute),
        "high": pair.high,
        "low": pair.low,
        "half": sentence("few_report.span", low=end(half["low"]), high=end(half["high"])),
        "double": sentence("few_report.span", low=end(double["low"]), high=end(double["high"])),
    }
    alone = directions.direction_of(evidence, pair.attribute, remembers=False)
    if panel.source != "memory" or alone is None:
        return [said("description", "prior", section=SURE, **values)]
    source = evidence.kept[directions.MEMORY].source
    top = alone.differences.iloc[0]
    return [
        said("description", "prior_memory", section=SURE, source=source,
             above=probability(float(top["above"])), least=end(float(top["low"])),
             most=end(float(top["high"])), **values),
        *(
            [said("caution", "against_memory", section=SURE, **values)]
            if panel.conflict
            else []
        ),
    ]  # fmt: skip
