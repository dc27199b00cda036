"""The cheapest next step that would settle something, and the further ones."""

from __future__ import annotations

from ...analysis.core.options import ALPHA
from ...analysis.inference.proportions import at_least
from ...forms.questions.question_types import Kind
from ...rounding import half_up
from ..base.words import sentence
from ..findings import balance, tainted
from ..findings.budget import Budget
from ..findings.evidence import BALANCE, QUALITY, Evidence
from ..findings.factors import changed_alone, spoken_level
from ..findings.measured import NEARLY
from ..findings.power import detectable
from ..findings.statement import Line, Statement
from ..findings.verdicts import reads_as_dry
from .bottles_apart import alone_in_several, crossed, fair_pairs
from .declared_tastes import black_glasses
from .gaps import gaps, hints, leads, size
from .known_cups import clean
from .left_out import apart
from .order import marks
from .steadiness import least_repeated
from .told import NEXT, SURE, said
from .what_for import asked_which, choice

BOTH = 2
"""Bottles between which a choice is left, that are poured alone; things that bottles alone share
and that one further bottle parts; of more, one at a time."""
SETS = 24
"""Sets of the triangle test that is proposed."""


def statements(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Name the cheapest step on the first page, the others in their section."""
    steps = _steps(evidence, budget)
    if not steps:
        return []
    first, *rest = steps
    made = [said("cheapest", SURE, kind="advice", step=first)]
    keys = ["also_first", *["also"] * len(rest)]
    made += [said(key, NEXT, kind="advice", step=one) for key, one in zip(keys, rest, strict=False)]
    return [*made, *_price(evidence, budget)]


def _steps(evidence: Evidence, budget: Budget) -> list[Line]:
    """Return the steps that this session asks for, those first that cost least."""
    found: list[Line] = []
    if tainted.worthless(evidence):
        found.append(sentence("overview.step_open_control", controls=clean(evidence),
                              n=len(clean(evidence))))  # fmt: skip
        found.append(sentence("overview.step_own_control"))
        found.append(sentence("overview.step_keep", bottles=evidence.products))
    found += _held(evidence)
    found += _two_alone(evidence, budget)
    for own, levels in alone_in_several(evidence):
        heated = "pasteurised" in levels and not changed_alone(evidence, "pasteurised")
        told = [spoken_level(factor, level) for factor, level in levels.items()]
        kind = "apart" if len(told) > BOTH else "heated" if heated else "other"
        found.append(sentence(f"overview.step_{kind}", bottles=own, n=len(own), one=told[0],
                              other=told[1], levels=told))  # fmt: skip
    hinted = hints(evidence, budget)
    if hinted:
        first_hint = hinted[0]
        table = detectable(evidence, budget)
        able = table[(table["about"] == first_hint.attribute) & (table["kind"] == "scale")]
        named = able["named"].dropna()
        far = len(named) and half_up(float(named.iloc[0]), 1) > half_up(first_hint.by, 1)
        key = "step_name_more" if far else "step_name_from" if len(named) else "step_name"
        found.append(
            sentence(f"overview.{key}", attribute=evidence.name(first_hint.attribute),
                     high=first_hint.high, low=first_hint.low,
                     by=size(float(named.iloc[0])) if len(named) else "",
                     gap=size(first_hint.by))
        )  # fmt: skip
    if crossed(evidence) is not None and "tank" in (crossed(evidence) or ()):
        tanks = {evidence.bottle(name).tank for name in evidence.products}
        found.append(sentence("overview.step_tank", n=len(tanks) + 1, tanks=len(tanks)))
    if evidence.products and not evidence.attributes(Kind.FAULTS):
        found.append(sentence("overview.step_faults"))
    return [
        *found,
        *_triangle(evidence, budget),
        *_lead(evidence, budget),
        *_lines(evidence, budget),
        *_buyers(evidence, budget),
        *black_glasses(evidence),
        *_small_share(evidence, budget),
        *_blends(evidence),
        *_acid(evidence),
        *_reference(evidence, budget),
    ]


def _held(evidence: Evidence) -> list[Line]:
    """Open further bottles of what is held back, before anything else costs a tasting."""
    found: list[Line] = []
    for name in tainted.held(evidence):
        sound = [one for one in evidence.products if tainted.decision(evidence, one) == "pass"]
        beside = sound[:1] or clean(evidence)[:1]
        key = "step_held_beside" if beside else "step_held"
        found.append(sentence(f"overview.{key}", bottle=name, beside="".join(beside)))
    return found


def _two_alone(evidence: Evidence, budget: Budget) -> list[Line]:
    """Pour the two bottles alone between which quality leaves a choice that was asked for."""
    left = choice(evidence, budget) if asked_which(evidence) else []
    if len(left) != BOTH:
        return []
    return [sentence("overview.step_choose", first=left[0], second=left[1])]


def _lines(evidence: Evidence, budget: Budget) -> list[Line]:
    """Sit down with those whose marks hardly move or run against the others."""
    who = apart(evidence, budget)
    return [sentence("overview.step_lines", who=who, n=len(who))] if who else []


def _buyers(evidence: Evidence, budget: Budget) -> list[Line]:
    """Ask buyers about two bottles that are shown to differ, of which neither is liked more."""
    held = tainted.held(evidence)
    claimed = {pair for one in budget.claimed("scale") for pair in one.pairs}
    claimed |= {pair[::-1] for pair in claimed}
    quality = [one for one in gaps(evidence, budget) if one.attribute == QUALITY]
    for first, second, _ in fair_pairs(evidence):
        own = [one for one in quality if {one.high, one.low} == {first, second}]
        open_ = own and not own[0].claimed and not own[0].clear
        if (first, second) in claimed and open_ and not {first, second} & set(held):
            return [sentence("overview.step_buyers", first=first, second=second)]
    return []


def _triangle(evidence: Evidence, budget: Budget) -> list[Line]:
    """Propose a triangle test where nothing is shown: of two bottles, or of those furthest apart.

    Of more than two the pair of the first hint, else that whose gap is the widest for its limits.
    """
    if len(evidence.compared) < 2 or budget.claimed("scale", "balance", "word", "overall"):
        return []
    pair = tuple(evidence.compared)
    if len(pair) > 2:
        told = hints(evidence, budget) or sorted(
            gaps(evidence, budget), key=lambda one: -(one.least + one.most) / (one.most - one.least)
            if one.most > one.least else 0.0
        )  # fmt: skip
        if not told:
            return []
        pair = told[0].high, told[0].low
    first, second = pair
    return [sentence("overview.step_triangle", first=first, second=second, sets=SETS,
                     right=right_of(SETS), chance=SETS // 3)]  # fmt: skip


def _lead(evidence: Evidence, budget: Budget) -> list[Line]:
    """Propose a triangle test of the surest lead beside what is claimed, judged by it alone."""
    if not budget.claimed("scale", "balance") or hints(evidence, budget):
        return []
    held = tainted.held(evidence)
    own = [
        one
        for one in leads(evidence, budget)
        if one.attribute not in (QUALITY, BALANCE) and not {one.high, one.low} & set(held)
    ]
    if not own:
        return []
    return [sentence("overview.step_lead", attribute=evidence.name(own[0].attribute),
                     high=own[0].high, low=own[0].low, sets=SETS, right=right_of(SETS),
                     chance=SETS // 3)]  # fmt: skip


def right_of(sets: int) -> int:
    """Return the fewest right answers of a triangle test that chance gives in at most 5 %.

    >>> right_of(24)  # ISO 4120: 13 of 24 at 5 %
    13
    """
    return next(k for k in range(sets + 1) if float(at_least(k, sets, 1 / 3)) <= ALPHA)


def _small_share(evidence: Evidence, budget: Budget) -> list[Line]:
    """Try a small share of the bottle that is liked less in the one that is liked more."""
    held = tainted.held(evidence)
    hinted = any(one.about == QUALITY for one in budget.hinted("scale"))
    own = [
        one
        for one in gaps(evidence, budget)
        if one.attribute == QUALITY and (one.claimed or (hinted and one.clear))
        and not {one.high, one.low} & set(held)
    ]  # fmt: skip
    if not own:
        return []
    widest = max(own, key=lambda one: one.by)
    fair = {frozenset((first, second)) for first, second, _ in fair_pairs(evidence)}
    also = [
        one
        for one in own
        if frozenset((one.high, one.low)) in fair
        and not {one.high, one.low} & {widest.high, widest.low}
    ]
    key = "step_share_also" if also else "step_share"
    further = [sentence("overview.share_pair", high=one.high, low=one.low) for one in also]
    return [sentence(f"overview.{key}", low=widest.low, high=widest.high, also=further)]


def _acid(evidence: Evidence) -> list[Line]:
    """Bring the acidity of a bottle that is alike by its meter value up to that of a sour one."""
    if BALANCE not in set(evidence.scores["attribute"]):
        return []
    found: list[Line] = []
    for row in balance.counts(evidence).to_dict("records"):
        sour = str(row["sample"])
        if balance.standing(row) != "dry" or reads_as_dry(evidence, sour) != "sour":
            continue
        meter, acidity = evidence.bottle(sour).meter_value, evidence.bottle(sour).acidity
        for name in evidence.products:
            other = evidence.bottle(name)
            if meter is None or acidity is None or other.meter_value is None:
                continue
            near = abs(other.meter_value - meter) <= NEARLY["meter_value"]
            if near and other.acidity is not None and other.acidity < acidity:
                found.append(
                    sentence("overview.step_acid", sour=sour, other=name, acidity=f"{acidity:g}")
                )
                break
    return found


def _blends(evidence: Evidence) -> list[Line]:
    """Try beside each other what more than half found too sweet and what nobody did."""
    if BALANCE not in set(evidence.scores["attribute"]):
        return []
    rows = balance.counts(evidence).to_dict("records")
    held = tainted.held(evidence)
    off = [(str(row["sample"]), balance.standing(row)) for row in rows]
    off = [(name, how) for name, how in off if how in ("sweet", "dry") and name not in held]
    off = [(name, reads_as_dry(evidence, name) if how == "dry" else how) for name, how in off]
    return [
        sentence(f"overview.step_blend_{how}", bottles=names, n=len(names))
        for how in ("sweet", "dry", "sour", "rough")
        if (names := [name for name, own in off if own == how])
    ]


def _reference(evidence: Evidence, budget: Budget) -> list[Line]:
    """Name the attribute for which a reference would help most: none that parts the bottles."""
    shown = {str(one.about) for one in budget.claimed("scale", "balance")}
    name = least_repeated(evidence, but=shown)
    key = "step_reference_rest" if shown else "step_reference"
    return [sentence(f"overview.{key}", attribute=evidence.name(name))] if name else []


def _price(evidence: Evidence, budget: Budget) -> list[Statement]:
    """Say between which bottles quality gives no ground for a step in price or label."""
    if marks(evidence).empty or len(evidence.compared) < 2:
        return []
    own = [one for one in gaps(evidence, budget) if one.attribute == QUALITY]
    alike = [one for one in own if not one.claimed]
    if not alike:
        return []
    if len(alike) == len(own):
        return [said("price_any", NEXT, (QUALITY,), kind="advice", n=len(own))]
    listed = [sentence("overview.pair_of", high=one.high, low=one.low) for one in alike]
    return [said("price", NEXT, (QUALITY,), kind="advice", listed=listed)]
